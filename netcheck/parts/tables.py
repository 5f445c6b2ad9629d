"""What may be said of a component, field by field: one table drives library, file and schema.

The bounds are those beyond which a value is a slip and not a part (common practice, no source): the widest that is
made, with room. A value outside is refused and named, never computed with.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from enum import Enum

from msgspec import Struct

from netcheck.parts.families import (
    BACK,
    BETWEEN,
    BODIES,
    CAPACITOR_TYPES,
    CHEMISTRIES,
    DIODE_FAMILIES,
    POLARITIES,
    SIGNS,
)
from netcheck.quantities.values import engineering


class Form(Enum):
    """How a field is written."""

    NUMBER = "a value without tolerance"
    BAND = "a value with or without tolerance"
    RANGE = "a range"
    WORD = "one of some words"
    TEXT = "any text"
    TABLE = "a table or list of its own"


class Field(Struct, frozen=True):
    """One thing that may be said. Bounds in the base unit, both included.

    also: other spellings that a fragment file may have. old: spellings that library files may still have.
    """

    name: str
    about: str
    form: Form
    unit: str = ""
    least: float = -math.inf
    most: float = math.inf
    words: tuple[str, ...] = ()
    old: tuple[str, ...] = ()
    also: tuple[str, ...] = ()

    def misfit(self, *values: float) -> str | None:
        """What was expected, where one of the values lies outside; a range may be open at an end."""
        if all(self.least <= value <= self.most or (self.form is Form.RANGE and math.isinf(value))
               for value in values):
            return None
        least, most = (engineering(bound, self.unit) for bound in (self.least, self.most))
        if math.isinf(self.most):
            return f"{self.about}, at least {least}"
        return f"{self.about}, from {least} to {most}"


Table = Mapping[str, Field]


def _table(*fields: Field) -> Table:
    return {field.name: field for field in fields}


def _number(name: str, unit: str, least: float, most: float, about: str, *old: str) -> Field:
    return Field(name, about, Form.NUMBER, unit, least, most, old=old)


def _band(name: str, unit: str, least: float, most: float, about: str, *old: str) -> Field:
    return Field(name, about, Form.BAND, unit, least, most, old=old)


def _range(name: str, unit: str, least: float, most: float, about: str, *old: str) -> Field:
    return Field(name, about, Form.RANGE, unit, least, most, old=old)


def _word(name: str, words: Iterable[str], about: str) -> Field:
    return Field(name, about, Form.WORD, words=tuple(words))


def _text(name: str, about: str) -> Field:
    return Field(name, about, Form.TEXT)


def _special(name: str, about: str, *old: str) -> Field:
    return Field(name, about, Form.TABLE, old=old)


_NAME = _text("name", "a name to print in place of the designator")
_COLDEST_C, _HOTTEST_C = -273.15, 150.0

DIODE = _table(
    _NAME,
    _word("family", DIODE_FAMILIES, "what it is made of"),
    _special("points", "points of its forward curve, such as [1 mA, 0.62 V]", "forward"),
    _special("leakage", "reverse current at a voltage, one or a list"),
    _band("zener", "V", 0.5, 1e3, "its breakdown voltage"),
    _special("knee", "differential resistances of a zener, such as [5 mA, 60]"),
    _word("body", BODIES, "what it looks like"),
    _number("reverse", "V", 0.1, 1e5, "the reverse voltage it stands"),
    _number("current", "A", 1e-6, 1e4, "the forward current it stands"),
    _number("IS", "A", 1e-30, 1.0, "saturation current of its SPICE model"),
    _number("N", "", 0.1, 20.0, "emission coefficient of its SPICE model"),
    _number("RS", "ohm", 0.0, 1e6, "series resistance of its SPICE model"),
    _number("EG", "eV", 0.0, 10.0, "energy gap of its SPICE model"),
    _number("XTI", "", -20.0, 100.0, "temperature exponent of its SPICE model"),
    _number("BV", "V", 0.5, 1e5, "breakdown voltage of its SPICE model"),
)
POINT = (_number("current", "A", 1e-12, 1e4, "a forward current"), _number("volts", "V", 1e-3, 20.0, "a forward drop"))
KNEE = (_number("current", "A", 1e-9, 100.0, "a zener current"),
        _number("ohm", "ohm", 1e-3, 1e7, "a differential resistance"))
LEAKAGE = (_number("current", "A", 1e-18, 1.0, "a reverse current"),
           _number("volts", "V", 1e-3, 1e5, "a reverse voltage"),
           _number("at", "°C", _COLDEST_C, 300.0, "a temperature"))

CELL = _table(
    _NAME,
    _word("chemistry", CHEMISTRIES, "the family of the cell"),
    _number("volts", "V", 0.1, 1e3, "the volts of the whole pack", "nominal"),
    _number("capacity", "Ah", 1e-5, 1e5, "its capacity"),
    _number("resistance", "ohm", 0.0, 1e5, "the internal resistance of the whole pack"),
    _special("curve", "points of its discharge curve, such as [20 %, 2.9 V]", "open_circuit"),
    _number("self_discharge", "%", 0.0, 20.0, "self-discharge a year"),
    _number("shelf", "year", 0.01, 100.0, "shelf life"),
    _word("primary", ("yes", "no"), "yes: must never be charged; follows from the chemistry unless said"),
    Field("abnormal_charge", "the charging current that its maker permits under a fault", Form.NUMBER, "A", 0.0, 1e3,
          also=("fault_charge",)),
    _number("continuous", "A", 1e-7, 1e3, "the most it may give for good"),
    _number("share", "%", 0.0, 1.0, "share of the capacity that leakage may put in over the service life",
            "leak_share"),
    _special("trickle", "three rising charging currents: least useful, usual most, harmful"),
    _range("charge", "V", 0.0, 1e3, "the end volts of its charge", "charge_window"),
    _number("capacitance", "F", 1e-6, 1e5, "for a supercapacitor, in place of the capacity"),
    _range("temperature", "°C", _COLDEST_C, _HOTTEST_C, "where it may be used"),
)
CURVE = (_number("used", "%", 0.0, 1.0, "a share of the capacity used"),
         _number("volts", "V", 0.0, 1e3, "open-circuit volts"),
         _number("ohm", "ohm", 0.0, 1e5, "an internal resistance"))
TRICKLE = _number("trickle", "A", 0.0, 1e3, "a continuous charging current")

LOAD = _table(
    _NAME,
    _special("draws", "what it draws, one or a list"),
    _number("most", "A", 0.0, 1e3, "the most that it ever draws"),
    _range("works", "V", 0.0, 1e3, "the supply range in which it works, or keeps its data or its time"),
    _range("runs", "V", 0.0, 1e3, "the supply range in which it can be read and written, where that is narrower"),
)
DRAW = (_number("current", "A", 0.0, 1e3, "a supply current"), _number("volts", "V", 0.01, 1e3, "a supply voltage"))

TRANSISTOR = _table(
    _NAME,
    _word("polarity", POLARITIES, "which way it conducts"),
    _number("gain", "", 1.0, 1e6, "current gain of a bipolar one"),
    _number("threshold", "V", 0.01, 50.0, "threshold of a MOSFET, positive for both channels"),
    _number("on", "ohm", 1e-6, 1e6, "on-resistance of a MOSFET", "on_resistance"),
    _number("cutoff", "A", 0.0, 1.0, "the most that passes when it is off, at 25 °C"),
    _number("IS", "A", 1e-30, 1.0, "saturation current of a bipolar one", "saturation"),
)

_THETA = 1e-3, 1e4
REGULATOR = _table(
    _NAME,
    _band("reference", "V", 0.01, 1e3, "its reference voltage"),
    _word("between", BETWEEN, "the pins that the reference stands between"),
    _band("output", "V", -1e3, 1e3, "the output of a fixed one"),
    _number("adjust_current", "A", -1.0, 1.0, "current out of its adjust pin"),
    _number("adjust_current_max", "A", -1.0, 1.0, "the same at most"),
    _number("dropout", "V", 0.0, 100.0, "the least volts from input to output at full load, maximum"),
    _number("dropout_typical", "V", 0.0, 100.0, "the same, typical"),
    _number("dropout_least", "V", 0.0, 100.0, "the same with next to no load"),
    _number("limit", "A", 1e-4, 1e3, "the current that every specimen gives"),
    _number("minimum_load", "A", 0.0, 100.0, "the least load that keeps it in regulation"),
    _number("minimum_load_typical", "A", 0.0, 100.0, "the same, typical"),
    _number("ground_current", "A", 0.0, 100.0, "current out of its ground pin at full load"),
    _number("input_max", "V", 0.1, 1e4, "the most its input stands"),
    _number("junction_max", "°C", 25.0, 400.0, "the hottest its junction may be"),
    _number("junction_case", "K/W", *_THETA, "thermal resistance, junction to case", "theta_junction_case"),
    _number("junction_ambient", "K/W", *_THETA, "thermal resistance, junction to air without a heat sink",
            "theta_junction_ambient"),
    _number("junction_board", "K/W", *_THETA, "thermal resistance, junction to air on its board's copper",
            "theta_board"),
    _number("case_sink", "K/W", 0.0, 1e4, "thermal resistance of what lies between case and heat sink",
            "theta_case_sink"),
    _number("power_max", "W", 1e-3, 1e5, "the most it may turn into heat, whatever the cooling"),
    _number("open_output", "V", 0.0, 1e3, "its output while the adjust pin is open, where a divider inside makes it"),
    _word("back", BACK, "how current flows from its output into a dead input"),
    _word("polarity", SIGNS, "whether it makes volts above or below ground"),
    _text("output_capacitor", "what its data sheet asks of the output capacitor"),
    _range("esr", "ohm", 0.0, 1e4, "the equivalent series resistance that its output capacitor must have"),
)

RELAY = _table(
    _NAME,
    _band("coil", "ohm", 0.1, 1e6, "the resistance of its coil"),
    _number("pulls", "V", 0.01, 1e3, "the volts at which it pulls for certain"),
)

CONNECTOR = _table(_NAME, _special("pinout", "pin to signal, such as {1: +5V, 2: GND}", "pins"))

SPECS: Mapping[str, Table] = {
    "diode": DIODE, "cell": CELL, "load": LOAD, "transistor": TRANSISTOR, "regulator": REGULATOR, "relay": RELAY,
    "connector": CONNECTOR,
}
"""Kind to what a mapping in place of its name may say; for library entries the same, with their sources."""

PART = _table(
    _band("resistor", "ohm", 0.0, 1e13, "its resistance"),
    _band("trimmer", "ohm", 0.1, 1e9, "its resistance from end to end"),
    _band("relay", "ohm", 0.1, 1e6, "the resistance of its coil"),
    _band("capacitor", "F", 1e-15, 1e5, "its capacitance"),
    _band("inductor", "H", 1e-12, 1e5, "its inductance"),
    _number("fuse", "A", 1e-3, 1e4, "its rating"),
    _number("power", "W", 1e-3, 1e5, "the power it is rated for"),
    _word("type", CAPACITOR_TYPES, "the family of the capacitor"),
    _number("rated", "V", 0.1, 1e5, "the voltage printed on it"),
    _number("esr", "ohm", 0.0, 1e6, "its equivalent series resistance"),
    _number("esl", "H", 0.0, 1.0, "its equivalent series inductance"),
    _number("ripple", "A", 0.0, 1e3, "the ripple current it is rated for"),
    _number("resistance", "ohm", 0.0, 1e7, "its resistance to direct current"),
    _number("voltage", "V", -1e3, 1e3, "the volts measured at this cell"),
    _number("survives", "V", 0.1, 1e3, "the most volts that it stands (absolute maximum)"),
    _range("works", "V", 0.0, 1e3, "the supply range in which it works, or keeps its data or its time"),
    _range("runs", "V", 0.0, 1e3, "the supply range in which it can be read and written, where that is narrower"),
    _number("heatsink", "K/W", 0.01, 1e3, "the thermal resistance of its heat sink"),
)
"""What may be said in the line of a part itself, its value under the word of its kind."""
LIFE = (_number("hours", "h", 1.0, 1e7, "a life in hours"), _number("at", "°C", _COLDEST_C, 300.0, "a temperature"))

RAIL = _table(_band("volts", "V", -1e4, 1e4, "what the supply holds this net at while it is on"))
CONDITIONS = _table(
    _range("temperature", "°C", _COLDEST_C, _HOTTEST_C, "the temperature inside the case"),
    _number("powered", "h/day", 0.0, 24.0, "how long it is switched on"),
    _number("years", "year", 0.01, 100.0, "the wanted service life"),
)
TESTER = _table(
    _number("capacitance", "F", 1e-15, 1e5, "capacitance read"),
    _number("esr", "ohm", 0.0, 1e7, "equivalent series resistance read"),
    _number("tester", "Hz", 1.0, 1e9, "the frequency it measures at"),
)
SETTING = _table(_number("want", "V", -1e3, 1e3, "volts wanted"),
                 _number("within", "%", 0.0, 0.99, "how near they must be"))
PATH = _table(_number("ohms", "ohm", 0.0, 1e9, "resistance on the way"),
              _number("diodes", "", 0.0, 20.0, "junctions in series"))
