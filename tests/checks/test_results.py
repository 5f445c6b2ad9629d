"""The result of a variant as data, and which of its states are dangerous."""

from __future__ import annotations

from msgspec.structs import replace

from netcheck.checks.results import CellResult, FaultCurrent, Life, LoadResult, Proposal, Report, VariantResult
from netcheck.conduction.remedies import Remedy
from netcheck.conduction.routes import Route
from netcheck.findings import Finding, Severity

CELL = CellResult(
    primary=True, routes=(Route("+5V", "BT1", "main on", ("R1", "D1"), ("+5V", "CELL"), ("D1",)),),
    shorts_to_charge=1, shorts=("D1",), remedies=(Remedy((), remove=("R1",)),), charge_A=1e-3, charge_state="main on",
    charge_by_state={"main on": 1e-3}, fault=FaultCurrent("D1", "short", 2e-3, "main on"),
    leakage_A={"typical": 1e-9, "maximum": 2e-9}, leakage_share={"typical": 0.01, "maximum": 0.02},
    hours_within={"typical": 8.0, "maximum": 4.0}, drain_A={"main off": 2e-6}, takes_A={"main on": 1e-3},
    life=Life(9.0, 0.9, "load", "U1", 2e-6, least_years=7.0), end_of_charge_V=3.3, trickle_A=1e-4,
    proposal=Proposal("mod text", "ok", ("remove R1",), ()))


def test_a_cell_as_data():
    found = CELL.to_dict()
    assert found["charge_routes"] == [{"from": "+5V", "parts": ["R1", "D1"], "nets": ["+5V", "CELL"],
                                       "conducting": False, "state": "main on"}]
    assert {key: found[key] for key in found if key not in ("charge_routes", "remedies", "life_dominated_by")} == {
        "primary": True, "shorts_to_charge": 1, "shorts": ["D1"],
        "proposal": {"mod": "mod text", "verdict": "ok", "words": ["remove R1"]}, "charge_current_A": 1e-3,
        "charge_state": "main on", "fault_charge_current_A": 2e-3,
        "fault": {"part": "D1", "as": "short", "state": "main on"}, "leakage_A": {"typical": 1e-9, "maximum": 2e-9},
        "leakage_share": 0.01, "leakage_share_maximum": 0.02, "hours_within_share": {"typical": 8.0, "worst": 4.0},
        "drain_A": {"main off": 2e-6}, "takes_A": {"main on": 1e-3}, "life_years": 9.0, "life_years_least": 7.0,
        "lasts_years": 9.0,
        "end_of_charge_V": 3.3, "trickle_A": 1e-4,
    }
    assert found["remedies"] == [CELL.remedies[0].to_dict()]
    assert found["life_dominated_by"] == CELL.life.dominated_by
    assert "U1" in CELL.life.dominated_by


def test_what_is_not_known_is_null():
    bare = replace(CELL, fault=None, life=None, proposal=None, leakage_share={}, hours_within={}).to_dict()
    assert {key: bare[key] for key in ("fault", "fault_charge_current_A", "life_years", "life_years_least",
                                       "life_dominated_by", "proposal", "leakage_share", "leakage_share_maximum")} == \
        dict.fromkeys(("fault", "fault_charge_current_A", "life_years", "life_years_least", "life_dominated_by",
                       "proposal", "leakage_share", "leakage_share_maximum"))
    assert bare["hours_within_share"] == {"typical": None, "worst": None}


def test_no_cell_is_said_to_last_longer_than_its_maker_promises_on_the_shelf():
    """What the charge alone gives is kept beside it (the docstring of `Life`)."""
    life = Life(52.0, 0.3, least_years=12.0, shelf_years=10.0)
    assert (life.lasts, life.lasts_least, life.years, life.least_years) == (10.0, 10.0, 52.0, 12.0)
    soon = replace(life, years=9.0, least_years=4.0)
    assert (soon.lasts, soon.lasts_least) == (9.0, 4.0)
    unpromised = replace(life, shelf_years=None)
    assert (unpromised.lasts, unpromised.lasts_least) == (52.0, 12.0)
    endless = replace(life, years=None, least_years=None)
    assert (endless.lasts, endless.lasts_least) == (None, None)
    data = replace(CELL, life=life).to_dict()
    assert (data["lasts_years"], data["life_years"], data["life_years_least"]) == (10.0, 52.0, 12.0)


LOAD = LoadResult(volts={"main on": 4.5}, lowest_V=2.5, highest_V=5.0, margin_V=0.5, needs_V=2.0, stands_V=5.5,
                  carried_by_cell=("main off",))


def finding(severity, state=None, states=(), subject="U1"):
    return Finding("backup-voltage", severity, subject, case="not-stated", state=state, states=states)


def variant(*findings, **more):
    return VariantResult(name="as found", findings=findings, **more)


def test_dangerous_states_are_those_of_dangers_and_dangers_keep_their_order():
    first, second = finding(Severity.DANGER, "a", subject="U1"), finding(Severity.DANGER, "a", ("a", "b"), "U2")
    found = variant(first, second, finding(Severity.FAILS, "c"), finding(Severity.DANGER))
    assert found.dangerous_states == {"a", "b"}
    assert found.dangers[:2] == (first, second)
    assert found.verdict == "danger"


def test_without_a_simulator_the_verdict_is_unknown_and_nothing_is_solved():
    assert variant(finding(Severity.DANGER), simulated=False).verdict == "unknown"
    assert variant().verdict == "ok"
    assert not variant(net_volts={"a": {"A": None}}).solved
    assert variant(net_volts={"a": {"A": None}, "b": {"A": 1.0}}).solved
    assert not variant().solved


class Named:
    def to_dict(self):
        return {"as": "data"}

    def to_list(self):
        return ["in", "turn"]


def test_a_variant_as_data():
    danger = finding(Severity.DANGER, "b", ("b", "a"))
    found = variant(danger, cells={"BT1": CELL}, loads={"U1": LOAD}, drops_V={"a": {"D1": 0.4}},
                    net_volts={"a": {"A": 1.0}}, regulators={"U2": 1}, capacitors={"C1": 2}, duties={"R1": Named()},
                    features={"mouse": Named()}, expectations=({"entry": 0},)).to_dict()
    assert found == {
        "name": "as found", "verdict": "danger", "findings": [danger.to_dict()], "cells": {"BT1": CELL.to_dict()},
        "loads": {"U1": {"volts": {"main on": 4.5}, "lowest_V": 2.5, "highest_V": 5.0, "margin_V": 0.5,
                         "cell_carries_it_in": ["main off"]}},
        "drops_V": {"a": {"D1": 0.4}}, "dangerous_states": ["a", "b"], "volts": {"a": {"A": 1.0}},
        "regulators": {"U2": 1}, "capacitors": {"C1": 2}, "features": {"mouse": {"as": "data"}},
        "duties": {"R1": ["in", "turn"]}, "expect": [{"entry": 0}],
    }


def test_a_report_has_the_verdict_of_its_last_variant():
    report = Report("f.yaml", "a title", {"years": 10}, (variant(finding(Severity.DANGER)), variant()))
    assert (report.verdict, report.safe) == ("ok", True)
    verdicts = {severity: Report("f", "t", {}, (variant(finding(severity)),)).safe for severity in Severity}
    assert [severity for severity, safe in verdicts.items() if safe] == [Severity.CAUTION, Severity.NOTE]
    assert report.to_dict() == {"format": "netcheck-report/1", "file": "f.yaml", "title": "a title",
                                "assumed": {"years": 10}, "variants": [one.to_dict() for one in report.variants]}


def test_a_notebook_shows_verdict_and_findings_less_the_notes_and_no_markup_of_a_file():
    shown = Report("f", "<b>title</b>", {}, (
        VariantResult(name="<i>", findings=(finding(Severity.FAILS, subject="<u>"), finding(Severity.NOTE))),)
    )._repr_html_()
    assert shown == ("<h4>&lt;b&gt;title&lt;/b&gt;</h4><p><b>FAILS</b>, &lt;i&gt;</p><ul>"
                     "<li><b>fails</b> What &lt;u&gt; needs is not stated, so its volts are shown and not judged.</li>"
                     "</ul>")
