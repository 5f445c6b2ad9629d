"""A circuit is cut at its held nets, and each piece solved once: the same answers as for the whole."""

import random

import pytest
from msgspec.structs import replace

from netcheck.simulation import operating_point
from netcheck.simulation.elements import (
    Battery,
    Bipolar,
    Capacitance,
    Circuit,
    Draw,
    FieldEffect,
    Junction,
    Regulation,
    Resistance,
    Source,
)
from netcheck.simulation.operating_point import forget, solve
from netcheck.simulation.pieces import Cut, Piece, cut, terminals
from netcheck.simulation.process import simulator

HELD = [("+5V", 5.0), ("-12V", -12.0), ("DEAD", 0.0), ("+3V3", 3.3)]


def random_circuit(seed):
    """Up to five sections that hang on the same rails, some of them on a source that stands on a rail."""
    dice = random.Random(seed)
    elements = [Source(net, net, "GND", volts) for net, volts in HELD]
    elements.append(Source("VREF", "REF", "+5V", 1.25))
    for section in range(dice.randint(1, 5)):
        nets = [f"S{section}.{n}" for n in range(dice.randint(1, 4))]
        held = dice.sample(["+5V", "-12V", "DEAD", "+3V3", "REF", "GND"], 3)
        pick = lambda nets=nets, held=held: dice.choice(nets + held)  # noqa: E731
        for n in range(dice.randint(3, 8)):
            name, one, other = f"E{section}.{n}", dice.choice(nets), pick()
            elements.append(dice.choice([
                Resistance(name, one, other, 10 ** dice.uniform(1, 6)),
                Junction(name, one, other, 2.5e-9, 1.75, 0.57, 25e-9, 20.0, 0.3),
                Junction(name, other, one, 1e-8, 1.1, 0.3, 1e-7, 20.0, 0.5),
                Battery(name, one, other, dice.uniform(1.0, 4.0), 15.0),
                Draw(name, one, other, 2e-6),
                Capacitance(name, one, other, 1e-7),
                Bipolar(name, one, other, dice.choice(nets), True, 1e-14, 100.0),
                FieldEffect(name, one, dice.choice(held), other, True, 2.0, 5.0),
            ]))
        elements += [Resistance(f"T{section}.{net}", net, "GND", 1e6) for net in nets]
    dice.shuffle(elements)
    return Circuit(tuple(elements), "GND", 40.0)


def uncut(circuit, shaped=None):
    return Cut((Piece(circuit.elements, (), circuit.ground, circuit.temperature_C),), {circuit.ground: 0.0}, ())


SETTLED = 3e-6
"""Each of the two solutions has settled to 1 ppm."""


def close(one, other, scale):
    if one is None or other is None:
        return one is other
    return abs(one - other) <= SETTLED * scale


def compared(circuits, monkeypatch):
    """How many circuits could be solved both ways; each came to the same."""
    forget()
    pieces = solve(circuits)
    with monkeypatch.context() as patched:
        patched.setattr(operating_point, "cut", uncut)
        forget()
        wholes = solve(circuits)
    forget()
    count = 0
    for circuit, one, other in zip(circuits, pieces, wholes, strict=True):
        if one.helped or other.helped or not (one.known and other.known):
            continue
        count += 1
        most = max(map(abs, other.amps.values()))
        for net, volts in other.volts.items():
            assert close(one.volts[net], volts, max(abs(volts or 0.0), 0.1)), (circuit, net)
        for name, amps in other.amps.items():
            assert close(one.amps[name], amps, max(most, 1e-12)), (circuit, name)
    return count


def test_the_whole_is_the_union_of_its_pieces(monkeypatch):
    circuits = [random_circuit(seed) for seed in range(150)]
    assert max(len(cut(circuit).pieces) for circuit in circuits) > 4
    assert compared(circuits, monkeypatch) > 130


def with_loose_ends(seed):
    """A circuit on whose nets chains and trees of elements hang in the air."""
    dice, circuit = random.Random(seed), random_circuit(seed)
    nets = sorted({net for element in circuit.elements for net in terminals(element)})
    loose = []
    for place in range(dice.randint(2, 6)):
        name, near, far = f"L{place}", dice.choice(nets), f"open{place}"
        ends = dice.choice(((near, far), (far, near)))
        loose.append(dice.choice((
            Resistance(name, *ends, 1e4), Junction(name, *ends, 2.5e-9, 1.75, 0.57, 25e-9, 20.0, 0.3),
            Battery(name, *ends, dice.uniform(1.0, 4.0), 15.0), Draw(name, *ends, 2e-6))))
        nets.append(far)
    return replace(circuit, elements=(*circuit.elements, *loose))


def test_what_hangs_in_the_air_carries_nothing_and_stands_as_what_it_hangs_on(monkeypatch):
    circuits = [with_loose_ends(seed) for seed in range(150)]
    for circuit in circuits:
        assert {element.name for element, _, _ in cut(circuit).loose} >= {
            element.name for element in circuit.elements if element.name.startswith("L")}
    assert compared(circuits, monkeypatch) > 130


def test_of_what_hangs_in_the_air_no_value_need_fit_but_each_must_be_known():
    """R1 to R3 hang on V, one after the other, D1 on the end of a battery that does; R4 and R5 are an island."""
    elements = (
        Source("V", "A", "GND", 5.0), Resistance("R1", "A", "B", 1e3), Resistance("R2", "C", "B", 1e3),
        Battery("BT1", "D", "C", 3.0, 10.0), Junction("D1", "E", "D", 1e-9, 1.5), Battery("BT2", "C", "F", 2.0, 10.0),
        Resistance("R4", "X", "Y", 1e3), Resistance("R5", "Y", "Z", 1e3),
    )
    point, = solve([Circuit(elements, "GND")])
    assert point.volts == {"GND": 0.0, "A": 5.0, "B": 5.0, "C": 5.0, "D": 8.0, "E": 8.0, "F": 3.0,
                           "X": None, "Y": None, "Z": None}
    assert set(point.amps.values()) == {0.0}
    assert cut(Circuit(elements, "GND")).pieces == ()
    unknown, = solve([Circuit((*elements, Resistance("R6", "E", "G", float("nan"))), "GND")])
    assert unknown.problem == "the resistance of R6 is not known"


def test_a_regulator_and_a_gate_with_nothing_on_them_are_no_loose_ends():
    """A fixed regulator whose ground pin is on no net has two nets, and holds its output all the same."""
    regulation = Regulation("U1", "IN", "OUT", None, None, 5.0, "fixed", 0.0, 0.0, None, 0.0, 0.0)
    circuit = Circuit((Source("V", "IN", "GND", 12.0), regulation, Resistance("R1", "OUT", "X", 1e3)), "GND")
    assert [element.name for element, _, _ in cut(circuit).loose] == ["R1"]
    point, = solve([replace(circuit, elements=(*circuit.elements, Resistance("R2", "OUT", "GND", 1e6)))])
    assert point.volts["OUT"] == point.volts["X"] == pytest.approx(5.0, abs=0.01)
    gate = Circuit((Source("V", "IN", "GND", 5.0), FieldEffect("Q1", "IN", "G", "GND", True, 2.0, 5.0),
                    Resistance("R1", "IN", "G", 1e3)), "GND")
    assert cut(gate).loose == ()


def test_what_a_source_delivers_is_the_sum_over_the_pieces():
    point, = solve([Circuit((
        Source("V", "A", "GND", 5.0), Source("W", "B", "A", 2.0), Source("X", "C", "A", -1.0),
        Resistance("R1", "A", "N", 500.0), Resistance("R2", "N", "GND", 500.0),
        Resistance("R3", "B", "M", 500.0), Resistance("R4", "M", "GND", 500.0),
        Resistance("R5", "C", "GND", 1000.0),
    ), "GND")])
    assert point.amps == pytest.approx({
        "V": 16e-3, "W": 7e-3, "X": 4e-3, "R1": 5e-3, "R2": 5e-3, "R3": 7e-3, "R4": 7e-3, "R5": 4e-3})
    assert point.volts == pytest.approx({"GND": 0.0, "A": 5.0, "B": 7.0, "C": 4.0, "N": 2.5, "M": 3.5})


def test_a_source_the_other_way_round_holds_as_well():
    point, = solve([Circuit((Source("V", "GND", "A", 5.0), Resistance("R", "A", "GND", 1000.0)), "GND")])
    assert point.volts["A"] == -5.0
    assert point.amps == pytest.approx({"V": 5e-3, "R": -5e-3})


def test_names_and_order_change_nothing_and_cost_nothing():
    circuit = random_circuit(11)
    forget()
    first, = solve([circuit])
    dice = random.Random(5)
    shuffled = list(circuit.elements)
    dice.shuffle(shuffled)

    def renamed(element):
        changes = {field: f"x{value}" for field, value in
                   ((name, getattr(element, name)) for name in element.__struct_fields__)
                   if isinstance(value, str)}
        return replace(element, **changes)

    pid, asked = simulator().pid, []
    run = simulator().run
    try:
        simulator().run = lambda jobs, *more: run((asked.append(job) or job for job in jobs), *more)
        again, = solve([Circuit(tuple(map(renamed, shuffled)), "xGND", 40.0)])
    finally:
        del simulator().run
    assert asked == []
    assert simulator().pid == pid
    assert {f"x{net}": volts for net, volts in first.volts.items()} == again.volts
    for name, amps in first.amps.items():
        assert again.amps[f"x{name}"] == pytest.approx(amps, rel=1e-12, abs=1e-18)
