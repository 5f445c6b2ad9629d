"""One failed part that lets too many volts onto a load is told; one that does not is not."""

from __future__ import annotations

import pytest

import netcheck

ZENER = """
title: a zener holds a supply down
rails: {+12V: 12 V ±5%}
parts:
  R7: {resistor: 1k, between: [+12V, VDD]}
  D7: {diode: BZX55C4V7, anode: GND, cathode: VDD}
  U1: {load: 100 uA, plus: VDD, minus: GND, works: 2.0 V to 5.5 V, survives: 7 V}
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VDD}
"""


def told(text):
    return [f for f in netcheck.check(netcheck.loads(text)).variants[-1].findings if f.check == "fault-voltage"]


def test_the_part_whose_failure_lets_the_supply_through_is_named_with_the_volts():
    """R7 short joins the load to the rail, 12.6 V at the high end; D7 open leaves 0.1 V less (closed form)."""
    (found,) = told(ZENER)
    assert (str(found.severity), found.parts) == ("caution", ("R7", "D7", "U1"))
    assert found.figures["fault_V"] == pytest.approx(12.6, abs=0.1)


def test_a_load_that_survives_it_is_not_told():
    assert told(ZENER.replace("survives: 7 V", "survives: 15 V")) == []


def test_a_load_whose_limit_is_not_stated_cannot_be_judged():
    assert told(ZENER.replace(", works: 2.0 V to 5.5 V, survives: 7 V", "")) == []
