"""The reading that tells most, against trying every probe by hand; a reading beyond its limit is told first."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

import netcheck
from netcheck.bench.next_probe import next_probe
from netcheck.bench.probe_sheet import probe_sheet
from netcheck.bench.readings import explain, judge_readings
from netcheck.commands.bench import command

BOARD = """\
title: a memory that has no backup
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k ±5%, between: [CELL, HOLD]}
  D1: {diode: 1N4148, anode: HOLD, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 5 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
states: {running: {main: on}, stored: {main: off}}
readings:
  - {state: stored, at: VRAM, volts: 0.002}
"""


def test_next_probe_tells_an_open_resistor_from_an_open_diode_and_a_dead_cell() -> None:
    fragment = netcheck.loads(BOARD)
    result = judge_readings(fragment)
    diagnosis = explain(fragment, result)
    assert diagnosis is not None
    sheet = probe_sheet(fragment)
    taken = [one.measurement for one in result.known if one.measurement is not None]
    best = next_probe(diagnosis.suspects, sheet.probes, taken)
    assert best is not None
    others = [next_probe(diagnosis.suspects, [probe], taken) for probe in sheet.probes]
    assert best.bits == max(one.bits for one in others if one is not None)
    assert len(best.apart) > 1
    assert best.probe.measurement not in taken


def test_nothing_is_asked_where_one_suspect_is_left() -> None:
    fragment = netcheck.loads(BOARD)
    diagnosis = explain(fragment, judge_readings(fragment))
    assert diagnosis is not None
    assert next_probe(diagnosis.suspects[:1], probe_sheet(fragment).probes, []) is None


def test_command_names_the_next_probe_and_a_reading_beyond_its_limit_first(tmp_path: Path) -> None:
    board = tmp_path / "board.yaml"
    board.write_text(BOARD)
    said = CliRunner().invoke(command, [str(board)]).output
    assert "Take this reading next: it tells most" in said
    board.write_text(BOARD + "  - {state: running, at: CELL, against: GND, volts: 4.6, without: [BT1]}\n")
    said = CliRunner().invoke(command, [str(board)]).output
    assert said.startswith("DO NOT FIT BT1: its empty holder gives 4.6 V")
    assert "  OVER     CELL to GND, running, BT1 out: 4.6 V" in said
    assert "1 is above what the cell may have" in said


LEAKY = """
title: a blocking diode that leaks
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: BAT85, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2 V to 5.5 V}
states: {running: {main: on}}
readings:
  - {state: running, at: CELL, against: GND, volts: VOLTS, without: [BT1]}
"""


@pytest.mark.parametrize(("volts", "over"), [("1.5", True), ("0.7", False)])
def test_a_reading_within_tolerances_and_beyond_the_cell_is_not_well(tmp_path: Path, volts: str, over: bool) -> None:
    """1.5 V across 10 MΩ are 150 nA, which a leaky specimen passes; in ten years they are 6 % of 225 mAh."""
    board = tmp_path / "leaky.yaml"
    board.write_text(LEAKY.replace("VOLTS", volts))
    done = CliRunner().invoke(command, [str(board)])
    assert (done.exit_code, "  OVER " in done.output) == (int(over), over)
    assert "disagree" not in done.output


def test_cell_that_stands_above_a_fresh_one_is_told_first(tmp_path: Path) -> None:
    board = tmp_path / "board.yaml"
    board.write_text(BOARD + "  - {state: running, at: CELL, volts: 4.9}\n")
    said = CliRunner().invoke(command, [str(board)]).output
    assert said.startswith("POWER OFF AND TAKE BT1 OUT: it stands at 4.9 V")
    board.write_text(BOARD + "  - {state: running, at: CELL, volts: 3.3}\n")
    assert "TAKE BT1 OUT" not in CliRunner().invoke(command, [str(board)]).output
