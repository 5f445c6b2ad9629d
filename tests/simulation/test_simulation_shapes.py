"""What is remembered by the shapes of a circuit is what would be found anew, whatever the values."""

import random

from msgspec.structs import replace

from netcheck.simulation.canonical import ordered
from netcheck.simulation.elements import Battery, Circuit, Junction, Resistance, Source
from netcheck.simulation.memory import forget_all
from netcheck.simulation.pieces import cut
from netcheck.simulation.shapes import shapes, traits
from netcheck.simulation.topology import survey

NETS = ["GND", "+5V", "A", "B", "C", "D"]


def random_elements(dice):
    elements = [Source("+5V", "+5V", "GND", 5.0)]
    for place in range(dice.randint(2, 8)):
        name, one, other = f"E{place}", *dice.sample(NETS, 2)
        elements.append(dice.choice([
            Resistance(name, one, other, dice.choice([0.0, 0.0, 1e3, -1.0])),
            Junction(name, one, other, dice.choice([1e-9, 1e-9, 0.0]), 1.7),
            Battery(name, one, other, 3.0, dice.choice([0.0, 10.0, 10.0])),
            Source(name, one, other, 1.0)]))
    return elements


def with_other_values(dice, elements):
    """The same with other figures; now and then one that makes a difference to how the circuit may be run."""
    def changed(one):
        if isinstance(one, Resistance):
            return replace(one, ohm=dice.choice([one.ohm, one.ohm * dice.choice([2.0, 3.0]), 0.0]))
        if isinstance(one, Junction):
            return replace(one, saturation_A=dice.choice([one.saturation_A, one.saturation_A * 2]))
        return replace(one, volts=dice.choice([one.volts, 5.0, 0.0]))
    return [changed(one) for one in elements]


def found(elements):
    topology = survey(Circuit(tuple(elements), "GND"))
    pieces = None if topology.problem else cut(Circuit(tuple(elements), "GND"))
    told = pieces and ([(piece.elements, piece.held) for piece in pieces.pieces], pieces.held, pieces.holders)
    return topology, told, ordered(elements, "GND")


def test_what_is_remembered_for_circuits_of_the_same_shapes_is_what_is_found_anew():
    problems = 0
    for seed in range(300):
        dice = random.Random(seed)
        elements = random_elements(dice)
        forget_all()
        found(elements)
        for _ in range(4):
            others = with_other_values(dice, elements)
            remembered = found(others)
            forget_all()
            assert remembered == found(others), seed
            problems += remembered[0].problem is not None
    assert 300 < problems < 1100


def test_shapes_tell_what_decides_how_a_circuit_hangs_together():
    one = Resistance("R1", "A", "B", 1e3)
    assert shapes([one]) == shapes([replace(one, ohm=2e3)])
    for other in (replace(one, ohm=0.0), replace(one, ohm=-1.0), replace(one, name="R2"), replace(one, a="C")):
        assert shapes([one]) != shapes([other])
    cell = Battery("R1", "A", "B", 1e3, 10.0)
    assert shapes([cell]) != shapes([one]) != shapes([replace(cell, ohm=0.0)])


def test_a_value_that_is_not_finite_is_seen():
    one = Junction("D1", "A", "B", 1e-9, 1.7)
    seen = traits([one, replace(one, series_ohm=float("nan")), replace(one, emission=float("inf"))])
    assert [each.finite for each in seen] == [True, False, False]
