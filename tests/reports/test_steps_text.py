"""The steps of a mod at the bench: which lead goes to which pad, and how to tell it."""

from __future__ import annotations

from write_ups import EXAMPLES

from netcheck.api import load, loads
from netcheck.fragment.model import Fragment
from netcheck.reports.steps_text import StepText, steps_text

HEAD = """
title: A board (invented)
rails: {+5V: 5 V}
parts:
  BT1: {cell: NiCd-3x60, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [+5V, CELL], at: left of the crystal}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  JP1: {jumper: [VRAM, TEST, GND], positions: {normal: 1-2, clear: 2-3}}
  U1: {load: 2 uA, plus: VRAM, minus: GND}
  C9: {capacitor: 10u, plus: VRAM, minus: GND, fitted: no}
mods:
"""


def fragment(steps: str) -> Fragment:
    return loads(f"{HEAD}  m: {{steps: [{steps}]}}\n")


def steps(text: str) -> list[StepText]:
    return steps_text(fragment(text), "m")


def leads(step: StepText) -> list[tuple[str, str, str]]:
    return [(lead.lead, lead.net, lead.where) for lead in step.leads]


def test_a_diode_is_told_by_its_band() -> None:
    (step,) = steps("{fit: {D2: {diode: 1N4148, anode: +5V, cathode: VRAM}}}")
    assert step.title == "Fit D2 (1N4148 diode)."
    assert step.look == ("D2: look for 1N4148 on the body, often only 4148.",)
    assert leads(step) == [
        ("the plain end (anode)", "+5V", "with an end of R1"),
        ("the band (cathode)", "VRAM", "the pad that the plus of C9 left free"),
    ]


def test_a_diode_with_three_leads_has_no_band() -> None:
    (step,) = steps("{fit: {D2: {diode: BAS70, anode: +5V, cathode: VRAM}}}")
    assert "SOT-23" in step.look[0]
    assert "adapter" in step.look[0]
    assert [lead for lead, _, _ in leads(step)] == [
        "the anode lead (SOT-23: which one its data sheet says)",
        "the cathode lead (SOT-23: which one its data sheet says)"]


def test_a_resistor_is_told_by_bands_and_code_and_goes_in_either_way() -> None:
    (step,) = steps("{fit: {R2: {resistor: 4k7, between: [CELL, NEW]}}}")
    assert step.look == (
        "R2: look for four bands yellow violet red gold; five bands yellow violet black brown brown; "
        "chip code 472 or 4701.",)
    assert step.notes == ("R2 has no polarity: it goes in either way round.",)
    assert leads(step)[0] == ("one end", "CELL", "with the plus of BT1, an end of R1 and 1 more")
    assert leads(step)[1][2] == "a new point on no pad of the board: join the leads there and sleeve them"


def test_what_is_taken_out_leaves_its_pads_to_what_comes_next() -> None:
    out, one, other = steps("{remove: R1, because: it charges}, {fit: {R2: {resistor: 1k, between: [CELL, X]}}}, "
                            "{fit: {R3: {resistor: 1k, between: [CELL, X]}}}")
    assert out.title == "Take out R1 (1 kΩ resistor)."
    assert out.because == "it charges"
    assert out.look[0].startswith("R1: left of the crystal, look for four bands brown black red gold;")
    assert out.look[0].endswith("It stands between +5V and CELL.")
    assert leads(one)[0][2] == "the pad that an end of R1 left free"
    assert leads(other)[0][2] == "with the plus of BT1, the anode of D1 and 1 more"


def test_a_part_in_the_place_of_another_takes_its_pads() -> None:
    (step,) = steps("{replace: {BT1: {cell: CR2032}}}")
    assert step.title == "Replace BT1: take out the NiCd-3x60 cell, put in the CR2032 cell."
    assert leads(step) == [
        ("plus (the broad side of the can, facing up in most holders)", "CELL", "the pad of the old BT1"),
        ("minus", "GND", "the pad of the old BT1"),
    ]
    assert "holder" in step.notes[0]


def test_bars_mean_minus_on_aluminium_and_plus_on_tantalum() -> None:
    # TAJ series data sheet, Kyocera AVX: the bar of a chip is plus; common practice, no source, for aluminium.
    wet, tantalum, unknown = steps(
        "{fit: {C1: {capacitor: 10u, type: wet, plus: VRAM, minus: GND}}}, "
        "{fit: {C2: {capacitor: 10u, type: tantalum, plus: VRAM, minus: GND}}}, "
        "{fit: {C3: {capacitor: 10u, plus: VRAM, minus: GND}}}")
    assert [lead.lead for lead in wet.leads] == ["plus (the longer lead)", "minus (the bar on the sleeve or can)"]
    assert tantalum.leads[0].lead == "plus (the bar on a chip; the + or the longer lead of a bead)"
    assert unknown.leads[0].lead == "plus (an aluminium part bars its minus, a tantalum chip its plus)"


def test_a_lead_that_moves() -> None:
    fit, move = steps("{fit: {R2: {resistor: 1k, between: [CELL, HOLD]}}}, {move: {BT1.plus: HOLD}}")
    assert fit.action == "fit"
    assert move.title == "Move the plus of BT1 from CELL to HOLD."
    assert leads(move) == [("plus", "HOLD", "with an end of R2")]


def test_a_link_joins_nets_and_their_free_pads() -> None:
    out, link, fit = steps("{remove: D1}, {join: [CELL, VRAM]}, "
                           "{fit: {R2: {resistor: 1k, between: [VRAM, +5V]}}}")
    assert out.action == "remove"
    assert link.title == "Run a wire link between CELL and VRAM."
    assert [where for _, _, where in leads(link)] == [
        "the pad that the anode of D1 left free", "the pad that the plus of C9 left free"]
    assert fit.leads[1].net == "+5V"


def test_a_jumper_is_set_by_its_pins() -> None:
    (step,) = steps("{set: {JP1: clear}}")
    assert step.title == "Set JP1 to clear."
    assert step.notes == ("JP1: cap on pins 2 and 3; it joins TEST to GND.",)
    (step,) = steps("{set: {JP1: absent}}")
    assert step.notes == ("JP1: no cap; it joins nothing.",)


def test_a_mod_after_another_begins_with_the_other() -> None:
    both = loads(f"{HEAD}  one: {{steps: [{{remove: R1}}]}}\n  two: {{after: one, steps: [{{remove: D1}}]}}\n")
    assert [(step.mod, step.title[:11]) for step in steps_text(both, "two")] == [
        ("one", "Take out R1"), ("two", "Take out D1")]


def test_what_is_marked_on_the_board_is_said() -> None:
    sampler = load(EXAMPLES / "rack-sampler.yaml")
    out = steps_text(sampler, "coin-cell")[1]
    assert out.look[0] == "R1: marked “brown black red gold” on this board. It stands between +5V and CHG."


def test_the_cell_comes_out_first_and_goes_in_last_where_its_lead_ends_up() -> None:
    told = steps_text(load(EXAMPLES / "rack-sampler.yaml"), "coin-cell")
    assert [step.title.partition(" (")[0] for step in told] == [
        "Take out BT1", "Take out R1", "Replace D1: take out the 1N4148 diode, put in the BAS70 diode.", "Fit R9",
        "Fit BT1"]
    assert leads(told[-1]) == [
        ("plus (the broad side of the can, facing up in most holders)", "HOLD", "with an end of R9"),
        ("minus", "GND", "the pad of the old BT1")]


def test_an_order_that_would_make_another_circuit_is_not_taken() -> None:
    fit, gone, again = steps("{fit: {R2: {resistor: 1k, between: [CELL, X]}}}, {remove: R2}, "
                             "{fit: {R2: {resistor: 2k, between: [CELL, X]}}}")
    assert [step.action for step in (fit, gone, again)] == ["fit", "remove", "fit"]
