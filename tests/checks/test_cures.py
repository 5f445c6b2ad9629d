"""Cures lead where they say, leave no charge, and make one mod that can be pasted."""

from __future__ import annotations

from textwrap import indent

import netcheck
from netcheck.checks.standing import RANK

HIDDEN = """
title: a second way in, and a zener that never breaks down
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
  R8: {resistor: 10k, between: [+5V, CELL]}
  R1: {resistor: 6.8k, between: [+5V, A]}
  D4: {diode: 1N4148, anode: A, cathode: CELL}
  D5: {diode: BZX55C5V6, cathode: +5V, anode: C}
  D6: {diode: 1N5817, anode: C, cathode: CELL}
"""

TURNED = """
title: a diode the wrong way round
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [CELL, HOLD]}
  D1: {diode: 1N4148, anode: HOLD, cathode: MID}
  D3: {diode: 1N4148, anode: VRAM, cathode: MID}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""


def judged(text, mod=None):
    return netcheck.check(netcheck.loads(text), mod=mod).variants[-1]


def test_a_removal_that_leaves_another_way_open_is_not_offered():
    cell = judged(HIDDEN).cells["BT1"]
    removed = [set(remedy.remove) for remedy in cell.remedies if remedy.remove]
    assert {"R8", "R1"} in removed
    assert {"R8"} not in removed
    assert all(len(parts) == 2 for parts in removed)


def test_every_cure_leads_where_it_says_and_the_best_come_first():
    variant = judged(HIDDEN)
    remedies = variant.cells["BT1"].remedies
    ranks = [RANK.index(remedy.verdict) for remedy in remedies]
    assert ranks == sorted(ranks)
    assert RANK.index("danger") not in ranks
    for remedy in remedies:
        assert {"verdict", "lowest_V", "life_years", "because"} <= set(remedy.to_dict())
        assert remedy.because


def test_the_proposal_can_be_pasted_and_leads_to_its_verdict():
    proposal = judged(HIDDEN).cells["BT1"].proposal
    pasted = judged(HIDDEN + "mods:\n" + indent(proposal.mod, "  ") + "\n", mod=proposal.mod.partition(":")[0])
    assert pasted.verdict == proposal.verdict
    assert pasted.verdict in ("ok", "caution")


def test_a_diode_that_is_turned_round_is_offered_as_the_cure():
    cell = judged(TURNED).cells["BT1"]
    (first, *_) = cell.remedies
    assert (first.words, first.verdict in ("ok", "caution")) == ("turn D3 round", True)


def test_a_circuit_that_is_ok_has_no_cure():
    text = TURNED.replace("anode: VRAM, cathode: MID", "anode: MID, cathode: VRAM")
    cell = judged(text).cells["BT1"]
    assert cell.remedies == ()
    assert cell.proposal is None


def test_the_feed_of_a_load_is_not_taken_for_a_charger():
    shared = """
title: one diode feeds the load and the charger
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [VRTC, CELL]}
  D1: {diode: 1N4148, anode: +5V, cathode: VRTC}
  U1: {load: 2 uA, plus: VRTC, minus: GND, works: 1.5 V to 5.5 V}
"""
    cell = judged(shared).cells["BT1"]
    assert not any("D1" in remedy.remove for remedy in cell.remedies)
    assert "BT1.plus" in [remedy.insert_diode for remedy in cell.remedies]
