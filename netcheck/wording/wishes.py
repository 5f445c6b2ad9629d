"""What is said of what the file asks for: expectations, links and features, pins of a connector."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from netcheck.wording.sentence import Given, Sentence, Sentences, Word, filled

_PAIRS = {"pairs": "{@} and {@_other} are joined"}
_FOUND: Mapping[str, str] = {
    "value": "{found}", "joined": "{pairs:semi}", "apart": "nothing is joined",
    "no-state": "no state that was tried fits this entry",
    "current-not-known": "nothing is known of the current through {through}", "not-solved": "{why}",
    "floats": "no fixed voltage: it floats",
}
"""What was found, by the case of an expectation."""

_WANTED: Mapping[str, str] = {
    "joined": "{nets} joined", "apart": "{nets} apart", "volts": "{at}[ against {against}] at {span}",
    "amps": "{span} through {through}",
}
_KNOWN = ("value", "joined", "apart")

_PUT = {"put": "{@} at {@_position}"}
_WHY: Mapping[str, str] = {
    "apart": "{one} and {other} are apart", "joined": "{one} and {other} are joined", "not-solved": "{why}",
    "floats": "{at} floats", "volts": "{at} is at {found_V}, not {span}", "not-tried": "not tried",
}
"""Why a feature does not work, or is not known to."""

_NO_FEATURE = "No position of the links gives it that: a part is missing, or the trace is."
_NOT_WORKING = ("volts", "apart", "joined", "floats")
_UNKNOWN = ("not-solved", "not-tried")

_PINS = {"wrong": "pin {@} ought to be {@_signal} and is {@_net}{@_what}[ at {@_V}]"}
_WHAT = {"@_what": {"": "", "supply": ", a supply", "not ground": ", which is not ground",
                    "not reached": ", which no supply reaches"}}
_AGAIN = " Beep the pins out again before anything is plugged in."
_COUNTED: Mapping[str, str] = {
    "mirrored": "With the pins counted from the other end everything fits: mirrored?",
    "rows": "With the two rows swapped everything fits: pins counted from the solder side?",
    "across": "With the count going across the rows everything fits: counted along a row?",
    "along": "With the count going along a row everything fits: counted across the rows?",
    "halves": "With the halves swapped everything fits: turned round?",
    "behind": "Seen from the solder side everything fits: counted from behind the socket?",
    "later": "With the count begun {later_count} pin{later} later everything fits: where is pin 1?",
    "exchanged": "With pins {exchanged} exchanged everything fits.",
}
"""How the pins were perhaps counted, where that makes everything fit."""

SENTENCES: Sentences = {
    **{("expectation", case): Sentence(
        f"You expect {{wanted}}[, because {{because}}]; found: {_FOUND[case]}.", each=_PAIRS) for case in _KNOWN},
    **{("expectation", case): Sentence(f"Whether {{wanted}} could not be told: {text}.")
       for case, text in _FOUND.items() if case not in _KNOWN},
    ("links", "put"): Sentence("With {put:and} every expectation is true.", "Put {put:and}.", each=_PUT),
    ("links", "none"): Sentence("No position of {parts:plain} makes every expectation true."),
    **{("feature", case): Sentence(
        f"{{subject}} does not work as the links stand[, because {{because}}]: {_WHY[case]}.", "{advice}",
        choices={"advice": {"": "[Put {put:and}.]", "none": _NO_FEATURE}}, each=_PUT) for case in _NOT_WORKING},
    **{("feature", case): Sentence(
        f"Whether {{subject}} works is not known: {_WHY[case]}.", "{advice}",
        choices={"advice": {"": "[Put {put:and}.]", "none": _NO_FEATURE}}, each=_PUT) for case in _UNKNOWN},
    ("connector", "wrong"): Sentence(
        "{subject} is not as {type} has it: {wrong:semi}.",
        "Beep these pins out again, and plug nothing in before they fit.", choices=_WHAT, each=_PINS),
    **{("connector", f"counted-{how}"): Sentence(
        "{subject} is not as {type} has it: {wrong:semi}.", text + _AGAIN,
        choices={**_WHAT, "later": {"one": "", "": "s"}}, each=_PINS) for how, text in _COUNTED.items()},
    ("connector", "unpulled"): Sentence(
        "{signal} (pin {pin} of {subject}, net {nets}) idles unpulled: no resistor here holds it up.",
        "Trace on from it: a resistor of some kilohms to the supply belongs there, or is inside the chip."),
}


def found(case: str, names: Mapping[str, Word], figures: Mapping[str, float]) -> str:
    """What was found, where something was expected.

    >>> found("value", {}, {"found_V": 4.871})
    '4.87 V'
    """
    return filled(_FOUND[case], Given(figures=figures, words=names), each=_PAIRS)


def why(case: str, names: Mapping[str, Word], figures: Mapping[str, float]) -> str:
    """Why a feature does not work; empty where it does.

    >>> why("floats", {"at": "VPIN"}, {}), why("", {}, {})
    ('VPIN floats', '')
    """
    return filled(_WHY[case], Given(figures=figures, words=names)) if case else ""


def wanted(kind: str, nets: Sequence[str], names: Mapping[str, str | None], when: Mapping[str, str]) -> str:
    """An expectation as a phrase, a range of it as the file writes it.

    >>> wanted("volts", (), {"at": "VRAM", "span": "2.0 V to 5.5 V", "state": "stored"}, {"JP1": "closed"})
    'VRAM at 2.0 V to 5.5 V in state stored when JP1 is closed'
    """
    given = Given(nets=tuple(nets), state=names.get("state"),
                  words={name: word for name, word in names.items() if word and name != "state"})
    said = filled(_WANTED[kind] + "[ in state {state}]", given)
    return said + "".join(f" when {name} is {position}" for name, position in when.items())
