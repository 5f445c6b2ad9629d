"""What is said of the volts of a load."""

from __future__ import annotations

from netcheck.wording.sentence import Sentence, Sentences

_CLAMP_ADVICE = "Never power it with {cell} out; give {subject} a supply of its own, or a zener that clamps it."
_CLAMP = "{subject} gets {volts_V} in state {state} and stands {limit_V} at most."

_NOT_KEPT = "{subject} is to be kept and gets {volts_V} in state {state}: no cell feeds it."
_NO_LOAD = "{cells} keep{cells:s} nothing alive: in state {state} no load gets volts from {cells:it} ({loads})."
_LOADS = {"loads": "{@} {@_V}"}
_TURNED = " {turned} seems to be the wrong way round."
_TRACE = "Trace the way from the cell's plus to the load's supply pin again, and back from its ground."
_NEED_NOT = " Say kept: no of a load that need not be kept."

_SHORT = "{subject} gets {volts_V} in state {state}{cell}, with typical figures, and needs at least {needs_V}."
_HIGHER = "a cell of higher voltage."
_KINDS = {
    "": f"Look for what draws more of the cell than it can give, or fit {_HIGHER}",
    "diode": f"Fit a diode of lower drop as {{taker}}, which takes {{taken_V}}, or {_HIGHER}",
    "resistor": f"Fit fewer ohms as {{taker}}, which takes {{taken_V}}, or {_HIGHER}",
    "other": f"Look at {{taker}}, which takes {{taken_V}}, or fit {_HIGHER}"}
_AGE = {"cell": {"": "", "fresh": " with a fresh cell", "half used": " with a cell half used"}}
_THIN = "{subject} is left with {volts_V} {when}, where it needs {needs_V}: {margin_V:margin}."
_WHEN = {"when": {
    "no cell": "over temperature and with the parts at their worst",
    "fresh": "even with a fresh cell, on a cold morning and with the parts at their worst",
    "old": "with an old cell ({used_share} used), over temperature and with the parts at their worst"}}
_OVER = "{subject} gets up to {volts_V}{at} and "
_AT = {"at": {"": "", "tolerances": " at the high end of the tolerances"}}
_LOWER = "Lower the supply of this net, or fit a part that stands it."
_LOWER_CELL = "Fit a cell of fewer volts as {cells}, or a diode in its way, or a part that stands it."
_RUNS = " and needs {runs_V} to be read and written, though less keeps its data."
_LESS_DROP = (
    "Lower the drop between the rail and {subject}[: fit another part as {way}], and judge again what leaks then.")
_STILL = "In state {state} the rail is live and part of {subject}'s current still comes from {parts}"
_HAND = "Lower the drop between the rail and the load, or fit a cell of lower voltage."

SENTENCES: Sentences = {
    ("backup-voltage", "not-stated"): Sentence(
        "What {subject} needs is not stated, so its volts are shown and not judged.",
        "Give its range, for example works: 2.0 V to 5.5 V."),
    ("backup-voltage", "short-of-cell"): Sentence(
        _SHORT, "{kind}", choices={**_AGE, "kind": _KINDS}),
    ("backup-voltage", "short-of-dead"): Sentence(
        "{subject} gets {volts_V} in state {state} and needs at least {needs_V}: by the volts that were measured "
        "{dead} seem{dead:s} dead.", "Take {dead} out and fit a new cell in its place."),
    ("backup-voltage", "short-of-rail"): Sentence(
        _SHORT, "Look at what drops the supply on its way there.", choices=_AGE),
    ("backup-voltage", "not-fed"): Sentence(
        "Nothing feeds {subject} in state {state}, with the jumpers as set.", "Trace what should feed it then."),
    ("backup-voltage", "thin-of-rail"): Sentence(
        _THIN, "Look at what drops the supply on its way there.", choices=_WHEN),
    ("backup-voltage", "thin"): Sentence(_THIN, "Plan to change the cell before it is used up.", choices=_WHEN),
    ("backup-voltage", "thin-by-diode"): Sentence(
        _THIN, "Compare diodes of lower drop, and plan to change the cell before it is used up.", choices=_WHEN),
    ("over-voltage", "beyond-by-cell"): Sentence(
        _OVER + "stands {limit_V} at most (state {state}).", _LOWER_CELL, choices=_AT),
    ("over-voltage", "beyond-works-by-cell"): Sentence(
        _OVER + "works up to {works_V} and survives {limit_V} (state {state}).", _LOWER_CELL, choices=_AT),
    ("over-voltage", "beyond"): Sentence(
        _OVER + "stands {limit_V} at most (state {state}).", _LOWER, choices=_AT),
    ("over-voltage", "beyond-works"): Sentence(
        _OVER + "works up to {works_V} and survives {limit_V} (state {state}).", _LOWER, choices=_AT),
    ("over-voltage", "not-stated"): Sentence(
        "{subject} gets up to {volts_V} in state {state}, and what it stands is not stated: common logic stands "
        "{logic_V} at most.", "State what it needs and stands, for example works: 2.0 V to 5.5 V."),
    ("hand-over", "usual"): Sentence(_STILL + ".", _HAND),
    ("hand-over", "low-supply"): Sentence(_STILL + " when the supply is low and the cell fresh.", _HAND),
    ("running-volts", "short"): Sentence(
        "{subject} gets {volts_V} in state {state}[ behind {way}], with typical figures," + _RUNS, _LESS_DROP),
    ("running-volts", "short-at-worst"): Sentence(
        "{subject} may get as little as {volts_V} in state {state}[ behind {way}], with the supply low and the parts "
        "at their worst," + _RUNS, _LESS_DROP),
    ("running-volts", "as-built"): Sentence(
        "{subject}, read and written from {runs_V} on, gets {volts_V} under power at the worst; so it was built."),
    ("running-volts", "by-cell"): Sentence(
        "Only {cells} feed{cells:s} {subject} while the board is powered: it gets {volts_V} in state {state}{when}," +
        _RUNS, "Trace what feeds {subject} under power[, or turn {turned} round].", choices={"when": {
            "usual": ", with typical figures", "worst": " at the worst"}}),
    ("clamp", "primary"): Sentence(
        f"{{cell}} holds down the supply of {{subject}}: with it out of its holder {_CLAMP}", _CLAMP_ADVICE),
    ("clamp", "rechargeable"): Sentence(
        f"{{cell}} holds down the supply of {{subject}}: with it out of its holder, or with it dried out, {_CLAMP}",
        _CLAMP_ADVICE),
    ("clamp", "not-solved"): Sentence(
        "What {subject} gets while {cell} is out of its holder could not be worked out: {why}."),
    ("retention", "floating"): Sentence(
        "The chip select of {subject} floats while it is stored: it may then draw milliamperes, and write what comes "
        "by, in place of its retention current.",
        "Pull it to where {subject} is not selected with a resistor, for example 10k: to its supply, or, where a high "
        "level selects it, to ground."),
    ("retention", "not-traced"): Sentence(
        "The retention current of {subject} holds only while its chip select is held near its supply.",
        "Trace what holds it, and say selected: held of {subject}."),
    ("keeps-nothing", "no-load"): Sentence(_NO_LOAD, _TRACE + _NEED_NOT, each=_LOADS),
    ("keeps-nothing", "no-load-dead"): Sentence(
        _NO_LOAD + " By the volts that were measured {dead} seem{dead:s} dead.",
        "Take {dead} out and fit a new cell in its place." + _NEED_NOT, each=_LOADS),
    ("keeps-nothing", "no-load-turned"): Sentence(_NO_LOAD + _TURNED, "Turn {turned} round." + _NEED_NOT, each=_LOADS),
    ("keeps-nothing", "cell-out"): Sentence(
        "Nothing keeps {subject} with the supplies off: without {cells} no cell feeds it.",
        "Fit {cells}, or another cell." + _NEED_NOT),
    ("keeps-nothing", "load"): Sentence(_NOT_KEPT, _TRACE),
    ("keeps-nothing", "load-turned"): Sentence(_NOT_KEPT + _TURNED, "Turn {turned} round."),
}
