"""Surveys whose points are given by hand, so that a check is asked about volts and currents that are plain."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import netcheck
from netcheck.fragment.model import Fragment
from netcheck.fragment.states import enumerate_states
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.solved_states import Corners, Survey

UNKNOWN = OperatingPoint(problem="it does not settle")
NOTHING = OperatingPoint()


def point(volts: Mapping[str, float | None] | None = None, amps: Mapping[str, float] | None = None) -> OperatingPoint:
    """A point with ground at 0 V."""
    return OperatingPoint({"GND": 0.0, **(volts or {})}, amps or {})


def made(
    board: str | Fragment, at: Mapping[Any, OperatingPoint] | None = None, otherwise: OperatingPoint = NOTHING,
    missing: str | None = None,
) -> Survey:
    """A survey of a board; at: points by (state, corner name), by state name or by corner name, in that order."""
    fragment = netcheck.loads(board) if isinstance(board, str) else board
    states, corners, at = enumerate_states(fragment), Corners.of(fragment), at or {}
    unknown = {name for key in at for name in (key if isinstance(key, tuple) else (key,))} - {
        *(state.name for state in states.states), *(corner.name for corner in corners.everywhere)}
    assert not unknown, f"neither a state nor a corner: {unknown}"
    points = {
        (state.name, corner.name): at.get((state.name, corner.name), at.get(state.name, at.get(corner.name, otherwise)))
        for state in states.states for corner in corners.everywhere
    }
    return Survey(fragment, states, corners, points, missing)


def given(asking: Any, answer: Callable[[Any, Any], OperatingPoint]) -> tuple[Any, list[Any]]:
    """The result of an asking whose circuits are answered by hand, by key and circuit; and the keys it asked for."""
    points, keys = None, []
    while True:
        try:
            wanted = asking.send(points)
        except StopIteration as done:
            return done.value, keys
        keys += list(wanted)
        points = {key: answer(key, circuit) for key, circuit in wanted.items()}


def state_of(survey: Survey, name: str) -> Any:
    return next(state for state in survey.states.states if state.name == name)


def sound(findings: Any, fragment: Fragment) -> list[Any]:
    """The findings, once what holds of each is seen: it can be said, and points at things of the board and its line."""
    found = list(findings)
    told(found)
    for one in found:
        where = fragment.parts.get(one.subject) or fragment.rails.get(one.subject)
        wished = one.check in ("links", "expectation", "feature")  # whose line is that of the wish
        assert where is None or wished or one.line == where.mark.line, one
        assert set(one.parts) <= set(fragment.parts), one
        assert {one.state, *one.states} - {None} <= {state.name for state in enumerate_states(fragment).states}, one
        assert "None" not in f"{one.message} {one.advice} {one.short} {one.nets} {one.sources}", one
    return found


def told(findings: Any) -> list[tuple[str, str, str]]:
    """Check, case and severity of each finding; its sentences are made, so that none misses a figure or a word."""
    found = list(findings)
    for one in found:
        assert one.message
        assert isinstance(one.advice, str)
    return [(one.check, one.case, str(one.severity)) for one in found]
