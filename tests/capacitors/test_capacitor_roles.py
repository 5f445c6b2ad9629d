"""What each capacitor is for, told from the circuit, and by the file where it says so."""

import netcheck
from netcheck.capacitors.roles import places

BOARD = """
title: roles
scope: list
rails: {+5V: 5 V, +12V: 12 V, -12V: -12 V, -5V: -5 V}
parts:
  C1: {capacitor: 100u, type: wet, rated: 25 V, plus: +12V, minus: GND}
  C2: {capacitor: 100u, type: wet, rated: 25 V, plus: GND, minus: -12V}
  C3: {capacitor: 100u, type: wet, rated: 10 V, plus: +5V, minus: GND}
  C4: {capacitor: 100u, type: wet, rated: 10 V, plus: GND, minus: -5V}
  C5: {capacitor: 10u, type: wet, rated: 50 V, plus: +12V, minus: -12V}
  C6: {capacitor: 100n, type: X7R, between: [+5V, GND], at: U1}
  C7: {capacitor: 10u, type: X7R, between: [+5V, GND], at: U1}
  U1: {chip: processor, pins: {VDD: +5V, RES: NRES, GND: GND, OUT: OUT}}
  U2: {chip: clock generator, pins: {LF: loop-filter, XI: crystal, XO: crystal, VREF: reference, AOUT: audio,
       TC: timing, VDD: +5V}}
  C8: {capacitor: 1u, type: tantalum, rated: 35 V, plus: LF, minus: GND}
  C9: {capacitor: 22p, type: C0G, between: [XI, GND]}
  C10: {capacitor: 10u, type: tantalum, rated: 16 V, plus: VREF, minus: GND}
  C11: {capacitor: 10u, type: wet, rated: 25 V, plus: AOUT, minus: LINE}
  C12: {capacitor: 4.7u, type: tantalum, rated: 16 V, plus: NRES, minus: GND}
  R1: {resistor: 22k, between: [+5V, NRES]}
  C13: {capacitor: 1u, type: film, between: [N1, GND]}
  R2: {resistor: 100k, between: [+5V, N1]}
  U3: {regulator: LM1117, input: VIN, output: VC, adjust: ADJ}
  R3: {resistor: 120, between: [VC, ADJ]}
  R4: {resistor: 200, between: [ADJ, GND]}
  D1: {diode: 1N5819, anode: +12V, cathode: VIN}
  C14: {capacitor: 100u, type: wet, rated: 25 V, plus: VIN, minus: GND}
  C15: {capacitor: 22u, type: tantalum, rated: 16 V, plus: VC, minus: GND}
  C16: {capacitor: 10u, type: wet, rated: 16 V, plus: ADJ, minus: GND}
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D2: {diode: BAT85, anode: CELL, cathode: VB}
  D3: {diode: 1N4148, anode: +5V, cathode: VB}
  U4: {load: 2 uA, plus: VB, minus: GND}
  C17: {capacitor: 100n, type: X7R, between: [VB, GND]}
  C18: {capacitor: 10n, type: film, between: [SW, S2]}
  R5: {resistor: 100, between: [S2, DRV]}
  C19: {capacitor: 1u, type: film, between: [IN, MID]}
  F1: {fuse: 1 A, between: [+5V, +5VF]}
  C20: {capacitor: 47u, type: wet, rated: 10 V, plus: +5VF, minus: GND}
  C21: {capacitor: 10n, type: film, between: [Q9, GND]}
  C22: {capacitor: 100u, type: wet, rated: 10 V, plus: +5V, minus: GND, role: loop-filter}
  C23: {capacitor: 100u, type: wet, rated: 10 V, plus: +5V, minus: GND, role: rail}
"""


def test_each_place_is_told():
    found = places(netcheck.loads(BOARD))
    wanted = {
        "C1": ("rail", "+12V"), "C2": ("rail", "-12V"), "C3": ("rail", "+5V"), "C4": ("rail", "-5V"),
        "C5": ("between-rails", "+12V"), "C6": ("decoupling", "+5V"), "C7": ("decoupling", "+5V"),
        "C8": ("loop-filter", None), "C9": ("crystal-load", None), "C10": ("reference", None),
        "C11": ("coupling", None), "C12": ("reset", None), "C13": ("timing", None), "C14": ("regulator-input", None),
        "C15": ("regulator-output", "VC"), "C16": ("regulator-adjust", None), "C17": ("backup", None),
        "C18": ("snubber", None), "C19": ("coupling", None), "C20": ("rail", "+5V"), "C21": ("unknown", None),
    }
    assert {name: (found[name].role, found[name].rail) for name in wanted} == wanted
    assert all(place.why for place in found.values())


def test_what_it_serves_and_what_makes_the_time():
    found = places(netcheck.loads(BOARD))
    assert found["C8"].of == "U2"
    assert found["C6"].of == "U1"
    assert found["C15"].of == "U3"
    assert found["C17"].of == "BT1"
    assert found["C12"].resistors == ("R1",)
    assert found["C13"].resistors == ("R2",)


def test_the_file_overrules_and_a_contradiction_is_kept():
    found = places(netcheck.loads(BOARD))
    assert (found["C22"].role, found["C22"].shown) == ("loop-filter", "rail")
    assert (found["C23"].role, found["C23"].shown) == ("rail", None)
    findings = netcheck.check(netcheck.loads(BOARD)).variants[0].findings
    assert [one.subject for one in findings if one.check == "role"] == ["C22"]
