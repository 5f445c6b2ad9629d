"""The worker process: what hangs, crashes, leaks or chatters stays in there."""

import os
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from netcheck.simulation import child, process
from netcheck.simulation.frames import Frames, frame
from netcheck.simulation.process import Answer, Job, Simulator

DIVIDER = Job("* divider\nv1 n1 0 9.0\nr1 n1 n2 2000.0\nr2 n2 0 1000.0\n.end", "n1 n2")
DIVIDED = [9.0, pytest.approx(3.0, rel=1e-9)]
ENDLESS = Job("* endless\nv1 n1 0 1.0\nr1 n1 n2 1.0\nc1 n2 0 1.0\n.end", "n1", ("tran 1p 1000",))
CRASHING = Job(DIVIDER.deck, "n1", ("quit",))

DIODE = "* diode\\nv1 n1 0 5.0\\nr1 n1 n2 1000.0\\nd1 n2 0 m\\n.model m d(is=1e-14)\\n.end"


@pytest.fixture(scope="module")
def shared():
    simulator = Simulator()
    yield simulator
    simulator.close()


@pytest.fixture
def simulator():
    simulator = Simulator()
    yield simulator
    simulator.close()


def python(script, **settings):
    """Run a script in a Python of its own, with this program's modules, and return what it printed."""
    return subprocess.run(
        [sys.executable, "-c", textwrap.dedent(script)], check=True, capture_output=True, text=True, timeout=120,
        cwd=settings.pop("cwd", None),
        env={**os.environ, "PYTHONPATH": os.pathsep.join(map(os.path.abspath, sys.path)), **settings},
    )


def resident_kB(pid):
    status = Path(f"/proc/{pid}/status")
    if status.exists():
        return next(int(line.split()[1]) for line in status.read_text().splitlines() if line.startswith("VmRSS"))
    return int(subprocess.run(["ps", "-o", "rss=", "-p", str(pid)], check=True, capture_output=True).stdout)


def test_answers_come_in_the_order_of_the_jobs(shared):
    jobs = [Job(DIVIDER.deck.replace("9.0", repr(float(volts))), "n2") for volts in range(300)]
    answers = list(shared.run(iter(jobs)))
    assert [answer.values[0] for answer in answers] == pytest.approx([volts / 3 for volts in range(300)])


def test_an_answer_does_not_depend_on_what_was_run_before(shared):
    """To the last digit: nothing is left of the one before, not even where the next net is held by nanoamps."""
    leaks = "b4 n3 n2 i=2e-8*((max(v(n3,n2),0.0)+1.1)/6.3)**1.4\n"
    decks = [
        f"* board\nv1 n1 0 {volts / 7!r}\nr1 n1 n2 {1e3 / (10 + volts)!r}\nd1 n2 n3 m\n{leaks if volts % 3 else ''}"
        f"r2 n3 0 {3e4 + volts / 3!r}\n.model m d(is={1 + volts % 2}e-14 rs=0.7)\n.end" for volts in range(-9, 15)]
    decks += [  # a cell of 15 ohms beside blocking diodes
        "* held by nanoamps\nv1 n1 0 -5.25\nv2 n2 0 5.25\nr3 b3 n3 15.0\n"
        f"v3 b3 n4 {cell_V}\nr4 n3 n2 100.0\nd5 0 n4 d0\nd6 n1 n4 d1\n"
        ".model d0 d(is=2.1138217358838342e-09 n=1.752)\n.model d1 d(is=2.2436603897283907e-09 n=1.06)\n"
        ".options temp=25.0 tnom=25.0 reltol=1e-6 abstol=1e-15 vntol=1e-9 gmin=1e-15 pivtol=1e-20 pivrel=0.1 itl1=300\n"
        ".end" for cell_V in (2.875, 3.25)]
    jobs = [Job(deck, "n2 n3 n4 v2#branch" if "v3" in deck else "n2 n3 @d1[id]") for deck in decks]
    alone = [shared.run([DIVIDER, job])[1].values for job in jobs]
    for order in (jobs, jobs[::-1], sorted(jobs, key=lambda job: len(job.deck)), [*jobs[::2], *jobs[1::2]]):
        found = dict(zip((job.deck for job in order), shared.run(order), strict=True))
        assert [found[deck].values for deck in decks] == alone


def test_jobs_are_taken_ahead_of_their_answers(shared):
    taken = []

    def jobs():
        for place in range(5):
            taken.append(place)
            yield DIVIDER

    before = []
    answers = shared.run(jobs(), told=lambda done: before.append(len(taken)))
    assert [answer.values for answer in answers] == [DIVIDED] * 5
    assert before == [5] * 5


def test_without_jobs_there_are_no_answers_and_no_worker(simulator):
    assert list(simulator.run([])) == []
    assert simulator.pid is None


def test_a_run_that_hangs_is_ended_and_the_rest_goes_on(simulator):
    answers = list(simulator.run([DIVIDER, ENDLESS, DIVIDER], deadline_s=0.5))
    assert [answer.values for answer in answers] == [DIVIDED, [], DIVIDED]
    assert answers[1].problem == "did not finish within 0.5 s"


def test_the_worker_of_a_run_that_hangs_is_gone(simulator):
    list(simulator.run([DIVIDER]))
    pid = simulator.pid
    list(simulator.run([ENDLESS], deadline_s=0.3))
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_a_crash_is_told_and_the_rest_goes_on(simulator):
    answers = list(simulator.run([DIVIDER, CRASHING, DIVIDER, CRASHING, DIVIDER]))
    assert [answer.problem for answer in answers] == [None, *["the simulator crashed", None] * 2]
    assert answers[4].values == DIVIDED


def test_a_worker_that_somebody_killed_is_replaced_and_nothing_is_lost(simulator):
    list(simulator.run([DIVIDER]))
    os.kill(simulator.pid, 9)
    assert [answer.values for answer in simulator.run([DIVIDER] * 3)] == [DIVIDED] * 3


@pytest.mark.parametrize(("deck", "word"), [
    ("* two sources\nv1 n1 0 1.0\nv2 n1 0 2.0\n.end", "ngspice"),
    ("* floating\nv1 n1 0 1.0\nr1 n1 0 1.0\nr2 n2 n3 1.0\n.end", "the simulation failed"),
    ("* no such model\nd1 n1 0 nothing\n.end", "could not be read"),
    ("* no solution\nv1 n1 0 1.0\nb1 n1 n2 i=1+v(n2)*v(n2)\nr2 n2 0 -1.0\n.end", "ngspice"),
])
def test_a_circuit_without_a_result_says_what_ngspice_said(shared, deck, word):
    (answer,) = shared.run([Job(deck, "n1")])
    assert answer.values == []
    assert word in answer.problem
    assert list(shared.run([DIVIDER])) == [Answer(DIVIDED)]


def test_a_vector_that_is_not_there_is_a_problem(shared):
    (answer,) = shared.run([Job(DIVIDER.deck, "n1 n7")])
    assert "n7" in answer.problem


class Enough(Exception):
    pass


@pytest.mark.parametrize("answered", [1, 3])
def test_answers_left_untaken_do_not_reach_the_next_caller(simulator, answered):
    def told(done):
        if done == answered:
            raise Enough

    with pytest.raises(Enough):
        simulator.run([DIVIDER] * 5, told=told)
    (answer,) = simulator.run([Job(DIVIDER.deck.replace("9.0", "6.0"), "n2")])
    assert answer.values == pytest.approx([2.0])


def test_jobs_that_raise_leave_nothing_behind(simulator):
    def jobs():
        yield from [DIVIDER] * 3
        raise Enough

    with pytest.raises(Enough):
        simulator.run(jobs())
    assert simulator.pids == []
    assert simulator.run([DIVIDER]) == [Answer(DIVIDED)]


def test_a_worker_that_answers_out_of_turn_is_thrown_away(simulator):
    simulator.run([DIVIDER])
    worker = simulator._workers[0]
    worker.frames.add = lambda piece: Frames().add(frame((10 ** 6, [1.0, 2.0], None)))
    assert simulator.run([DIVIDER] * 3) == [Answer(DIVIDED)] * 3
    assert simulator.pid != worker.pid


def test_a_worker_whose_answer_is_no_frame_is_thrown_away(simulator):
    simulator.run([DIVIDER])
    worker = simulator._workers[0]
    worker.frames.add = lambda piece: Frames().add(b"\x04\0\0\0zzzz")
    assert simulator.run([DIVIDER] * 3) == [Answer(DIVIDED)] * 3
    assert simulator.pid != worker.pid


def test_interrupted_at_any_moment_all_later_answers_are_right():
    """Ctrl-C from the first millisecond of the start to long after, each time followed by five circuits."""
    done = python("""
        import random, signal
        from netcheck.simulation.elements import Circuit, Resistance, Source
        from netcheck.simulation.operating_point import forget, solve
        from netcheck.simulation.process import simulator

        def five(first):
            circuits = [Circuit((Source("V", "a", "GND", first + n), Resistance("R", "a", "GND", 1.0)), "GND")
                        for n in range(5)]
            return [point.volts.get("a") for point in solve(circuits)]

        random.seed(1)
        signal.signal(signal.SIGALRM, signal.default_int_handler)
        wrong, interrupted = 0, 0
        for turn in range(16):
            if turn % 4 == 0:
                simulator().close()
            try:
                signal.setitimer(signal.ITIMER_REAL, random.uniform(1e-4, 0.5 if turn % 4 == 0 else 0.02))
                while True:
                    forget()
                    five(1000.0 * random.random())
            except KeyboardInterrupt:
                interrupted += 1
            forget()
            wrong += five(float(turn)) != [float(turn + n) for n in range(5)]
        print(interrupted, wrong)
    """)
    assert done.stdout == "16 0\n"


def test_threads_and_a_fork_get_their_own_answers():
    done = python("""
        import os, threading
        from netcheck.simulation.elements import Circuit, Resistance, Source
        from netcheck.simulation.operating_point import solve

        def right(first):
            circuits = [Circuit((Source("V", "a", "GND", first + n), Resistance("R", "a", "GND", 1.0)), "GND")
                        for n in range(20)]
            return [point.volts["a"] for point in solve(circuits)] == [first + n for n in range(20)]

        found, children = [], []
        def many(start):
            found.extend(right(100.0 * start + 1000 * n) for n in range(10))
        threads = [threading.Thread(target=many, args=(n,)) for n in range(4)]
        for thread in threads:
            thread.start()
        for turn in range(3):
            child = os.fork()
            if child == 0:
                os._exit(0 if right(7.0 + turn) else 1)
            children.append(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
        for thread in threads:
            thread.join()
        print(len(found), all(found), children)
    """, PYTHONWARNINGS="ignore::DeprecationWarning")
    assert done.stdout == "40 True [0, 0, 0]\n"


def test_a_long_batch_is_shared_out_and_keeps_its_order(monkeypatch):
    monkeypatch.setattr(process, "_ALONE_S", 0.0)
    simulator = Simulator(most=2)
    jobs = [Job(DIVIDER.deck.replace("9.0", repr(float(volts))), "n2") for volts in range(2_000)]
    answers = simulator.run(iter(jobs))
    assert [answer.values[0] for answer in answers] == pytest.approx([volts / 3 for volts in range(2_000)])
    assert len(simulator.pids) == 2
    simulator.close()


@pytest.mark.skipif(sys.platform != "linux", reason="processes are copied on Linux alone")
def test_a_second_worker_is_a_twin_of_the_first_and_ends_with_its_way(monkeypatch):
    monkeypatch.setattr(process, "_ALONE_S", 0.0)
    simulator = Simulator(most=2)
    jobs = [Job(DIVIDER.deck.replace("9.0", repr(float(volts))), "n2") for volts in range(400)]
    thirds = [volts / 3 for volts in range(400)]
    simulator.run(iter(jobs))
    first, twin = simulator.pids
    assert f"PPid:\t{first}\n" in Path(f"/proc/{twin}/status").read_text()
    os.kill(first, 9)  # as it goes, the other goes on
    assert [answer.values[0] for answer in simulator.run(iter(jobs))] == pytest.approx(thirds)
    assert twin in simulator.pids
    simulator.close()
    for _ in range(100):
        if not Path(f"/proc/{twin}").exists():
            break
        time.sleep(0.05)
    assert not Path(f"/proc/{twin}").exists()


@pytest.mark.skipif(sys.platform != "linux", reason="processes are copied on Linux alone")
def test_a_twin_that_cannot_be_made_costs_nothing(monkeypatch):
    monkeypatch.setattr(process, "_ALONE_S", 0.0)
    monkeypatch.setattr(child.Worker, "_ask_for_twin", lambda self, way: None)  # nobody answers
    simulator = Simulator(most=2)
    jobs = [Job(DIVIDER.deck.replace("9.0", repr(float(volts))), "n2") for volts in range(400)]
    thirds = [volts / 3 for volts in range(400)]
    assert [answer.values[0] for answer in simulator.run(iter(jobs))] == pytest.approx(thirds)
    simulator.close()


def test_a_short_batch_uses_one_worker(simulator, monkeypatch):
    monkeypatch.setattr(process, "_ALONE_S", 60.0)
    simulator.run([DIVIDER] * 20)
    assert len(simulator.pids) == 1


def test_memory_is_flat_over_twenty_thousand_runs(simulator):
    jobs = [Job(DIVIDER.deck.replace("9.0", repr(9 + place * 1e-3)), "n1 n2") for place in range(4_000)]
    list(simulator.run(jobs))
    settled = resident_kB(simulator.pid)
    for _ in range(4):
        list(simulator.run(jobs))
    assert resident_kB(simulator.pid) - settled < 3_000


def test_the_parent_loads_neither_numpy_nor_the_binding():
    done = python("""
        import sys
        from netcheck.simulation.operating_point import solve
        from netcheck.simulation.elements import Circuit, Resistance, Source
        circuit = Circuit((Source("V", "a", "GND", 1.0), Resistance("R", "a", "GND", 1.0)), "GND")
        assert solve([circuit])[0].amps["R"] == 1.0
        print([name for name in ("numpy", "PySpice", "cffi") if name in sys.modules])
    """)
    assert done.stdout == "[]\n"


def test_nothing_appears_on_the_screen():
    """A script needs no guard around its main part, and good, bad and hopeless runs are silent."""
    done = python(f"""
        from netcheck.simulation.process import Job, simulator
        jobs = [Job("{DIODE}", "n2"), Job("{DIODE}", "n2", ("quit",)), Job("* x\\nd1 n1 0 nothing\\n.end", "n1")]
        print([answer.problem is None for answer in simulator().run(jobs)])
    """)
    assert (done.stdout, done.stderr) == ("[True, False, False]\n", "")


SPICEINIT = "option temp=85\noption gmin=1e-3\n"


def test_an_init_file_changes_nothing(tmp_path):
    (tmp_path / ".spiceinit").write_text(SPICEINIT)
    solved = f"""
        from netcheck.simulation.process import Job, simulator
        (answer,) = simulator().run([Job("{DIODE}", "n2")])
        print(answer.values)
    """
    assert python(solved, cwd=tmp_path, HOME=str(tmp_path)).stdout == python(solved).stdout


def test_start_up_files_of_the_environment_change_nothing_and_run_nothing(tmp_path):
    """SPICE_SCRIPTS names the folder of ngspice's own start-up file, which may hold shell lines."""
    witness = tmp_path / "ran"
    (tmp_path / "spinit").write_text(f"{SPICEINIT}shell touch {witness}\n")
    solved = f"""
        from netcheck.simulation.process import Job, simulator
        (answer,) = simulator().run([Job("{DIODE}", "n2")])
        print(answer.values)
    """
    hostile = {"SPICE_SCRIPTS": str(tmp_path), "SPICE_LIB_DIR": str(tmp_path), "NGSPICE_INPUT_DIR": str(tmp_path)}
    assert python(solved, **hostile).stdout == python(solved).stdout
    assert not witness.exists()


def test_a_simulator_that_gets_a_known_circuit_wrong_is_refused(tmp_path, monkeypatch):
    (tmp_path / "sitecustomize.py").write_text(textwrap.dedent("""
        import math
        right = math.isclose
        math.isclose = lambda one, other, **how: right(one, 1.1 * other, **how)
    """))
    monkeypatch.syspath_prepend(tmp_path)
    simulator = Simulator()
    assert "does not give the known result" in simulator.available()
    simulator.close()


def test_an_init_file_would_change_much_in_the_open(tmp_path):
    """The control for the test above: the same library in a process that stays where it was started."""
    plain, set_up = tmp_path / "plain", tmp_path / "set up"
    for folder, text in ((plain, ""), (set_up, SPICEINIT)):
        folder.mkdir()
        (folder / ".spiceinit").write_text(text)
    solved = f"""
        from netcheck.simulation.engine import Engine
        from netcheck.simulation.library import find_library
        print(Engine(find_library()).run("{DIODE}", ["op"], [b"n2"]).values)
    """
    assert python(solved, cwd=plain).stdout != python(solved, cwd=set_up).stdout


def test_a_missing_library_is_told_with_the_line_that_installs_it(tmp_path, monkeypatch):
    (tmp_path / "sitecustomize.py").write_text(textwrap.dedent("""
        import ctypes, ctypes.util
        loaded = ctypes.CDLL.__init__
        def refuse(self, name, *more, **named):
            if name and "spice" in str(name):
                raise OSError(f"{name}: cannot open")
            loaded(self, name, *more, **named)
        ctypes.CDLL.__init__ = refuse
        ctypes.util.find_library = lambda name: None
    """))
    monkeypatch.syspath_prepend(tmp_path)
    simulator = Simulator()
    reason = simulator.available()
    assert "the ngspice library was not found" in reason
    assert "apt-get install libngspice0" in reason
    assert list(simulator.run([DIVIDER, DIVIDER])) == [Answer([], reason, lasting=False)] * 2
    simulator.close()


def test_a_worker_that_cannot_start_is_told(monkeypatch):
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    simulator = Simulator()
    assert "could not be started" in simulator.available()
    simulator.close()


def test_warming_up_starts_the_worker_that_is_used_later(simulator):
    simulator.warm_up()
    pid = simulator.pid
    assert pid is not None
    assert simulator.available() is None
    assert list(simulator.run([DIVIDER])) == [Answer(DIVIDED)]
    assert simulator.pid == pid


def test_closing_ends_the_worker(simulator):
    simulator.run([DIVIDER])
    pid = simulator.pid
    simulator.close()
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_no_folder_for_temporary_files_is_needed_and_none_is_left(tmp_path):
    solved = f"""
        from netcheck.simulation.process import Job, simulator
        print(simulator().run([Job("{DIODE}", "n2")])[0].problem)
    """
    assert python(solved, TMPDIR=str(tmp_path), cwd=tmp_path).stdout == "None\n"
    assert python(solved, TMPDIR=str(tmp_path / "nowhere"), cwd=tmp_path).stdout == "None\n"
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("how", ["fork"] if hasattr(os, "fork") else [])
def test_a_fork_gets_a_worker_of_its_own(how):
    done = python(f"""
        import os, warnings
        from netcheck.simulation.process import Job, simulator
        job = Job("{DIODE}", "n2")
        (first,) = simulator().run([job])
        parents = simulator().pid
        child = os.{how}()
        if child == 0:
            (own,) = simulator().run([job])
            good = own == first and simulator().pid != parents
            simulator().close()
            os._exit(0 if good else 1)
        print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
        print(list(simulator().run([job])) == [first], simulator().pid == parents)
    """)
    assert done.stdout == "0\nTrue True\n"


@pytest.mark.parametrize("signal", [1, 9, 15] if os.name == "posix" else [])
def test_a_hanging_worker_does_not_outlive_a_parent_that_is_killed(signal):
    parent = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(f"""
            import threading, time
            from netcheck.simulation.process import Job, simulator
            simulator().available()
            print(simulator().pid, flush=True)
            list(simulator().run([Job({ENDLESS.deck!r}, "n1", ("tran 1p 1000",))], 1000))
        """)],
        stdout=subprocess.PIPE, env={**os.environ, "PYTHONPATH": os.pathsep.join(map(os.path.abspath, sys.path))},
    )
    with parent:
        worker = int(parent.stdout.readline())
        os.kill(worker, 0)
        parent.send_signal(signal)
    for _ in range(300):
        try:
            os.kill(worker, 0)
        except ProcessLookupError:
            break
        time.sleep(0.1)
    else:
        pytest.fail("the worker is still there")
