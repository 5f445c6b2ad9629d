"""What is said of what leaks into a cell and back out of it."""

from __future__ import annotations

from netcheck.wording.sentence import Sentence, Sentences

_LOWER = "Fit a diode of lower leakage as [{parts}]{blocks} (silicon, or a low-leakage type)"
_HOURS = ", or state the real hours of power a day under conditions."
_SHARE = ("What leaks into {subject}[ through {parts}] puts in {share:capacity} over {service_years} typically, "
          "{share_maximum:alone} at most[ (no hours are stated; {assumed_h} a day are assumed)], where {allowed_share} "
          "is usual as the most (common practice, no source); ")
_KEPT = ("it is kept up to {hours_within_h} under power a day, by a worst specimen in a hot case up to "
         "{hours_within_worst_h}.")
_CURVED = "[ Below {guaranteed_V} the maximum of {curved} follows a published curve and is no guarantee.]"
_BLOCKS = {"blocks": {"": "", "what": "what blocks"}}

_GIVES = "In state {state} {lost_A} of the {given_A} that {subject} gives serve no load: "
_SO = "[; so it lasts {life_years:about}[, where {wanted_years} are wanted]]"

SENTENCES: Sentences = {
    ("back-feed", "losses"): Sentence(_GIVES + "{losses}" + _SO + ".", "{cured}", each={
        "losses": "{@_A}[ through {@_through}] into {@}"}, choices={
            "cured": {
                "": "{kind}", "little": "That costs {subject} next to nothing of its life; leave in what protects a "
                "part.", "proved": "{cures:either}[, as {spared} need not be kept]."}, "kind": {
            "": "",
            "load": "Feed {changed} from a rail alone, as it need not be kept.",
            "cell": "Take {changed} out, or give it a diode in series.",
            "resistor": "Raise {changed}, as far as what it serves allows, or give it a diode in series.",
            "transistor": "Give the collector or drain of {changed} a diode in series: the cell feeds back through it.",
            "diode": "Fit a diode of lower leakage as {changed}, or of higher volts where it is a zener.",
            "capacitor": "Fit a type of lower leakage as {changed}."}}),
    ("back-feed", "lost"): Sentence(_GIVES + "{lost_A} into other parts."),
    ("back-feed", "into-flat-pack"): Sentence(
        "In state {state} {subject} gives {lost_A}[ through {through}] into {pack} when that is flat, until both are "
        "empty.", "{cured}", choices={"cured": {
            "": "Take {pack} out, or give it a diode in series.", "proved": "{cures:either}."}}),
    ("back-feed", "made-rail"): Sentence(
        "{nets}, which {subject} makes, is taken to float when the supply is off. What else hangs on it pulls it near "
        "0 V, and the cell then leaks into it; that is not counted here.",
        "Add what hangs on {nets} as a resistor to ground, for example 1k, and check again."),
    ("leakage", "not-stated"): Sentence(
        "How much leaks into {subject} is not known: nothing is said of the leakage of {parts}.",
        "State it (leakage: 25 nA at 20 V for a diode, cutoff: 50 nA for a transistor), or name a part of the "
        "library."),
    ("leakage", "not-solved"): Sentence("Whether what leaks into {subject} is too much could not be told."),
    ("leakage", "beyond-limit"): Sentence(
        "{leakage_A} leaks into {subject}, a primary cell,[ through {parts}] in a warm case ({warm_C}) with typical "
        "figures; makers allow {limit_A} at most for good.", _LOWER + ".", choices=_BLOCKS),
    ("leakage", "no-guarantee"): Sentence(
        "That no more than {share_maximum:capacity} leaks into {subject} through {parts} over {service_years} rests on "
        "published curves: a maximum is guaranteed from {guaranteed_V} up alone, and would be "
        "{guaranteed_share:alone}."),
    ("leakage", "beyond-share"): Sentence(_SHARE + _KEPT + _CURVED, _LOWER + _HOURS, choices=_BLOCKS),
    ("leakage", "worst-beyond-share"): Sentence(
        f"{_SHARE}only a worst specimen in a hot case passes that: {_KEPT}{_CURVED}", _LOWER + _HOURS, choices=_BLOCKS),
}
