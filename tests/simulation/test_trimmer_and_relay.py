"""A trimmer divides as its travel says, a relay joins what its coil lets it join; each with its failures.

The divider is a closed form: two resistances in series (Horowitz and Hill, The Art of Electronics, 3rd edition,
section 1.2.3). A relay's contacts: IEC 60050-444 (change-over contact: break and make with a common).
"""

from __future__ import annotations

import pytest

import netcheck
from netcheck.conduction.graph import conduction
from netcheck.conduction.routes import charge_routes
from netcheck.fragment.model import Fragment
from netcheck.fragment.mods import apply
from netcheck.fragment.states import enumerate_states
from netcheck.judging import judge
from netcheck.reading.mistakes import FragmentError
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Corner, Fault
from netcheck.simulation.elements import OperatingPoint
from netcheck.simulation.operating_point import solve
from netcheck.solving.failures import faults_of

TRIMMER = """
title: t
rails: {+5V: 5 V}
parts:
  R1: {resistor: 1k, between: [+5V, A]}
  RV1: {trimmer: 10k ±20%, ends: [A, GND], wiper: W, set: 30 %}
  R2: {resistor: 1M, between: [W, GND]}
"""

RELAY = """
title: pack by relay
rails: {+5V: 5 V, 12VSB: {volts: 12 V, supply: standby}}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  K1: {relay: 167, coil: [+5V, GND], common: VRAM, rest: CELL, work: SUP}
  R1: {resistor: 100, between: [+5V, SUP]}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
"""


def solved(fragment: Fragment, name: str, *faults: Fault, corner: Corner | None = None) -> OperatingPoint:
    (state,) = [one for one in enumerate_states(fragment).states if one.name == name]
    (point,) = solve([circuit_of(fragment, state, corner or Corner("room"), faults)])
    assert point.known, point.problem
    return point


@pytest.mark.parametrize(("position", "share"), [("end 1", 0.0), ("30 %", 0.3), ("middle", 0.5), ("end 2", 1.0)])
def test_the_wiper_divides_as_far_as_it_is_turned(position: str, share: float) -> None:
    point = solved(netcheck.loads(TRIMMER), f"main on, RV1 {position}")
    upper, lower = 10e3 * share, 10e3 * (1 - share)
    loaded = lower * 1e6 / (lower + 1e6)
    assert point.volts["W"] == pytest.approx(5 * loaded / (1e3 + upper + loaded), rel=1e-5, abs=1e-4)
    assert point.amps["RV1"] == pytest.approx(5 / (1e3 + upper + loaded), rel=1e-5)


def test_the_track_takes_its_tolerance_and_its_failures() -> None:
    fragment = netcheck.loads(TRIMMER)
    state = "main on, RV1 30 %"
    high = solved(fragment, state, corner=Corner("high", resistance=1)).volts["W"]
    assert high == pytest.approx(5 * 8.33e3 / (1e3 + 3.6e3 + 8.33e3), rel=2e-3)  # 8.4k beside 1M
    assert solved(fragment, state, Fault("RV1", "open", pin="wiper")).volts["A"] == pytest.approx(5 * 10 / 11, rel=1e-6)
    assert solved(fragment, state, Fault("RV1", "open", pin="1")).volts["A"] == pytest.approx(5.0, rel=1e-6)
    assert solved(fragment, state, Fault("RV1", "short", ("1", "2"))).volts["A"] == pytest.approx(0, abs=1e-4)
    assert {(f.how, f.pins, f.pin) for f in faults_of(fragment.parts["RV1"], "GND")} == {
        ("short", ("1", "2"), None), ("short", ("1", "wiper"), None), ("short", ("2", "wiper"), None),
        ("open", None, None), ("open", None, "wiper"), ("open", None, "1"), ("open", None, "2")}


def test_a_wiper_may_be_joined_to_an_end() -> None:
    text = TRIMMER.replace("wiper: W", "wiper: A").replace("[W, GND]", "[A, GND]")
    point = solved(netcheck.loads(text), "main on, RV1 end 2")
    assert point.volts["A"] == pytest.approx(0, abs=1e-4)  # the wiper, on A, at the grounded end


def test_a_small_trimmer_burns_where_its_track_is_short() -> None:
    text = TRIMMER.replace("1k, b", "10, b").replace("10k ±20%", "1k").replace("[W, GND]", "[A, W]")
    told = [f for f in judge(netcheck.loads(text)).findings if f.check == "over-current"]
    assert told == []  # 5 V over 1k: 25 mW
    heavy = TRIMMER.replace("1k, b", "1, b").replace("10k ±20%", "100").replace("1M", "10")
    assert [f.subject for f in judge(netcheck.loads(heavy)).findings if f.check == "over-current"] == ["RV1"]


def test_a_relay_follows_the_supply_of_its_coil() -> None:
    fragment = netcheck.loads(RELAY)
    names = [state.name for state in enumerate_states(fragment).states]
    assert len(names) == 4  # two supplies, and no more for the relay
    on, off = solved(fragment, "main on, standby off"), solved(fragment, "main off, standby off")
    assert on.volts["VRAM"] == pytest.approx(5 - 100 * on.amps["U1"], rel=1e-6)
    assert on.amps["K1.coil"] == pytest.approx(5 / 167, rel=1e-6)
    assert off.volts["VRAM"] == pytest.approx(off.volts["CELL"] or 0, abs=1e-3)


def test_volts_that_do_not_pull_leave_it_at_rest() -> None:
    fragment = netcheck.loads(RELAY.replace("relay: 167", "relay: {coil: 167, pulls: 6 V}"))
    assert solved(fragment, "main on, standby off").volts["VRAM"] == pytest.approx(3.2, abs=0.3)


def test_a_coil_that_something_else_drives_is_tried_both_ways_and_one_named_rail_pulls_it() -> None:
    driven = RELAY.replace("coil: [+5V, GND]", "coil: [+5V, DRV]") + "  Q1: {transistor: npn, collector: DRV, " \
        "base: B, emitter: GND}\n  R3: {resistor: 1k, between: [+5V, B]}\n"
    assert len(enumerate_states(netcheck.loads(driven)).states) == 8
    named = driven.replace("coil: [+5V, DRV]", "coil: [+5V, DRV], pulled: 12VSB")
    states = {state.name: state.positions["K1"] for state in enumerate_states(netcheck.loads(named)).states}
    assert states == {"main on, standby on": "pulled", "main off, standby on": "pulled",
                      "main on, standby off": "rest", "main off, standby off": "rest"}


def test_a_welded_contact_is_one_failure_from_charging() -> None:
    fragment = netcheck.loads(RELAY)
    cell = fragment.parts["BT1"]
    routes = {state.name: charge_routes(fragment, conduction(fragment, state), cell)
              for state in enumerate_states(fragment).states}
    (route,) = routes["main on, standby off"]
    assert (route.conducting, route.shorts) == (False, ("K1",))
    found = judge(fragment).cells["BT1"]
    assert found.shorts_to_charge == 1
    assert found.fault is not None
    assert found.fault.part == "K1"
    swapped = netcheck.loads(RELAY.replace("rest: CELL, work: SUP", "rest: SUP, work: CELL").replace(
        "R1: {resistor: 100, between: [+5V, SUP]}", "R1: {resistor: 100, between: [+5V, SUP]}\n"
        "  R2: {resistor: 1k, between: [12VSB, VRAM]}"))
    assert judge(swapped).verdict == "danger"  # pulled, the cell hangs on 12VSB through R2


def test_an_open_coil_lets_the_contact_fall_back() -> None:
    point = solved(netcheck.loads(RELAY), "main on, standby off", Fault("K1", "open", pin="coil1"))
    assert point.volts["VRAM"] == pytest.approx(point.volts["CELL"] or 0, abs=1e-3)
    assert point.amps["K1.coil"] == pytest.approx(0, abs=1e-9)


def test_positions_are_set_by_mods_and_refused_where_a_supply_decides() -> None:
    fragment = netcheck.loads(TRIMMER + "mods: {up: {steps: [{set: {RV1: end 1}}]}}\n")
    assert apply(fragment, "up").parts["RV1"].position == "end 1"
    with pytest.raises(FragmentError, match="relay that follows a supply"):
        netcheck.loads(RELAY + "states: {odd: {main: on, K1: rest}}\n")
    with pytest.raises(FragmentError, match="K1 is pulled whenever"):
        netcheck.loads(RELAY + "mods: {odd: {steps: [{set: {K1: pulled}}]}}\n")
    for wrong, told in (("set: 130 %", "at most 100 %"), ("set: half", "end 1, middle or end 2"),
                        ("set: -5 %", "at least 0")):
        with pytest.raises(FragmentError, match=told):
            netcheck.loads(TRIMMER.replace("set: 30 %", wrong))
    with pytest.raises(FragmentError, match="rest or work"):
        netcheck.loads(RELAY.replace(", rest: CELL, work: SUP", ""))
    with pytest.raises(FragmentError, match="whose supply pulls"):
        netcheck.loads(RELAY.replace("common:", "pulled: VRAM, common:"))
