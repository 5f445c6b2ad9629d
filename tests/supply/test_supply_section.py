"""What the section on supplies tells of settings, slips and failures that are given by hand."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, given, made, point, told
from msgspec.structs import replace

from netcheck.findings import Severity
from netcheck.supply.results import Failure, Mistake, Reason, Setting, Settings
from netcheck.supply.section import findings_of, section

BOARD = """
title: a supply with a link
rails: {+9V: 9 V}
parts:
  U1: {regulator: REGULATOR, input: +9V, output: OUT, ground: GND}
  JP1: {jumper: [OUT, X], set: open}
  U2: {load: 10 mA, plus: OUT, minus: GND, works: 4.5 V to 5.5 V}
  D1: {diode: 1N4148, anode: OUT, cathode: +9V}
"""


def board(regulator="{output: 5 V, back: blocked}", at=None, more="", guard=True):
    text = BOARD.replace("REGULATOR", regulator) + more
    return made(text if guard else text.replace("  D1: {diode: 1N4148, anode: OUT, cathode: +9V}\n", ""), at)


def setting(position="open", as_set=False, volts=5.0, reasons=(), faults=()):
    return Setting(positions={"JP1": position}, as_set=as_set, output_V=volts, reasons=tuple(reasons),
                   faults=tuple(faults))


HARM = Reason(Severity.DANGER, "harm")
UNSURE = Reason(Severity.UNKNOWN, "unknown")


def settings(*made_of, **more):
    return Settings(of="U1", kind="fixed", output="OUT", settings=made_of, links=("JP1",), **{
        "setting_parts": ("R1",), **more})


def said(result, found=None):
    return list(findings_of(found or board(), "U1", result))


def cases(findings):
    return [(one.check, one.case, str(one.severity)) for one in findings]


def test_settings_that_nothing_speaks_against_are_silent():
    assert said(settings(setting(as_set=True), setting("closed"))) == []


def test_the_setting_that_stands_is_told_before_a_worse_one_and_the_states_of_all_are_named():
    found = said(settings(setting(as_set=True, reasons=[HARM]), setting("closed", volts=9.0, reasons=[HARM]),
                          setting("third")))
    assert cases(found) == [("setting", "harmful", "danger")]
    (one,) = found
    assert (one.subject, one.parts, one.nets, one.line) == ("U1", ("U1", "JP1"), ("OUT",), 5)
    assert (one.words["put"], one.words["put_0_position"]) == (("JP1",), "open")
    assert one.figures == {"output_V": 5.0, "bad_count": 2, "settings_count": 3}
    assert set(one.states) == {"main on, JP1 open", "main on, JP1 closed"}


def test_of_settings_that_do_not_stand_the_last_is_the_most_dangerous_and_the_first_of_the_rest():
    danger = said(settings(setting(volts=5.0, reasons=[HARM]), setting("closed", volts=9.0, reasons=[HARM])))
    assert danger[0].figures["output_V"] == 9.0
    unsure = said(settings(setting(volts=5.0, reasons=[UNSURE]), setting("closed", volts=9.0, reasons=[UNSURE])))
    assert cases(unsure) == [("setting", "not-known", "unknown")]
    assert (unsure[0].figures["output_V"], unsure[0].states) == (5.0, ())
    alone = said(settings(setting(as_set=True, reasons=[UNSURE])))
    assert "bad_count" not in alone[0].figures


def test_each_gravity_is_told_once():
    reasons = [HARM, UNSURE, Reason(Severity.FAILS, "low"), Reason(Severity.CAUTION, "warm"), HARM]
    found = said(settings(setting(as_set=True, reasons=reasons)))
    assert [str(one.severity) for one in found] == ["danger", "unknown", "fails", "caution"]
    assert found[0].words["reasons"] == ("harm", "harm")
    assert found[2].words["reasons_0_case"] == "low"
    cured = Reason(Severity.FAILS, "low", {"cure": "sink"}, {"needs_K": 3.0})
    (one,) = said(settings(setting(as_set=True, reasons=[cured])))
    assert (one.case, one.words["cured_0_cure"], one.figures["cured_0_needs_K"]) == ("cured", "sink", 3.0)


def test_the_slip_that_does_most_harm_is_told_and_whether_links_may_be_moved_alive():
    def slip(what, volts, link="JP1"):
        return Mistake(link, what, {}, {}, volts, ("U2",))

    (one,) = said(settings(mistakes=(slip("forgotten", 6.0), slip("swapped", -9.0, "JP2"))))
    assert cases([one]) == [("link-mistake", "on-the-way", "danger")]
    assert (one.parts, one.nets, one.figures, one.words) == (
        ("JP2", "U2"), ("OUT",), {"output_V": -9.0}, {"link": "JP2", "slip": "swapped", "hurts": ("U2",)})
    assert said(settings(mistakes=(slip("swapped", None),)))[0].case == "slip"
    assert said(settings(mistakes=(slip("turned round", 6.0),)))[0].case == "on-the-way"


def test_a_failure_that_hurts_is_one_failure_away_unless_its_setting_is_never_used():
    fault = Failure("R1", "open", 9.0, ("U2",))
    (one,) = said(settings(setting(as_set=True, faults=[fault, Failure("R1", "open", 7.0, ("U3",)),
                                                        Failure("R2", "short", 8.0, ("U4",)),
                                                        Failure("R3", "open", 20.0, ())])))
    assert cases([one]) == [("setting-fault", "resistor", "caution")]
    assert (one.parts, one.words["hardest"], one.words["hurts"]) == (("R1", "R2"), "R1", ("U2", "U4"))
    assert one.figures == {"output_V": 9.0, "faults_0_V": 9.0, "faults_1_V": 8.0}
    dangerous = setting("closed", reasons=[HARM], faults=[fault])
    assert [one.check for one in said(settings(dangerous))] == ["setting"]
    assert "setting-fault" in [one.check for one in said(settings(replace(dangerous, as_set=True)))]
    assert said(settings(setting(faults=[Failure("R3", "open", 20.0, ())]))) == []


def test_of_a_fixed_regulator_with_nothing_around_it_a_failure_is_only_noted():
    alone = replace(settings(setting(as_set=True, faults=[Failure("U1", "short", 9.0, ("U2",))])), links=(),
                    setting_parts=())
    assert cases(said(alone)) == [("setting-fault", "regulator", "note")]


@pytest.mark.parametrize(("wanted", "case"), [
    ((5.0,), None), ((5.05,), None), ((5.2,), "none-near"), ((4.8,), "none-near")])
def test_a_wanted_output_must_be_near_one_that_there_is(wanted, case):
    found = said(settings(setting(volts=5.0), setting("closed", volts=3.3), wanted=wanted, within=0.02))
    assert cases(found) == ([("setting-wanted", case, "fails")] if case else [])
    for one in found:
        assert one.figures == {"wanted_V": wanted[0], "output_V": 5.0}
    (none,) = said(settings(setting(volts=None), wanted=(5.0,), within=0.02))
    assert (none.case, none.figures) == ("none-known", {"wanted_V": 5.0})


def test_settings_that_were_not_tried_are_unknown():
    (one,) = said(settings(setting(), untried=7))
    assert told([one]) == [("setting", "untried", "unknown")]
    assert one.figures == {"tried_count": 1, "untried_count": 7}


def back(regulator, output_V, input_V=0.0, amps=-2e-3, known=True):
    held = point({"OUT": output_V, "+9V": input_V}, {"U1": amps}) if known else UNKNOWN
    return said(settings(setting()), board(regulator, {"main off, JP1 open": held}))


def test_what_holds_up_the_output_of_a_dead_regulator():
    """Unknown where nothing is published, told with its current where it is a diode, silent where it is blocked."""
    unpublished = back("{output: 5 V}", 3.0)
    assert cases(unpublished) == [("back-current", "not-published", "unknown")]
    assert (unpublished[0].figures, unpublished[0].state, unpublished[0].nets) == (
        {"held_V": 3.0}, "main off, JP1 open", ("OUT", "+9V"))
    diode = back("{output: 5 V, back: diode}", 3.0)
    assert cases(diode) == [("back-current", "back", "caution")]
    assert diode[0].figures == {"back_A": 2e-3}
    assert back("{output: 5 V, back: blocked}", 3.0) == []
    for output_V, input_V in ((0.09, 0.0), (3.0, 2.95), (None, 0.0), (3.0, None)):
        assert back("{output: 5 V}", output_V, input_V) == []
    assert back("{output: 5 V}", 0.11) != []
    assert back("{output: 5 V}", 3.0, known=False) == []


@pytest.mark.parametrize(("capacitor", "asks"), [
    ("{capacitor: 100u, plus: OUT, minus: GND}", True), ("{capacitor: 99u, plus: OUT, minus: GND}", False),
    ("{capacitor: 100u, plus: +9V, minus: GND}", False)])
def test_a_large_output_capacitor_asks_for_a_diode(capacitor, asks):
    found = said(settings(setting()), board(more=f"  C1: {capacitor}\n", guard=False))
    assert cases(found) == ([("output-capacitor", "no-diode", "note")] if asks else [])
    for one in found:
        assert (one.parts, one.words, bool(one.sources)) == (("U1", "C1"), {"large": ("C1",)}, True)
    assert said(settings(setting()), board(more=f"  C1: {capacitor}\n")) == []
    assert said(settings(setting()), board("{output: 5 V, back: diode}", more=f"  C1: {capacitor}\n",
                                           guard=False)) == []


def test_without_a_simulator_nothing_is_judged_and_nothing_called_judged():
    judged, _ = given(section(replace(board(), missing="there is none")), lambda key, circuit: UNKNOWN)
    assert (judged.findings, judged.judges, judged.regulators) == ((), frozenset(), {})
