"""Circuits asked for by name: each asking gets the points of its own circuits, whatever the others ask for."""

from __future__ import annotations

import pytest

from netcheck.simulation.elements import Circuit, OperatingPoint, Resistance, Source
from netcheck.solving.asking import abreast, answered, asked


def circuit(volts):
    """A source over a resistor of 1 kilohm, so that the current tells which circuit it was."""
    return Circuit((Source("V", "A", "GND", volts), Resistance("R", "A", "GND", 1000.0)), "GND")


def milliamperes(*volts):
    """Asks for one circuit after the other and returns what it was told of each."""
    told = []
    for value in volts:
        points = yield {"only": circuit(value)}
        told.append(round(1000 * points["only"].amps["R"], 6))
    return told


def all_at_once(*volts):
    points = yield {value: circuit(value) for value in volts}
    return {value: round(1000 * point.amps["R"], 6) for value, point in points.items()}


def test_each_key_gets_the_point_of_its_own_circuit():
    assert answered(all_at_once(3.0, 1.0, 2.0)) == {3.0: 3.0, 1.0: 1.0, 2.0: 2.0}
    assert answered(asked({"x": circuit(4.0)}))["x"].amps["R"] == pytest.approx(4e-3)


def test_askings_of_different_lengths_do_not_mix():
    """Equal keys, and one of them asks three times, one once, one never."""
    found = answered(abreast([milliamperes(1.0, 2.0, 3.0), milliamperes(7.0), milliamperes(), all_at_once(5.0)]))
    assert found == [[1.0, 2.0, 3.0], [7.0], [], {5.0: 5.0}]


def test_what_is_asked_for_together_is_solved_together(monkeypatch):
    batches = []

    def solved(circuits, progress=None):
        batches.append(len(circuits))
        return [OperatingPoint(amps={"R": 0.0}) for _ in circuits]

    monkeypatch.setattr("netcheck.solving.asking.solve", solved)
    answered(abreast([milliamperes(1.0, 2.0), all_at_once(1.0, 2.0, 3.0)]))
    assert batches == [4, 1]


def test_nothing_asked_is_nothing_solved(monkeypatch):
    monkeypatch.setattr("netcheck.solving.asking.solve", lambda *_, **__: pytest.fail("nothing was asked for"))
    assert answered(abreast([])) == []
    assert answered(abreast([milliamperes()])) == [[]]


def test_where_nothing_can_be_solved_every_point_says_why():
    def problems():
        points = yield {name: circuit(1.0) for name in "ab"}
        return {name: point.problem for name, point in points.items()}

    assert answered(problems(), missing="no simulator") == {"a": "no simulator", "b": "no simulator"}


def test_progress_is_told_while_it_is_solved():
    told = []
    answered(all_at_once(8.0, 9.0), progress=lambda done, of: told.append((done, of)))
    assert told[-1] == (2, 2)
