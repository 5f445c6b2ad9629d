"""The judge of the random boards is itself judged: closed forms, a published example, another solver."""

from __future__ import annotations

import numpy as np
import pytest
from nodal_judge import (
    GROUND,
    THERMAL_V,
    Bipolar,
    Cell,
    Corner,
    Diode,
    Rail,
    Resistor,
    Sketch,
    Zener,
    charge_of,
    corners,
    primaries,
    solve,
)
from random_boards import SAFE, fragments
from scipy.optimize import brentq
from scipy.special import lambertw


def at(volts):
    return [Corner({"+5V": volts}, frozenset(), {})]


def test_a_diode_and_a_resistor_as_the_lambert_w_function_gives_it():
    """I = n Vt / R · W(Is R / (n Vt) · exp((V + Is R) / (n Vt))) - Is: closed form of the Shockley law with R."""
    for volts, ohm, amps, emission in ((5.0, 430.0, 2e-14, 1.0), (5.0, 44.2e3, 2e-14, 1.0), (3.0, 1e3, 2.52e-9, 1.752)):
        board = Sketch({"+5V": Rail(volts)},
                       (Resistor("R1", "+5V", "A", ohm), Diode("D1", "A", GROUND, amps, emission)))
        nvt = emission * THERMAL_V
        closed = nvt / ohm * lambertw(amps * ohm / nvt * np.exp((volts + amps * ohm) / nvt)).real - amps
        found = solve(board, at(volts))
        assert found.settled.all()
        assert (volts - found.across("A", GROUND)[0]) / ohm == pytest.approx(closed, rel=1e-6)


def test_a_saturated_transistor_as_another_solver_finds_it():
    """Collector volts of a saturated npn by bisection on its own Ebers-Moll equations."""
    board = Sketch({"+5V": Rail(5.0)}, (Resistor("R1", "+5V", "B", 10e3), Resistor("R2", "+5V", "C", 1e3),
                                        Bipolar("Q1", "C", "B", GROUND, sign=1)))
    found = solve(board, at(5.0))
    base, collector = found.across("B", GROUND)[0], found.across("C", GROUND)[0]

    def unbalance(vc):
        vb = brentq(lambda v: (5 - v) / 10e3 - 1e-14 * (np.exp(v / THERMAL_V) / 100 + np.exp((v - vc) / THERMAL_V)),
                    0.3, 1.2)
        forward, back = np.exp(vb / THERMAL_V), np.exp((vb - vc) / THERMAL_V)
        return (5 - vc) / 1e3 - 1e-14 * (forward - back - back)

    assert collector == pytest.approx(brentq(unbalance, 0.0, 0.5), abs=1e-4)
    assert 0.6 < base < 0.8


def test_currents_at_every_net_of_random_boards_sum_to_zero():
    settled, rows = 0, 0
    for board, _ in zip(fragments(11), range(20), strict=False):
        found = solve(board, soft=True)
        settled, rows = settled + int(found.settled.sum()), rows + len(found.corners)
    assert settled > 0.98 * rows


def test_a_zener_lies_between_its_bounds_at_the_published_point():
    """5.6 V at 5 mA either way (BZX55 and BZX84 tables), and the soft knee's slope at 1 mA is 400 ohm at most."""
    for soft in (False, True):
        board = Sketch({"+5V": Rail(12.0)}, (Resistor("R1", "+5V", "A", 1280.0), Zener("D1", GROUND, "A", 5.6)))
        assert solve(board, at(12.0), soft=soft).across("A", GROUND)[0] == pytest.approx(5.6, abs=0.01)


def test_the_safe_boards_are_not_charged_and_a_plain_charger_is():
    for board in SAFE:
        assert charge_of(board, primaries(board)).quiet, board.title
    plain = Sketch({"+5V": Rail(5.0)}, (Cell("BT1", "CELL", GROUND), Resistor("R1", "+5V", "CELL", 1e3)))
    judgement = charge_of(plain, primaries(plain))
    assert judgement.charged
    assert judgement.sure_A == pytest.approx((5.25 - 2.0) / 1015, rel=1e-3)


def test_every_state_and_corner_is_tried():
    """Two supplies, 2 and 1 rails of two corners each, one jumper of two positions, one cell of two ages."""
    board = Sketch({"+5V": Rail(5.0), "+12V": Rail(12.0), "VB": Rail(5.0, 0.05, "second")},
                   (Cell("BT1", "CELL", GROUND), Resistor("R1", "+5V", "CELL", 1e3)))
    assert len(corners(board)) == (4 + 1) * (2 + 1) * 2
