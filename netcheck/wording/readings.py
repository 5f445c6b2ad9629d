"""What is said of readings at the bench."""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.wording.sentence import Given, Sentence, Sentences, Word, filled

_EXPECTED = {"expected": {
    "exact": "expected {expect:meter}", "band": "expected {expect:meter}, {low..high:4}",
    "open": "expected {expect:meter}, {low:meter} to {high}", "why": "{why}"}}

SENTENCES: Sentences = {
    ("reading", "too-low"): Sentence("{place} reads {reads:meter}, too low: {expected}.", choices=_EXPECTED),
    ("reading", "too-high"): Sentence("{place} reads {reads:meter}, too high: {expected}.", choices=_EXPECTED),
    ("reading", "not-known"): Sentence(
        "{place} reads {reads:meter}; whether that is right cannot be told: {expected}.", choices=_EXPECTED),
    ("reading", "explained"): Sentence(
        "What explains the readings best: {faults:or}[, or {more_count} more like it] (fits {fitting_count} of "
        "{readings_count}).", "Test that part out of circuit, or with one leg lifted, before changing it."),
}


def shown(names: Mapping[str, Word], figures: Mapping[str, float]) -> str:
    """A value as it is read off a meter.

    >>> shown({}, {"reads_V": 2.713}), shown({"reads": "OL"}, {})
    ('2.713 V', 'OL')
    """
    return filled("{reads:meter}", Given(figures=figures, words=names))


def expected(names: Mapping[str, Word], figures: Mapping[str, float]) -> str:
    """What was expected of a reading.

    >>> expected({"expected": "band"}, {"expect_ohm": 1000, "low_ohm": 940, "high_ohm": 1060})
    'expected 1 kΩ, 0.94 to 1.06 kΩ'
    """
    return filled("{expected}", Given(figures=figures, words=names), _EXPECTED)
