"""A cell that keeps nothing alive is told, with what is the wrong way round."""

from __future__ import annotations

import pytest

import netcheck
from netcheck.fragment.model import Kind, Step
from netcheck.fragment.mods import apply_steps

COIN = """
title: a coin cell behind its diode
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""


def judged(text):
    variant = netcheck.check(netcheck.loads(text)).variants[-1]
    return variant, [f for f in variant.findings if f.check == "keeps-nothing"]


def test_a_diode_the_wrong_way_round_is_named():
    variant, (found,) = judged(COIN.replace("anode: CELL, cathode: VRAM", "anode: VRAM, cathode: CELL")
                               .replace("D2: {diode: 1N4148, anode: +5V, cathode: VRAM}",
                                        "D3: {diode: 1N4148, anode: CELL, cathode: CELL2}"))
    assert variant.verdict == "fails"
    assert "D1" in found.parts
    assert "Turn D1 round" in found.advice


def test_a_cell_the_wrong_way_round_behind_its_diode_is_named():
    variant, (found,) = judged(COIN.replace("plus: CELL, minus: GND}\n  D1", "plus: GND, minus: CELL}\n  D1"))
    assert variant.verdict == "fails"
    assert "BT1" in found.parts


def test_a_cell_that_keeps_its_load_is_not_told():
    assert judged(COIN)[1] == []


def test_a_load_beside_it_that_hangs_on_the_rail_alone_is_not_told():
    assert judged(COIN + "  U2: {load: 1 mA, plus: +5V, minus: GND, works: 4 V to 5.5 V}\n")[1] == []


def test_without_a_cell_there_is_nothing_to_keep():
    text = "\n".join(line for line in COIN.splitlines() if "BT1" not in line and "D1" not in line) + "\n"
    assert judged(text)[1] == []


def test_a_state_that_could_not_be_solved_is_unknown_and_not_silent():
    variant, found = judged(COIN + "  Q9: {transistor: 2N7000, drain: VRAM, gate: NG, source: GND}\n")
    assert (variant.verdict, found) == ("unknown", [])


def test_no_step_that_turns_a_cell_round_shorts_it():
    backwards = netcheck.loads(COIN.replace("plus: CELL, minus: GND}\n  D1", "plus: GND, minus: CELL}\n  D1"))
    proposal = netcheck.check(backwards).variants[-1].cells["BT1"].proposal
    assert any("turn BT1 round" in words for words in proposal.words)
    changed = backwards
    for step in proposal.steps:
        for key, net in step.moves.items():
            changed = apply_steps(changed, (Step("move", step.mark, moves={key: net}),))
            cell = changed.parts["BT1"]
            assert cell.pins["plus"] != cell.pins["minus"]
            across = {cell.pins["plus"], cell.pins["minus"]}
            assert not [part.name for part in changed.fitted if part.kind is Kind.RESISTOR and set(part.nets) == across]
    assert changed.parts["BT1"].pins["minus"] == "GND"
    lines = [line for line in proposal.mod.splitlines() if "BT1.plus" in line]
    assert len(lines) == 2  # lifted, then where it belongs


OUT = "mods: {out: {steps: [{remove: [BT1]}]}}\n"
EMPTY = COIN.replace("plus: CELL, minus: GND}\n  D1", "plus: CELL, minus: GND, fitted: no}\n  D1")


def of_mod(text, name):
    variant = netcheck.check(netcheck.loads(text), mod=name).variants[-1]
    return variant, [f for f in variant.findings if f.check == "keeps-nothing"]


@pytest.mark.parametrize("result", [lambda: of_mod(COIN + OUT, "out"), lambda: judged(EMPTY)])
def test_a_cell_taken_out_or_not_fitted_keeps_its_load_no_more(result):
    variant, (found,) = result()
    assert (variant.verdict, found.case, found.subject, found.words["cells"]) == ("fails", "cell-out", "U1", ("BT1",))
    assert "kept: no" in found.advice
    assert not [f for f in variant.findings if f.check == "tracing"]


@pytest.mark.parametrize("said", ["kept: no", "works: 1.5 V to 5.5 V, kept: no"])
def test_of_a_load_that_need_not_be_kept_the_cell_may_be_out(said):
    free = EMPTY.replace("works: 1.5 V to 5.5 V", said)
    assert judged(free)[0].verdict == "ok"


def test_a_mod_that_fits_another_cell_in_its_place_is_not_told():
    other = OUT.replace("{remove: [BT1]}", "{remove: [BT1]}, {fit: {BT9: {cell: CR2032, plus: CELL, minus: GND}}}")
    assert of_mod(COIN + other, "out")[1] == []


def test_another_cell_that_was_never_fitted_is_not_missed():
    assert judged(COIN + "  BT2: {cell: CR2032, plus: VRAM, minus: GND, fitted: no}\n")[1] == []


def test_a_cell_that_reached_another_load_alone_is_not_the_reason():
    apart = COIN + "  U2: {load: 2 uA, plus: V2, minus: GND, works: 1.5 V to 5.5 V, kept: yes}\n" \
                   "  D5: {diode: 1N4148, anode: +5V, cathode: V2}\n" + OUT
    assert [(f.subject, f.case) for f in of_mod(apart, "out")[1]] == [("U1", "cell-out")]


def test_another_cell_in_its_place_that_reaches_nothing_is_the_one_that_is_told():
    other = OUT.replace("{remove: [BT1]}", "{remove: [BT1]}, {fit: {BT9: {cell: CR2032, plus: N9, minus: GND}}}")
    (found,) = of_mod(COIN + other, "out")[1]
    assert (found.case, found.subject) == ("no-load", "BT9")


def test_a_cell_that_is_there_for_another_load_is_not_blamed_for_the_one_that_is_out():
    beside = "  BT2: {cell: CR2032, plus: V2, minus: GND}\n" \
             "  U2: {load: 2 uA, plus: V2, minus: GND, works: 1.5 V to 5.5 V, kept: no}\n"
    assert [(f.case, f.subject) for f in judged(EMPTY + beside)[1]] == [("cell-out", "U1")]
