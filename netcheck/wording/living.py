"""What is said of how long a cell lasts."""

from __future__ import annotations

from netcheck.wording.sentence import Given, Sentence, Sentences, filled

_TAKING = {"taking": {
    "load": "{taker} ({taken_A})", "leakage": "the leakage of {taker} ({taken_A})",
    "back": "current back into dead rails and other parts ({taken_A})", "itself": "its own self-discharge ({taken_A})",
    "nothing": "nothing"}}
_WHERE = "where {wanted_years} {years}"
_YEARS = {"years": {"wanted": "are wanted", "assumed": "were assumed"}}

SENTENCES: Sentences = {
    ("life", "not-solved"): Sentence("The life or the charging of {subject} could not be worked out: {why}."),
    ("life", "worst-shorter"): Sentence(
        f"{{subject}} lasts {{life_years:about}} with typical figures, but {{least_years}} with the makers' maximum "
        f"ones, {_WHERE}.", "Measure what it gives while stored, and count with that.", choices=_YEARS),
    ("life", "never-kept"): Sentence(
        "{subject} is not empty, but from the first day {load} gets less than the {least_V} that it needs[; most of "
        "what it gives goes elsewhere ({elsewhere_A})].",
        "Mend what leaves {load} short of volts; a new cell lasts no longer."),
    ("life", "empty"): Sentence(
        "{subject} is empty, by the volts that were measured.", "Take {subject} out and fit a new one."),
    ("life", "worst-never-kept"): Sentence(
        f"{{subject}} lasts {{life_years:about}} with typical figures, {_WHERE}; with the makers' maximum ones what it "
        f"keeps is short of volts from the first day.", "Measure what it gives while stored, and count with that.",
        choices=_YEARS),
    ("life", "shorter"): Sentence(
        f"{{subject}} lasts {{life_years:about}}, {_WHERE}; most goes to {{taking}}.",
        "Reduce what draws on it, or plan to change the cell.[ If {asked} need not be kept, say kept: no of it: a rail "
        "may then feed it.]", choices=_YEARS | _TAKING),
    ("life", "at-once"): Sentence(
        "{subject} lasts {life_years:about}; most goes to {taking}.",
        "Reduce what draws on it[, or, if {asked} need not be kept, say kept: no of it: a rail may then feed it]. If "
        "that is long enough, state the years wanted under conditions.", choices=_TAKING),
    ("life", "beyond-shelf"): Sentence(
        "By its charge {subject} would last {life_years}; count on {shelf_years} at most, the shelf life its makers "
        "give."),
}


def takes(taking: str, taker: str, amps: float) -> str:
    """What takes the most of a cell.

    >>> takes("leakage", "D1", 1.5e-7), takes("nothing", "", 0.0)
    ('the leakage of D1 (150 nA)', 'nothing')
    """
    return filled(_TAKING["taking"][taking], Given(figures={"taken_A": amps}, words={"taker": taker}))


def ends(taking: str, load: str | None, least_V: float) -> str:
    """Why the life of a cell ends.

    >>> ends("load", "U1", 2.0), ends("load", None, 0.0), ends("nothing", None, 0.0)
    ('U1 gets less than 2 V', 'its curve ends', 'nothing draws on it')
    """
    if taking == "nothing":
        return "nothing draws on it"
    if load is None:
        return "its curve ends"
    return filled("{subject} gets less than {least_V}", Given(load, figures={"least_V": least_V}))
