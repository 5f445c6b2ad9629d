"""Each kind of element in a circuit whose answer is known."""

from math import nan, tanh

import pytest

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
from netcheck.simulation.process import simulator


def solved(*elements):
    (point,) = solve([Circuit(elements, "GND")])
    assert point.problem is None
    return point


def problem(*elements):
    (point,) = solve([Circuit(elements, "GND")])
    assert (point.volts, point.amps, point.known) == ({}, {}, False)
    return point.problem


def test_signs_of_currents_in_a_divider():
    point = solved(Source("V", "S", "GND", 9.0), Resistance("R1", "S", "M", 2e3), Resistance("R2", "GND", "M", 1e3))
    assert point.volts == {"GND": 0.0, "S": 9.0, "M": pytest.approx(3.0)}
    assert point.amps == {"V": pytest.approx(3e-3), "R1": pytest.approx(3e-3), "R2": pytest.approx(-3e-3)}


def test_a_cell_that_gives_and_one_that_is_charged():
    point = solved(Battery("BT1", "A", "GND", 3.6, 10.0), Battery("BT2", "B", "GND", 3.0, 15.0),
                   Resistance("R", "A", "B", 175.0))
    assert point.amps["BT1"] == pytest.approx(3e-3)
    assert point.amps["BT2"] == pytest.approx(-3e-3)
    assert point.volts["B"] == pytest.approx(3.045)


def test_a_cell_without_resistance_and_one_shorted_on_itself():
    point = solved(Battery("BT1", "A", "GND", 3.0, 0.0), Resistance("R", "A", "GND", 1e3),
                   Battery("BT2", "B", "B", 3.0, 1.5), Resistance("R2", "B", "GND", 1.0))
    assert point.amps["BT1"] == pytest.approx(3e-3)
    assert point.amps["BT2"] == pytest.approx(2.0)


@pytest.mark.parametrize("volts", [-5.0, 0.0, 0.1, 1.0, 3.0, 5.0])
def test_a_load_follows_its_law(volts):
    point = solved(Source("V", "S", "GND", volts), Draw("U1", "S", "GND", 2e-6, 3.0, 4e-7))
    wanted = max(2e-6 + 4e-7 * (volts - 3.0), 0.0) * tanh(volts / 0.3)
    assert point.amps["U1"] == pytest.approx(wanted, abs=1e-12)
    assert point.amps["V"] == pytest.approx(wanted, abs=2e-12)


def test_a_load_alone_on_its_net_sits_at_zero():
    point = solved(Draw("U1", "A", "GND", 2e-6), Draw("U2", "B", "GND", 2e-6, 3.0, 1e-6), Draw("U3", "C", "GND", 0.0))
    assert point.volts == pytest.approx({"GND": 0.0, "A": 0.0, "B": 0.0, "C": 0.0}, abs=1e-9)


def test_nanoamperes_are_resolved():
    point = solved(Source("V", "S", "GND", 3.0), Resistance("R1", "S", "A", 1e9), Resistance("R2", "A", "GND", 2e9))
    assert point.amps["R1"] == pytest.approx(1e-9, rel=1e-6)


def test_a_diode_breaks_down_at_its_volts():
    zener = Junction("D1", "GND", "K", 1e-14, 1.0, leakage_A=1e-7, leakage_at_V=1.0, breakdown_V=5.1)
    point = solved(Source("V", "S", "GND", 12.0), Resistance("R", "S", "K", (12.0 - 5.1) / 5e-3), zener)
    assert point.volts["K"] == pytest.approx(5.1, abs=0.01)
    assert point.amps["D1"] == pytest.approx(-5e-3, rel=0.01)
    below = solved(Source("V", "S", "GND", 4.0), Resistance("R", "S", "K", 1e3), zener)
    assert below.amps["D1"] == pytest.approx(-1e-7, rel=1e-3)


@pytest.mark.parametrize("npn", [True, False])
def test_a_bipolar_transistor_multiplies_its_base_current(npn):
    sign = 1.0 if npn else -1.0
    point = solved(
        Source("VC", "C", "GND", sign * 5.0), Source("VB", "BB", "GND", sign * 5.0),
        Resistance("RB", "BB", "B", 1e6), Bipolar("Q1", "C", "B", "GND", npn, 1e-14, 100.0),
    )
    assert point.amps["Q1"] == pytest.approx(100.0 * point.amps["RB"], rel=1e-6)
    assert point.volts["B"] == pytest.approx(sign * 0.0259 * 24.5, rel=0.05)  # ln(430 µA/10 fA) = 24.5


@pytest.mark.parametrize("n_channel", [True, False])
@pytest.mark.parametrize(("overdrive", "on"), [(2.0, True), (-1.0, False)])
def test_a_mosfet_has_its_resistance_at_two_volts_beyond_the_threshold(n_channel, overdrive, on):
    sign = 1.0 if n_channel else -1.0
    gate = sign * (1.5 + overdrive)
    point = solved(
        Source("VD", "S", "GND", sign * 0.01), Source("VG", "G", "GND", gate),
        FieldEffect("Q1", "S", "G", "GND", n_channel, 1.5, 0.5),
    )
    assert point.amps["Q1"] == pytest.approx(sign * 0.01 / 0.5 if on else 0.0, rel=5e-3, abs=1e-12)


@pytest.mark.parametrize("n_channel", [True, False])
def test_the_body_diode_conducts_when_the_channel_does_not(n_channel):
    sign = 1.0 if n_channel else -1.0
    point = solved(
        Source("V", "S", "GND", sign * -5.0), Resistance("R", "S", "D", 1e3), Source("VG", "G", "GND", 0.0),
        FieldEffect("Q1", "D", "G", "GND", n_channel, 1.5, 0.5),
    )
    assert sign * point.volts["D"] == pytest.approx(-0.69, abs=0.05)
    assert sign * point.amps["Q1"] == pytest.approx(-4.3e-3, rel=0.02)


def regulated(volts, *more, **settings):
    how = {"adjust": "ADJ", "ground": None, "reference_V": 1.25, "between": "output-adjust", "dropout_V": 1.5,
           "adjust_A": 50e-6} | settings
    return solved(
        Source("V", "IN", "GND", volts), Regulation("U3", "IN", "OUT", **how),
        Resistance("R1", "OUT", "ADJ", 240.0), Resistance("R2", "ADJ", "GND", 720.0), *more,
    )


def test_reference_between_output_and_adjust():
    """VOUT = VREF·(1 + R2/R1) + IADJ·R2: Texas Instruments, LM317 data sheet, "Adjustable output"."""
    point = regulated(12.0, Draw("U1", "OUT", "GND", 0.5))
    assert point.volts["OUT"] == pytest.approx(1.25 * (1 + 720 / 240) + 50e-6 * 720, abs=1e-3)
    assert point.amps["V"] == pytest.approx(point.amps["U3"] + 50e-6, rel=1e-6)


def test_reference_between_adjust_and_ground():
    point = regulated(12.0, ground="GND", between="adjust-ground", adjust_A=0.0)
    assert point.volts["OUT"] == pytest.approx(1.25 * (1 + 240 / 720), abs=1e-4)


def test_a_regulator_drops_out():
    assert regulated(5.0).volts["OUT"] == pytest.approx(3.5, abs=1e-3)


def test_an_open_lower_resistor_drives_the_output_up():
    point = solved(
        Source("V", "IN", "GND", 12.0), Regulation("U3", "IN", "OUT", "ADJ", None, 1.25, "output-adjust", 1.5, 50e-6),
        Resistance("R1", "OUT", "ADJ", 240.0), Draw("U1", "OUT", "GND", 0.1),
    )
    assert point.volts["OUT"] == pytest.approx(10.5, abs=1e-3)


@pytest.mark.parametrize("volts", [0.0, 3.0, 12.0])
def test_a_regulator_never_takes_current_back(volts):
    point = solved(Source("V", "IN", "GND", volts), Regulation("U3", "IN", "OUT", None, "GND", 5.0, "fixed", 0.5),
                   Battery("BT1", "OUT", "GND", 6.0, 1.0))
    assert abs(point.amps["BT1"]) < 1e-10
    assert point.volts["OUT"] == pytest.approx(6.0)


def test_a_floating_island_has_currents_and_no_volts():
    point = solved(Battery("BT1", "A", "B", 3.0, 100.0), Resistance("R1", "A", "B", 900.0),
                   Capacitance("C1", "A", "GND", 1e-6),
                   Source("V", "S", "GND", 5.0), Resistance("R2", "S", "GND", 1e3))
    assert point.volts == {"GND": 0.0, "A": None, "B": None, "S": 5.0}
    assert point.amps == pytest.approx({"BT1": 3e-3, "R1": 3e-3, "C1": 0.0, "V": 5e-3, "R2": 5e-3})


def test_a_circuit_of_nothing_needs_no_simulator():
    point = solved(Capacitance("C1", "A", "GND", 1e-6))
    assert (point.volts, point.amps) == ({"GND": 0.0, "A": None}, {"C1": 0.0})
    assert solved().volts == {"GND": 0.0}


@pytest.mark.parametrize(("elements", "words"), [
    ([Source("V", "A", "GND", 5.0), Source("W", "A", "GND", 3.0)], "A is driven twice"),
    ([Source("V", "A", "GND", 5.0), Junction("D1", "A", "GND", nan, 1.0)], "the forward drop of D1 is not known"),
    ([Source("V", "A", "GND", 5.0), Resistance("R1", "A", "GND", float("inf"))], "the resistance of R1 is not finite"),
    ([Source("V", "A", "GND", 5.0), Source("G", "G", "GND", 5.0), FieldEffect("Q1", "A", "G", "GND", True, nan, 1.0)],
     "the threshold voltage of Q1 is not known"),
])
def test_problems_come_back_and_do_not_raise(elements, words):
    assert words in problem(*elements)


def test_good_circuits_are_not_touched_by_bad_ones_beside_them():
    good = Circuit((Source("V", "A", "GND", 5.0), Resistance("R", "A", "GND", 1e3)), "GND")
    bad = Circuit((Source("V", "A", "A", 5.0),), "GND")
    points = solve([bad, good, bad, good])
    assert [point.problem is None for point in points] == [False, True, False, True]
    assert points[1].amps["R"] == pytest.approx(5e-3)


def test_circuits_that_are_alike_are_solved_once_each_under_its_own_names(monkeypatch):
    seen = []
    run = type(simulator()).run
    monkeypatch.setattr(type(simulator()), "run",
                        lambda self, jobs, *more: run(self, (seen.append(job) or job for job in jobs), *more))
    one = Circuit((Source("V", "A", "GND", 5.0), Resistance("R", "A", "GND", 1e3)), "GND")
    other = Circuit((Source("W", "B", "0V", 5.0), Resistance("Z", "B", "0V", 1e3)), "0V")
    forget()
    points = solve([one, other, one])
    assert len(seen) == 1
    assert points[1].volts == {"0V": 0.0, "B": 5.0}
    assert set(points[1].amps) == {"W", "Z"}
    assert points[0] == points[2]


def test_progress_is_told():
    told = []
    forget()
    solve([Circuit((Source("V", "A", "GND", float(volts)), Resistance("R", "A", "GND", 1.0)), "GND")
           for volts in (1, 2, 2)], progress=lambda done, wanted: told.append((done, wanted)))
    assert told == [(1, 3), (3, 3), (3, 3)]  # the third is the second


def test_a_caller_that_stops_half_way_leaves_the_simulator_usable():
    circuits = [Circuit((Source("V", "A", "GND", float(volts)), Resistance("R", "A", "GND", 1.0)), "GND")
                for volts in range(1, 9)]

    def stop(done, wanted):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt) as kept:
        solve(circuits, progress=stop)
    assert solve(circuits[3:4])[0].amps["R"] == pytest.approx(4.0), kept


def test_temperature_reaches_the_leakage_law_and_nothing_else():
    """Saturation currents are given at the circuit's own temperature: only kT/q may still change."""
    elements = (Source("V", "S", "GND", -10.0), Junction("D1", "S", "GND", 1e-9, 1.0))
    cold, hot = (solve([Circuit(elements, "GND", temperature)])[0].amps["D1"] for temperature in (0.0, 80.0))
    assert cold == pytest.approx(-1e-9, rel=1e-3)
    assert hot == pytest.approx(cold, rel=1e-3)


def test_a_hot_schottky_across_a_short_is_solved():
    """Our own law must follow the simulator's where its saturation current is milliamperes."""
    schottky = Junction("D2", "+5V", "VRAM", 1.73e-3, 1.1245, 0.116, 977e-6, 5.0, 1.0, 8.0)
    circuit = Circuit((
        Source("+5V", "+5V", "GND", 0.0), Battery("BT1", "CELL", "GND", 3.0, 45.0),
        Resistance("R1", "CELL", "VRAM", 2200.0), schottky, Resistance("U1", "VRAM", "GND", 1e-3)), "GND", 50.0)
    (point,) = solve([circuit])
    assert point.problem is None
    assert point.amps["BT1"] == pytest.approx(3.0 / 2245, rel=1e-5)


@pytest.mark.parametrize("rail_V", [4.99, 5.2, 5.25])
@pytest.mark.parametrize("ohm", [999.0, 1000.0])
def test_two_cells_in_series_with_next_to_nothing_on_them_are_solved(rail_V, ohm):
    """Siemens beside femtosiemens: with the usual choice of pivots the answer was off by nanovolts, or none came."""
    signal = (2.11e-9, 1.752, 0.0, 0.0, 1.0, 0.05)
    circuit = Circuit((
        Source("+5V", "+5V", "GND", rail_V), Battery("BT1", "CELL", "CM", 3.25, 15.0),
        Resistance("R1", "CM", "CN", ohm), Junction("D3", "GND", "CN", *signal),
        Junction("D1", "CELL", "VRAM", *signal), Junction("D2", "+5V", "VRAM", *signal),
        Draw("U1", "VRAM", "GND", 2e-6, 3.0, 0.0, 0.3), Battery("BT2", "CM", "GND", 4.05, 1.5)), "GND")
    (point,) = solve([circuit])
    assert point.problem is None
    assert point.amps["BT1"] == pytest.approx(2e-6 + 2.11e-9, rel=1e-5)


def test_ideal_junctions_across_a_supply_do_not_drown_what_hangs_beside_them():
    """Without resistance they would pass 1e20 A, and of a cell's current beside that rounding would leave nothing."""
    ideal = {"saturation_A": 2.5e-9, "emission": 1.0}
    point = solved(
        Source("V", "S", "GND", 5.0), Junction("D1", "S", "M", **ideal), Junction("D2", "M", "GND", **ideal),
        Battery("BT1", "P", "M", 3.0, 15.0), Resistance("R1", "P", "GND", 1e4))
    assert point.amps["BT1"] == pytest.approx((2.5 + 3.0) / 10_015, rel=1e-4)
    assert 10 < point.amps["D1"] < 1e3


def test_currents_beyond_anything_real_are_no_result():
    shorted = Bipolar("Q1", "S", "S", "GND", npn=True, saturation_A=1e-14, gain=100.0)
    told = problem(Source("V", "S", "GND", 5.0), shorted, Resistance("R1", "S", "GND", 1e4))
    assert "beyond anything real" in told
