"""One entry of the library turned into what the rest of the program works with."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from msgspec import Struct

from netcheck.parts import tables
from netcheck.parts.families import (
    BACK,
    BETWEEN,
    BODIES,
    CHEMISTRIES,
    DIODE_FAMILIES,
    POLARITIES,
    PRIMARY_CHEMISTRIES,
    SIGNS,
)
from netcheck.parts.library import Book, Entry, Place
from netcheck.parts.specs import (
    CellPoint,
    CellSpec,
    ConnectorSpec,
    DiodeSpec,
    DrawPoint,
    Figure,
    ForwardPoint,
    KneePoint,
    LeakagePoint,
    LoadedCurve,
    LoadSpec,
    RegulatorSpec,
    TransistorSpec,
    TrickleWindow,
)
from netcheck.parts.tables import Field

EVERY = ("about", "aliases", "like")
CITED = ("source", "sure", "note")
_TRICKLE = ("trickle_least", "trickle_most", "trickle_harmful")


class Family(Struct, frozen=True):
    """What a family of diodes has in common.

    emission: usual value; emission_low, emission_high: what a fit may use [1].
    gap_eV, temperature_exponent: EG [eV] and XTI [1] of the saturation current's
    temperature law; a family of many gaps (LEDs) has none, but fall_V, what the drop
    loses for each kelvin. doubling_K: rise that doubles the reverse current [K].
    typical_share, leakage_share: typical over maximum of forward volts and
    reverse current [1]. leakage_power: exponent of the reverse voltage in the
    typical reverse current of a part that tells none [1], leakage_from_V: where that
    curve starts below 0 V [V]. knees: zener volts to its class's differential
    resistances. spread_V: how far one piece may lie from a typical one.
    band_V: uncertainty a decade below the lowest published current.
    """

    emission: float
    emission_low: float
    emission_high: float
    gap_eV: float | None
    fall_V: float | None
    temperature_exponent: float
    doubling_K: float
    typical_share: float
    leakage_share: float
    leakage_power: float
    leakage_from_V: float
    spread_V: float
    band_V: float
    forward: ForwardPoint | None
    knees: Mapping[float, tuple[KneePoint, ...]]
    figures: tuple[Figure, ...]


def family(entry: Entry) -> Family:
    entry.only("emission", "emission_range", "gap", "fall", "temperature_exponent", "doubling", "typical_share",
               "leakage_share", "leakage_power", "leakage_from", "spread", "band", "forward", "knees")
    if ("gap" in entry.fields) == ("fall" in entry.fields):
        entry.owner.fault(entry.path, str(entry.path[-1]), "either gap or fall")
    allowed = entry.span("emission_range", "")
    point = _family_point(entry) if "forward" in entry.fields else None
    return Family(
        emission=entry.value("emission", ""), emission_low=allowed.low, emission_high=allowed.high,
        gap_eV=entry.maybe("gap", "eV"), fall_V=entry.maybe("fall", "V"),
        temperature_exponent=entry.value("temperature_exponent", ""),
        doubling_K=entry.value("doubling", ""), typical_share=entry.value("typical_share", ""),
        leakage_share=entry.value("leakage_share", ""), leakage_power=entry.maybe("leakage_power", "") or 0.0,
        leakage_from_V=entry.maybe("leakage_from", "V") or 0.0,
        spread_V=entry.value("spread", "V"),
        band_V=entry.value("band", "V"), forward=point, knees=_knees(entry), figures=tuple(entry.figures),
    )


def _knees(entry: Entry) -> Mapping[float, tuple[KneePoint, ...]]:
    """The lines {zener: 3.9 V, maximum: {1 mA: 600 ohm, 5 mA: 85 ohm}, source: …, sure: …} of the zener family."""
    found = {}
    for place, row in entry.rows("knees", ("zener", "typical", "maximum", *CITED)):
        volts = entry.read_quantity(row.get("zener"), "V", place).value
        figure = origin(entry, row, place)
        found[volts] = tuple(
            KneePoint(entry.read_quantity(amps, "A", place).value, entry.read_quantity(ohm, "ohm", place).value,
                      limit, figure)
            for limit in ("typical", "maximum") for amps, ohm in row.get(limit, {}).items())
    return found


def _family_point(entry: Entry) -> ForwardPoint:
    place, cited = entry.places["forward"], entry.fields["forward"]
    if not isinstance(cited, list) or len(cited) != 4:
        entry.owner.fault(place, str(cited), "[current, volts, source, sure]")
    amps, volts, source, sure = cited
    return ForwardPoint(
        entry.read_quantity(amps, "A", place).value, entry.read_quantity(volts, "V", place).value, "typical",
        25.0, entry.owner.figure(source, sure, place),
    )


def diode(name: str, entry: Entry) -> DiodeSpec:
    entry.tabled(tables.DIODE, *EVERY)
    forward = [ForwardPoint(*point) for point in _points(entry, "points", *tables.POINT)]
    amps, volts, _ = tables.LEAKAGE
    leakage = [LeakagePoint(*point) for point in _points(entry, "leakage", volts, amps)]
    knee = [KneePoint(current_A, ohm, limit, figure)
            for current_A, ohm, limit, _, figure in _points(entry, "knee", *tables.KNEE)]
    return DiodeSpec(
        name=name, family=entry.text("family", words=DIODE_FAMILIES), forward=tuple(forward),
        leakage=tuple(leakage), zener_V=entry.maybe_quantity("zener"), knee=tuple(knee),
        body=entry.text("body", words=BODIES) if "body" in entry.fields else None,
        reverse_V=entry.maybe("reverse"), current_A=entry.maybe("current"),
        about=entry.text("about", ""), figures=tuple(entry.figures),
    )


def _points(
    entry: Entry, key: str, given: Field, found: Field
) -> list[tuple[float, float, str, float, Figure]]:
    """The lines {typical: {given: found, …}, at: 25 °C, source: …, sure: …} of a table, point by point."""
    points = []
    limits = ("typical", "maximum", "minimum", "scatter", "elsewhere")
    for place, row in entry.rows(key, (*limits, "at", *CITED)):
        celsius = entry.column(row.get("at", "25 °C"), tables.LEAKAGE[2], place)
        figure = origin(entry, row, place)
        stated = [limit for limit in limits if limit in row]
        if not stated:
            entry.owner.fault(place, ", ".join(row), "typical, maximum or minimum")
        for limit in stated:
            table = row[limit]
            if not isinstance(table, dict):
                entry.owner.fault((*place, limit), str(table), "points such as {1 mA: 0.6 V}")
            for first, second in table.items():
                points.append((
                    entry.column(first, given, (*place, limit)),
                    entry.column(second, found, (*place, limit)), limit, celsius, figure,
                ))
    return points


def origin(entry: Entry, row: Mapping[str, Any], place: Place) -> Figure:
    return entry.owner.figure(row.get("source"), row.get("sure"), place, row.get("note", ""))


def cell(name: str, entry: Entry) -> CellSpec:
    entry.tabled(tables.CELL, *EVERY, *_TRICKLE, "backup_load", "discharge", "self_leakage")
    if "trickle" in entry.fields:
        entry.owner.fault(entry.places["trickle"], "trickle", f"{', '.join(_TRICKLE)}, each with its source")
    chemistry = entry.text("chemistry", words=CHEMISTRIES)
    trickle = None
    if "trickle_most" in entry.fields:
        trickle = TrickleWindow(*(entry.value(key, "A") for key in _TRICKLE))
    return CellSpec(
        name=name, chemistry=chemistry, primary=chemistry in PRIMARY_CHEMISTRIES, nominal_V=entry.value("volts"),
        capacity_Ah=0.0 if "capacitance" in entry.fields else entry.value("capacity"),
        curve=_curve(entry), self_discharge_per_year=entry.maybe("self_discharge") or 0.0,
        shelf_years=entry.maybe("shelf"), abnormal_charge_A=entry.maybe("abnormal_charge"),
        continuous_A=entry.maybe("continuous"), leak_share=entry.maybe("share"), trickle=trickle,
        charge_window=entry.maybe_span("charge"), capacitance_F=entry.maybe("capacitance"),
        temperature=entry.maybe_span("temperature"), lithium=chemistry.startswith("lithium"),
        backup_A=entry.maybe("backup_load", "A") or 0.0, loaded=_loaded(entry),
        capacitance_leak_A=entry.maybe("self_leakage", "A"),
        about=entry.text("about", ""), figures=tuple(entry.figures),
    )


def _loaded(entry: Entry) -> tuple[LoadedCurve, ...]:
    """The lines {load: 0.2 mA, at: 23 °C, points: {1 %: 2.94 V, …}, source: …, sure: …} of a cell."""
    curves = []
    for place, row in entry.rows("discharge", ("load", "at", "points", *CITED)):
        table = row.get("points")
        if not isinstance(table, dict) or len(table) < 2:
            entry.owner.fault(place, str(table), "points such as {1 %: 2.94 V, 90 %: 2.69 V}")
        points = tuple((entry.read_quantity(used, "%", place).value, entry.read_quantity(volts, "V", place).value)
                       for used, volts in table.items())
        if any(later <= before for (before, _), (later, _) in pairwise(points)):
            entry.owner.fault(place, ", ".join(table), "shares used that rise")
        curves.append(LoadedCurve(entry.read_quantity(row.get("load"), "A", place).value,
                                  entry.read_quantity(row.get("at"), "°C", place).value, points,
                                  origin(entry, row, place)))
    return tuple(curves)


def heatsinks(shelf: Book) -> dict[str, float]:
    """Heat sinks by name, with their thermal resistance from case to air in K/W."""
    found = {}
    for name, fields in shelf.top.get("heatsinks", {}).items():
        entry = Entry(shelf, dict(fields), {key: ("heatsinks", name, key) for key in fields}, ("heatsinks", name))
        entry.only("about", "theta")
        found[name] = entry.value("theta", "K/W")
    return found


def cautions(shelf: Book, chemistry: str) -> tuple[tuple[str, Figure], ...]:
    """The cautions of the file whose list of chemistries holds this one."""
    whole = Entry(shelf, dict(shelf.top), {key: (key,) for key in shelf.top}, ())
    found = []
    for place, row in whole.rows("cautions", ("for", "text", *CITED)):
        for word in row.get("for", ()):
            if word not in CHEMISTRIES:
                shelf.fault((*place, "for"), word, "one of " + ", ".join(CHEMISTRIES), CHEMISTRIES)
        if not isinstance(row.get("text"), str):
            shelf.fault(place, str(row), "a text, and for: the chemistries it holds for")
        if chemistry in row.get("for", ()):
            found.append((row["text"], origin(whole, row, place)))
    return tuple(found)


class CellRules(Struct, frozen=True):
    """leak_limit_A: the most that may leak into a primary cell for good [A]; leak_aim_A: what makers aim for [A].
    leak_share: share of its capacity that leakage may put in over the years of service [1].
    """

    leak_limit_A: float
    leak_aim_A: float
    leak_share: float
    figures: tuple[Figure, ...]


def cell_rules(shelf: Book) -> CellRules:
    fields = shelf.top.get("rules", {})
    entry = Entry(shelf, dict(fields), {key: ("rules", key) for key in fields}, ("rules",))
    entry.only("leak_limit", "leak_aim", "leak_share")
    return CellRules(entry.value("leak_limit", "A"), entry.value("leak_aim", "A"), entry.value("leak_share", "%"),
                     tuple(entry.figures))


def _curve(entry: Entry) -> tuple[CellPoint, ...]:
    """Open-circuit volts and resistance, each against the share used, brought to common steps."""
    volts = _against_used(entry, "curve", "volts", tables.CURVE[1])
    ohms = _against_used(entry, "resistance", "ohm", tables.CURVE[2])
    steps = sorted({used for used, _ in volts} | {used for used, _ in ohms})
    return tuple(CellPoint(used, between(volts, used), between(ohms, used)) for used in steps)


def _against_used(entry: Entry, key: str, what: str, column: Field) -> list[tuple[float, float]]:
    points: list[tuple[float, float]] = []
    for place, row in entry.rows(key, ("used", what, *CITED)):
        used = entry.read_quantity(row.get("used"), "", place).value
        if not 0 <= used <= 1 or (points and used <= points[-1][0]):
            entry.owner.fault(place, str(row["used"]), "a share from 0 to 1, each above the one before")
        points.append((used, entry.column(row.get(what), column, place)))
        figure = origin(entry, row, place)
        entry.figures.append(Figure(figure.source, figure.sure, f"{key.replace('_', ' ')} at {used:g} used"))
    if not points or points[0][0] != 0 or points[-1][0] != 1:
        entry.owner.fault(entry.places.get(key, entry.path), key, f"{key} from used: 0 to used: 1")
    return points


def between(points: list[tuple[float, float]], at: float) -> float:
    """Linear interpolation in points sorted by their first number; the ends hold beyond them.

    >>> between([(0.0, 3.2), (1.0, 2.0)], 0.5)
    2.6
    """
    if at <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in pairwise(points):
        if at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return points[-1][1]


def load(name: str, entry: Entry) -> LoadSpec:
    entry.tabled(tables.LOAD, *EVERY, "needs_no_cell")
    draws = [DrawPoint(volts, amps, limit, figure)
             for volts, amps, limit, _, figure in _points(entry, "draws", tables.DRAW[1], tables.DRAW[0])]
    if not draws:
        entry.owner.fault(entry.path, name, "draws, the supply current at a voltage")
    return LoadSpec(name=name, draws=tuple(draws), works=entry.maybe_span("works"),
                    runs=entry.maybe_span("runs"), most_A=entry.maybe("most"), about=entry.text("about", ""),
                    needs_no_cell=entry.cited("needs_no_cell") if "needs_no_cell" in entry.fields else "",
                    figures=tuple(entry.figures))


def transistor(name: str, entry: Entry) -> TransistorSpec:
    entry.tabled(tables.TRANSISTOR, *EVERY, "body", "cutoff_typical")
    polarity = entry.text("polarity", words=POLARITIES)
    needed = ("gain", "IS") if polarity in ("npn", "pnp") else ("threshold", "on")
    for key in needed:
        if key not in entry.fields:
            entry.owner.fault(entry.path, name, f'a figure "{key}" in this entry')
    saturation = entry.maybe("IS")
    known = {} if saturation is None else {"saturation_A": saturation}
    return TransistorSpec(
        name=name, polarity=polarity, gain=entry.maybe("gain"), threshold_V=entry.maybe("threshold"),
        on_ohm=entry.maybe("on"), cutoff_A=entry.maybe("cutoff"),
        cutoff_typical_A=entry.maybe("cutoff_typical", "A"),
        body=entry.text("body", words=BODIES) if "body" in entry.fields else None,
        about=entry.text("about", ""), figures=tuple(entry.figures), **known,
    )


def regulator(name: str, entry: Entry) -> RegulatorSpec:
    entry.tabled(tables.REGULATOR, *EVERY)
    reference, output = entry.maybe_quantity("reference"), entry.maybe_quantity("output")
    if (reference is None) == (output is None):
        entry.owner.fault(entry.path, name, "either a reference and between, or an output")
    adjust = entry.maybe("adjust_current") or 0.0
    return RegulatorSpec(
        name=name, reference=reference, output=output,
        between=None if reference is None else entry.text("between", words=BETWEEN),
        adjust_current_A=adjust,
        adjust_current_max_A=entry.maybe("adjust_current_max") or adjust,
        dropout_V=entry.value("dropout"),
        dropout_typical_V=entry.maybe("dropout_typical"), dropout_least_V=entry.maybe("dropout_least"),
        limit_A=entry.maybe("limit"),
        minimum_load_A=entry.maybe("minimum_load"),
        minimum_load_typical_A=entry.maybe("minimum_load_typical"),
        ground_current_A=entry.maybe("ground_current") or 0.0,
        input_max_V=entry.maybe("input_max"),
        junction_max_C=entry.maybe("junction_max"),
        theta_junction_case=entry.maybe("junction_case"),
        theta_junction_ambient=entry.maybe("junction_ambient"),
        theta_case_sink=entry.maybe("case_sink"), theta_board=entry.maybe("junction_board"),
        power_max_W=entry.maybe("power_max"), open_V=entry.maybe("open_output"),
        back=_word(entry, "back", BACK), polarity=entry.text("polarity", "positive", words=SIGNS),
        output_capacitor=entry.cited("output_capacitor") if "output_capacitor" in entry.fields else "",
        esr=entry.maybe_span("esr"),
        about=entry.text("about", ""), figures=tuple(entry.figures),
    )


def _word(entry: Entry, key: str, words: tuple[str, ...]) -> str | None:
    """One of some words, written with its origin as a figure is; None where the entry has none."""
    if key not in entry.fields:
        return None
    found = entry.cited(key)
    if found not in words:
        entry.owner.fault(entry.places[key], found, "one of " + ", ".join(words), words)
    return found


def connector(name: str, entry: Entry) -> ConnectorSpec:
    entry.tabled(tables.CONNECTOR, *EVERY, *CITED)
    pins = entry.fields.get("pinout")
    if not isinstance(pins, dict) or not all(isinstance(signal, str) for signal in pins.values()):
        entry.owner.fault(entry.places.get("pinout", entry.path), name, "a pinout, such as {1: DCD, 2: RxD}")
    return ConnectorSpec(name=name, pinout=tuple(pins.items()), about=entry.text("about", ""),
                         figures=(origin(entry, entry.fields, entry.path),))
