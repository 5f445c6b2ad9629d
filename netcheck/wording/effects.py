"""What a change of a capacitor does, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from msgspec import Struct, field

from netcheck.wording.sentence import Given, Word, capital, filled

DOES: Mapping[str, str] = {
    "": "",
    "loop-same": "the loop stays as it is",
    "loop": "the loop's natural frequency becomes {does_frequency_times} times, its damping {does_damping_times} times "
            "what it was",
    "time": "the {does_what} becomes {does_times} times what it was",
    "amount": "{does_what}: {does_before} before, {does_after} after",
}
"""What it does, by the kind of effect."""

CAPITALS: Mapping[str, str] = {
    case: text.replace("{does_what}", "{does_what:capital}") if text.startswith("{") else capital(text)
    for case, text in DOES.items()}

_SAME = 0.005
"""A loop whose frequency changes by less than this share is told as staying."""


class Does(Struct, frozen=True):
    """The kind of an effect, and what its words are made of."""

    case: str = ""
    words: Mapping[str, Word] = field(default_factory=dict)
    figures: Mapping[str, float] = field(default_factory=dict)


def told(found: Mapping[str, Any] | None) -> Does:
    """An effect as a report holds it, by kind; empty where nothing changes or is known."""
    if found is None:
        return Does()
    if (frequency := found.get("frequency_times")) is not None and (damping := found.get("damping_times")) is not None:
        if abs(frequency - 1) < _SAME:
            return Does("loop-same")
        return Does("loop", figures={"does_frequency_times": frequency, "does_damping_times": damping})
    what = {"does_what": found["what"]}
    if (times := found.get("time_times")) is not None:
        return Does("time", what, {"does_times": times})
    unit = next((unit for unit in ("s", "Hz", "A", "F", "ohm") if f"after_{unit}" in found), None)
    if unit is None:
        return Does()
    ends = {f"does_{end}": found.get(f"{end}_{unit}") for end in ("before", "after")}
    does = Does("amount", {**what, **{end: "never" if unit == "s" else "not known"
                                      for end, value in ends.items() if value is None}},
                {f"{end}_{unit}": value for end, value in ends.items() if value is not None})
    before, after = (filled(f"{{{end}}}", Given(figures=does.figures, words=does.words)) for end in ends)
    return Does() if before == after else does


def effect_words(found: Mapping[str, Any] | None) -> str:
    """An effect in words, without its full stop; empty where nothing changes or is known.

    >>> effect_words({"what": "reset time", "before_s": 0.12, "after_s": None})
    'reset time: 120 ms before, never after'
    """
    does = told(found)
    return filled(DOES[does.case], Given(figures=does.figures, words=does.words))
