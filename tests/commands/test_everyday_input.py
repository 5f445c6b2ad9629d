"""Everyday input that commands must bear: a range open at an end, a chip of which no pin was traced."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from netcheck.cli import main

BOARD = """title: t
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: BAT85, anode: CELL, cathode: V}
  D2: {diode: 1N4148, anode: +5V, cathode: V}
  U1: {load: 2 uA, plus: V, minus: GND, works: RANGE}
  U2: {chip: unknown gate}
"""


@pytest.mark.parametrize("works", ["below 5.5 V", "above 2 V"])
def test_a_range_open_at_an_end_is_no_number_in_json(works: str, tmp_path: Path) -> None:
    file = tmp_path / "board.yaml"
    file.write_text(BOARD.replace("RANGE", works), "utf-8")
    out = CliRunner().invoke(main, ["check", str(file), "--format", "json"])
    load = json.loads(out.stdout, parse_constant=pytest.fail)["variants"][0]["loads"]["U1"]
    assert (load["margin_V"] is None) == (works == "below 5.5 V")
    said = CliRunner().invoke(main, ["check", str(file), "--full"]).output
    assert "∞" not in said
    assert "inf" not in said.replace("information", "")


@pytest.mark.parametrize("command", ["check", "draw", "document", "bench", "deck", "diodes", "changes"])
def test_a_chip_of_which_no_pin_was_traced_is_left_out_of_the_drawing_and_told(command: str, tmp_path: Path) -> None:
    file = tmp_path / "board.yaml"
    file.write_text(BOARD.replace("RANGE", "2 to 5.5 V"), "utf-8")
    more = ["-o", str(tmp_path / "out.svg")] if command == "draw" else []
    out = CliRunner().invoke(main, [command, str(file), *more])
    assert out.exception is None or isinstance(out.exception, SystemExit), f"{out.exception!r}"
    if command == "draw":
        assert "Not drawn, as no pin was traced: U2." in (tmp_path / "out.svg").read_text("utf-8")


@pytest.mark.parametrize("works", ["below 5.5 V", "above 2 V"])
def test_an_open_range_behind_a_regulator_is_no_number_in_json_either(works: str, tmp_path: Path) -> None:
    file = tmp_path / "board.yaml"
    file.write_text("title: t\nrails: {+12V: 12 V}\nparts:\n"
                    "  U5: {regulator: LM7805, input: +12V, output: V, ground: GND}\n"
                    f"  U1: {{load: 2 mA, plus: V, minus: GND, works: {works}}}\n", "utf-8")
    out = CliRunner().invoke(main, ["check", str(file), "--format", "json"])
    found = json.loads(out.stdout, parse_constant=pytest.fail)["variants"][0]["regulators"]["U5"]
    upper = works == "below 5.5 V"
    assert found["windows_V"]["U1"] == {"works_from": 0.0 if upper else 2.0, "works_to": 5.5 if upper else None,
                                        "survives": 5.5 if upper else None}
    picture = tmp_path / "settings.svg"
    said = CliRunner().invoke(main, ["settings", str(file), "-o", str(picture)])
    assert said.exit_code in (0, 1)
    assert "U1 works" in picture.read_text("utf-8")


def test_a_chip_with_one_pin_called_plus_is_drawn(tmp_path: Path) -> None:
    file = tmp_path / "board.yaml"
    file.write_text("title: t\nrails: {+5V: 5 V}\nparts:\n  R1: {resistor: 1k, between: [+5V, V]}\n"
                    "  U3: {chip: gate array, pins: {plus: V, 1: GND}}\n", "utf-8")
    out = CliRunner().invoke(main, ["draw", str(file), "-o", str(tmp_path / "out.svg")])
    assert out.exit_code == 0, out.output
    assert "plus" in (tmp_path / "out.svg").read_text("utf-8")
