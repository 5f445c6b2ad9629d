"""What might cure is judged no further than its verdict needs: the verdict and its findings are those of the whole."""

from __future__ import annotations

from pathlib import Path

import pytest

import netcheck
from netcheck import api, judging
from netcheck.checks import tracing, variant
from netcheck.checks.standing import standing
from netcheck.simulation.operating_point import forget

EXAMPLES = Path(__file__).parents[2] / "examples"
STATED = """
title: years are stated
rails: {+5V: 5 V ±5%}
conditions: {years: 10}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 40 uA, plus: VRAM, minus: GND, works: 2 V to 5.5 V}
"""
DRAINED = STATED.replace("conditions: {years: 10}\n", "") + "  R5: {resistor: 3k3, between: [VRAM, GND]}\n"


def boards():
    yield netcheck.loads(STATED)
    yield netcheck.loads(DRAINED)
    for name in ("rack-sampler", "clock-card", "logger"):
        yield from api.variants(netcheck.load(EXAMPLES / f"{name}.yaml"), every=True)


def at(fragment, depth, failing=True):
    return variant._once(fragment, tracing.warnings, judging.SECTIONS, depth, failing)[0]


def told(result):
    return [(one.check, one.subject, str(one.severity), one.case, dict(one.figures)) for one in result.findings]


def test_a_cure_is_judged_as_the_whole_is():
    for fragment in boards():
        assert told(at(fragment, variant._Depth.CURE)) == told(at(fragment, variant._Depth.WHOLE)), fragment.variant


def test_a_candidate_stands_where_the_whole_without_failures_stands():
    for fragment in boards():
        brief = at(fragment, variant._Depth.CANDIDATE)
        whole = at(fragment, variant._Depth.WHOLE, failing=False)
        assert standing(brief) == standing(whole), fragment.variant
        notes = [one for one in told(whole) if one[2] != "note"]
        assert [one for one in told(brief) if one[2] != "note"] == notes


def test_a_life_that_is_too_short_counts_where_the_years_are_stated():
    found = at(netcheck.loads(STATED), variant._Depth.CANDIDATE)
    assert [one.case for one in found.findings if one.check == "life" and str(one.severity) == "fails"]


@pytest.fixture
def counted(monkeypatch):
    calls = []
    whole = judging.check_variant

    def check(fragment, *rest):
        calls.append(fragment.variant)
        return whole(fragment, *rest)

    monkeypatch.setattr(judging, "check_variant", check)
    return calls


def test_a_variant_is_judged_once_until_something_of_it_changes(counted):
    first = judging.judge(netcheck.loads(STATED))
    assert judging.judge(netcheck.loads(STATED)) is first
    assert len(counted) == 1
    other = judging.judge(netcheck.loads(STATED.replace("40 uA", "41 uA")))
    assert other.cells["BT1"].life != first.cells["BT1"].life
    judging.judge(netcheck.loads(STATED.replace("years: 10", "years: 9")))
    judging.judge(netcheck.loads(STATED), cured=False)
    assert len(counted) == 4
    forget()
    assert judging.judge(netcheck.loads(STATED)) == first
    assert len(counted) == 5


def test_what_could_not_be_worked_out_is_tried_again(counted):
    text = "title: nothing to judge\nparts:\n  R1: {resistor: 1k, between: [A, GND]}\n"
    for _ in range(2):
        assert judging.judge(netcheck.loads(text)).verdict == "unknown"
    assert len(counted) == 2
