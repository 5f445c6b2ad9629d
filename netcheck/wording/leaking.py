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
_BLOCKS = {"blocks": {"": "", "what": "what blocks"}}

SENTENCES: Sentences = {
    ("leakage", "not-stated"): Sentence(
        "How much leaks into {subject} is not known: nothing is said of the leakage of {parts}.",
        "State it (leakage: 25 nA at 20 V for a diode, cutoff: 50 nA for a transistor), or name a part of the "
        "library."),
    ("leakage", "not-solved"): Sentence("Whether what leaks into {subject} is too much could not be told."),
    ("leakage", "beyond-limit"): Sentence(
        "{leakage_A} leaks into {subject}, a primary cell,[ through {parts}] in a warm case ({warm_C}) with typical "
        "figures; makers allow {limit_A} at most for good.", _LOWER + ".", choices=_BLOCKS),
    ("leakage", "beyond-share"): Sentence(_SHARE + _KEPT, _LOWER + _HOURS, choices=_BLOCKS),
    ("leakage", "worst-beyond-share"): Sentence(
        f"{_SHARE}only a worst specimen in a hot case passes that: {_KEPT}", _LOWER + _HOURS, choices=_BLOCKS),
}
