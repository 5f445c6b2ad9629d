"""What changed between two variants."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from netcheck.api import compare, load, loads
from netcheck.checks.changes import Changes, Figure, FigureChange, part_changes
from netcheck.fragment.mods import apply

BOARD = """
title: A board (invented)
rails: {+5V: 5 V}
parts:
  BT1: {cell: NiCd-3x60, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [+5V, CHG]}
  D3: {diode: 1N4148, anode: CHG, cathode: CELL}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  JP1: {jumper: [VRAM, TEST]}
  R5: {resistor: 1M, between: [TEST, GND]}
  R6: {resistor: 1M, between: [TEST, GND], fitted: no}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
states: {running: {main: on}, stored: {main: off}}
mods:
  swap: {steps: [{replace: {BT1: {cell: CR2032}}}]}
  more:
    after: swap
    steps:
      - {remove: [R1]}
      - {move: {D1.anode: HOLD}}
      - {fit: {R6: {resistor: 470, between: [CELL, HOLD]}}}
      - {set: {JP1: closed}}
"""


@pytest.fixture(scope="module")
def swap() -> Changes:
    found = loads(BOARD)
    return compare(found, apply(found, "swap"))


def test_parts_by_how_they_changed() -> None:
    found = loads(BOARD)
    changed = {change.name: change.how for change in part_changes(found, apply(found, "more"))}
    assert changed == {"BT1": "replaced", "R1": "removed", "D1": "moved", "JP1": "set", "R6": "fitted"}
    assert list(part_changes(found, found)) == []


def test_verdict_and_findings(swap: Changes) -> None:
    assert swap.verdicts[1] == "danger"
    assert any(words.startswith("charge-route: BT1 is a primary cell") for words in swap.come)
    assert (swap.before, swap.after) == ("as found", "swap")


def test_every_voltage_is_compared(swap: Changes) -> None:
    figures = {(one.figure.kind, one.figure.subject, one.figure.state): one
               for one in swap.figures if one.figure.what == "volts"}
    nets = {subject for kind, subject, _ in figures if kind == "net"}
    assert nets == {"GND", "+5V", "CELL", "CHG", "VRAM", "TEST"}
    assert figures["net", "CELL", "stored"].differs
    assert not figures["net", "+5V", "running"].differs
    # Open-circuit volts: three nickel-cadmium cells of 1.35 V against a new CR2032, 3.15 V to 3.35 V
    # (Designer's Guide 10-07, Renata).
    before, after = figures["net", "CELL", "stored"].before, figures["net", "CELL", "stored"].after
    assert before == pytest.approx(3 * 1.35, abs=0.01)
    assert after == pytest.approx(3.25, abs=0.1)


def test_as_json_it_has_no_infinities(swap: Changes) -> None:
    told = swap.to_dict()
    assert told["format"] == "netcheck-changes/1"
    assert told["verdict"]["after"] == "danger"
    assert told["parts"][0]["part"] == "BT1"
    numbers = [figure[side] for figure in told["figures"] for side in ("before", "after")]
    assert all(number is None or math.isfinite(number) for number in numbers)


def test_two_files_are_told_apart_by_name(tmp_path: Path) -> None:
    one, other = tmp_path / "one.yaml", tmp_path / "other.yaml"
    one.write_text(BOARD, encoding="utf-8")
    other.write_text(BOARD.replace("1k", "2k2"), encoding="utf-8")
    found = compare(load(one), load(other))
    assert (found.before, found.after) == (f"{one}, as found", f"{other}, as found")
    assert [(change.name, change.how) for change in found.parts] == [("R1", "replaced")]


@pytest.mark.parametrize(("before", "after", "there", "differs"), [
    (3.0, 3.0001, (True, True), False),
    (3.0, 3.01, (True, True), True),
    (0.0, 1e-4, (True, True), False),
    (None, None, (True, True), False),
    (None, None, (True, False), True),
    (None, 0.0, (True, True), True),
    (math.inf, math.inf, (True, True), False),
    (math.inf, 3.0, (True, True), True),
])
def test_the_solvers_own_noise_is_no_change(
    before: float | None, after: float | None, there: tuple[bool, bool], differs: bool
) -> None:
    assert FigureChange(Figure("net", "A", "volts", "stored", "V"), before, after, there).differs is differs
