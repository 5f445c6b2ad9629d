"""What is said of a capacitor; `short` is what to watch in a table."""

from __future__ import annotations

from netcheck.wording import effects
from netcheck.wording.sentence import Sentence, Sentences

_CALLED = "{subject} ({value_F}[ {type}][, {rated_V}])"
_HARM = {"harm": {
    "burns": "It shorts and burns.", "vents": "It heats, swells and vents caustic electrolyte.",
    "shorts": "It fails short."}}
_REVERSED = (_CALLED + " stands the wrong way round: {backwards_V} backwards[ in state {state}], and it bears "
             "{limit_V}. {harm}")
_ENDS = "its plus to {minus}, its minus to {plus}; check the polarity on the empty pads with the meter first."
_WHICH_END = "Measure which end of {subject} is the higher, or trace its net."
_BUY = {"buy": {"least": "at least {buy_V}", "more": "more"}}
_DOES = {"does": {case: text and f" {text}." for case, text in effects.CAPITALS.items()}}
_WINDOW = "{window_least_ohm..window_most_ohm}"
_IS = "At the output of {of} the series resistance is {ohm} ({least_ohm..most_ohm})"
_WANTS = f"{{regulator}} ({{of}}) wants {_WINDOW}"
_FAMILY = {"family": {"": "{families:or}", "another": "another family"}}
_TAKE = "Take {family}."
_READS = {"reads": {"both": "{read_F} and {read_ohm}", "F": "{read_F}", "ohm": "{read_ohm}"}}

SENTENCES: Sentences = {
    ("polarity", "reversed"): Sentence(
        _REVERSED, "Throw {subject} away, as it has been reversed and may short later even the right way round; fit a "
        "new one, " + _ENDS, "the wrong way round", choices=_HARM),
    ("polarity", "fitted-reversed"): Sentence(
        _REVERSED, "Fit {subject} the other way round: " + _ENDS, "the wrong way round", choices=_HARM),
    ("polarity", "not-said"): Sentence(
        _CALLED + " has a polarity, and the file does not say which net its plus is on.",
        "Write plus: and minus: in place of between: for {subject}.", "which end is plus is not said"),
    ("polarity", "perhaps-reversed"): Sentence(
        _CALLED + " may stand the wrong way round: if its net is driven at all ({bound}), it sees up to {backwards_V} "
        "backwards; what it does see was not traced.", _WHICH_END,
        "may stand the wrong way round, up to {backwards_V}"),
    ("polarity", "either-way"): Sentence(
        f"Which way round {_CALLED} stands was not traced: up to {{backwards_V}} backwards is possible ({{bound}}).",
        _WHICH_END),
    ("rating", "not-known"): Sentence(
        f"What volts {_CALLED} sees could not be worked out.", "Add the rail or the part that drives its net.",
        "its volts are not known"),
    ("rating", "may-exceed"): Sentence(
        _CALLED + " may see up to {volts_V} ({bound}), more than its rating; what it does see was not traced.",
        "Measure it, or fit one rated {buy}.", "may see up to {volts_V}, its net was not traced", choices=_BUY),
    ("rating", "exceeds"): Sentence(
        _CALLED + " is rated {rated_V} and sees {volts_V}[ in state {state}].", "Fit one rated {buy}.",
        "sees {volts_V}: rating too low", choices=_BUY),
    ("rating", "not-stated-polarised"): Sentence(
        f"The rating of {_CALLED} is not stated; it sees {{volts_V}}.",
        "Add rated: to {subject}; it has to be {buy}.", "rating not stated; sees {volts_V}", choices=_BUY),
    ("rating", "not-stated"): Sentence(
        f"The rating of {_CALLED} is not stated; it sees {{volts_V}}.", "Take one rated {buy}.", "sees {volts_V}",
        choices=_BUY),
    ("rating", "after-fault"): Sentence(
        f"With {{failing}} failed {{how}}, {_CALLED} would see {{volts_V}}[ in state {{state}}], more than its "
        "rating."),
    ("derating", "beyond"): Sentence(
        _CALLED + " stands at {volts_V}; on this feed its family is used up to {derated_V} of that rating.{burns}[ Its "
        "charging current peaks at {surge_A} with a rise of {rise_s}.]",
        "Fit one rated {buy_V} or more, or one of another family.", "derate: {buy_V} or more",
        choices={"burns": {"": "", "yes": " A tantalum without that margin shorts at switch-on and burns."}}),
    ("role", "shown-otherwise"): Sentence(
        "The file calls {subject} {role}, and the circuit shows it as {shown}: {about}.",
        "Trace its nets again, or drop role: from the file.", "the circuit shows {shown}"),
    ("value", "changed"): Sentence(
        "{subject} goes from {before_F} to {after_F}; {about}, its value has to stay.{does}",
        "Fit {before_F} again; another family may do.", "value must stay", choices=_DOES),
    ("value", "outside"): Sentence(
        "{subject} goes from {before_F} to {after_F}, {beyond} for its place ({about}).{does}",
        "Take {least_F..most_F}.", "{beyond}: {least_F..most_F}", choices=_DOES),
    ("value", "never-ends"): Sentence(
        f"With {_CALLED} the {{what}} never ends: its leakage through the resistor keeps the net below the threshold.",
        _TAKE, "its leakage holds the net down", choices=_FAMILY),
    ("value", "leaky-never-ends"): Sentence(
        f"With {_CALLED} at its maker's most leakage the {{what}} never ends.", _TAKE,
        "a leaky specimen holds the net down", choices=_FAMILY),
    ("family", "refused"): Sentence(
        _CALLED + " is of a family that does not suit its place ({about}): {why}.", "[Take {families:or}.]",
        "not {type} here"),
    ("stability", "not-known"): Sentence(
        f"The series resistance of {_CALLED} is not known; {_WANTS} at its output, or it may oscillate.",
        "Add type: or esr: to {subject}.", "its series resistance is not known"),
    ("stability", "too-low"): Sentence(
        f"{_IS}, and {_WANTS}: it oscillates.",
        "Fit {family}, or a resistor of about {missing_ohm:2} in series with it.",
        "series resistance too low for {of}", choices=_FAMILY),
    ("stability", "too-high"): Sentence(
        f"{_IS}, and {_WANTS}: it oscillates.", "Fit {family}, new.", "series resistance too high for {of}",
        choices=_FAMILY),
    ("stability", "near-limit"): Sentence(
        f"{_IS}, over specimens, cold and age; {_WANTS}.", "Take one whose data sheet keeps it inside, or measure it.",
        "near the window of {of}"),
    ("leakage", "capacitor-not-known"): Sentence(
        f"The leakage of {_CALLED} on the backup net is not known, for its type is not stated.",
        "Add type: to {subject}.", "its leakage is not known"),
    ("leakage", "capacitor"): Sentence(
        _CALLED + " takes about {leakage_A:2}, at most {leakage_most_A:2}, from {cell} while it backs up.",
        short="leaks {leakage_A:2} from {cell}"),
    ("tester", "worn-out"): Sentence(
        _CALLED + " reads {reads}: {why}; it is out.", "Change {subject} first.", "worn out: change it first",
        choices=_READS),
    ("tester", "tired"): Sentence(
        _CALLED + " reads {reads}: {why}; it is tired.", "Change {subject}.", "tired", choices=_READS),
    ("ageing", "shorter"): Sentence(
        _CALLED + " lasts {life_years:about} at {hot_C}, less than the {wanted_years} wanted.",
        "Take one of more hours, or rated for a higher temperature.", "lasts {life_years}"),
    ("start", "too-much"): Sentence(
        "The capacitors on {subject} add up to {now_F} (before: {before_F}); a supply of these volts is made to start "
        "{most_F}.", "Fit smaller ones, or try the supply with a limited current first."),
}
