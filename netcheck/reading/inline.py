"""Diodes, cells, loads, transistors, regulators and pinouts that the fragment file itself describes."""

from __future__ import annotations

import re
from collections.abc import Iterator

from msgspec.structs import replace

from netcheck.parts import tables
from netcheck.parts.families import CHEMISTRIES, POLARITIES, PRIMARY_CHEMISTRIES
from netcheck.parts.specs import (
    CellPoint,
    CellSpec,
    ConnectorSpec,
    DiodeParameters,
    DiodeSpec,
    DrawPoint,
    Figure,
    ForwardPoint,
    KneePoint,
    LeakagePoint,
    LoadSpec,
    RegulatorSpec,
    RelaySpec,
    TransistorSpec,
    TrickleWindow,
)
from netcheck.quantities.values import ValueFault, number, quantity
from netcheck.reading.fields import Fields, bounded, describe, outside
from netcheck.reading.mistakes import Faults
from netcheck.reading.yaml_nodes import Listing, Node

GIVEN = Figure("given in the file", "given")
ROOM_C = 25.0
UNSTATED_DRAW_AT_V = 3.0  # where a draw without volts is pinned; it is the same at every voltage
LIMITS = ("typical", "maximum", "minimum")
_WORD = re.compile(r"\s*\b(typical|maximum)\b\s*")


def diode(entry: Fields, name: str) -> DiodeSpec:
    """`{IS: …, N: …, RS: …}`, `{points: [[1 mA, 0.62 V], …], leakage: 25 nA at 20 V}` or `{zener: 5.1 V}`."""
    entry = entry.tabled(tables.DIODE, "a diode given inline")
    parameters = None
    if "IS" in entry or "N" in entry or "RS" in entry:
        entry.require("IS", "the saturation current")
        parameters = DiodeParameters(
            saturation_A=entry.number("IS") or 1e-14,
            emission=entry.number("N") or 1.0,
            series_ohm=entry.number("RS") or 0.0,
            gap_eV=entry.number("EG"),
            temperature_exponent=entry.number("XTI"),
            breakdown_V=entry.number("BV"),
        )
    if not any(key in entry for key in ("IS", "N", "RS", "points", "zener")):
        entry.faults.add(entry.mark, ", ".join(entry.node.entries) or "{}",
                         "IS (with N and RS), points, or zener: what makes the drop of this diode")
    return DiodeSpec(
        name=entry.text("name") or name,
        family=entry.known_word("family") or ("zener" if "zener" in entry else "silicon"),
        forward=tuple(_forward_points(entry)),
        leakage=tuple(_leakage_points(entry)),
        parameters=parameters,
        zener_V=entry.quantity("zener"),
        knee=tuple(_knee_points(entry)),
        body=entry.known_word("body"),
        reverse_V=entry.number("reverse"),
        current_A=entry.number("current"),
        figures=(GIVEN,),
    )


def _forward_points(entry: Fields) -> list[ForwardPoint]:
    points = []
    for row in entry.items("points", "pairs such as [1 mA, 0.62 V]"):
        cells = row.items if isinstance(row, Listing) else []
        if len(cells) not in (2, 3):
            entry.faults.add(row.mark, describe(row), "a pair such as [1 mA, 0.62 V]")
            continue
        current, volts = (bounded(each, column, entry.faults)
                          for each, column in zip(cells, tables.POINT, strict=False))
        limit = describe(cells[2]) if len(cells) == 3 else "typical"
        if limit not in LIMITS:
            entry.faults.add(cells[2].mark, limit, "typical, maximum or minimum", near=LIMITS)
        if current is not None and volts is not None:
            points.append(ForwardPoint(current, volts, limit, ROOM_C, GIVEN))
            if any(one.limit == limit and (one.current_A - current) * (one.volts_V - volts) < 0 for one in points):
                entry.faults.add(cells[1].mark, describe(cells[1]), "a drop that rises with the current",
                                 hint="another of the points has less of the one and more of the other")
    if isinstance(node := entry.get("points"), Listing) and not node.items:
        entry.faults.add(entry.key_mark("points"), "points", "at least one point such as [1 mA, 0.62 V]")
    return points


def _knee_points(entry: Fields) -> Iterator[KneePoint]:
    for row in entry.items("knee", "pairs such as [5 mA, 60]"):
        cells = row.items if isinstance(row, Listing) else []
        if len(cells) != 2:
            entry.faults.add(row.mark, describe(row), "a pair such as [5 mA, 60]")
            continue
        current, ohm = (bounded(each, column, entry.faults) for each, column in zip(cells, tables.KNEE, strict=True))
        if current is not None and ohm is not None:
            yield KneePoint(current, ohm, "typical", GIVEN)


def _leakage_points(entry: Fields) -> list[LeakagePoint]:
    points = []
    for node in entry.items("leakage", "currents such as 25 nA at 20 V"):
        text = describe(node)
        what = 'a reverse current at a voltage, such as "25 nA at 20 V"'
        try:
            limits, rest = _limits(text)
            current, *conditions = re.split(r"\s+at\s+", rest)
            volts, celsius = conditions[0], conditions[1] if len(conditions) > 1 else f"{ROOM_C} °C"
            at_V, amps, at_C = number(volts, "V"), number(current, "A"), number(celsius, "°C")
            if any(outside(node, column, entry.faults, value)
                   for column, value in zip(tables.LEAKAGE, (amps, at_V, at_C), strict=True)):
                continue
            points += [LeakagePoint(at_V, amps, limit, at_C, GIVEN) for limit in limits]
        except ValueFault as fault:
            entry.faults.add(node.mark, text, what, hint=str(fault))
        except IndexError:
            entry.faults.add(node.mark, text, what, hint="the voltage is missing")
    return points


def _limits(text: str) -> tuple[tuple[str, ...], str]:
    """The limit words of a text and the text without them; a figure without a word counts as both."""
    words = _WORD.findall(text)
    return tuple(words) or ("typical", "maximum"), _WORD.sub(" ", text).strip()


def cell(entry: Fields, name: str) -> CellSpec:
    """`{chemistry: lithium-primary, volts: 3.0, capacity: 220 mAh, resistance: 15}` and more."""
    entry = entry.tabled(tables.CELL, "a cell given inline")
    entry.require("chemistry", f"such as {CHEMISTRIES[0]}")
    entry.require("volts", "of the whole pack")
    chemistry = entry.known_word("chemistry") or CHEMISTRIES[0]
    supercapacitor = chemistry == "supercapacitor"
    entry.require("capacitance" if supercapacitor else "capacity",
                  'such as "0.22 F"' if supercapacitor else 'such as "220 mAh"')
    entry.require("resistance", "the internal resistance of the whole pack")
    volts = entry.number("volts") or 0.0
    resistance = entry.number("resistance") or 0.0
    primary = entry.yes("primary")
    return CellSpec(
        name=entry.text("name") or name,
        chemistry=chemistry,
        primary=chemistry in PRIMARY_CHEMISTRIES if primary is None else primary,
        nominal_V=volts,
        capacity_Ah=0.0 if supercapacitor else entry.number("capacity") or 0.0,
        curve=_curve(entry, volts, resistance),
        self_discharge_per_year=entry.number("self_discharge") or 0.0,
        shelf_years=entry.number("shelf"),
        abnormal_charge_A=entry.number("abnormal_charge"),
        continuous_A=entry.number("continuous"),
        leak_share=_first(entry.number("share"), USUAL_LEAK_SHARE),
        trickle=_trickle(entry),
        charge_window=entry.span("charge"),
        capacitance_F=entry.number("capacitance"),
        temperature=entry.span("temperature"),
        lithium=chemistry.startswith("lithium"),
        figures=(GIVEN,),
    )


USUAL_LEAK_SHARE = 0.03
"""Share of the capacity that leakage may put in where the file states none (common practice, no source)."""


def _first(*numbers: float | None) -> float | None:
    return next((n for n in numbers if n is not None), None)


def _curve(entry: Fields, volts: float, resistance: float) -> tuple[CellPoint, ...]:
    """The curve given, or a flat one at the stated volts."""
    if "curve" not in entry:
        return CellPoint(0.0, volts, resistance), CellPoint(1.0, volts, resistance)
    points: list[CellPoint] = []
    for row in entry.items("curve", "points such as [20 %, 2.9 V]"):
        columns = row.items if isinstance(row, Listing) else []
        if len(columns) not in (2, 3):
            entry.faults.add(row.mark, describe(row), "a point such as [20 %, 2.9 V] or [20 %, 2.9 V, 18]")
            continue
        used, at_V = (bounded(node, column, entry.faults)
                      for node, column in zip(columns, tables.CURVE[:2], strict=False))
        ohm = bounded(columns[2], tables.CURVE[2], entry.faults) if len(columns) == 3 else resistance
        if used is None or at_V is None or ohm is None:
            continue
        if points and used <= points[-1].used:
            entry.faults.add(row.mark, describe(columns[0]),
                             "shares used that rise, from 0 % to at most 100 %")
        points.append(CellPoint(used, at_V, ohm))
    if len(points) < 2:
        entry.faults.add(entry.key_mark("curve"), "curve", "at least two points")
    return tuple(points)


def _trickle(entry: Fields) -> TrickleWindow | None:
    if "trickle" not in entry:
        return None
    nodes = entry.items("trickle", "three currents")
    found = [bounded(node, tables.TRICKLE, entry.faults) for node in nodes]
    least, most, harmful = (*found, None, None, None)[:3]
    if len(found) != 3 or least is None or most is None or harmful is None or not least <= most <= harmful:
        entry.faults.add(entry.key_mark("trickle"), "trickle",
                         "three rising currents: the least useful, the usual most, the harmful")
        return None
    return TrickleWindow(least, most, harmful)


def load(entry: Fields, name: str) -> LoadSpec:
    """`{draws: 2 uA at 3 V}`, also a list of them, each with `typical` or `maximum` where that is known.

    `most: 2 A` is the most that it ever draws: the maximum at every voltage that draws names.
    """
    entry = entry.tabled(tables.LOAD, "a load given inline")
    entry.require("draws", 'such as "2 uA at 3 V"')
    draws = tuple(point for node in entry.items("draws", 'draws such as "2 uA at 3 V"')
                  for point in draw_points(node, entry.faults))
    if isinstance(node := entry.get("draws"), Listing) and not node.items:
        entry.faults.add(entry.key_mark("draws"), "draws", 'at least one supply current such as "2 uA at 3 V"')
    most_A = entry.number("most")
    if most_A is not None:
        if draws and most_A < max(point.current_A for point in draws):
            entry.faults.add(entry.node.entries["most"].mark, describe(entry.node.entries["most"]),
                             "at least what it draws")
        usual = tuple(point for point in draws if point.limit != "maximum")
        draws = (*usual, *(replace(point, current_A=most_A, limit="maximum") for point in usual or draws[:1]))
    return LoadSpec(entry.text("name") or name, draws, entry.span("works"), most_A, figures=(GIVEN,),
                    runs=entry.span("runs"))


def draw_points(node: Node, faults: Faults) -> tuple[DrawPoint, ...]:
    """"2 uA", "2 uA at 3 V", "5 uA maximum at 3 V", "2 uA / 5 uA at 3 V" (typical / maximum)."""
    text = describe(node)
    try:
        limits, rest = _limits(text)
        current, *volts = re.split(r"\s+at\s+", rest, maxsplit=1)
        at_V = number(volts[0], "V") if volts else UNSTATED_DRAW_AT_V
        if "/" in current:
            typical, maximum = (number(part, "A") for part in current.split("/", 1))
            amps = {"typical": typical, "maximum": maximum}
        else:
            given = quantity(current, "A")
            amps = {limit: given.high if limit == "maximum" else given.value for limit in limits}
    except ValueFault as fault:
        faults.add(node.mark, text, 'a supply current such as "2 uA" or "2 uA at 3 V"', hint=str(fault))
        return ()
    if any(outside(node, tables.DRAW[0], faults, value) for value in dict.fromkeys(amps.values())) or \
            outside(node, tables.DRAW[1], faults, at_V):
        return ()
    if list(amps.values()) != sorted(amps.values()):
        faults.add(node.mark, text, "the typical current first, which is not above the maximum")
    return tuple(DrawPoint(at_V, amp, limit, GIVEN) for limit, amp in amps.items())


def transistor(entry: Fields, name: str) -> TransistorSpec:
    """`{polarity: npn, gain: 100}` or `{polarity: n-channel, threshold: 2 V, on: 5, cutoff: 1 uA}`."""
    entry = entry.tabled(tables.TRANSISTOR, "a transistor given inline")
    entry.require("polarity", "npn, pnp, n-channel or p-channel")
    polarity = entry.known_word("polarity") or POLARITIES[0]
    spec = TransistorSpec(
        entry.text("name") or name, polarity, gain=entry.number("gain"), threshold_V=entry.number("threshold"),
        on_ohm=entry.number("on"), cutoff_A=entry.number("cutoff"), figures=(GIVEN,))
    saturation_A = entry.number("IS")
    return spec if saturation_A is None else replace(spec, saturation_A=saturation_A)


def relay(entry: Fields, name: str) -> RelaySpec | None:
    """`{coil: 167, pulls: 3.75 V}`: the coil's resistance, and the volts at which it pulls for certain."""
    entry = entry.tabled(tables.RELAY, "a relay given inline")
    entry.require("coil", "the resistance of the coil")
    coil = entry.quantity("coil")
    if coil is None:
        return None
    if coil.low <= 0:
        entry.faults.add(entry.node.entries["coil"].mark, coil.text, "a value above zero")
    return RelaySpec(coil, entry.number("pulls"), entry.text("name") or "")


def regulator(entry: Fields, name: str) -> RegulatorSpec:
    """`{reference: 1.25 V ±2%, between: adjust-ground, …}` or, for a fixed one, `{output: 5 V ±4%, …}`."""
    entry = entry.tabled(tables.REGULATOR, "a regulator given inline")
    if ("reference" in entry) == ("output" in entry):
        entry.faults.add(entry.mark, ", ".join(entry.node.entries) or "{}",
                         "either reference (adjustable) or output (fixed)")
    if "reference" in entry:
        entry.require("between", "output-adjust, adjust-ground or shunt")
    adjust_A = entry.number("adjust_current")
    return RegulatorSpec(
        name=entry.text("name") or name,
        reference=entry.quantity("reference"),
        between=entry.known_word("between"),
        output=entry.quantity("output"),
        adjust_current_A=adjust_A or 0.0,
        adjust_current_max_A=_first(entry.number("adjust_current_max"), adjust_A) or 0.0,
        dropout_V=entry.number("dropout") or 0.0,
        dropout_typical_V=entry.number("dropout_typical"),
        dropout_least_V=entry.number("dropout_least"),
        limit_A=entry.number("limit"),
        minimum_load_A=entry.number("minimum_load"),
        minimum_load_typical_A=entry.number("minimum_load_typical"),
        ground_current_A=entry.number("ground_current") or 0.0,
        input_max_V=entry.number("input_max"),
        junction_max_C=entry.number("junction_max"),
        theta_junction_case=entry.number("junction_case"),
        theta_junction_ambient=entry.number("junction_ambient"),
        theta_case_sink=entry.number("case_sink"),
        theta_board=entry.number("junction_board"),
        power_max_W=entry.number("power_max"),
        open_V=entry.number("open_output"),
        back=entry.known_word("back"),
        polarity=entry.known_word("polarity") or "positive",
        output_capacitor=entry.text("output_capacitor") or "",
        esr=entry.span("esr"),
        figures=(GIVEN,),
    )


def connector(entry: Fields, name: str) -> ConnectorSpec:
    """`{pinout: {1: +5V, 2: GND}}`: what each pin ought to carry."""
    entry = entry.tabled(tables.CONNECTOR, "a connector given inline")
    pinout = entry.fields("pinout", "a mapping of pin to signal")
    signals = () if pinout is None else tuple(
        (pin, signal) for pin in pinout.node.entries if (signal := pinout.text(pin, "a signal")) is not None)
    return ConnectorSpec(entry.text("name") or name, signals, figures=(GIVEN,))
