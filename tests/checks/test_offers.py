"""What is offered as a cure beyond parts out and diodes in leads, on boards and findings given by hand."""

from __future__ import annotations

import pytest
from made_points import made
from msgspec.structs import replace
from test_results import CELL

import netcheck
from netcheck.checks import offers
from netcheck.checks.chargers import chargers
from netcheck.checks.offers import (
    BLOCKING,
    LOW_DROP,
    by_rail_alone,
    fitting,
    holding,
    other_cells,
    packs,
    pulls,
    resistor_in_lead,
)
from netcheck.checks.proposal import _moved_once, _place
from netcheck.checks.results import VariantResult
from netcheck.conduction.routes import Route
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Step
from netcheck.fragment.mods import apply_steps


def steps_of(remedy):
    """Each step as its action and the parts that it takes out, fits or moves."""
    return [(step.action, *step.names, *(part.name for part in step.parts), *(name for name, _ in step.moves))
            for step in remedy.steps]


def board(*parts, head="rails: {+5V: 5 V}"):
    return netcheck.loads("\n".join(["title: t", head, "parts:", *(f"  {part}" for part in parts)]) + "\n")


DIODE = "D{}: {{diode: {}, anode: A, cathode: B}}"


@pytest.mark.parametrize(("types", "place", "blocking", "low_drop"), [
    ((), None, "1N4148", "1N5711"), (("1N4148", "1N4148", "1N4148W"), None, "1N4148", "1N5711"),
    (("1N4148W", "1N4148W", "1N4148"), None, "1N4148W", "BAS70"),
    (("1N4148W", "1N4148W", "1N4148"), "D3", "1N4148", "1N5711"), (("1N4148", "LL4148"), "D2", "LL4148", "BAS70"),
    (("BAS70",), None, "BAS116", "BAS70"), (("BAS116LP3",), None, "1N4148WS", "BAS70"),
    (("{IS: 1e-9, N: 1.8}", "1N4148WS"), "D1", "1N4148WS", "BAS70"), (("LED-red",), None, "1N4148", "1N5711"),
])
def test_a_diode_that_is_offered_has_the_body_of_its_place_or_that_of_most_of_the_board(
        types, place, blocking, low_drop):
    fragment = board(*(DIODE.format(number, one) for number, one in enumerate(types, 1)),
                     "R1: {resistor: 1k, between: [A, GND]}")
    assert (fitting(fragment, BLOCKING, place).name, fitting(fragment, LOW_DROP, place).name) == (blocking, low_drop)


GATE = ("Q1: {transistor: 2N7000, drain: OUT, gate: G, source: GND}", "R2: {resistor: 10k, between: [+5V, OUT]}",
        "JP1: {jumper: [G, +5V], set: SET}")


def pulled(*parts, head="rails: {+5V: 5 V}"):
    return list(pulls(made(board(*parts, head=head))))


def test_a_gate_that_floats_as_the_board_is_set_is_pulled_to_ground_and_one_that_is_held_is_not():
    gate = tuple(part.replace("SET", "open") for part in GATE)
    (remedy,) = pulled(*gate)
    ((step,), extra) = remedy.steps, remedy.extra
    (fitted,) = step.parts
    assert (step.action, fitted.name, dict(fitted.pins)) == ("fit", "R1", {"1": "G", "2": "GND"})
    assert fitted.spec.resistance.value == 100e3
    assert extra == {"fit_resistor": {"between": ["G", "GND"], "ohm": 100e3}}
    assert "G" in remedy.words
    assert "100 kΩ" in remedy.words
    assert pulled(*(part.replace("SET", "closed") for part in GATE)) == []
    assert pulled(*gate, "R3: {resistor: 1M, between: [G, GND]}") == []


def test_a_rail_that_is_left_alone_when_off_is_pulled_down_and_at_most_three_are(monkeypatch):
    loose = ", ".join(f"V{n}: {{volts: 5 V, when_off: open}}" for n in range(1, 5))
    parts = [f"R{n}: {{resistor: 1k, between: [V{n}, GND]}}" for n in range(1, 5)]
    found = pulled(*parts, head=f"rails: {{{loose}, +5V: 5 V}}")
    assert [remedy.extra["fit_resistor"] for remedy in found] == [
        {"between": [f"V{n}", "GND"], "ohm": 10e3} for n in range(1, 4)]
    always = "rails: {V9: {volts: 5 V, supply: aux, when_off: open}}\nstates: {on: {aux: on}}"
    alone = made(board("R1: {resistor: 1k, between: [V9, GND]}", head=always))
    live = replace(alone, states=replace(alone.states, states=tuple(one for one in alone.states.states if one.live)))
    assert list(pulls(live)) == []    # it is never off
    monkeypatch.setattr(offers, "_MOST_PULLS", 9)
    assert len(pulled(*parts, head=f"rails: {{{loose}, +5V: 5 V}}")) == 4


TWO = ("BT1: {cell: CR2032, plus: A, minus: GND}", "BT2: {cell: CR2032, plus: B, minus: GND}",
       "R1: {resistor: 1k, between: [A, B]}",
       "U1: {load: 1 mA, plus: A, minus: GND, works: 4 V to 6 V, kept: no}", "U2: {load: 1 mA, plus: A, minus: GND}")


def about(subject, *parts):
    return Finding("backup-voltage", Severity.CAUTION, subject, case="not-stated", parts=parts)


def test_another_cell_that_a_finding_names_may_come_out_and_no_other_part():
    found = made(board(*TWO))
    (remedy,) = other_cells(found, about("BT1", "BT1", "R1", "BT2", "BT2", "gone"))
    assert (remedy.remove, steps_of(remedy)) == (("BT2",), [("remove", "BT2")])
    assert list(other_cells(found, about("BT1", "BT1", "R1"))) == []


def test_a_load_that_need_not_be_kept_may_be_fed_by_each_rail_that_it_works_with():
    found = made(board(*TWO, head="rails: {+5V: 5 V ±5%, +6V: 6 V ±5%, +3V: 3 V, +4V: 4 V}"))
    offered = list(by_rail_alone(found, ("U1", "U2", "R1", "gone")))
    assert [remedy.extra for remedy in offered] == [{"move": {"U1.plus": "+5V"}}, {"move": {"U1.plus": "+4V"}}]
    assert [(step.action, step.mark, step.moves) for remedy in offered for step in remedy.steps] == [
        ("move", found.fragment.parts["U1"].mark, {("U1", "plus"): net}) for net in ("+5V", "+4V")]
    assert "U1" in offered[0].words
    assert "+5V" in offered[0].words
    every = made(board(*(part.replace(", works: 4 V to 6 V", "") for part in TWO), head="rails: {+5V: 5 V, +3V: 3 V}"))
    assert len(list(by_rail_alone(every, ("U1",)))) == 2


PACK = ("BT1: {cell: NiCd-3x60, plus: CELL, minus: GND}", "R1: {resistor: 1k, between: [+5V, CHG]}",
        "D1: {diode: 1N4148, anode: CHG, cathode: CELL}", "R2: {resistor: 1k, between: [+5V, FAR]}")


def charger(trickle_A, severity=Severity.CAUTION, check="charger", cell="NiCd-3x60"):
    figures = {"trickle_A": trickle_A} if trickle_A else {}
    findings = (about("BT1", "R1"), Finding(check, severity, "BT1", case="trickle-ages", figures=figures))
    routes = (Route("+5V", "BT1", "main on", ("R1", "D1"), (), ()),
              Route("+5V", "BT1", "main on", ("R2",), (), ("R2",)))
    result = VariantResult(name="as found", findings=findings, cells={"BT1": replace(CELL, routes=routes)})
    parts = [part.replace("NiCd-3x60", cell) for part in PACK]
    return list(chargers(made(board(*parts)), result))


def test_the_charging_resistor_that_is_offered_brings_the_current_into_the_window():
    """NiCd-3x60 takes 0.6 to 1.2 mA for good: 2.4 mA through 1 kΩ become 0.89 mA through 2.7 kΩ, of E24."""
    for now_A in (2.4e-3, 0.1e-3):
        (remedy,) = charger(now_A)
        (step,) = remedy.steps
        (fitted,) = step.parts
        ohm = fitted.spec.resistance.value
        assert (step.action, fitted.name, remedy.extra) == ("replace", "R1", {"replace": {"R1": ohm}})
        assert 0.6e-3 < now_A * 1000 / ohm < 1.2e-3
    assert charger(2.4e-3)[0].steps[0].parts[0].spec.resistance.value == 2700
    assert "2.7 kΩ" in charger(2.4e-3)[0].words


def test_no_other_charging_resistor_where_nothing_is_amiss_or_known():
    assert charger(2.4e-3, Severity.NOTE) == []
    assert charger(None) == []
    assert charger(2.4e-3, check="leakage") == []
    assert charger(2.4e-3, cell="supercap-0.33F") == []


def packed(cell, more=(), mod=None, uncharged=False, volts=None):
    parts = [part.replace("NiCd-3x60", cell) for part in PACK]
    if volts:
        parts[0] = parts[0].replace("minus: GND}", f"minus: GND, voltage: {volts}}}")
    found = made(board(*parts, *more))
    found = replace(found, fragment=replace(found.fragment, variant=mod)) if mod else found
    findings = (Finding("charger", Severity.CAUTION, "BT1", case="not-charged"),) if uncharged else ()
    return list(packs(found, VariantResult(name="as found", findings=findings)))


def test_a_dead_pack_comes_out_where_another_cell_is_left_or_a_coin_cell_takes_its_place():
    alone = packed("NiCd-3x60", volts="0.3 V")
    assert [steps_of(remedy) for remedy in alone] == [
        [("remove", "R1"), ("replace", "BT1")], [("remove", "R1"), ("replace", "BT1"), ("move", "BT1"), ("fit", "R3")],
        [("remove", "D1"), ("replace", "BT1")], [("remove", "D1"), ("replace", "BT1"), ("move", "BT1"), ("fit", "R3")]]
    assert alone[0].extra == {"replace": {"BT1": "CR2032"}, "remove": ["R1"]}
    assert alone[1].extra == {"replace": {"BT1": "CR2032"}, "remove": ["R1"],
                              "fit_resistor": {"at": "BT1.plus", "ohm": 1e3}}
    assert "CR2032" in alone[0].words
    assert "R1" in alone[0].words
    assert "1 kΩ" in alone[1].words
    coin = apply_steps(board(*PACK), alone[1].steps).parts
    assert (coin["BT1"].spec.name, coin["BT1"].measured_V, coin["R3"].spec.resistance.value) == ("CR2032", None, 1000)
    second = packed("NiCd-3x60", ("BT2: {cell: CR2032, plus: FAR, minus: GND}",), volts="0.3 V")
    assert (second[0].remove, steps_of(second[0])) == (("BT1",), [("remove", "BT1")])
    assert len(second) == 5


def test_a_pack_without_a_charger_is_replaced_only_where_a_mod_left_it_so():
    assert packed("NiCd-3x60") == []
    assert packed("NiCd-3x60", uncharged=True) == []
    assert len(packed("NiCd-3x60", uncharged=True, mod="out")) == 4
    assert packed("NiCd-3x60", mod="out") == []
    assert packed("CR2032", uncharged=True, mod="out") == []
    assert packed("supercap-0.33F", uncharged=True, mod="out") == []


def test_a_pin_that_the_next_line_moves_on_is_moved_once():
    mark = board(*TWO).parts["R1"].mark

    def move(**moves):
        return Step("move", mark, moves={tuple(pin.split("_")): net for pin, net in moves.items()})

    first, second = move(R1_1="X"), move(R1_1="Y")
    assert _moved_once((first, second)) == (second,)
    assert _moved_once((move(D1_a="Q", R1_1="X"), second)) == (move(D1_a="Q"), second)
    assert _moved_once((first, move(R1_2="Y"))) == (first, move(R1_2="Y"))
    assert _moved_once((first, Step("remove", mark, names=("U1",)), second))[0] is first


def test_parts_come_out_first_and_cells_are_touched_last():
    fragment = board(*TWO)
    mark = fragment.parts["R1"].mark
    steps = [Step("replace", mark, parts=(fragment.parts["BT1"],)), Step("move", mark, moves={("BT2", "plus"): "X"}),
             Step("move", mark, moves={("R1", "1"): "X"}), Step("fit", mark, parts=(fragment.parts["R1"],)),
             Step("remove", mark, names=("BT1",))]
    assert [_place(fragment, step) for step in steps] == [2, 2, 1, 1, 0]


def test_a_resistor_in_a_cells_lead_stands_between_its_plus_and_all_that_hung_there():
    before = board("BT1: {cell: CR2032, plus: CELL, minus: GND}", "U1: {load: 1 uA, plus: CELL, minus: GND}")
    remedy = resistor_in_lead(before, before.parts["BT1"], 4700.0)
    after = apply_steps(before, remedy.steps)
    (fitted,) = set(after.parts) - set(before.parts)
    resistor, cell = after.parts[fitted], after.parts["BT1"]
    assert (cell.pins["minus"], resistor.spec.resistance.value) == ("GND", 4700.0)
    assert set(resistor.nets) == {cell.pins["plus"], "CELL"}
    assert [part.name for part in after.fitted if cell.pins["plus"] in part.nets] == ["BT1", fitted]
    assert remedy.extra == {"fit_resistor": {"at": "BT1.plus", "ohm": 4700.0}}
    assert "BT1" in remedy.words
    assert "4.7 kΩ" in remedy.words


@pytest.mark.parametrize("least", [0.1, 1.0, 95.0, 95.1, 325.0, 3e6])
def test_a_resistor_that_holds_a_current_back_does_so_at_the_low_end_of_its_tolerance_too(least):
    """Five per cent off are still enough; IEC 60063, E24: no step between values is more than 11 %."""
    ohm = holding(least)
    assert 0.95 * ohm >= least * (1 - 1e-9)
    assert ohm <= max(1.0, least / 0.95 * 1.12)
