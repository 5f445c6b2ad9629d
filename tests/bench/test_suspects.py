"""Which fault explains the readings: the ranking, its arithmetic, and what it says of itself."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import numpy as np
import pytest

import netcheck
from netcheck.bench import diagnosis as suspects
from netcheck.bench import measure, meter
from netcheck.bench.affordable import trials_of
from netcheck.bench.diagnosis import diagnose, foresee, rank
from netcheck.bench.likelihood import Taken, fit, sensed_error
from netcheck.bench.measure import Measurement, Prospect, Swing
from netcheck.bench.meter import What
from netcheck.bench.single_faults import MOST_BRIDGES, hypotheses
from netcheck.fragment import mods
from netcheck.fragment.states import State, enumerate_states

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "benchmarks"))

import suspects_study  # noqa: E402

STATE = State("stored", {"main": False}, {}, {})


def rack_sampler():
    return mods.apply(netcheck.load(ROOT / "examples" / "rack-sampler.yaml"), "coin-cell")


def volts(at, **more):
    return Measurement(What.VOLTS, STATE, at, "GND", **more)


def test_fit_is_generalised_least_squares():
    """Against rᵀ(E² + J·Jᵀ)⁻¹r and ln det(E² + J·Jᵀ) by numpy."""
    chance = np.random.default_rng(7)
    for _ in range(20):
        count, axes = chance.integers(1, 8), chance.integers(1, 6)
        predicted, readings = chance.uniform(1, 5, count), chance.uniform(1, 5, count)
        slopes = chance.normal(0, 0.3, (count, axes))
        prospects = [Prospect(p, {f"t{k}": Swing(j, -j) for k, j in enumerate(row)})
                     for p, row in zip(predicted, slopes, strict=True)]
        taken = [Taken(volts("A"), value) for value in readings]
        errors = np.diag([meter.error(What.VOLTS, value) ** 2 for value in readings])
        residual = readings - predicted
        spread = errors + slopes @ slopes.T
        found = fit(prospects, taken)
        cost = residual @ np.linalg.solve(spread, residual)
        assert found.cost == pytest.approx(cost, rel=1e-6)
        assert found.score == pytest.approx(cost + np.linalg.slogdet(spread)[1], rel=1e-6)


def test_tolerances_move_readings_together():
    """Two readings off the same way are a supply that is high; off opposite ways they are not."""
    prospects = [Prospect(5.0, {"supply": Swing(0.25, -0.25)}), Prospect(5.0, {"supply": Swing(0.25, -0.25)})]
    together = fit(prospects, [Taken(volts("A"), 5.2), Taken(volts("B"), 5.2)])
    apart = fit(prospects, [Taken(volts("A"), 5.2), Taken(volts("B"), 4.8)])
    assert together.cost < 1 < apart.cost
    assert together.misses == ()
    assert apart.misses


def test_a_vague_prediction_is_worth_less_than_a_sharp_one():
    sharp, vague = Prospect(3.0), Prospect(3.0, {"size": Swing(2.0, -2.0)})
    taken = [Taken(volts("A"), 3.0)]
    assert fit([sharp], taken).cost == fit([vague], taken).cost
    assert fit([sharp], taken).score < fit([vague], taken).score


@pytest.mark.parametrize(("value", "predicted"), [(470.0, 1 / 1000), (float("inf"), 1 / 470), (0.2, 3.0), (470.0, 0.0)])
def test_ohms_errors_are_sane_from_short_to_overload(value, predicted):
    error = sensed_error(What.OHMS, value, predicted)
    assert 0 < error <= max(measure.seen(What.OHMS, value), predicted)


TRUE = ("D1 fitted backwards", "D1 open", "D1 short", "D2 open", "D2 fitted backwards", "R9 open", "BT1 in backwards",
        "BT1 spent (about 1.8 V)", "BT1 dead (0 V)", "+5V at 0 V (supply main off, or shorted)",
        "a bridge between +5V and VRAM", "U1 short", "+5V does not arrive (its track or connector open)")


@pytest.fixture(scope="module")
def trials():
    found, _ = suspects_study.study(rack_sampler(), spread=0.5, volts=True)
    return {trial.words: trial for trial in found}


@pytest.mark.parametrize("words", TRUE)
def test_true_fault_is_among_the_first_three(trials, words):
    """Readings off by up to 0.5 %, rounded to the meter's counts, tolerances anywhere in half their bands."""
    assert not trials[words].hidden
    assert trials[words].place <= 3


def test_most_faults_that_a_voltmeter_can_tell_come_first(trials):
    assert not any(trial.unsolved for trial in trials.values())
    told = [trial for trial in trials.values() if not trial.hidden]
    assert len(told) > 30
    assert sum(trial.place == 1 for trial in told) >= 0.9 * len(told)
    assert sum(trial.place <= 3 for trial in told) >= 0.95 * len(told)


def test_faults_of_sizes_that_are_not_tried_are_found():
    fragment = netcheck.load(ROOT / "examples" / "clock-card.yaml")
    told = [trial for trial in suspects_study.study(fragment, strange=True)[0] if not trial.hidden]
    assert len(told) >= 5
    assert sum(trial.place <= 3 for trial in told) >= 0.95 * len(told)


def stored(fragment):
    return next(state for state in enumerate_states(fragment).states if state.name == "stored")


def readings(fragment, words, nets=("HOLD", "CELL", "VRAM"), seed=3):
    """What a voltmeter shows in state stored of a board with a fault."""
    measurements = [Measurement(What.VOLTS, stored(fragment), net, "GND") for net in nets]
    (true,) = foresee([one for one in hypotheses(fragment).all if one.words.startswith(words)], measurements)
    return suspects_study.readings(true, measurements, 0.005, 0.0, random.Random(seed))


def test_a_good_board_is_no_fault():
    fragment = rack_sampler()
    best = diagnose(fragment, readings(fragment, "no fault")).suspects[0]
    assert any(fault.healthy for fault in best.faults)
    assert best.misses == ()


def test_what_the_readings_cannot_tell_apart_is_shown_together():
    """A part that has shorted and a bridge between its pads are the same to a meter."""
    fragment = rack_sampler()
    best = diagnose(fragment, readings(fragment, "D1 short")).suspects[0]
    assert {"D1 short", "a bridge between CELL and VRAM"} <= set(best.words)


def test_two_faults_are_not_explained_by_one():
    fragment = rack_sampler()
    taken = readings(fragment, "no fault")
    wrong = [Taken(one.measurement, value) for one, value in zip(taken, (3.2, 0.4, 2.6), strict=True)]
    assert diagnose(fragment, wrong).suspects[0].misses


def test_shortlist_keeps_the_true_fault(monkeypatch):
    fragment = rack_sampler()
    taken = readings(fragment, "D1 open")
    whole = diagnose(fragment, taken).suspects[0].words
    monkeypatch.setattr(suspects, "MOST_CIRCUITS", 500)
    short = diagnose(fragment, taken)
    assert short.suspects[0].words == whole
    assert sum(len(one.faults) for one in short.suspects) <= 500 // (16 * 3) + 1


def test_a_fault_that_cannot_be_simulated_is_told_not_dropped():
    fragment = rack_sampler()
    tried = foresee(hypotheses(fragment).all[:2], [Measurement(What.VOLTS, stored(fragment), "VRAM", "GND")])
    broken = suspects.Foreseen(tried[1].hypothesis, (Prospect(problem="did not finish"),))
    taken = [Taken(Measurement(What.VOLTS, stored(fragment), "VRAM", "GND"), 3.0)]
    assert [one.faults[0].healthy for one in rank([tried[0], broken], taken)] == [True]
    assert broken.problem == "did not finish"


def test_every_part_and_pair_of_nets_is_a_suspect():
    fragment = rack_sampler()
    tried = hypotheses(fragment)
    assert {part for one in tried.all for part in one.parts} == set(fragment.parts)
    bridges = {frozenset(one.nets) for one in tried.all if one.words.startswith("a bridge")}
    nets = len(fragment.nets)
    assert len(bridges) == nets * (nets - 1) // 2 - 1  # all but the supply against ground
    assert tried.untried == 0
    assert len({one.words for one in tried.all}) == len(tried.all)


def test_many_nets_limit_the_bridges_and_say_so():
    chain = "".join(f"  R{i}: {{resistor: 1k, between: [N{i}, N{i + 1}]}}\n" for i in range(30))
    tried = hypotheses(netcheck.loads(f"title: a chain\nrails: {{N0: 5 V}}\nparts:\n{chain}"))
    bridges = [one.nets for one in tried.all if one.words.startswith("a bridge")]
    assert len(bridges) == MOST_BRIDGES
    assert tried.untried > 0
    assert {f"N{i + 1}" for i in range(30)} <= {net for pair in bridges for net in pair}


def test_a_jumper_in_the_wrong_place_is_named():
    fragment = netcheck.load(ROOT / "examples" / "terminal.yaml")
    words = [one.words for one in hypotheses(fragment).all]
    assert "JP1 stands at external" in words
    assert "JP1 off, or without contact" in words


def test_a_board_too_large_for_all_faults_tries_those_near_the_readings_that_are_off(monkeypatch):
    """A chain: the part at the reading that is off stands last in the file, and is tried all the same."""
    chain = "".join(f"  R{i}: {{resistor: 1k, between: [N{i}, N{i + 1}]}}\n" for i in range(30))
    fragment = netcheck.loads(f"title: a chain\nrails: {{N0: 5 V}}\nparts:\n{chain}"
                              "  R30: {resistor: 1k, between: [N30, GND]}\n")
    on = enumerate_states(fragment).states[0]
    taken = [Taken(Measurement(What.VOLTS, on, "N30", "GND"), 0.0),
             Taken(Measurement(What.VOLTS, on, "N1", "GND"), 4.84)]
    whole = diagnose(fragment, taken)
    assert whole.parts_untried == 0
    monkeypatch.setattr(suspects, "MOST_WORK", 0)
    cut = diagnose(fragment, taken)
    assert cut.parts_untried > 20
    assert any("R30 short" in one for one in cut.suspects[0].words)
    tried = hypotheses(fragment, ["N30"], 20)
    assert {name for one in tried.all for name in one.parts} == {"R30", "R29", "R28"}


def test_the_circuits_of_a_measurement_are_as_many_as_its_bound_of_work_counts():
    """Of a board with many resistors nearly all of them are trials of a resistor alone, two a piece."""
    resistors = "".join(f"  R{n}: {{resistor: 1k, between: [N{n}, N{n + 1}]}}\n" for n in range(1, 40))
    ends = "  R0: {resistor: 1k, between: [+5V, N1]}\n  R99: {resistor: 1k, between: [N40, GND]}\n"
    fragment = netcheck.loads("title: t\nrails: {+5V: 5 V}\nparts:\n" + ends + resistors)
    live = next(state for state in enumerate_states(fragment).states if state.live)
    made = len(list(measure._Planner(measure.Depth.ALONE).trials(
        measure.Subject(fragment), Measurement(What.VOLTS, live, "N20", "GND"))))
    assert 0.8 * trials_of(fragment) <= made <= trials_of(fragment)


def test_points_held_by_portions_are_those_of_one_run(monkeypatch):
    fragment = netcheck.load("examples/rack-sampler.yaml")
    wanted = [(measure.Subject(fragment), Measurement(What.VOLTS, stored(fragment), net, "GND"))
              for net in ("CELL", "VRAM", "CHG")]
    told = []
    whole = measure.prospects(wanted, lambda done, of: told.append((done, of)))
    monkeypatch.setattr(measure, "_PORTION", 1)
    parts = []
    assert measure.prospects(wanted, lambda done, of: parts.append((done, of))) == whole
    assert len(list(measure._portions([(one, []) for one in wanted]))) == 1
    assert parts[-1] == told[-1]
