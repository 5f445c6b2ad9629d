"""Work shared with a copy of the process: the same results, whatever becomes of the copy."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

import netcheck
from netcheck.clock import limited
from netcheck.judging import forget_judged
from netcheck.simulation.elements import Circuit, Resistance, Source
from netcheck.simulation.operating_point import forget, solve
from netcheck.simulation.process import Job, simulator
from netcheck.solving import beside
from netcheck.solving.beside import shared

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="copies are made on Linux alone")
HERE = os.getpid()


@pytest.fixture(autouse=True)
def two_simulators(monkeypatch):
    monkeypatch.setattr(sys.modules[__name__], "HERE", os.getpid())  # also where these tests run in a copy themselves
    monkeypatch.setattr(beside, "_may_copy", lambda: not beside._is_copy)
    pool = simulator()
    pool.close()
    monkeypatch.setattr(pool, "_most", 2)
    assert pool.available() is None
    pool._start()
    yield pool
    pool.close()


def who(thing: int) -> tuple[int, int]:
    time.sleep(0.02)
    return thing, os.getpid()


def all_of(work, things):
    with shared(work, subject=lambda thing: thing) as sharing:
        return list(sharing.results(things))


def children() -> list[str]:
    return Path(f"/proc/{HERE}/task/{HERE}/children").read_text().split()


def test_a_copy_does_a_part_and_the_order_is_kept():
    before = len(children())
    found = all_of(who, range(9))
    assert [thing for thing, _ in found] == [thing for _, (thing, _) in found] == list(range(9))
    assert len({pid for _, (_, pid) in found}) == 2
    assert len(children()) == before


def divider(volts: float) -> Circuit:
    return Circuit((Source("V", "a", "GND", volts), Resistance("R1", "a", "b", 2e3), Resistance("R2", "b", "GND", 1e3)),
                   "GND")


def test_the_copy_solves_with_a_simulator_of_its_own_which_is_used_here_again(two_simulators):
    forget()

    def volts(place: int) -> tuple[float | None, int]:
        time.sleep(0.01)
        return solve([divider(3.0 * place)])[0].volts["b"], os.getpid()

    found = all_of(volts, range(1, 30))
    assert [end for _, (end, _) in found] == pytest.approx([float(place) for place in range(1, 30)])
    assert len({pid for _, (_, pid) in found}) == 2
    assert len(two_simulators.pids) == 2
    jobs = [Job(f"* divider\nv1 a 0 {volts}\nr1 a b 2k\nr2 b 0 1k\n.end", "b") for volts in range(3, 900, 3)]
    assert [answer.values for answer in two_simulators.run(jobs)] == [[pytest.approx(n)] for n in range(1, 300)]


def test_whoever_did_one_about_a_subject_does_the_next(two_simulators):
    def work(trial: tuple[int, str]) -> int:
        time.sleep(0.03)
        return os.getpid()

    with shared(work, subject=lambda trial: trial[0]) as sharing:
        first = {trial[0]: pid for trial, pid in sharing.results([(place, "first") for place in range(4)])}
        second = {trial[0]: pid for trial, pid in sharing.results([(place, "then") for place in range(4)])}
    assert len(set(first.values())) == 2
    assert sum(first[place] != second[place] for place in range(4)) <= 1  # the last is for whoever is free


def test_the_copy_does_what_it_was_told_first_before_what_it_was_told_later():
    """Of what it was told at once it goes on with its own subjects, and leaves those that are at work here."""
    here, there = multiprocessing.Pipe()
    claims = beside._Claims()
    chores = beside._Chores(there, lambda thing: thing[0], claims)
    with here, there:
        here.send({0: "a0", 1: "b0"})
        assert chores.next() == (0, "a0")
        here.send({2: "b1", 3: "c1", 4: "a1"})
        assert [chores.next()[0] for _ in range(2)] == [1, 2]
        claims.took(3, beside._HERE)
        here.send({5: "c2", 6: "d2"})
        assert [chores.next() for _ in range(3)] == [(4, "a1"), (6, "d2"), (5, "c2")]
        assert claims.heard == 7


def test_what_is_wanted_after_the_first_is_done_beside_it():
    with shared(who, subject=lambda thing: thing) as sharing:
        ((_, (_, here)),) = sharing.results([0], sure=1, then=[9])
        assert sharing.result(9)[1] != here


def test_one_is_done_ahead_only_where_a_copy_does_the_rest(monkeypatch):
    with shared(who, subject=lambda thing: thing) as sharing:
        sharing.expect([0, 1, 2, 3])
        sharing.ahead(8, then=[9])
        assert sharing._found[8] == (8, HERE)
        assert {sharing.result(thing)[1] for thing in range(4)} - {HERE}
        assert sharing.result(9)[0] == 9
    monkeypatch.setattr(beside, "_may_copy", lambda: False)
    with shared(who, subject=lambda thing: thing) as sharing:
        sharing.expect([0, 1])
        sharing.ahead(8)
        assert 8 not in sharing._found
        assert sharing.result(8) == (8, HERE)


def test_a_copy_that_is_at_something_is_not_told_more_than_fits_into_the_way_to_it():
    def work(thing: int) -> int:
        time.sleep(0.5 if os.getpid() != HERE else 0.0)
        return thing

    with shared(work, subject=lambda thing: thing) as sharing:
        sharing.expect([0, 1])
        unheard = set()
        for thing in range(2, 60):
            sharing.expect([thing])
            sharing.result(thing)
            unheard.add(sharing._copy.unheard)
        assert max(unheard) == beside._AHEAD
        assert [sharing.result(thing) for thing in (0, 1)] == [0, 1]


class Claimed:
    """The copy has been at the first of two things for some seconds."""

    def __init__(self, for_s: float | None) -> None:
        self._for_s = for_s

    def by(self, place: int) -> int:
        return beside._THERE if place == 0 and self._for_s is not None else beside._NOBODY

    def for_s(self, place: int) -> float:
        return self._for_s


@pytest.mark.parametrize(("for_s", "waited_s"), [
    (8.9, 0.0), (9.5, 1.5), (9.8, 1.2), (11.0, 1.0), (24.0, 1.0), (26.0, 0.0), (None, 0.0)])
def test_what_the_copy_will_have_soon_is_waited_for(for_s, waited_s):
    """It takes 10 s there, the other 4 s here: of these a quarter is soon; who is far over his time is not waited for.

    One that is late may be ready at any moment: it is waited for a quarter of what the other takes.
    """
    sharing = beside.Shared(who, lambda thing: thing, lambda thing: thing)
    sharing._left = {0: 10, 1: 4}
    sharing._claims = Claimed(for_s)
    assert sharing._there_sooner_s(10, 1) == 0.0
    sharing._lasted_s = {10: 10.0, 4: 4.0}
    assert sharing._there_sooner_s(10, 1) == pytest.approx(waited_s)


def test_a_copy_that_dies_costs_nothing_but_time():
    def work(thing: int) -> int:
        time.sleep(0.01)
        if os.getpid() != HERE and thing > 2:
            os.kill(os.getpid(), signal.SIGKILL)
        return thing * thing

    assert all_of(work, range(12)) == [(thing, thing * thing) for thing in range(12)]


def test_what_fails_in_the_copy_is_told_here():
    def work(thing: int) -> int:
        if os.getpid() != HERE:
            raise RuntimeError("not here")
        return thing

    def wrong(thing: int) -> int:
        if thing == 3:
            raise ValueError("three")
        return thing

    assert all_of(work, range(6)) == [(thing, thing) for thing in range(6)]
    before = len(children())
    with pytest.raises(ValueError, match="three"):
        all_of(wrong, range(6))
    assert len(children()) <= before


def test_what_cannot_be_sent_is_done_here():
    found = all_of(lambda thing: (lambda: thing) if os.getpid() != HERE else thing, range(6))
    assert found == [(thing, thing) for thing in range(6)]


def test_once_nobody_asks_the_copy_ends_whatever_it_is_at(two_simulators):
    pool, before = two_simulators, len(children())
    heard, said = os.pipe()

    def work(thing: int) -> int:
        if os.getpid() != HERE:
            os.write(said, b".")
            time.sleep(60)
        return os.read(heard, 1) and thing  # once the copy is at something

    began = time.monotonic()
    with shared(work, subject=lambda thing: thing) as sharing:
        assert next(sharing.results(range(5))) == (0, 0)
    assert time.monotonic() - began < 30
    assert len(children()) == before
    assert len(pool.pids) == 1  # nobody knows what its simulator was at
    assert solve([divider(9.0)])[0].volts["b"] == pytest.approx(3.0)


def test_when_the_time_is_used_up_the_first_is_all():
    with limited(0.0):
        assert [thing for thing, _ in all_of(who, range(5))] == [0]


def test_what_is_expected_and_not_asked_for_keeps_nobody_waiting():
    done = []

    def work(thing: int) -> int:
        done.append(thing)
        return who(thing)[0]

    with shared(work, subject=lambda thing: thing) as sharing:
        sharing.expect(range(100, 200))
        assert [sharing.result(thing) for thing in (7, 150)] == [7, 150]
    assert set(done) <= {7, 150}  # here nothing else was done


def test_what_nobody_expected_is_done_here_while_the_copy_has_nothing_to_do():
    with shared(who, subject=lambda thing: thing) as sharing:
        assert len({pid for _, (_, pid) in sharing.results(range(6))}) == 2
        assert sharing.result(99) == (99, HERE)


def test_what_was_expected_is_there_when_it_is_asked_for():
    heard, said = os.pipe()

    def work(thing: int) -> int:
        os.write(said, b".")
        return os.getpid()

    with shared(work, subject=lambda thing: thing) as sharing:
        sharing.expect([1, 2, 3])
        for _ in range(3):
            os.read(heard, 1)
        assert {sharing.result(thing) for thing in (1, 2, 3)}.isdisjoint({HERE})


def test_one_thing_alone_makes_no_copy(monkeypatch):
    monkeypatch.setattr(beside, "_copied", lambda *_: pytest.fail("a copy was made"))
    assert all_of(who, [7]) == [(7, (7, HERE))]


def test_a_copy_is_made_only_where_it_is_safe(monkeypatch):
    monkeypatch.undo()
    monkeypatch.setattr(beside, "cores", lambda: 1)
    assert not beside._may_copy()
    monkeypatch.setattr(beside, "cores", lambda: 2)
    monkeypatch.setattr(beside, "_is_copy", True)
    assert not beside._may_copy()
    monkeypatch.setattr(beside, "_is_copy", False)
    for threads in (2, None):
        monkeypatch.setattr(beside, "_threads", lambda threads=threads: threads)
        assert not beside._may_copy()
    monkeypatch.setattr(beside, "_threads", lambda: 1)
    assert beside._may_copy()
    with monkeypatch.context() as worker:    # one of a pool whose processors are all in use
        worker.setattr(multiprocessing, "parent_process", lambda: "a pool")
        assert not beside._may_copy()
    monkeypatch.setattr(sys, "platform", "darwin")
    assert not beside._may_copy()


PARENT = """
import os, sys, time
from netcheck.simulation.process import Job, simulator
from netcheck.solving.beside import shared
simulator().available(); simulator()._most = 2; simulator()._start()
def work(thing):
    os.write(1, f"{os.getpid()}\\n".encode())  # whole, whoever else writes
    time.sleep(60)
if __name__ == "__main__":
    with shared(work, subject=lambda thing: thing) as sharing:
        list(sharing.results(range(4)))
"""


@pytest.mark.parametrize("end", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_no_copy_outlives_its_parent(end):
    parent = subprocess.Popen([sys.executable, "-c", "import os; os.sched_getaffinity = lambda pid: {0, 1}\n" + PARENT],
                              stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    pids = {int(parent.stdout.readline()) for _ in range(2)}
    assert len(pids) == 2
    parent.send_signal(end)
    parent.wait()
    parent.stdout.close()
    (copy,) = pids - {parent.pid}
    for _ in range(100):
        if not Path(f"/proc/{copy}").exists():
            return
        time.sleep(0.1)
    pytest.fail("the copy goes on")


BOARD = textwrap.dedent("""\
    title: pack and memory
    rails: {+5V: 5 V ±5%, +12V: 12 V ±5%}
    parts:
      BT1: {cell: CR2032, plus: CELL, minus: GND}
      R1: {resistor: 470, between: [+5V, N1]}
      D1: {diode: 1N4148, anode: N1, cathode: CELL}
      D2: {diode: 1N4148, anode: CELL, cathode: VRAM}
      D3: {diode: 1N4148, anode: +5V, cathode: VRAM}
      U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
      JP1: {jumper: [VRAM, CLR]}
      R2: {resistor: 10k, between: [CLR, GND]}
""")


def test_a_board_is_judged_the_same_with_and_without(monkeypatch):
    def judged():
        forget()
        forget_judged()
        return netcheck.check(netcheck.loads(BOARD)).to_dict()

    made = []
    copied = beside._copied
    monkeypatch.setattr(beside, "_copied", lambda *work: made.append(work) or copied(*work))
    together = judged()
    assert made
    monkeypatch.setattr(beside, "_may_copy", lambda: False)
    assert judged() == together
