"""What is said of current into a cell, and out of it against its will."""

from __future__ import annotations

from netcheck.wording.sentence import Sentence, Sentences

_WAY = {"way": {"": " through {through}", "direct": " through a direct connection"}}
_CHARGED = "{subject} is a primary cell and is charged[ from {source}{way}]: "
_NEVER = ". A primary cell must never be charged: it can leak, burst or catch fire."
_CURES = "[{cures:either}.]{cured}{tried}"
_CURED = {
    "cured": {"": "", "not": "No change was found that stops it and leaves every load its feed."},
    "tried": {"": "", "not all": " Not every way was tried: the circuit is large, or there are many."},
    **_WAY,
}
_FAULT = "Should {failing} fail {how}, {fault_charge_A} would charge {subject}"

SENTENCES: Sentences = {
    ("charge-route", "idle"): Sentence(
        "A path leads from {source}{way} into {subject}, a primary cell. At the values given no current flows into "
        "it, because the source stays below the cell; nothing else prevents it.", choices=_WAY),
    ("charge-route", "charged"): Sentence(
        f"{_CHARGED}up to {{charge_A}} in state {{worst}}{_NEVER}", _CURES, choices=_CURED),
    ("charge-route", "charged-at-least"): Sentence(
        f"{_CHARGED}by at least {{charge_A}}, as not every state could be worked out{_NEVER}", _CURES, choices=_CURED),
    ("charge-route", "charged-unknown"): Sentence(
        f"{_CHARGED}how much could not be computed{_NEVER}", _CURES, choices=_CURED),
    ("fault-current", "limit-not-stated"): Sentence(
        f"{_FAULT} (state {{state}}); its permitted abnormal charging current is not stated.",
        "Compare with the cell maker's limit."),
    ("fault-current", "within"): Sentence(f"{_FAULT}, within the {{allowed_A}} that it may take in a fault."),
    ("fault-current", "beyond"): Sentence(
        f"{_FAULT}, more than the {{allowed_A}} that it may take in a fault (state {{state}}).",
        "Fit a second diode in series, or a resistor that keeps the fault current below the limit."),
    ("reversal", "driven"): Sentence(
        "{source} stands in series with {subject} and drives current out of it[ through {through}][ ({gives_A} now)]: "
        "once it is flat, {reversed_A} still flows and reverses it. A cell driven into reversal can vent or burst.",
        "Look whether {subject} is the wrong way round; if not, take it out of the way from {source}."),
}
