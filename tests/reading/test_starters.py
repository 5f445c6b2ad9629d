"""Every starter fragment reads without a warning and checks clean as written."""

from __future__ import annotations

import pytest

from netcheck.api import check, loads, variants
from netcheck.checks.tracing import warnings
from netcheck.findings import Severity
from netcheck.fragment.model import Kind
from netcheck.reading.starters import JOBS, starter

CENTRE = {
    "backup": Kind.CELL, "regulator": Kind.REGULATOR, "capacitors": Kind.CAPACITOR, "connector": Kind.CONNECTOR,
}
"""The kind of part that each job is about."""


@pytest.mark.parametrize("job", JOBS)
def test_it_has_nothing_to_warn_of(job: str) -> None:
    for variant in variants(loads(starter(job)), every=True):
        assert [warning.message for warning in warnings(variant)] == []


@pytest.mark.parametrize("job", JOBS)
def test_it_checks_clean(job: str) -> None:
    report = check(loads(starter(job)), every=True)
    for variant in report.variants:
        unjudged = {name for found in variant.findings if found.check == "not-judged" for name in found.parts}
        centre = {part.name for part in loads(starter(job)).of_kind(CENTRE[job])}
        assert str(variant.verdict) == ("unknown" if unjudged & centre else "ok"), "ok is not what nothing judged"
        assert [found.message for found in variant.findings if found.severity is Severity.CAUTION] == []
        assert [wish for wish in variant.expectations if not wish["holds"]] == []


def test_the_backup_is_ok_before_and_after() -> None:
    report = check(loads(starter("backup")), every=True)
    assert [(variant.name, str(variant.verdict)) for variant in report.variants] == [
        ("as found", "ok"), ("coin-cell", "ok")]


@pytest.mark.parametrize("job", JOBS)
def test_it_shows_every_section(job: str) -> None:
    fragment = loads(starter(job))
    assert any(fragment.of_kind(CENTRE[job]))
    assert "(invented)" in (fragment.board or "")
    assert fragment.states
    assert fragment.expectations
    assert fragment.mods
    assert fragment.readings


@pytest.mark.parametrize("job", JOBS)
def test_it_is_commented_from_the_first_line(job: str) -> None:
    lines = starter(job).splitlines()
    remarks = [line for line in lines if line.startswith("#")]
    assert lines[0].startswith("# ")
    assert len(remarks) >= len(lines) / 4
    assert max(map(len, lines)) <= 110


def test_a_job_that_there_is_not() -> None:
    with pytest.raises(KeyError):
        starter("../starters/backup")
