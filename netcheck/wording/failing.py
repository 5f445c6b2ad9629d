"""What is said of single failures: how something fails, and what that does to loads and other parts."""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.wording.sentence import Sentence, Sentences

FAILS: Mapping[str, str] = {
    "short": "fail short", "open": "fail open", "missing": "be missing while the rest of its supply is on",
    "absent": "be out of its holder",
}
"""How something fails, after "should"."""

SHOULD = {"how": FAILS}
_SHOULD = "Should {failing} {how}, "
_OTHERS = "[ So does the failure of {others:or}.]"

SENTENCES: Sentences = {
    ("fault-voltage", "load"): Sentence(
        f"{_SHOULD}{{subject}} gets {{fault_V}} in state {{state}}, more than the {{limit_V}} that it survives."
        f"{_OTHERS}",
        "Put a zener across the supply of {subject}, or feed it from a supply of fewer volts.", choices=SHOULD),
    ("fault-part", "diode"): Sentence(
        f"{_SHOULD}{{current_A}} would flow through {{subject}} in state {{state}}, a diode for {{limit_A}} at most."
        f"{_OTHERS}", "Limit its current with a resistor in series.", choices=SHOULD),
    ("fault-part", "resistor"): Sentence(
        f"{_SHOULD}{{subject}} turns {{power_W}} into heat in state {{state}}; it stands {{limit_W}}.{_OTHERS}",
        "Fit a larger one, or limit the current.", choices=SHOULD),
    ("fault-part", "capacitor"): Sentence(
        f"{_SHOULD}{{subject}} sees {{fault_V}} in state {{state}}, more than its rating of {{limit_V}}.{_OTHERS}",
        "Fit one of a higher rating.", choices=SHOULD),
    ("fault-part", "reversed"): Sentence(
        f"{_SHOULD}{{subject}} sees {{fault_V}} the wrong way round in state {{state}}, and bears {{limit_V}}."
        f"{_OTHERS}",
        "Fit one without polarity, or a diode across it that keeps it from being reversed.", choices=SHOULD),
    ("fault-part", "cell"): Sentence(
        f"{_SHOULD}{{subject}} is short-circuited in state {{state}}: it gives {{current_A}} and is left with "
        f"{{left_V}}.{_OTHERS}", "A resistor in its lead keeps that current small.", choices=SHOULD),
}
