"""A memory keeps its data at fewer volts than it runs at: both are judged, the second while its rail is on."""

from __future__ import annotations

from typing import Any

import pytest

import netcheck

BOARD = """
title: a memory behind a diode
rails: {{+5V: 5 V ±{tolerance}%}}
parts:
  BT1: {{cell: CR2032, plus: CELL, minus: GND}}
  R1: {{resistor: 1k, between: [CELL, HOLD]}}
  D1: {{diode: 1N4148, anode: HOLD, cathode: VRAM}}
  D2: {{{rail}}}
  U1: {{load: {load}, plus: VRAM, minus: GND}}
"""
SILICON, SCHOTTKY = (f"diode: {name}, anode: +5V, cathode: VRAM" for name in ("1N4148", "1N5817"))
LINK = "resistor: 0, between: [+5V, VRAM]"


def found(rail: str = SILICON, load: str = "SRAM-62256", tolerance: int = 5, steps: str = "") -> list[Any]:
    mods = f"mods: {{m: {{steps: [{steps}]}}}}" if steps else ""
    fragment = netcheck.loads(BOARD.format(rail=rail, load=load, tolerance=tolerance) + mods)
    variant = netcheck.check(fragment, mod="m" if steps else "as found").variants[-1]
    assert variant.verdict != "unknown"
    return [finding for finding in variant.findings if finding.check == "running-volts"]


def test_a_diode_that_a_mod_brings_is_a_caution_that_names_what_stands_in_the_way():
    (told,) = found(rail=SCHOTTKY, steps="{replace: {D2: {diode: 1N4148}}}")
    assert (str(told.severity), told.case, told.parts) == ("caution", "short-at-worst", ("U1", "D2"))
    assert 4.2 < told.figures["volts_V"] < 4.5
    assert "another part as D2" in told.advice


@pytest.mark.parametrize("steps", ["", "{replace: {D1: {diode: BAT85}}}"])
def test_as_it_was_built_the_worst_of_tolerances_is_a_note(steps):
    (told,) = found(steps=steps)
    assert (str(told.severity), told.case, told.parts) == ("note", "as-built", ("U1", "D2"))


@pytest.mark.parametrize(("runs", "severity"), [("4.5 V", "caution"), ("4.9 V", "fails")])
def test_with_typical_figures_it_is_judged_by_how_much_is_lacking(runs, severity):
    """5.0 V less the 0.7 V of a 1N4148 at 10 mA: 4.3 V."""
    (told,) = found(load=f"{{draws: 10 mA, works: 2 V to 5.5 V, runs: {runs} to 5.5 V}}")
    assert (str(told.severity), told.case) == (severity, "short")
    assert 4.2 < told.figures["volts_V"] < 4.4

@pytest.mark.parametrize("board", [
    {"rail": SCHOTTKY}, {"rail": LINK, "tolerance": 10}, {"load": "2 uA"}, {"load": "MC146818A"},
    {"load": "{draws: 2 uA, works: 2 V to 5.5 V, runs: 2.7 V to 5.5 V}"}, {"load": "LY62256"},
])
def test_within_its_volts_or_with_none_stated_nothing_is_said(board):
    assert found(**board) == []


def test_the_line_of_the_part_goes_before_the_library():
    assert found(load="SRAM-62256, runs: 3.0 V to 5.5 V") == []
    assert [told.case for told in found(load="2 uA, works: 2 V to 5 V, runs: 4.5 V to 5.5 V")] == ["as-built"]


def test_a_memory_that_takes_no_cell_is_asked_as_well():
    """Its own cell keeps it; its supply pin still needs its volts."""
    board = BOARD.replace("U1:", "U9: {{load: DS12887, plus: VRAM, minus: GND}}\n  U1:")
    (variant,) = netcheck.check(netcheck.loads(board.format(rail=SILICON, load="2 uA", tolerance=5))).variants
    assert [f.subject for f in variant.findings if f.check == "running-volts"] == ["U9"]


REVERSED = "diode: 1N4148, anode: VRAM, cathode: +5V"
BESIDE = "resistor: 10k, between: [+5V, N9]"


def test_a_memory_that_no_rail_feeds_fails_and_the_diode_the_wrong_way_round_is_named():
    (told,) = found(rail=REVERSED)
    assert (str(told.severity), told.case, told.parts) == ("fails", "by-cell", ("U1", "D2"))
    assert told.words["cells"] == ("BT1",)
    assert 2.7 < told.figures["volts_V"] < 3.0
    assert "D2 round" in told.advice


def test_where_nothing_turned_round_would_feed_it_no_diode_is_blamed():
    (told,) = found(rail=BESIDE)
    assert (str(told.severity), told.case, told.parts) == ("fails", "by-cell", ("U1",))
    assert told.advice == "Trace what feeds U1 under power."


@pytest.mark.parametrize(("runs", "severity"), [
    ("2.0 V", None), ("2.6 V", "caution"), ("3.1 V", "caution"), ("3.6 V", "fails")])
def test_a_load_fed_by_its_cell_alone_is_judged_by_how_much_is_lacking(runs, severity):
    """3.0 to 3.25 V less the 0.35 to 0.45 V of a 1N4148 at 2 µA: 2.5 to 2.9 V, less with an old cell."""
    told = found(rail=BESIDE, load=f"{{draws: 2 uA, works: 1.5 V to 5.5 V, runs: {runs} to 5.5 V}}")
    assert [str(one.severity) for one in told] == ([severity] if severity else [])


def test_turned_round_is_what_is_proposed_and_not_taken_out():
    fragment = netcheck.loads(BOARD.format(rail=REVERSED, load="SRAM-62256", tolerance=5))
    proposal = netcheck.check(fragment).variants[-1].cells["BT1"].proposal
    assert "turn D2 round" in proposal.words
    assert not [words for words in proposal.words if words.startswith("remove")]


def test_a_jumper_that_lets_a_rail_feed_it_in_another_position_is_enough():
    jumper = "jumper: [+5V, VRAM], positions: {run: 1-2, stored: open}, set: stored"
    assert [one.case for one in found(rail=jumper)] == []


def test_without_any_rail_in_the_file_nothing_is_asked():
    text = BOARD.format(rail="resistor: 10k, between: [VRAM, N9]", load="SRAM-62256", tolerance=5)
    text = "\n".join(line for line in text.splitlines() if not line.startswith("rails"))
    (variant,) = netcheck.check(netcheck.loads(text)).variants
    assert [f for f in variant.findings if f.check == "running-volts"] == []
