"""What ngspice says on its streams, and what becomes of it, without any library loaded."""

from types import SimpleNamespace

import pytest

from netcheck.simulation import engine
from netcheck.simulation.engine import ILL_POSED, Shared, _Library


def heard(*lines):
    """The state of the binding after these lines came in through the callback."""
    listener = SimpleNamespace(_stdout=[], _stderr=[], _error_in_stderr=False, _error_in_stdout=False, dead=None)
    handle = Shared.ffi.new_handle(listener)
    for line in lines:
        assert _Library._send_char(Shared.ffi.new("char[]", line), 0, handle) == 0
    return listener


@pytest.mark.parametrize("line", [
    b"stderr Using SPARSE 1.3 as Direct Linear Solver",  # ngspice 42 and 43
    b"stderr Note: Starting dynamic gmin stepping",
    b"stderr Trying gmin =   1.0000E-03 Note: One successful gmin step",  # ngspice 39 glues the two
    b"stderr Warning: can't find the initialization file spinit.",
    b"stderr Note: No compatibility mode selected!",
    b"stdout Circuit: error amplifier",
    b"stdout error_out                    1.000000e+00",
    b"stderr a reworded note of some later version",
])
def test_notes_are_kept_and_are_no_error(line):
    listener = heard(line)
    assert not listener._error_in_stderr
    assert not listener._error_in_stdout
    assert [*listener._stdout, *listener._stderr] == [line.decode()[7:]]


@pytest.mark.parametrize("line", [
    b"stderr Error: circuit not parsed.",
    b"stderr Error on line 3 or its substitute:",
    b"stderr Fatal error: no such thing",
    b"stderr doAnalyses: OP:  Timestep too small; trouble with node \"a\"",
    b"stderr op simulation(s) aborted",
    b"stderr Error: no such device or model name r99",
    b"stderr warning, can't find model 'nope' from line",
    b"stderr Error: ngspice.dll cannot recover and awaits to be detached",
    b"stderr Undefined parameter [foo]",
])
def test_failures_are_errors(line):
    assert heard(line)._error_in_stderr


@pytest.mark.parametrize("line", [
    "Warning: singular matrix:  check node c",
    "Trying gmin =   9.6466E-03 Warning: singular matrix:  check node a",
    "Note: Transient op finished successfully",
    "Warning: source stepping failed",
])
def test_lines_of_a_circuit_without_a_definite_solution(line):
    assert ILL_POSED.search(line)


@pytest.mark.parametrize("line", [
    "Warning: Dynamic gmin stepping failed",  # source stepping may still find the solution
    "Note: Dynamic gmin stepping completed",
    "Note: Starting source stepping",
])
def test_lines_of_a_second_attempt(line):
    assert not ILL_POSED.search(line)


def test_bytes_that_are_no_text_do_not_stop_the_callback():
    assert heard(b"stderr \xff\xfe broken")._stderr == ["\ufffd\ufffd broken"]


def test_a_controlled_exit_is_remembered():
    listener = heard()
    assert _Library._exit(1, False, True, 0, Shared.ffi.new_handle(listener)) == 1
    assert listener.dead == 1


def test_a_problem_tells_the_telling_lines():
    told = engine._told("the simulation failed", ["Note: this", "Error: that", "op simulation(s) aborted"])
    assert told == "the simulation failed (ngspice: Error: that; op simulation(s) aborted)"


class FakeLibrary:
    """A library that loads and runs without an error and says one line meanwhile."""

    def __init__(self, line):
        self._line, self._error_in_stderr, self._error_in_stdout, self.dead = line, False, False, None
        self.given = []
        self.clear_output()

    def clear_output(self):
        self._stderr = []

    def load_circuit(self, deck):
        self.given.append("load")

    def command(self, command):
        self.given.append(command)
        if command == b"op":
            self._stderr.append(self._line)
        return 0


def fake_engine(monkeypatch, line):
    monkeypatch.setattr(engine.Engine, "_values", lambda self, command, vectors: [1.0])
    one = object.__new__(engine.Engine)
    one._library = FakeLibrary(line)
    one._command, one._given = one._library.command, 0
    return one


@pytest.mark.parametrize(("line", "believed"), [
    ("Warning: singular matrix:  check node c", False), ("Note: Transient op finished successfully", False),
    ("Note: Starting source stepping", True)])
def test_a_result_that_came_with_such_a_line_is_not_believed(line, believed, monkeypatch):
    one = fake_engine(monkeypatch, line)
    outcome = one.run("a deck", ("op",), (b"v(1)",))
    assert (outcome.problem is None) is believed
    assert outcome.values == ([1.0] if believed else [])
    assert believed or line.strip() in outcome.problem


def test_what_a_run_leaves_behind_is_cleared_away_whatever_became_of_it(monkeypatch):
    one = fake_engine(monkeypatch, "singular matrix")
    assert one.run("a deck", ("op",), ()).problem
    one.run("a deck", (), ())
    cleared = [b"destroy all", b"remcirc"]
    assert one._library.given == ["load", b"op", *cleared, "load", *cleared]
