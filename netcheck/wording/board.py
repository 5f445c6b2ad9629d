"""What is said of the board as a whole: shorts, overloads, what was not judged, and what the file asks for."""

from __future__ import annotations

from netcheck.wording.sentence import Sentence, Sentences

_JOINED = "In state {state} {parts} join{parts:s} {subject} with {other}: the supply is short-circuited; "
_OUT = "Keep the board out of this state while it is powered, or take out what joins them."
_GIVES = ("[ through {through}]: it gives {current_A}[, where {limit_A} is the most it may give for good], and is left "
          "with {volts_V}.")
_TAKE = "Take the cell out before the board is put into this state, or keep its current small with a resistor."
_SHORT = {"cured": {"": _TAKE, "proved": "{cures:either}; take the cell out until that is done."}}
_JOINS = {"cured": {"": _OUT, "proved": "{cures:either}; keep the board out of this state until that is done."}}
_HEAT = "In state {state} {subject} turns {power_W} into heat; "
_TRACK = "In state {state} {current_A} would flow through the track of {subject}; "

_MORE_TIME = "Give it more time with --deadline, or check the section around the cell by itself."

SENTENCES: Sentences = {
    ("short-circuit", "supply"): Sentence(_JOINED + "up to {current_A} would flow.", "{cured}", choices=_JOINS),
    ("short-circuit", "supply-by-copper"): Sentence(_JOINED + "all that it gives would flow.", "{cured}",
                                                      choices=_JOINS),
    ("short-circuit", "supply-by-diodes"): Sentence(
        "In state {state} {parts} alone join{parts:s} {subject} with {other}: the supply is short-circuited; up to "
        "{current_A} would flow, where {weakest} stands {limit_A}.", "{cured}", choices=_JOINS),
    ("short-circuit", "supply-by-any-diodes"): Sentence(
        "In state {state} {parts} alone join{parts:s} {subject} with {other}: the supply is short-circuited; up to "
        "{current_A} would flow, and no diode of a board stands {limit_A} for good.", "{cured}", choices=_JOINS),
    ("short-circuit", "cell"): Sentence("In state {state} {subject} is short-circuited" + _GIVES, "{cured}",
                                        choices=_SHORT),
    ("short-circuit", "cell-by-copper"): Sentence(
        "In state {state} {through} join{through:s} both ends of {subject}: it is short-circuited.", "{cured}",
        choices=_SHORT),
    ("short-circuit", "cell-drained"): Sentence("In state {state} {subject} is drained too hard" + _GIVES, "{cured}",
                                                choices=_SHORT),
    ("over-current", "cell"): Sentence("In state {state} {subject} is overloaded" + _GIVES, _TAKE),
    ("over-current", "diode"): Sentence(
        "In state {state} {current_A} would flow through {subject}, a {type} for {limit_A} at most: it burns, or what "
        "feeds it gives way first.", "Keep the board out of this state while it is powered, or limit the current."),
    ("over-current", "any-diode"): Sentence(
        "In state {state} {current_A} would flow through {subject}, and no diode of a board stands {limit_A} for good: "
        "it burns, or what feeds it gives way first.",
        "Keep the board out of this state while it is powered, or limit the current."),
    ("over-current", "trimmer"): Sentence(_TRACK + "one of {limit_W} stands {limit_A}.", "Limit the current."),
    ("over-current", "small-trimmer"): Sentence(
        _TRACK + "a small one of {limit_W} stands {limit_A}.", "State its rating, for example power: 0.5 W."),
    ("over-power", "resistor"): Sentence(_HEAT + "it stands {limit_W}.", "Fit a larger one, or limit the current."),
    ("over-power", "small-resistor"): Sentence(
        _HEAT + "a small one stands {limit_W}.", "State its rating, for example power: 1 W."),
    ("not-judged", "chip-at-cell"): Sentence(
        "Whether {subject} lets current from {others:or} into {touched}, where a cell hangs, is not stated: it may "
        "hold a switch or a charger.",
        "State the ways through it, paths: ⟦{from: {from}, to: {to}, by: switch}⟧, or its protection diodes, clamps."),
    ("not-judged", "nothing-here"): Sentence(
        "There is no cell, no load, no capacitor and no expectation here, so nothing could be judged.",
        "Add the cell and the supply pin that it keeps alive, or say what you expect."),
    ("not-judged", "kind"): Sentence(
        "Not judged here: {kind}: {shown:plain}[ and {more_count} more].", choices={"kind": {
            "capacitor": "capacitors (rating, polarity, ageing)", "regulator": "regulator settings",
            "connector": "connector pinouts", "chip": "chips beyond their protection diodes",
            "": "the kind {other}"}}),
    ("simulation", "none"): Sentence("No volts or currents could be worked out: {why}."),
    ("simulation", "state-unknown"): Sentence(
        "What happens in state {state} could not be worked out: {why}.",
        "Look for a net that floats, a value that is missing or a source that is shorted."),
    ("simulation", "state-late"): Sentence(
        "What happens in state {state} could not be worked out: {why}.", _MORE_TIME),
    ("simulation", "helped"): Sentence(
        "State {state} was solved to {within_share} only, and not to a millionth: some net there is held by next to "
        "nothing."),
    ("time", "used-up"): Sentence(
        "Not everything was judged: {why}. What was found until then stands.",
        _MORE_TIME),
    ("states", "untried"): Sentence(
        "{tried_count} ways the board can stand were tried; {untried_count} more combinations of supplies, jumpers and "
        "packs were not, and nothing is said of them.",
        "Leave jumpers that do not touch this section out of the file, or check it in pieces."),
    ("states", "late"): Sentence(
        "Worked out in time: {tried_count} of the ways the board can stand. Of {untried_count} more nothing is said "
        "but what the wiring alone shows: dead shorts, and ways open into a cell.",
        _MORE_TIME),
    ("library", "overridden"): Sentence(
        "{subject} is not what the shipped library says: {file} overrides it in {fields:plain}.",
        "Compare that entry with the maker's data sheet, or take it out of {file}."),
    ("library", "same"): Sentence(
        "{subject} is not what the shipped library says: {file} overrides it with the same figures.",
        "Compare that entry with the maker's data sheet, or take it out of {file}."),
}
