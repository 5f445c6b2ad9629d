"""What is said of a regulator and its settings."""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.wording.sentence import Given, Sentence, Sentences, Word, filled

_WORST = "With the worst parts {@_load} "
_SHORT = "it lacks {@_lacks_V} of headroom at the lowest input and highest load."

REASONS: Mapping[str, str] = {
    "not-solved": "Its volts could not all be worked out ({@_why}).",
    "beyond": "{@_load} gets {@_volts_V} and survives {@_limit_V}.",
    "worst-beyond": _WORST + "gets up to {@_volts_V} and survives {@_limit_V}.",
    "above": "{@_load} gets {@_volts_V}, above the {@_limit_V} it is made for.",
    "worst-above": _WORST + "gets up to {@_volts_V}, above the {@_limit_V} it is made for.",
    "below": "{@_load} gets {@_volts_V} and needs {@_limit_V}.",
    "worst-below": _WORST + "is left with {@_volts_V} and needs {@_limit_V}.",
    "unset": "Nothing sets the output: it goes as far as the input lets it, up to {@_output_V}.",
    "dropout": "In dropout: {@_asked_V} are asked for and {@_output_V} come out; " + _SHORT,
    "may-drop-out": "It may drop out: " + _SHORT,
    "past-limit": "Past its limit: {@_passed_A} are drawn at most, {@_more_A:2} more than the {@_limit_A} that every "
                  "specimen gives; it holds to a load of {@_holds_A}.",
    "input": "{@_across_V} stand across {@_regulator}, which stands {@_limit_V}.",
    "power": "{@_dissipation_W} of heat, and {@_regulator} may turn {@_limit_W} into heat at most.",
    "heat-not-known": "How hot {@_regulator} gets with {@_dissipation_W} is not known: {@_missing} is missing.",
    "too-hot": "Too hot by {@_beyond_K}: {@_junction_C} at the junction with {@_dissipation_W}, where {@_limit_C} are "
               "its limit[; it bears a load of {@_bears_A}][; a heat sink of {@_sink_K_per_W} or less holds it].",
    "light": "With no load its resistors draw {@_least_A}, less than the {@_needs_A} that every specimen needs: the "
             "output may rise to {@_output_V} {@_without}.",
}
"""What speaks against a setting, by its case; @ stands for the reason among those of a finding."""

_CURES = {
    "": "",
    "sink": "Give {@_regulator} a heat sink of {@_sink_K_per_W} or less, mounting included (heatsink: "
            "{@_sink_K_per_W}).",
    "no-sink": "No heat sink of a usual size is enough: lower the load of {@_regulator} or the volts across it.",
    "sink-not-known": "Lower its load or the volts across it, or give {@_regulator} a heat sink; its entry lacks "
                      "theta_junction_case, so which one is not known.",
}
_WITHOUT = {"one": "with {@_loads} out of its socket", "many": "with {@_loads} out", "none": "then"}
_READ = ("{read:row}[ {fits:or} would explain {explained}.]",
         {"read": "{@_V} were read at {output} with {@}, where {@_least_V..@_most_V} are expected.",
          "fits": "{@_kind}"},
         {"explained": {"it": "it", "all": "all the readings"},
          "@_kind": {"resistor": "{@} reads as {@_as_ohm}", "reference": "a reference of {@_as_V} in {@}"}})
_COOLING: Mapping[str, str] = {
    "sink": "a heat sink of {sink_K_per_W}", "board": "the board's copper, as on its maker's test board",
    "board as case": "the board, counted as its case alone", "none": "no heat sink",
    "none stated": "no heat sink, as none is stated",
}
_SETTING = ("With {subject}{as}: {reasons:row}[ So it is, in its own figures, in {bad_count} of its {settings_count} "
            "settings; netcheck settings shows them all.]")
_CHOICES = {"as": {"": " set by {put}", "it is": " as it is"}, "@_case": REASONS, "@_without": _WITHOUT,
            "@_cure": _CURES}
_EACH = {"put": "{@} {@_position}", "reasons": "{@_case}"}
_COOLED = {**_EACH, "cured": "{@_cure}"}
_FAULT = "One failure away from harm: with {faults} the output goes beyond what {hurts} can stand."
_FAULTS = {"faults": "{@} {@_how} ({@_V})"}
_SLIP = "With {link} {slip} the output goes to {output_V}, beyond what {hurts} survive{hurts:s}."
_FIXED = ("A resistor fixed across, so that open links leave the lowest setting, takes the harm out of it. Have the "
          "values chosen: netcheck choose.")
_CHOOSE = "Have resistors chosen for it: netcheck choose."

SENTENCES: Sentences = {
    ("setting", "harmful"): Sentence(
        _SETTING, "Keep the links out of these positions, or have other resistors chosen: netcheck choose.",
        choices=_CHOICES, each=_EACH),
    ("setting", "not-known"): Sentence(
        _SETTING, "Give what is missing, from the regulator's data sheet.", choices=_CHOICES, each=_EACH),
    ("setting", "against"): Sentence(_SETTING, choices=_CHOICES, each=_EACH),
    ("setting", "cured"): Sentence(_SETTING, "{cured:row}", choices=_CHOICES, each=_COOLED),
    ("setting", "untried"): Sentence(
        "{tried_count} settings of {subject} were tried; {untried_count} more were not, and nothing is said of them."),
    ("link-mistake", "slip"): Sentence(_SLIP, _FIXED),
    ("link-mistake", "on-the-way"): Sentence(
        _SLIP + " Never move a link with the power on: on its way it passes through such a setting.", _FIXED),
    ("setting-fault", "regulator"): Sentence(
        _FAULT, "Against a regulator that fails only a clamp at its output helps, one that blows a fuse in its input; "
        "check its volts with the socket empty before every first power-up.", each=_FAULTS),
    ("setting-fault", "resistor"): Sentence(
        _FAULT, "Two resistors in parallel in the place of {hardest}, soldered and not plugged, take most of it away "
        "when one opens.", each=_FAULTS),
    ("setting-wanted", "none-near"): Sentence(
        "No setting of {subject} gives the {wanted_V} that are wanted: the nearest is {output_V}.", _CHOOSE),
    ("setting-wanted", "none-known"): Sentence(
        "No setting of {subject} gives the {wanted_V} that are wanted: none is known.", _CHOOSE),
    ("back-current", "not-published"): Sentence(
        "In state {state} something holds the output of {subject} at {held_V} while its input is dead; how much flows "
        "back through a {type} is not published.", "Put a diode into its output or input, or measure the current."),
    ("back-current", "back"): Sentence(
        "In state {state} {back_A} flow back through {subject} into its dead input.",
        "Put a diode into its output or input."),
    ("output-capacitor", "no-diode"): Sentence(
        "When the input is shorted or collapses, {large:plain} discharge{large:s} into {subject}.",
        "Its makers ask for a diode from output to input (cathode at the input) there."),
    ("reading", "output"): Sentence(_READ[0], each=_READ[1], choices=_READ[2]),
}


def reason(case: str, names: Mapping[str, Word], figures: Mapping[str, float]) -> str:
    """One thing that speaks against a setting.

    >>> reason("beyond", {"load": "U1"}, {"volts_V": 5.02, "limit_V": 3.6})
    'U1 gets 5.02 V and survives 3.6 V.'
    """
    text = REASONS[case].replace("@_", "")
    without = {"without": {word: said.replace("@_", "") for word, said in _WITHOUT.items()}}
    return filled(text, Given(figures=figures, words=names), without)


def fitted(names: Mapping[str, Word], figures: Mapping[str, float]) -> str:
    """What was read at an output, and what would explain it."""
    text, each, choices = _READ
    return filled(text, Given(figures=figures, words=names), choices, each)


def cooling(into: str, sink_K_per_W: float) -> str:
    """What a regulator is cooled by.

    >>> cooling("sink", 12.0), cooling("none", 0.0)
    ('a heat sink of 12 K/W', 'no heat sink')
    """
    return filled(_COOLING[into], Given(figures={"sink_K_per_W": sink_K_per_W}))
