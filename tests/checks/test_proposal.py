"""Which cures are offered and put together, with a judge whose answers are given by hand."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from test_results import CELL, LOAD

import netcheck
from netcheck.checks import cures
from netcheck.checks import proposal as proposals
from netcheck.checks.advising import advised, ending
from netcheck.checks.cures import (
    OFFERED,
    for_cell,
    joints,
    named,
    remedy_words,
    tried,
)
from netcheck.checks.proposal import proposal, undoes
from netcheck.checks.results import VariantResult
from netcheck.checks.standing import RANK, better, nearest, standing
from netcheck.checks.trials import applied, trials
from netcheck.conduction.remedies import Remedy, lead_steps, removal_steps, replaced_diode
from netcheck.conduction.routes import Route
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Step
from netcheck.parts.catalogue import Catalogue
from netcheck.solving import beside

BOARD = """
title: several resistors
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  R1: {resistor: 1k, between: [+5V, A]}
  R2: {resistor: 1k, between: [+5V, A]}
  R3: {resistor: 1k, between: [+5V, A]}
  R4: {resistor: 1k, between: [A, GND]}
"""
FRAGMENT = netcheck.loads(BOARD)


def result(*severities, loads=None, cells=None):
    findings = tuple(Finding("backup-voltage", one, "U1", case="not-stated") for one in severities)
    return VariantResult(name="x", findings=findings, loads=loads or {}, cells=cells or {})


DANGER, UNKNOWN, FAILS, CAUTION, NOTE = Severity
OK, CAREFUL, BAD, WORSE = result(NOTE), result(CAUTION), result(DANGER), result(DANGER, DANGER)


def removal(*names):
    return Remedy(removal_steps(FRAGMENT, names), remove=names)


def judging(**by_removed):
    """A judge that knows what each removal leads to, or with failures tried and without; and what it was asked."""
    asked = []

    def judge(fragment, failing):
        left = {part.name for part in fragment.fitted}
        gone = "".join(name for name in FRAGMENT.parts if name not in left)
        asked.append((gone, failing))
        found = by_removed[gone]
        return found[not failing] if isinstance(found, tuple) else found

    return judge, asked


def on_trial(judge, fragment=FRAGMENT):
    with trials(fragment, judge) as trying:  # nothing goes on beside it, so that nothing ends with the block
        return trying


@pytest.fixture(autouse=True)
def all_here(monkeypatch):
    """What a copy of the process is asked nobody would see."""
    monkeypatch.setattr(beside, "_may_copy", lambda: False)


def offered(before, remedies, **by_removed):
    judge, asked = judging(**by_removed)
    found = tried(FRAGMENT, before, remedies, on_trial(judge))
    return [(remedy.remove[0], remedy.verdict) for remedy, _ in found], asked


def test_a_remedy_is_offered_only_where_judging_again_proves_it():
    remedies = [removal("R1"), removal("R2"), removal("R3"), removal("R4")]
    found, asked = offered(BAD, remedies, R1=BAD, R2=(BAD, CAREFUL), R3=CAREFUL, R4=OK)
    assert found == [("R4", "ok"), ("R3", "caution")]
    assert ("R1", True) not in asked        # what does not help without failures is not judged with them
    assert {("R2", True), ("R3", True), ("R4", True)} <= set(asked)
    assert offered(BAD, remedies[:2], R1=BAD, R2=(BAD, CAREFUL))[0] == []


def test_what_still_does_harm_is_offered_only_where_nothing_better_is():
    assert offered(WORSE, [removal("R1"), removal("R2")], R1=BAD, R2=CAREFUL)[0] == [("R2", "caution")]
    assert offered(WORSE, [removal("R1"), removal("R2")], R1=BAD, R2=BAD)[0] == [("R1", "danger"), ("R2", "danger")]
    fails = result(FAILS)
    assert offered(WORSE, [removal("R1"), removal("R2")], R1=fails, R2=CAREFUL)[0] == [("R2", "caution")]
    assert offered(result(FAILS, FAILS), [removal("R1")], R1=fails)[0] == [("R1", "fails")]
    assert offered(result(DANGER), [removal("R1"), removal("R2")], R1=fails, R2=result(UNKNOWN))[0] == [
        ("R1", "fails"), ("R2", "unknown")]


def test_of_equal_ones_the_fewest_joints_come_first_and_only_a_few_are_tried(monkeypatch):
    two = Remedy(removal_steps(FRAGMENT, ("R1", "R2")), remove=("R1", "R2"))
    found, _ = offered(BAD, [two, removal("R3")], R1R2=OK, R3=OK)
    assert found == [("R3", "ok"), ("R1", "ok")]
    every = [removal(name) for name in ("R1", "R2", "R3", "R4", "D1")]
    by_removed = dict.fromkeys(("R1", "R2", "R3", "R4", "D1"), OK)
    assert len(offered(BAD, every, **by_removed)[0]) == OFFERED == 4
    monkeypatch.setattr(cures, "_MOST_TRIED", 2)
    assert len(offered(BAD, every, **by_removed)[0]) == 2
    monkeypatch.setattr(cures, "_LARGE", len(FRAGMENT.parts) - 1)
    assert len(offered(BAD, every, **by_removed)[0]) == 3
    monkeypatch.setattr(beside, "in_time", lambda _, __: iter(()))
    assert offered(BAD, every, **by_removed)[0] == []


def test_trying_ends_with_as_many_good_ones_as_are_offered():
    every = [removal(name) for name in ("R1", "R2", "R3", "R4", "D1")]
    judge, asked = judging(**dict.fromkeys(("R1", "R2", "R3", "R4", "D1"), OK) | {"R2": CAREFUL})
    found = tried(FRAGMENT, BAD, every, on_trial(judge), offered=2)
    assert [(remedy.remove, remedy.verdict) for remedy, _ in found] == [(("R1",), "ok"), (("R3",), "ok")]
    assert [gone for gone, failing in asked if not failing] == ["R1", "R2", "R3"]


NEW = VariantResult(name="x", findings=(Finding("leakage", CAUTION, "BT9", case="not-solved"),), loads={}, cells={})
LEAKING = VariantResult(name="x", findings=(Finding("leakage", CAUTION, "BT1", case="not-solved"),), loads={}, cells={})


@pytest.mark.parametrize(("plain", "tried_too"), [
    (OK, False), (LEAKING, False), (CAREFUL, True), (BAD, True), (NEW, True)])
def test_what_costs_fewer_volts_is_tried_where_volts_are_short_without_it(plain, tried_too):
    """After what it comes in the place of, wherever it stands, and not where enough good ones were found."""
    sparing = replace(removal("R1"), spares=removal("R2").steps)
    remedies = [sparing, removal("R3"), removal("R2")]
    before = replace(WORSE, findings=(*WORSE.findings, *LEAKING.findings))
    found, asked = offered(before, remedies, R1=OK, R2=plain, R3=CAREFUL)
    assert [gone for gone, failing in asked if not failing] == ["R3", "R2", *(["R1"] if tried_too else [])]
    assert (("R1", "ok") in found) is tried_too
    judge, asked = judging(R1=OK, R2=plain, R3=OK)
    list(tried(FRAGMENT, before, remedies, on_trial(judge), offered=1))
    assert [gone for gone, failing in asked if not failing] == ["R3"]
    assert offered(before, [sparing], R1=OK)[0] == [("R1", "ok")]  # what it spares is not among them


def test_steps_that_cannot_be_done_are_no_cure():
    gone = Remedy((Step("remove", FRAGMENT.parts["R1"].mark, names=("R99",)),), remove=("R99",))
    assert offered(BAD, [gone])[0] == []


def test_a_remedy_says_what_it_leads_to():
    left = result(CAUTION, NOTE, loads={"U1": replace(LOAD, lowest_V=2.4), "U2": replace(LOAD, lowest_V=2.2),
                                        "U3": replace(LOAD, lowest_V=1.0, carried_by_cell=()),
                                        "U4": replace(LOAD, lowest_V=None)},
                  cells={"BT1": CELL, "BT2": replace(CELL, life=replace(CELL.life, years=3.0)),
                         "BT3": replace(CELL, life=None), "BT4": replace(CELL, life=replace(CELL.life, years=None))})
    judge, _ = judging(R1=left)
    ((remedy, after),) = tried(FRAGMENT, BAD, [removal("R1")], on_trial(judge))
    assert after is left
    assert (remedy.verdict, remedy.lowest_V, remedy.life_years, remedy.because) == (
        "caution", 2.2, 3.0, "backup-voltage: What U1 needs is not stated, so its volts are shown and not judged")
    judge, _ = judging(R1=result(loads={"U1": LOAD}))
    ((remedy, _),) = tried(FRAGMENT, BAD, [removal("R1")], on_trial(judge))
    assert "nothing charges a cell" in remedy.because
    assert "2.5 V" in remedy.because
    judge, _ = judging(R1=OK)
    ((bare, _),) = tried(FRAGMENT, BAD, [removal("R1")], on_trial(judge))
    assert (bare.because, bare.lowest_V, bare.life_years) == ("nothing charges a cell", None, None)


def test_better_is_fewer_dangers_or_a_better_standing_and_no_load_without_its_rail():
    assert [better(OK, CAREFUL), better(CAREFUL, OK), better(OK, OK)] == [True, False, False]
    assert better(BAD, WORSE)
    assert better(result(CAUTION), result(CAUTION, CAUTION))
    assert better(result(FAILS), result(UNKNOWN))
    assert not better(result(UNKNOWN), result(FAILS))
    assert not better(result(DANGER, DANGER), result(DANGER, UNKNOWN, UNKNOWN))
    fed, starved = (replace(LOAD, fed_by_rail=states) for states in (("main on",), ()))
    assert not better(result(NOTE, loads={"U1": starved}), result(CAUTION, loads={"U1": fed}))
    assert better(result(NOTE, loads={"U1": fed}), result(CAUTION, loads={"U1": starved}))
    assert better(result(NOTE), result(CAUTION, loads={"U1": fed}))
    many = result(DANGER, CAUTION, CAUTION, UNKNOWN, FAILS, FAILS, FAILS)
    assert standing(many) == (RANK.index("danger"), 1, 1, 3, 2)


def test_joints_are_two_for_a_part_out_or_in_and_one_for_a_lead():
    assert joints(removal("R1")) == 2
    assert joints(removal("R1", "R2")) == 4
    cell, diode = FRAGMENT.parts["BT1"], Catalogue.standard().diode("BAS70")
    assert joints(Remedy(lead_steps(FRAGMENT, cell, "plus", diode)[0])) == 3
    assert joints(replaced_diode(FRAGMENT, "D1", diode)) == 4


def test_steps_are_applied_as_a_mod_without_the_readings_taken_before():
    changed = applied(FRAGMENT, removal("R1").steps)
    assert changed.variant == "cure"
    assert changed.found is FRAGMENT
    assert changed.readings == ()
    assert "R1" not in {part.name for part in changed.fitted}
    assert applied(changed, removal("R2").steps).found is FRAGMENT


CHARGED = replace(CELL, routes=(Route("+5V", "BT1", "main on", ("R1",), (), ()),))


def test_each_charged_cell_has_the_remedies_that_stop_its_own_charge():
    one, other = removal("R1"), removal("R2")
    found = [(one, result(cells={"BT1": CELL, "BT2": CHARGED})), (other, result(cells={"BT1": CHARGED})),
             (removal("R3"), result())]
    before = result(cells={"BT1": CHARGED, "BT2": CHARGED, "BT3": CELL})
    assert [remedy.remove for remedy in for_cell("BT1", found, before)] == [("R1",), ("R3",)]
    assert [remedy.remove for remedy in for_cell("BT2", found, before)] == [("R2",), ("R3",)]
    assert for_cell("BT3", found, before) == []
    assert len(for_cell("BT3", found, result(cells={"BT3": CELL}))) == 3
    rechargeable = replace(CHARGED, primary=False)
    assert len(for_cell("BT3", found, result(cells={"BT3": CELL, "BT4": rechargeable}))) == 3


def test_remedies_in_words():
    words = [remedy_words(one) for one in (removal("R1", "R2"), Remedy((), insert_diode="BT1.plus"),
                                           Remedy((), insert_diode="R1"), Remedy((), words="turn D1 round"))]
    assert words == ["remove R1 and R2", "put a blocking diode in BT1's plus lead", "fit a diode in place of R1",
                     "turn D1 round"]
    assert named([removal("R1")], True) == {"cures": ("remove R1",)}
    assert named([], True) == {"cured": "not"}
    assert named([], False) == {"cured": "not", "tried": "not all"}


def proposed(before, first, then=(), **by_removed):
    judge, asked = judging(**by_removed)
    rounds = [*then]

    def further(made, after, then):
        yield from rounds.pop(0) if rounds else []

    made = proposal(FRAGMENT, before, first, further, on_trial(judge))
    return made, asked


def test_a_mod_is_built_of_one_cure_after_the_other_until_it_is_ok():
    made, _ = proposed(WORSE, [(removal("R1"), BAD)], [[(removal("R2"), OK)], [(removal("R3"), OK)]], R1=BAD, R2=BAD)
    assert (made.verdict, made.words) == ("ok", ("remove R1", "remove R2"))
    assert [step.names for step in made.steps] == [("R1",), ("R2",)]
    assert "safe" in made.mod
    assert made.to_dict() == {"mod": made.mod, "verdict": "ok", "words": ["remove R1", "remove R2"]}


def test_once_it_is_ok_no_further_cures_are_asked_for_and_a_load_that_need_not_be_kept_is_no_loss():
    fragment = netcheck.loads(BOARD + "  U1: {load: 1 uA, plus: A, minus: GND, kept: no}\n")
    before = result(DANGER, loads={"U1": replace(LOAD, carried_by_cell=("main off",))})
    after = result(loads={"U1": replace(LOAD, carried_by_cell=())})
    first = [(removal("R1"), after)]
    made = proposal(fragment, before, first, lambda *_: pytest.fail("it is ok"), on_trial(judging()[0], fragment))
    assert (made.verdict, made.words) == ("ok", ("remove R1",))
    kept = netcheck.loads(BOARD + "  U1: {load: 1 uA, plus: A, minus: GND, kept: yes}\n")
    assert proposal(kept, before, first, lambda *_: pytest.fail("it is none"), on_trial(judging()[0], kept)) is None


def test_a_mod_that_is_not_ok_is_called_improved_and_the_rounds_have_an_end(monkeypatch):
    monkeypatch.setattr(proposals, "_MOST_ROUNDS", 3)
    careful = [result(*[CAUTION] * count) for count in (4, 3, 2, 1)]
    made, _ = proposed(BAD, [(removal("R1"), careful[0])], [
        [(removal("R2"), careful[1])], [(removal("R3"), careful[2])], [(removal("R4"), careful[3])]],
        R1R2=careful[1], R1R3=careful[1], R2R3=careful[1])
    assert (made.verdict, len(made.steps)) == ("caution", 3)
    assert "improved" in made.mod
    assert "safe" not in made.mod


def test_without_anything_that_makes_it_better_nothing_is_proposed():
    assert proposed(BAD, [])[0] is None
    assert proposed(BAD, [(removal("R1"), BAD)])[0] is None
    kept, _ = proposed(WORSE, [(removal("R1"), BAD)], [[(removal("R2"), BAD)]])
    assert kept.words == ("remove R1",)


@pytest.mark.parametrize(("again", "turned"), [(OK, True), (CAREFUL, False)])
def test_parts_come_out_first_and_the_cell_is_fitted_last_where_that_comes_to_the_same(again, turned, monkeypatch):
    monkeypatch.setattr(proposals, "_needed", lambda fragment, result, built, trying: built)
    cell, diode = FRAGMENT.parts["BT1"], Catalogue.standard().diode("BAS70")
    lead = Remedy(lead_steps(FRAGMENT, cell, "plus", diode)[0], insert_diode="BT1.plus")
    swap = replaced_diode(FRAGMENT, "D1", diode)
    made, asked = proposed(WORSE, [(lead, BAD)], [[(swap, CAREFUL)], [(removal("R1"), OK)]], R1=again)
    actions = [step.action for step in made.steps]
    assert actions == (["remove", "fit", "replace", "move"] if turned else ["move", "fit", "replace", "remove"])
    assert asked == [("R1", True)]


def test_a_change_that_cuts_the_only_cell_off_or_starves_a_load_is_no_cure():
    """The charge goes through the cell's own lead: without it the load is dead."""
    before = result(DANGER, loads={"U1": replace(LOAD, carried_by_cell=("main off",), margin_V=0.5)})
    cut = result(loads={"U1": replace(LOAD, carried_by_cell=(), margin_V=0.5)})
    kept = result(loads={"U1": replace(LOAD, carried_by_cell=("main off",), margin_V=0.5)})
    assert better(kept, before)
    assert not better(cut, before)
    short = result(CAUTION, loads={"U1": replace(LOAD, carried_by_cell=("main off",), margin_V=-0.5)})
    lower = result(loads={"U1": replace(LOAD, carried_by_cell=("main off",), margin_V=-0.6)})
    higher = result(loads={"U1": replace(LOAD, carried_by_cell=("main off",), margin_V=-0.4)})
    assert not better(lower, short)
    assert better(higher, short)
    assert better(lower, before)  # it takes a danger away


def test_a_cure_that_those_after_it_made_needless_is_left_out():
    made, _ = proposed(WORSE, [(removal("R1"), BAD)], [[(removal("R2"), OK)]], R1=BAD, R2=OK)
    assert (made.words, [step.names for step in made.steps]) == (("remove R2",), [("R2",)])


def test_what_is_foreseen_beside_the_best_is_what_is_asked_for_after_it():
    """Each cure left out, with single failures only where the verdict stays the same; of three steps each twice two."""
    judge, asked = judging(R1=BAD, R2=BAD)
    foreseen = []

    def further(made, after, then):
        if len(made) == 1:
            foreseen.extend(then(removal("R2"), after_two))
            yield removal("R2"), after_two

    for before, after_two in ((WORSE, OK), (result(*[CAUTION] * 3), CAREFUL)):
        foreseen.clear()
        asked.clear()
        first = CAREFUL if after_two is OK else result(CAUTION, CAUTION)
        made = proposal(FRAGMENT, before, [(removal("R1"), first)], further, on_trial(judge))
        assert made.words == ("remove R1", "remove R2")
        assert [(step.names, one.failing) for one in foreseen for step in one.steps] == [
            (("R2",), after_two is not OK), (("R1",), after_two is not OK)]
        assert asked == [(name, failing) for one in foreseen for (name,), failing in
                         [(one.steps[0].names, one.failing)]]


def test_what_is_put_into_a_lead_is_left_out_as_well_and_what_moves_a_part_that_is_exchanged_is_not():
    """Where a part stands that is exchanged, the words of its exchange do not say."""
    lead = Remedy(lead_steps(FRAGMENT, FRAGMENT.parts["BT1"], "plus", Catalogue.standard().diode("1N4148"))[0],
                  insert_diode="BT1.plus")
    made, _ = proposed(WORSE, [(lead, BAD)], [[(removal("R2"), OK)]], R2=OK)
    assert made.words == ("remove R2",)
    moves = Remedy((Step("move", FRAGMENT.parts["D1"].mark, moves={("D1", "cathode"): "A"}),), words="move D1")
    swap = replaced_diode(FRAGMENT, "D1", Catalogue.standard().diode("BAT54"))
    made, _ = proposed(WORSE, [(moves, BAD)], [[(swap, OK)]], **{"": OK})
    assert made.words == ("move D1",)
    made, _ = proposed(WORSE, [(swap, BAD)], [[(removal("R2"), OK)]], R2=OK)
    assert made.words == ("remove R2",)


def test_another_start_is_taken_where_the_first_leads_nowhere():
    fails = result(FAILS)
    made, _ = proposed(WORSE, [(removal("R1"), fails), (removal("R2"), BAD)],
                       [[], [(removal("R3"), OK)]], R2=BAD, R3=BAD)
    assert (made.verdict, made.words) == ("ok", ("remove R2", "remove R3"))


LEAD = Remedy(lead_steps(FRAGMENT, FRAGMENT.parts["BT1"], "plus", Catalogue.standard().diode("1N4148"))[0],
              insert_diode="BT1.plus")


@pytest.mark.parametrize(("again", "words"), [
    (CAREFUL, ("put a 1N5711 in BT1's plus lead",)),
    (BAD, ("put a blocking diode in BT1's plus lead", "fit a 1N5711 as D2"))])
def test_a_part_that_is_fitted_and_then_exchanged_is_fitted_so_at_once_where_that_is_proved(again, words):
    fitted = applied(FRAGMENT, LEAD.steps)
    swap = replaced_diode(fitted, "D2", Catalogue.standard().diode("1N5711"))
    made, _ = proposed(WORSE, [(LEAD, BAD)], [[(swap, CAREFUL)]], **{"": again})
    assert made.words == words
    specs = [part.spec.name for step in made.steps for part in step.parts]
    assert specs == (["1N5711"] if again is CAREFUL else ["1N4148", "1N5711"])


def test_a_danger_is_not_given_for_another_and_half_the_waste_is_a_help():
    def found(check, **figures):
        return Finding(check, DANGER if check == "short-circuit" else CAUTION, "BT1", case="losses", figures=figures)

    def being(*findings):
        return VariantResult(name="x", findings=findings)

    shorted, beyond = found("short-circuit"), Finding("over-voltage", DANGER, "U1", case="beyond")
    assert not better(being(beyond), being(shorted, found("hand-over")))
    assert better(being(shorted), being(shorted, beyond))
    wasted = being(found("back-feed", lost_A=4e-4))
    assert better(being(found("back-feed", lost_A=2e-4)), wasted)
    assert not better(being(found("back-feed", lost_A=2.1e-4)), wasted)
    assert better(being(found("back-feed", lost_A=4e-4, hours_a_day_h=12.0)), wasted)
    assert not better(being(found("back-feed", lost_A=4e-4, hours_a_day_h=13.0)), wasted)
    assert not better(CAREFUL, CAREFUL)


def test_a_finding_advises_the_cures_after_which_it_is_found_no_more():
    fault = Finding("fault-current", CAUTION, "BT1", case="beyond")
    gone, still = VariantResult(name="x", findings=()), VariantResult(name="x", findings=(fault,))
    one, two, three = (replace(removal(name), verdict=word)
                       for name, word in (("R1", "ok"), ("R2", "ok"), ("R3", "caution")))
    assert ending(fault, [(one, gone), (two, still)]) == [one]
    said = advised(fault, [(one, gone), (three, gone)], lambda finding: pytest.fail("asked for its own"))
    assert said.advice == "Remove R1."
    assert advised(fault, [(one, still)], lambda finding: [(two, gone)]).advice == "Remove R2."
    assert "No resistor" in advised(fault, [], lambda finding: []).advice
    assert "No resistor" not in advised(fault, [], lambda finding: None).advice
    backwards = Finding("tracing", CAUTION, "BT1", case="backwards", words={"ground": "GND", "other": "CELL"})
    turned = replace(one, words="turn BT1 round", extra={"turn": "BT1"})
    assert advised(backwards, [(one, gone), (turned, gone)], lambda finding: None).advice == "Turn BT1 round."
    assert advised(backwards, [(one, gone)], lambda finding: None).advice == "check which pole is which"
    other = Finding("back-feed", CAUTION, "BT1", case="lost", figures={"lost_A": 1e-3})
    assert advised(other, [], lambda finding: pytest.fail("asked for its own")) is other
    note = replace(other, severity=NOTE)
    assert advised(note, [(one, gone)], lambda finding: None) is note


def test_what_was_fitted_for_a_mod_is_not_taken_out_again_by_the_next_change():
    part = FRAGMENT.parts["R1"]
    fitted, exchanged = (Step(action, part.mark, parts=(part,)) for action in ("fit", "replace"))
    assert undoes(removal("R1"), (fitted,))
    assert not undoes(removal("R2"), (fitted,))
    assert not undoes(removal("R1"), (exchanged,))


def test_of_ends_that_do_not_do_their_job_the_one_that_is_short_of_fewer_volts_is_nearest():
    near, far = (result(FAILS, *[CAUTION] * count, loads={"U1": replace(LOAD, margin_V=margin_V)})
                 for count, margin_V in ((2, -0.3), (0, -1.0)))
    assert nearest(near) < nearest(far)
    assert nearest(result(FAILS, loads={"U1": replace(LOAD, margin_V=-1.0)})) < nearest(result(DANGER))
    assert nearest(result(CAUTION, loads={"U1": replace(LOAD, margin_V=0.1)})) < nearest(result(CAUTION, CAUTION))
