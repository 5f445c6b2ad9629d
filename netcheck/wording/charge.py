"""What is said of current into a cell, and out of it against its will."""

from __future__ import annotations

from netcheck.wording.failing import SHOULD
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
_FAULT = "Should {failing} {how}, {fault_charge_A} would charge {subject}"

_HELD = {"cured": {
    "": "Find what keeps that current below the limit and leaves the loads their volts: a resistor in the cell's lead, "
        "or a second diode.",
    "proved": "",
    "short": "Give the loads their volts first; then a resistor in the cell's lead keeps that current below the "
             "limit. For a second diode there are no volts to spare.",
    "not": "No resistor in the cell's lead and no second diode was found that keeps it below the limit and leaves "
           "every load its volts, with a diode of lower drop neither."}}

_RAISE = "Raise the charging resistor, or fit one where there is none."
_LOWER = "Lower the charging resistor."
_RUNS_DOWN = "{subject} charged when it is full, and it loses {loses_A} by itself: it runs down."
_END = "Charging {subject} ends at {end_V}; above {most_V} "
_CHARGER = "Fit a charger with the end voltage that its maker asks for"
_OTHER = f"{_CHARGER}, or another type of cell."

_SERIES = (
    "{source} stands in series with {subject} and drives current out of it[ through {through}][ ({gives_A} now)]: "
    "once it is flat, {reversed_A} still flows and reverses it. A cell driven into reversal can vent or burst.")

SENTENCES: Sentences = {
    ("charge-route", "idle"): Sentence(
        "A path leads from {source}{way} into {subject}, a primary cell. At the values given no current flows into "
        "it, because the source stays below the cell; nothing else prevents it.", choices=_WAY),
    ("charge-route", "slight"): Sentence(
        "A path leads from {source}{way} into {subject}, a primary cell. At the values given up to {charge_A} flows "
        "into it, no more than its makers let leak; it is counted as leakage.", choices=_WAY),
    ("charge-route", "charged"): Sentence(
        f"{_CHARGED}up to {{charge_A}} in state {{worst}}{_NEVER}", _CURES, choices=_CURED),
    ("charge-route", "charged-at-least"): Sentence(
        f"{_CHARGED}by at least {{charge_A}}, as not every state could be worked out{_NEVER}", _CURES, choices=_CURED),
    ("charge-route", "charged-unknown"): Sentence(
        f"{_CHARGED}how much could not be computed{_NEVER}", _CURES, choices=_CURED),
    ("fault-current", "limit-not-stated"): Sentence(
        f"{_FAULT} (state {{state}}); its permitted abnormal charging current is not stated.",
        "Compare with the cell maker's limit.", choices=SHOULD),
    ("fault-current", "within"): Sentence(f"{_FAULT}, within the {{allowed_A}} that it may take in a fault.",
                                          choices=SHOULD),
    ("fault-current", "beyond"): Sentence(
        f"{_FAULT}, more than the {{allowed_A}} that it may take in a fault (state {{state}}).",
        "[{cures:either}.]{cured}", choices=SHOULD | _HELD),
    ("fault-current", "not-solved"): Sentence(
        "Not every single failure around {subject} could be worked out ({why})."),
    ("fault-current", "untried"): Sentence(
        "Of the single failures {untried_count} were not tried, as the circuit is large; those on the routes into a "
        "cell were.", "Check the section around the cell by itself."),
    ("charger", "not-charged"): Sentence(
        "Nothing charges {subject}, a rechargeable: it only runs down.",
        "Fit a charging path, or a primary cell with its blocking diode."),
    ("charger", "not-stated"): Sentence(
        "Whether {subject} stands this charger could not be told: neither the charge current nor the end volts that "
        "it may take are known.", "State them: trickle: 0.6 mA to 1.2 mA, or charge: 3.0 V to 3.3 V."),
    ("charger", "too-hard-when-flat"): Sentence(
        "Up to {charge_A} flows into {subject} while it is flat; it stands {limit_A} at most.", _RAISE),
    ("charger", "trickle-harms"): Sentence(
        "{trickle_A} flows into {subject} for good when it is full; more than {limit_A} overheats and vents it.",
        _RAISE),
    ("charger", "trickle-ages"): Sentence(
        "{trickle_A} flows into {subject} for good when it is full; up to {limit_A} is usual for lasting charge. It "
        "ages and leaks sooner.", _RAISE),
    ("charger", "trickle-short"): Sentence(f"No more than {{trickle_A}} keeps {_RUNS_DOWN}", _LOWER),
    ("charger", "no-trickle"): Sentence(f"Nothing keeps {_RUNS_DOWN}", _LOWER),
    ("charger", "trickle-low"): Sentence(
        "{trickle_A} keeps {subject} charged; below {least_A} it may never be quite full."),
    ("charger", "trickle-inside"): Sentence(
        "{subject} is charged with {trickle_A} when full, inside its window of {least_A..most_A}."),
    ("charger", "end-too-high"): Sentence(_END + "it is damaged and may fail.", _OTHER),
    ("charger", "end-too-high-lithium"): Sentence(_END + "it is damaged and may burst or burn.", _OTHER),
    ("charger", "end-too-low"): Sentence(
        "Charging {subject} may end at {end_V} only; below {least_V} it stays undercharged.", f"{_CHARGER}."),
    ("charger", "end-inside"): Sentence("Charging {subject} ends at {end_V}, inside its window of {least_V..most_V}."),
    ("reversal", "alike"): Sentence(
        f"{_SERIES} They are alike and go flat at about the same time; a weak one among them goes first.",
        "Change them together, for new ones of one type and one batch."),
    ("reversal", "unlike"): Sentence(
        f"{_SERIES} {{source}} may outlast {{subject}}.",
        "Fit cells of one type, all new, or one cell of the volts that are needed; never unlike cells in series."),
    ("reversal", "not-solved"): Sentence(
        "Whether {subject} is driven on once it is flat could not be worked out: {why}."),
    ("reversal", "driven"): Sentence(
        _SERIES,
        "Look whether {subject} is the wrong way round; if not, take it out of the way from {source}."),
}
