"""From a fragment, a state and a corner to elements."""

from math import isnan

import pytest

import netcheck
from netcheck.fragment.states import State, enumerate_states
from netcheck.parts import diode
from netcheck.simulation.assemble import LEAST_LEAKAGE_POWER, SHORT_OHM, circuit_of, steady_A
from netcheck.simulation.corner import Corner, Fault
from netcheck.simulation.elements import (
    Battery,
    Bipolar,
    Capacitance,
    Draw,
    FieldEffect,
    Junction,
    Regulation,
    Resistance,
    Source,
)
from netcheck.simulation.operating_point import solve

BACKUP = """
title: backup
rails:
  +5V: 5 V ±5%
  -12V: -12 V ±10%
  5VSB: {volts: 5 V, supply: standby, when_off: open}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  BT2: {cell: alkaline-3xAA, plus: EXT, minus: GND, plugged: maybe}
  R1: {resistor: 470 ±5%, between: [+5V, CHG]}
  R2: {resistor: 1k, between: [CHG, GND], fitted: no}
  D3: {diode: 1N4148, anode: CHG, cathode: CELL}
  D1: {diode: BAT85, anode: CELL, cathode: VRAM}
  C1: {capacitor: 100n, esr: 0.1, between: [VRAM, GND]}
  L1: {inductor: 10u, between: [EXT, VX]}
  F1: {fuse: 1 A, between: [VX, VY]}
  JP1: {jumper: [VY, VRAM, GND], positions: {normal: 1-2, clear: 2-3}, set: normal}
  U1: {load: 2 uA, plus: VRAM, minus: GND}
  Q1: {transistor: 2N3904, collector: N1, base: N2, emitter: GND}
  Q2: {transistor: 2N7000, drain: N1, gate: N2, source: GND}
  U5: {chip: glue, pins: [VRAM, N1], clamps: {to: +5V, from: [N1]}}
"""


@pytest.fixture(scope="module")
def fragment():
    return netcheck.loads(BACKUP)


def state(**changes):
    as_set = {"supplies": {"main": True, "standby": True}, "positions": {"JP1": "normal"}, "plugged": {"BT2": True}}
    return State("as set", **(as_set | changes))


def elements(fragment, at=None, corner=None, **more):
    circuit = circuit_of(fragment, at or state(), corner or Corner("nominal"), **more)
    return {element.name: element for element in circuit.elements}


def test_every_part_becomes_its_element_under_its_own_name(fragment):
    found = elements(fragment)
    assert {name: type(element) for name, element in found.items()} == {
        "+5V": Source, "-12V": Source, "5VSB": Source, "BT1": Battery, "BT2": Battery, "R1": Resistance,
        "D3": Junction, "D1": Junction, "C1": Capacitance, "L1": Resistance, "F1": Resistance, "JP1": Resistance,
        "U1": Draw, "Q1": Bipolar, "Q1.off": Draw, "Q2": FieldEffect, "Q2.off": Draw,
        "U5.clamp.N1": Junction, "U5.clamp.N1.ground": Junction,
    }
    assert found["+5V"] == Source("+5V", "+5V", "GND", 5.0)
    assert (found["D3"].anode, found["D3"].cathode) == ("CHG", "CELL")
    assert (found["JP1"].a, found["JP1"].b) == ("VY", "VRAM")
    assert (found["U5.clamp.N1"].anode, found["U5.clamp.N1"].cathode) == ("N1", "+5V")
    assert (found["U5.clamp.N1.ground"].anode, found["U5.clamp.N1.ground"].cathode) == ("GND", "N1")
    assert found["C1"] == Capacitance("C1", "VRAM", "GND", 1e-7, 0.1, 0.0)
    assert found["U1"].amps == 2e-6


def test_a_rail_that_is_off_is_held_low_or_left_alone(fragment):
    found = elements(fragment, state(supplies={"main": False, "standby": False}))
    assert found["+5V"].volts == 0.0
    assert "5VSB" not in found


@pytest.mark.parametrize(("position", "ends"), [("normal", ("VY", "VRAM")), ("clear", ("VRAM", "GND"))])
def test_a_jumper_joins_what_its_position_says(fragment, position, ends):
    link = elements(fragment, state(positions={"JP1": position}))["JP1"]
    assert (link.a, link.b) == ends


def test_an_absent_cap_and_an_unplugged_cell_are_not_there(fragment):
    found = elements(fragment, state(positions={"JP1": "absent"}, plugged={"BT2": False}))
    assert {"JP1", "BT2"} & found.keys() == set()


@pytest.mark.parametrize(("place", "rail", "negative", "ohm"), [
    (-1.0, 4.75, -10.8, 446.5), (0.0, 5.0, -12.0, 470.0), (0.5, 5.125, -12.6, 481.75), (1.0, 5.25, -13.2, 493.5),
])
def test_corners_move_rails_away_from_zero_and_resistors_up(fragment, place, rail, negative, ohm):
    found = elements(fragment, corner=Corner("c", supply=place, resistance=place))
    assert found["+5V"].volts == pytest.approx(rail)
    assert found["-12V"].volts == pytest.approx(negative)
    assert found["R1"].ohm == pytest.approx(ohm)


def test_a_corner_reaches_cells_diodes_and_the_circuits_temperature(fragment):
    fresh = elements(fragment, corner=Corner("fresh", temperature_C=25.0))
    old = elements(fragment, corner=Corner("old", temperature_C=50.0, used=1.0, drop="maximum", leakage="maximum"))
    assert old["BT1"].volts < fresh["BT1"].volts
    assert old["BT1"].ohm > fresh["BT1"].ohm
    at = diode.at(fragment.parts["D1"].spec, 50.0, "maximum", "maximum")
    d1 = old["D1"]
    assert (d1.saturation_A, d1.emission, d1.series_ohm) == (at.saturation_A, at.emission, at.series_ohm)
    assert (d1.leakage_A, d1.leakage_at_V) == (at.leakage_A, at.leakage_at_V)
    assert d1.leakage_power == max(at.leakage_power, LEAST_LEAKAGE_POWER)

    assert old["Q1"].saturation_A > 10 * fresh["Q1"].saturation_A  # silicon doubles within some 5 K
    assert circuit_of(fragment, state(), Corner("hot", temperature_C=50.0)).temperature_C == 50.0


@pytest.mark.parametrize("part", ["R1", "D3", "C1"])
def test_a_short_of_a_part_with_two_pins_takes_its_place(fragment, part):
    found = elements(fragment, faults=[Fault(part, "short", tuple(fragment.parts[part].pins))])
    assert found[part] == Resistance(part, *fragment.parts[part].nets, SHORT_OHM)


def test_a_short_in_a_transistor_lies_beside_it(fragment):
    found = elements(fragment, faults=[Fault("Q2", "short", ("drain", "source"))])
    assert isinstance(found["Q2"], FieldEffect)
    assert found["Q2.short"] == Resistance("Q2.short", "N1", "GND", SHORT_OHM)


def test_open_parts_parts_left_out_and_parts_added(fragment):
    found = elements(fragment, faults=[Fault("D1", "open")], without=["BT1", "U5", "-12V"],
                     extra=[Resistance("meter", "CELL", "GND", 1e7)])
    assert {"D1", "BT1", "U5.clamp.N1", "-12V"} & found.keys() == set()
    assert found["meter"].ohm == 1e7


def regulator(kind, pins):
    fragment = netcheck.loads("title: r\nrails: {IN: 12 V}\nparts:\n"
                              f"  U3: {{regulator: {kind}, input: IN, output: OUT, {pins}}}\n"
                              "  R1: {resistor: 240, between: [OUT, ADJ]}\n"
                              "  R2: {resistor: 720, between: [ADJ, GND]}\n")
    (one, *_) = enumerate_states(fragment).states
    return fragment, one


@pytest.mark.parametrize(("kind", "pins", "between", "volts"), [
    ("{reference: 1.25 V ±2%, between: output-adjust, adjust_current: 50 uA, dropout: 1.5 V}", "adjust: ADJ",
     "output-adjust", 1.25 * 4 + 50e-6 * 720),
    ("{reference: 1.25 V ±2%, between: adjust-ground, adjust_current: 0, dropout: 0.5 V}", "adjust: ADJ, ground: GND",
     "adjust-ground", 1.25 * 960 / 720),
])
def test_regulators_of_both_families(kind, pins, between, volts):
    fragment, one = regulator(kind, pins)
    found = elements(fragment, one)["U3"]
    assert isinstance(found, Regulation)
    assert (found.between, found.reference_V) == (between, 1.25)
    assert elements(fragment, one, Corner("high", supply=1.0))["U3"].reference_V == pytest.approx(1.275)
    (point,) = solve([circuit_of(fragment, one, Corner("nominal"))])
    assert point.volts["OUT"] == pytest.approx(volts, abs=1e-3)


def test_what_is_not_known_is_not_a_number_and_the_point_says_so():
    fragment = netcheck.loads("title: q\nrails: {V: 5 V}\nparts:\n"
                              "  Q1: {transistor: {polarity: n-channel, threshold: 2 V},\n"
                              "       drain: V, gate: V, source: GND}\n")
    (one, *_) = enumerate_states(fragment).states
    circuit = circuit_of(fragment, one, Corner("nominal"))
    (point,) = solve([circuit])
    assert isnan(circuit.elements[1].on_ohm)
    assert point.problem == "the resistance when on of Q1 is not known"


def test_a_measured_cell_stands_where_the_meter_says():
    fragment = netcheck.loads("title: m\nparts:\n  BT1: {cell: CR2032, voltage: 2.71 V, plus: A, minus: GND}\n"
                              "  R1: {resistor: 1M, between: [A, GND]}\n")
    (one, *_) = enumerate_states(fragment).states
    assert elements(fragment, one)["BT1"].volts == pytest.approx(2.71)


def test_a_supercapacitor_is_full_when_fresh_and_empty_when_used():
    fragment = netcheck.loads("title: s\nparts:\n  BT1: {cell: supercap-0.1F, plus: A, minus: GND}\n"
                              "  R1: {resistor: 1M, between: [A, GND]}\n")
    (one, *_) = enumerate_states(fragment).states
    assert [elements(fragment, one, Corner("c", used=used))["BT1"].volts for used in (0.0, 1.0)] == [5.5, 0.0]


def test_the_whole_backup_circuit_is_solved_in_every_state_and_corner(fragment):
    corners = [Corner("n"), Corner("hot", 50.0, 1, -1, 0.0, "minimum", "maximum", "typical"),
               Corner("cold", 10.0, -1, 1, 1.0, "maximum", "typical", "maximum")]
    states = enumerate_states(fragment).states
    points = solve([circuit_of(fragment, one, corner) for one in states for corner in corners])
    assert [point.problem for point in points] == [None] * len(points)
    assert len(points) > 50


def test_a_transistor_that_is_off_passes_its_cut_off_current(fragment):
    hot = Corner("hot", temperature_C=35.0, leakage="maximum")
    q1 = elements(fragment, corner=hot)["Q1.off"]
    assert q1.amps == pytest.approx(2 * fragment.parts["Q1"].spec.cutoff_A)  # doubles for 10 K, as silicon does


def test_one_cell_can_be_flat_while_the_others_are_fresh(fragment):
    fresh, flat = elements(fragment), elements(fragment, corner=Corner("one flat", flat="BT1"))
    assert flat["BT1"].volts < fresh["BT1"].volts
    assert flat["BT2"].volts == fresh["BT2"].volts


TWO = """
title: a cell and what it may feed, and what it cannot
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND}
  D2: {diode: 1N4148, anode: +5V, cathode: VX}
  U2: {load: 3 uA, plus: VX, minus: GND}
  D3: {diode: 1N4148, anode: +5V, cathode: VY}
  BT2: {cell: CR2032, plus: VY, minus: GND}
  U3: {load: 5 uA, plus: VY, minus: GND}
  U4: {load: 7 uA, plus: +5V, minus: GND}
"""


def test_a_cell_carries_for_good_what_can_hang_on_it_alone():
    """The most that one of the cells carries: U2 and U4 hang on no cell, U1 and U3 on one each."""
    assert steady_A(netcheck.loads(TWO), Corner("nominal")) == pytest.approx(5e-6)
    together = TWO.replace("cathode: VY", "cathode: VRAM").replace("plus: VY", "plus: VRAM")
    assert steady_A(netcheck.loads(together), Corner("nominal")) == pytest.approx(7e-6)
    assert steady_A(netcheck.loads(TWO.replace("cathode: VX", "cathode: VY").replace("plus: VX", "plus: VY")),
                    Corner("nominal")) == pytest.approx(8e-6)
