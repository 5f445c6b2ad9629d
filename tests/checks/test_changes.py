"""What changed between two variants."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from msgspec.structs import replace

from netcheck.api import compare, load, loads
from netcheck.checks.changes import Changes, Figure, FigureChange, changes, figures, in_order, part_changes
from netcheck.checks.results import CellResult, FaultCurrent, Life, LoadResult, VariantResult
from netcheck.findings import Finding, Severity
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


CELL = CellResult(
    primary=True, routes=(), shorts_to_charge=1, shorts=("D1",), remedies=(), charge_A=1e-3, charge_state="running",
    charge_by_state={}, fault=FaultCurrent("D1", "short", 2e-3, "running"),
    leakage_A={"typical": 1e-9, "maximum": 2e-9}, leakage_share={}, hours_within={},
    drain_A={"stored": 2e-6}, takes_A={}, life=Life(9.0, 0.9, "load", "U1", 2e-6))
SETTING = {"output_V": 5.0, "output_min_V": 4.8, "output_max_V": 5.2, "headroom_V": 4.0, "dissipation_W": 0.5,
           "junction_C": 60.0}


def test_every_figure_is_named_by_what_it_is_of_with_its_state_and_unit():
    regulator = {"settings": [
        {"positions": {"JP1": "closed", "JP2": "open"}, "as_set": True, **SETTING},
        {"positions": {"JP1": "open", "JP2": "open"}, "as_set": False, **SETTING, "output_V": 9.0}]}
    fixed = {"settings": [{"positions": {}, "as_set": True, **SETTING}]}
    found = figures(VariantResult(
        name="as found", findings=(), cells={"BT1": CELL}, regulators={"U3": regulator, "U4": fixed},
        loads={"U1": LoadResult(
            volts={"stored": 2.5}, lowest_V=2.0, highest_V=5.0, margin_V=0.5, needs_V=1.5, stands_V=5.5)},
        net_volts={"stored": {"CELL": 3.0}}))
    assert {(one.kind, one.subject, one.what, one.state, one.unit): value for one, value in found.items()
            if one.subject != "U4"} == {
        ("load", "U1", "volts", "stored", "V"): 2.5, ("load", "U1", "lowest volts", None, "V"): 2.0,
        ("load", "U1", "highest volts", None, "V"): 5.0, ("load", "U1", "margin", None, "V"): 0.5,
        ("cell", "BT1", "parts that must fail short to charge it", None, "count"): 1,
        ("cell", "BT1", "charge current, worst", None, "A"): 1e-3,
        ("cell", "BT1", "charge current after one failure", None, "A"): 2e-3,
        ("cell", "BT1", "leakage into it, typical", None, "A"): 1e-9,
        ("cell", "BT1", "leakage into it, maximum", None, "A"): 2e-9,
        ("cell", "BT1", "gives", "stored", "A"): 2e-6, ("cell", "BT1", "life", None, "year"): 9.0,
        ("regulator", "U3", "output", "as set", "V"): 5.0, ("regulator", "U3", "least output", "as set", "V"): 4.8,
        ("regulator", "U3", "most output", "as set", "V"): 5.2, ("regulator", "U3", "headroom", "as set", "V"): 4.0,
        ("regulator", "U3", "heat", "as set", "W"): 0.5, ("regulator", "U3", "junction", "as set", "°C"): 60.0,
        ("regulator", "U3", "output", "JP1 closed, JP2 open", "V"): 5.0,
        ("regulator", "U3", "output", "JP1 open, JP2 open", "V"): 9.0, ("net", "CELL", "volts", "stored", "V"): 3.0}
    assert [one.kind for one in found][-1] == "net"
    assert {one.what for one in found if one.subject == "U4"} == {
        "output", "least output", "most output", "headroom", "heat", "junction"}


@pytest.mark.parametrize(("cell", "life", "leaks"), [
    (replace(CELL, life=None), None, 1e-9), (replace(CELL, life=replace(CELL.life, years=None)), math.inf, 1e-9),
    (replace(CELL, life=replace(CELL.life, shelf_years=5.0)), 5.0, 1e-9), (replace(CELL, primary=False), 9.0, None),
])
def test_a_life_without_end_is_infinite_and_leakage_is_a_figure_of_primary_cells(cell, life, leaks):
    every = figures(VariantResult(name="as found", findings=(), cells={"BT1": cell}))
    found = {one.what: value for one, value in every.items()}
    assert found["life"] == life
    assert found.get("leakage into it, typical") == leaks


def test_figures_of_one_subject_stand_together_loads_before_cells_before_nets():
    net, cell, load, other = (Figure(kind, name, "volts", "stored", "V") for kind, name in
                              (("net", "A"), ("cell", "BT1"), ("load", "U1"), ("load", "U2")))
    late = replace(load, state="running")
    assert in_order([net, cell, load, other, late, net]) == [load, late, other, cell, net]


def test_what_came_and_what_went_is_told_and_what_a_capacitors_change_does_against_as_found_alone():
    def finding(subject):
        return Finding("backup-voltage", Severity.NOTE, subject, case="not-stated")

    fragment = loads(BOARD)
    one = VariantResult(name="as found", findings=(finding("U1"), finding("U2")),
                        capacitors={"C1": {"effect": {"time": 9}}})
    other = VariantResult(name="swap", findings=(finding("U2"), finding("U3")),
                          capacitors={"C1": {"effect": {"time": 2}}, "C2": {"effect": None}})
    there, back = changes(fragment, fragment, one, other), changes(fragment, fragment, other, one, ("here", "there"))
    assert ["U1" in words for words in there.gone] == ["U3" in words for words in there.come] == [True]
    assert (there.before, there.after, back.before, back.after) == ("as found", "swap", "here", "there")
    assert (there.effects, back.effects) == ({"C1": {"time": 2}}, {})
    assert there.to_dict() == {
        "format": "netcheck-changes/1", "before": "as found", "after": "swap",
        "verdict": {"before": "ok", "after": "ok"},
        "parts": [], "figures": [], "findings": {"gone": list(there.gone), "come": list(there.come)},
        "effects": {"C1": {"time": 2}}}


def test_a_changed_part_and_figure_as_data():
    found = loads(BOARD)
    parts = {change.name: change.to_dict() for change in part_changes(found, apply(found, "more"))}
    assert parts["R1"] == {"part": "R1", "how": "removed", "after": None, "before": {
        "kind": "resistor", "is": "1k", "pins": {"1": "+5V", "2": "CHG"}, "position": None}}
    assert (parts["BT1"]["before"]["is"], parts["BT1"]["after"]["is"]) == ("NiCd-3x60", "CR2032")
    assert (parts["JP1"]["before"]["position"], parts["JP1"]["after"]["position"]) == ("open", "closed")
    life = FigureChange(Figure("cell", "BT1", "life", None, "year"), math.inf, 3.0, (True, True))
    assert life.to_dict() == {"kind": "cell", "subject": "BT1", "what": "life", "state": None, "unit": "year",
                              "before": None, "after": 3.0, "differs": True}
