"""Published worked examples, each as a fragment run through the whole program.

Sources as listed in the project's collection of published figures; the text
of each case says title, publisher and number.
"""

from __future__ import annotations

import pytest

import netcheck

CONDITIONS = "conditions: {temperature: 25 °C}\n"


def result(text):
    return netcheck.check(netcheck.loads(text)).variants[-1]


def cell(text):
    return result(text).cells["BT1"]


def test_coin_cell_behind_a_failed_diode():
    """(4.2 - 0.6 - 3.0) V / (15 + 10) ohm = 24 mA, below the 25 mA limit.

    Texas Instruments, E2E thread 733036 (answer by TI staff), pin CC of the
    TPS65218: one diode shorted, the other drops 0.6 V, cell 15 ohm, added R 10 ohm.
    IS is chosen so that the diode drops 0.6 V at 24 mA and 25 °C.
    """
    chain = cell("title: one shorted\nrails: {VIN: 4.2 V}\n" + CONDITIONS + """
parts:
  BT1: {cell: {chemistry: lithium-primary, volts: 3.0, capacity: 220 mAh, resistance: 15}, plus: CELL, minus: GND}
  R1: {resistor: 10, between: [CELL, A]}
  D1: {diode: {IS: 1.7315e-12, N: 1, EG: 1e-9, XTI: 0}, anode: A, cathode: OUT}
  D2: {diode: {IS: 1.7315e-12, N: 1, EG: 1e-9, XTI: 0}, anode: VIN, cathode: OUT}
""")
    assert chain.shorts_to_charge == 1
    assert chain.fault is not None
    assert (chain.fault.part, chain.fault.how) == ("D1", "short")
    assert chain.fault.amps == pytest.approx(24e-3, rel=0.005)


def test_current_through_a_clocks_own_resistors():
    """(5.5 - 1.8) V / (2 x 200 ohm) = 9.25 mA.

    Intersil, note on lithium backup and UL 60950-1 (ISL12026 family): gate of
    the MOSFET shorted, VDD 5.5 V, VBAT 1.8 V.
    """
    found = cell("title: internal path\nrails: {VDD: 5.5 V}\n" + CONDITIONS + """
parts:
  BT1: {cell: {chemistry: lithium-primary, volts: 1.8, capacity: 220 mAh, resistance: 1m}, plus: VBAT, minus: GND}
  R1: {resistor: 200, between: [VDD, M]}
  R2: {resistor: 200, between: [M, VBAT]}
""")
    assert found.charge_A == pytest.approx(9.25e-3, rel=1e-3)


def test_resistor_that_keeps_the_permitted_charge_current():
    """(5 - 3.6) V / 100 µA = 14 kohm at least.

    Hitachi Maxell, ER6K datasheet p. 4, "Warnings, ER lithium thionyl chloride battery 2/2".
    """
    found = cell("title: single diode and resistor\nrails: {+5V: 5 V}\n" + CONDITIONS + """
parts:
  BT1: {cell: {chemistry: lithium-thionyl, volts: 3.6, capacity: 2 Ah, resistance: 1}, plus: CELL, minus: GND}
  R1: {resistor: 14k, between: [CELL, A]}
  D1: {diode: 1N4148, anode: A, cathode: +5V}
""")
    assert found.fault is not None
    assert found.fault.amps == pytest.approx(100e-6, rel=1e-3)


def test_life_of_a_clock_cell():
    """1.2 Ah / 6 µA = 200 000 h (8760 h a year), through 100 kohm from 3.6 V.

    ADL Embedded Solutions, FAQ "expected life of the CMOS battery".
    """
    found = cell("title: clock cell\nrails: {+5V: 5 V}\n" + CONDITIONS + """
parts:
  BT1: {cell: {chemistry: lithium-thionyl, volts: 3.6, capacity: 1.2 Ah, resistance: 1}, plus: CELL, minus: GND}
  R1: {resistor: 100k, between: [CELL, VRTC]}
  U1: {load: 6 uA, plus: VRTC, minus: GND, works: 2.0 V to 3.7 V}
""")
    assert found.life is not None
    assert found.life.years == pytest.approx(200_000 / 8760, rel=1e-3)


@pytest.mark.parametrize(("volts", "ohms", "amps", "drop", "digits"), [
    # Course test file with printed assertions (IS 2e-14 A, n 1, VT 25.852 mV, which is 26.85 °C).
    (5, "430", 0.010008326909319902, 0.6964194289924417, 1e-4),
    (12, "1k", 0.01130044150850275, 0.6995584914972504, 1e-4),
    (5, "44.2k", 1.0006e-4, 0.57736, 1e-3),
])
def test_textbook_operating_points(volts, ohms, amps, drop, digits):
    """A diode and a resistor across a source; the printed result through the whole program.

    EG 0 and XTI 0 keep IS as printed whatever the temperature.
    """
    found = result(f"title: textbook\nrails: {{VS: {volts} V}}\nconditions: {{temperature: 26.8494 °C}}\n"
                   "parts:\n"
                   f"  R1: {{resistor: {ohms}, between: [VS, A]}}\n"
                   "  D1: {diode: {IS: 2e-14, N: 1, EG: 1e-9, XTI: 0}, anode: A, cathode: GND}\n")
    state = found.net_volts["main on"]
    assert state["A"] == pytest.approx(drop, abs=2e-4)
    assert (volts - state["A"]) / float(ohms.replace("k", "e3")) == pytest.approx(amps, rel=digits)


def test_three_cell_charger_is_a_resistor_and_a_diode_and_removing_either_stops_it():
    """Common practice, no source: how 3.6 V packs were charged from the 5 V rail."""
    found = cell("title: charger\nrails: {+5V: 5 V}\n" + CONDITIONS + """
parts:
  BT1: {cell: NiCd-3x60, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [+5V, CHG]}
  D3: {diode: 1N4148, anode: CHG, cathode: CELL}
""")
    assert found.charge_A is not None
    assert found.charge_A > 1e-4
    offered = {remedy.remove for remedy in found.remedies}
    assert {("R1",), ("D3",)} <= offered


@pytest.mark.parametrize(("diode", "least", "most"), [
    ("1N4148", 0.25, 0.5), ("BAT85", 0.03, 0.2), ("BAT54", 0.03, 0.2),
])
def test_drop_at_a_few_microamps(diode, least, most):
    """Common practice, no source: silicon drops 0.3 to 0.5 V at a few µA, a small Schottky 50 mV to 0.2 V."""
    found = result("title: backup\nrails: {+5V: 5 V}\n" + CONDITIONS + f"""
parts:
  BT1: {{cell: CR2032, plus: CELL, minus: GND}}
  D1: {{diode: {diode}, anode: CELL, cathode: VRAM}}
  U1: {{load: 3 uA, plus: VRAM, minus: GND}}
""")
    assert least < found.drops_V["main off"]["D1"] < most
