"""The shopping list: only what has to be bought, and what matters about it."""

from __future__ import annotations

from netcheck.api import loads
from netcheck.fragment.mods import apply
from netcheck.reports.shopping import Purchase, shopping

HEAD = """
title: A board (invented)
rails: {+5V: 5 V}
parts:
  BT1: {cell: NiCd-3x60, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [+5V, CELL]}
  U1: {load: 2 uA, plus: CELL, minus: GND}
mods:
"""
VOLTS = {"running": {"+5V": 5.0, "CELL": 3.0, "GND": 0.0, "X": 1.0},
         "stored": {"+5V": 0.0, "CELL": 3.0, "GND": 0.0, "X": None}}


def bought(steps: str, volts: dict[str, dict[str, float | None]] = VOLTS) -> list[Purchase]:
    found = loads(f"{HEAD}  m: {{steps: [{steps}]}}\n")
    return shopping(found, apply(found, "m"), volts)


def test_parts_that_stay_or_only_move_are_not_bought() -> None:
    assert bought("{remove: R1}") == []
    assert bought("{move: {R1.2: X}}") == []


def test_like_parts_are_one_line() -> None:
    (line,) = bought("{fit: {D1: {diode: 1N4148, anode: X, cathode: CELL}}}, "
                     "{fit: {D2: {diode: 1N4148, anode: X, cathode: CELL}}}")
    assert (line.parts, line.quantity, line.what) == (("D1", "D2"), 2, "1N4148 diode")


def test_the_watts_of_a_resistor_are_worked_out_not_assumed() -> None:
    def watts(value: str) -> str:
        (line,) = bought(f"{{fit: {{R2: {{resistor: {value}, between: [+5V, GND]}}}}}}")
        return line.matters[0]

    # 5 V across it: 25 mW, 0.25 W, 2.5 W (P = U²/R), with half of the rating used.
    assert watts("1k") == "any ¼ W metal film: it dissipates 25 mW at most"
    assert watts("100") == "rated 500 mW or more: it dissipates 250 mW at most"
    assert watts("10") == "rated 5 W or more: it dissipates 2.5 W at most"
    assert watts("1") == "it dissipates 25 W: a power type, mounted clear of the board"
    (unknown,) = bought("{fit: {R2: {resistor: 10, between: [Y, GND]}}}")
    assert unknown.matters[0] == "its dissipation could not be worked out: choose the power rating yourself"


def test_a_diode_is_bought_for_what_it_blocks_and_leaks() -> None:
    (line,) = bought("{fit: {D1: {diode: BAT85, anode: X, cathode: CELL}}}")
    assert "sees 2 V here" in line.matters[0]
    assert any(words.startswith("leaks ") and "maximum" in words for words in line.matters)
    assert "this very type, for Schottky diodes differ widely in leakage" in line.matters


def test_a_coin_cell_wants_a_holder() -> None:
    (line,) = bought("{replace: {BT1: {cell: CR2032}}}")
    assert line.what == "CR2032 cell"
    assert "holder" in line.matters[0]
    (pack,) = bought("{replace: {BT1: {cell: NiMH-3x80}}}")
    assert "a rechargeable of this very chemistry: the charger is judged for it" in pack.matters


def test_a_capacitor_is_bought_for_its_volts_and_type() -> None:
    (line,) = bought("{fit: {C1: {capacitor: 220u, type: polymer, rated: 6.3 V, plus: +5V, minus: GND}}}")
    assert line.matters[0] == "rated 6.3 V or more, for it sees 5 V at most"
    (unrated,) = bought("{fit: {C1: {capacitor: 100n, between: [+5V, GND]}}}")
    assert unrated.matters[0] == "it sees 5 V: buy one rated well above that"
    assert unrated.matters[1] == "the file does not say which type: settle that before buying"
