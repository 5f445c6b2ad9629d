"""Single failures that were left out as the circuit is large are told, and nothing stops for it."""

import netcheck
from netcheck.solving import failures

BOARD = """
title: a board
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [CELL, A]}
  D1: {diode: 1N4148, anode: A, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  D3: {diode: 1N4148, anode: +5V, cathode: B}
  R2: {resistor: 1k, between: [B, VRAM]}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""


def test_faults_left_out_are_told_as_unknown(monkeypatch):
    monkeypatch.setattr(failures, "_MOST_FAULT_WORK", 0)
    variant = netcheck.check(netcheck.loads(BOARD)).variants[-1]
    told = [f for f in variant.findings if f.severity.value == "unknown" and "were not tried" in f.message]
    assert len(told) == 1
    assert variant.verdict == "unknown"
