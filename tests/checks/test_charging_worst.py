"""The worst charge is never less than the nominal one: a fresh cell has the least resistance."""

from __future__ import annotations

import netcheck
from netcheck.reports.answer import answer

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
        fragment = netcheck.loads(BOARD.replace("resistor: 10,", f"resistor: {ohms},"))
        result = netcheck.check(fragment, "as found").variants[-1]
        cell = result.cells["BT1"]
        assert cell.charge_A is not None
        nominal = max(amps for amps in cell.takes_A.values() if amps is not None)
        assert cell.charge_A >= nominal, ohms
        assert "BT1" in answer(result, fragment).sentence
