"""What makers and standards print about backup circuits, against the program: limits, application circuits, tables."""

from __future__ import annotations

import pytest

import netcheck

FIRST_ORDER = 0.06
"""The makers' sums leave out tolerances and the drop of the supply's diode; here it is 40 mV."""


def found(text):
    return netcheck.check(netcheck.loads(text)).variants[-1]


def one_diode(cell, rail, ohm, conditions="temperature: 25 °C, powered: 2 h/day"):
    """A cell behind a resistor and one diode, the supply's own diode all but ideal: the circuit of the makers' sums."""
    return f"""
title: maker's circuit
rails: {{+5V: {rail}}}
conditions: {{{conditions}}}
parts:
  BT1: {{cell: {cell}, plus: CELL, minus: GND}}
  R1: {{resistor: {ohm}, between: [CELL, HOLD]}}
  D1: {{diode: 1N4148, anode: HOLD, cathode: VRAM}}
  D2: {{diode: {{IS: 1 nA, N: 0.1}}, anode: +5V, cathode: VRAM}}
  U1: {{load: 1 uA, plus: VRAM, minus: GND, works: 1.0 V to 5.5 V}}
"""


def cell(volts, limit, ohm=0.1):
    return (f"{{chemistry: lithium-primary, volts: {volts}, capacity: 200 mAh, resistance: {ohm}, "
            f"abnormal_charge: {limit}}}")


@pytest.mark.parametrize(("volts", "limit", "rail", "enough", "too_small", "source"), [
    (3.6, "100 uA", "5 V", "14.2k", "13.5k", "Maxell, ER6K data sheet p. 4: (5 - 3.6) V / 100 µA = 14 kohm"),
    (3.0, "10 mA", "5 V", "203", "190", "from memory: Maxell CR guide, (5 - 3) V / 10 mA = 0.2 kohm"),
    (3.0, "25 mA", "5 V", "82", "76", "Renata, Designer's Guide p. 53: 25 mA for CR2032; (5 - 3) V / 25 mA = 80 ohm"),
    (3.0, "5 mA", "5 V", "405", "385", "Renata, Designer's Guide p. 53: 5.0 mA for CR1216; (5 - 3) V / 5 mA = 400 ohm"),
])
def test_the_resistor_that_a_maker_works_out_is_the_one_that_is_accepted(volts, limit, rail, enough, too_small, source):
    right, wrong = (found(one_diode(cell(volts, limit), rail, ohm)) for ohm in (enough, too_small))

    def beyond(variant):
        return [f for f in variant.findings if f.check == "fault-current" and str(f.severity) in ("caution", "danger")]

    assert not beyond(right), source
    assert beyond(wrong), source
    assert right.verdict in ("ok", "caution")
    assert wrong.verdict == "caution"


def test_the_fault_current_of_a_power_management_chip_with_a_coin_cell():
    """(4.2 - 0.6 - 3.0) V / (15 + 10) ohm = 24 mA, below 25 mA: TI staff, E2E thread 733036 (TPS65218)."""
    variant = found("""
title: coin cell of a power-management chip
rails: {VSYS: 4.2 V}
conditions: {temperature: 25 °C, powered: 2 h/day}
parts:
  BT1: {cell: {chemistry: lithium-primary, volts: 3.0, capacity: 200 mAh, resistance: 15, abnormal_charge: 25 mA},
        plus: CELL, minus: GND}
  R1: {resistor: 10, between: [CELL, HOLD]}
  D1: {diode: BAT54, anode: HOLD, cathode: CC}
  D2: {diode: {points: [[1 mA, 0.5 V], [24 mA, 0.6 V]], leakage: 1 nA at 5 V}, anode: VSYS, cathode: CC}
  U1: {load: 1 uA, plus: CC, minus: GND, works: 1.0 V to 5.5 V}
""")
    assert variant.cells["BT1"].fault.amps == pytest.approx(24e-3, rel=FIRST_ORDER)
    assert variant.verdict in ("ok", "caution")
    assert not [f for f in variant.findings if f.check == "fault-current" and str(f.severity) == "danger"]


def test_the_fault_current_of_a_clock_with_its_own_resistors():
    """(5.5 - 1.8) V through 2 x 200 ohm = 9.25 mA: Intersil, note on lithium backup and UL 60950-1 (ISL12026)."""
    variant = found(one_diode(cell(1.8, "10 mA"), "5.5 V", 400))
    assert variant.cells["BT1"].fault.amps == pytest.approx(9.25e-3, rel=FIRST_ORDER)


def test_a_lone_charging_diode_is_for_a_supercapacitor_and_never_for_a_battery():
    """Intersil, X1286 data sheet FN8101.1 p. 23: not with a battery, above all lithium."""
    board = """
title: charging diode
rails: {{+5V: 5 V ±5%}}
conditions: {{temperature: 10 to 40 °C, powered: 8 h/day}}
parts:
  BT1: {{cell: {kind}, plus: VBAT, minus: GND}}
  D1: {{diode: 1N4148, anode: +5V, cathode: VBAT}}
  U1: {{load: 1 uA, plus: VBAT, minus: GND, works: 1.8 V to 5.5 V}}
"""
    assert found(board.format(kind="CR2032")).verdict == "danger"
    assert found(board.format(kind="supercap-0.22F")).verdict in ("ok", "caution")


def test_reverse_current_into_thionyl_cells():
    """Below 10 µA for a full service life: Tadiran, safety page (UL 1642 measures). (5 - 3.6) V / 100k is over."""
    def pull_up(ohm):
        return found(f"""
title: pull-up on a thionyl cell
rails: {{+5V: 5 V}}
conditions: {{temperature: 25 °C, powered: 1 h/day, years: 1}}
parts:
  BT1: {{cell: {{chemistry: lithium-thionyl, volts: 3.6, capacity: 1.2 Ah, resistance: 30}}, plus: CELL, minus: GND}}
  R5: {{resistor: {ohm}, between: [+5V, CELL]}}
  U1: {{load: 1 uA, plus: CELL, minus: GND, works: 2.0 V to 5.5 V}}
""")
    assert pull_up("100k").verdict == "danger"


LEAKS = (
    ("BAT54", 0.3e-6, 1.8e-6, "0.87 µA at 2 V, 1.10 µA at 5 V typically, 50 °C: Vishay document 85508 Rev 2.0, Fig. 3"),
    ("1N4148", 3e-9, 60e-9, "50 nA at 20 V typically, 50 °C: NXP 1N4148; 1N4448 2004 Aug 10, Fig. 5; a third at 2 V"),
    ("1N5711", 20e-9, 180e-9, "57 nA at 2 V, 90 nA at 5 V typically, 50 °C: Vishay document 85645 Rev 1.3, Fig. 3"),
)


def test_typical_leakage_hot_is_what_makers_curves_give():
    """The published figure within a factor of two, makers' own curves differing by as much."""
    wrong = []
    for diode, least, most, source in LEAKS:
        text = one_diode("CR2032", "5 V", "1k", "temperature: 50 °C, powered: 2 h/day").replace("1N4148", diode)
        leak = found(text).cells["BT1"].leakage_A["typical"]
        if leak is None or not least <= leak <= most:
            wrong.append(f"{diode}: {leak} A, not {least} to {most} ({source})")
    assert not wrong, "\n".join(wrong)


KNEES = (
    # onsemi, BZX84C2V4LT1/D, VZ2 at 1 mA, from memory: 2.9 to 3.5, 3.7 to 4.7, 4.2 to 5.3, 4.8 to 6.0, 5.6 to 6.6 V
    ("BZX55C3V9", 2.9, 3.5), ("BZX55C4V7", 3.7, 4.7), ("BZX55C5V1", 4.2, 5.3), ("BZX55C5V6", 4.8, 6.0),
    ("BZX55C6V2", 5.6, 6.6),
)


def test_zeners_at_one_milliampere_are_where_the_tables_put_them():
    wrong = []
    for name, least, most in KNEES:
        middle = (least + most) / 2
        variant = found(f"""
title: knee
rails: {{+12V: 12 V}}
conditions: {{temperature: 25 °C}}
parts:
  R1: {{resistor: {(12 - middle) / 1e-3:.0f}, between: [+12V, NZ]}}
  D1: {{diode: {name}, anode: GND, cathode: NZ}}
states: {{running: {{main: on}}}}
""")
        volts = variant.net_volts["running"]["NZ"]
        if volts is None or not least <= volts <= most:
            wrong.append(f"{name}: {volts} V at 1 mA, not {least} to {most} V")
    assert not wrong, "\n".join(wrong)


def test_a_zener_far_below_its_volts_passes_what_its_sheet_allows():
    """IR of BZX84C3V9: below 3 µA at 1 V (BZX84C tables); 1 V over a 10 Mohm meter's worth of resistance is seen."""
    variant = found("""
title: foot of the knee
rails: {+1V: 1.1 V}
conditions: {temperature: 25 °C}
parts:
  R1: {resistor: 10k, between: [+1V, NZ]}
  D1: {diode: BZX55C3V9, anode: GND, cathode: NZ}
states: {running: {main: on}}
""")
    assert (1.1 - variant.net_volts["running"]["NZ"]) / 10e3 < 4e-6
