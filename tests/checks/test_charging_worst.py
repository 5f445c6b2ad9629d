"""The worst charge is never less than the nominal one: a fresh cell has the least resistance."""

from __future__ import annotations

import netcheck
from netcheck.checks.charging import charging
from netcheck.checks.life import gives
from netcheck.reports.answer import answer
from netcheck.solving.solved_states import survey

BOARD = """\
title: a small resistor charges a coin cell
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R8: {resistor: 10, between: [+5V, CELL]}
  U1: {load: 2 uA, plus: CELL, minus: GND, works: 1.5 V to 5.5 V}
"""


def test_worst_charge_is_at_least_the_nominal_one() -> None:
    for ohms in ("10", "100", "1k", "10k", "100k"):
        found = survey(netcheck.loads(BOARD.replace("resistor: 10,", f"resistor: {ohms},")))
        cell = found.fragment.parts["BT1"]
        worst_A = charging(found, cell, []).worst_A
        assert worst_A is not None
        assert worst_A >= max(-(amps or 0.0) for amps in gives(found, cell).values()) > 0, ohms
    fragment = netcheck.loads(BOARD)
    assert "BT1" in answer(netcheck.check(fragment, "as found").variants[-1], fragment).sentence
