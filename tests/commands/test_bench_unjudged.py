"""A sheet of a variant that could not be judged says so first, and is read back all the same."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from netcheck.cli import main

BOARD = """title: t
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [CELL, VBAT]}
  U2: {chip: gate array, pins: {17: VBAT, 40: +5V, 20: GND}}
  U1: {load: 2 uA, plus: VBAT, minus: GND, works: 2 V to 5.5 V}
"""
STATED = ", paths: [{from: 40, to: 17, by: diode}]}"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    board = tmp_path / "board.yaml"
    board.write_text(BOARD, "utf-8")
    return board


def test_it_is_said_before_any_reading_and_the_sheet_is_read_back(file: Path, tmp_path: Path) -> None:
    out = CliRunner().invoke(main, ["bench", str(file)]).output
    assert out.startswith("UNKNOWN, as found: Whether U2 lets current from +5V into VBAT")
    sheet = tmp_path / "sheet.txt"
    sheet.write_text(out.replace("______ V", "0.5    V", 1), "utf-8")
    back = CliRunner().invoke(main, ["bench", str(file), "--readings", str(sheet)])
    assert back.exit_code == 1, back.output  # half a volt at an empty holder disagrees
    assert back.output.startswith("UNKNOWN, as found:")
    assert back.output.index("UNKNOWN") < back.output.index("0.5 V")


@pytest.mark.parametrize("form", ["csv", "yaml"])
def test_a_sheet_for_a_program_stays_as_it_is_and_it_is_said_beside_it(file: Path, form: str) -> None:
    out = CliRunner().invoke(main, ["bench", str(file), "--format", form])
    assert "UNKNOWN" not in out.stdout.splitlines()[0]
    assert out.stderr.startswith("UNKNOWN, as found:")


def test_a_variant_that_was_judged_has_no_such_line(file: Path) -> None:
    file.write_text(BOARD.replace("20: GND}}", "20: GND}" + STATED), "utf-8")
    assert CliRunner().invoke(main, ["bench", str(file)]).output.startswith("Probe sheet:")
