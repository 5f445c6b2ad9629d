"""Parts that are asked for by name: an empty footprint among them, and one that the mod left alone."""

import pytest

import netcheck
from netcheck.api import explain
from netcheck.cli import main
from netcheck.fragment.mods import apply
from netcheck.reports.duties_section import explain_text

BOARD = """
title: header
rails: {+5V: 5 V}
parts:
  J1: {connector: external-battery-4, fitted: no, pins: {1: EXT, 2: X, 3: GND, 4: GND}}
  BT1: {cell: CR2032, plus: B0, minus: GND}
  R1: {resistor: 1k, between: [B0, VB]}
  D1: {diode: 1N4148, anode: VB, cathode: VM}
  U1: {load: 2 uA, plus: VM, minus: GND, works: 2 V to 5.5 V}
mods:
  cut:
    steps: [{remove: [D1, BT1]}]
"""


def told(mod, *parts):
    fragment = netcheck.loads(BOARD)
    fragment = apply(fragment, mod) if mod else fragment
    return explain_text(fragment, explain(fragment), parts, 80)


def test_an_empty_footprint_is_told_in_its_line_and_the_rest_is_explained():
    said = told(None, "J1", "R1")
    assert "J1  is an empty footprint here" in said
    assert "R1  lets BT1 keep U1 alive" in said


def test_a_part_that_the_mod_left_alone_is_not_taken_for_badly_traced():
    said = told("cut", "R1")
    assert "the mod cut leaves nothing else on its nets" in said
    assert "traced completely?" not in said


def test_the_command_says_both(tmp_path, capsys):
    path = tmp_path / "board.yaml"
    path.write_text(BOARD)
    with pytest.raises(SystemExit) as end:
        main(["explain", str(path), "--mod", "as found", "J1", "R1"])
    out = capsys.readouterr().out
    assert end.value.code == 0
    assert "empty footprint" in out
    assert "lets BT1 keep U1 alive" in out
