"""Diodes, cells, loads, transistors, regulators and pinouts that the fragment file itself describes."""

from __future__ import annotations

import re
from dataclasses import replace

from netcheck.parts.families import (
    BACK,
    BETWEEN,
    CHEMISTRIES,
    DIODE_FAMILIES,
    POLARITIES,
    PRIMARY_CHEMISTRIES,
    SIGNS,
)
from netcheck.parts.specs import (
    CellPoint,
    CellSpec,
    ConnectorSpec,
    DiodeParameters,
    DiodeSpec,
    DrawPoint,
    Figure,
    ForwardPoint,
    LeakagePoint,
    LoadSpec,
    RegulatorSpec,
    RelaySpec,
    TransistorSpec,
    TrickleWindow,
)
from netcheck.quantities.values import ValueFault, number, quantity
from netcheck.reading.fields import Fields, describe, value_of
from netcheck.reading.mistakes import Faults
from netcheck.reading.yaml_nodes import Listing, Node

GIVEN = Figure("given in the file", "given")
ROOM_C = 25.0
UNSTATED_DRAW_AT_V = 3.0  # where a draw without volts is pinned; it is the same at every voltage
LIMITS = ("typical", "maximum", "minimum")
_WORD = re.compile(r"\s*\b(typical|maximum)\b\s*")


def diode(entry: Fields, name: str) -> DiodeSpec:
    """`{IS: …, N: …, RS: …}`, `{points: [[1 mA, 0.62 V], …], leakage: 25 nA at 20 V}` or `{zener: 5.1 V}`."""
    entry.refuse_others(
        ("name", "family", "points", "leakage", "zener", "reverse", "current",
         "IS", "N", "RS", "EG", "XTI", "BV"),
        "a diode given inline")
    parameters = None
    if "IS" in entry or "N" in entry or "RS" in entry:
        entry.require("IS", "the saturation current")
        parameters = DiodeParameters(
            saturation_A=entry.number("IS", "A", least=1e-30) or 0.0,
            emission=1.0 if "N" not in entry else entry.number("N", "", least=0.1) or 1.0,
            series_ohm=entry.number("RS", "ohm", least=0) or 0.0,
            gap_eV=entry.number("EG", "eV", least=0),
            temperature_exponent=entry.number("XTI", ""),
            breakdown_V=entry.number("BV", "V", least=0),
        )
    if not any(key in entry for key in ("IS", "N", "RS", "points", "zener")):
        entry.faults.add(entry.mark, ", ".join(entry.node.entries) or "{}",
                         "IS (with N and RS), points, or zener: what makes the drop of this diode")
    return DiodeSpec(
        name=entry.text("name") or name,
        family=entry.word("family", DIODE_FAMILIES) or ("zener" if "zener" in entry else "silicon"),
        forward=tuple(_forward_points(entry)),
        leakage=tuple(_leakage_points(entry)),
        parameters=parameters,
        zener_V=entry.quantity("zener", "V"),
        reverse_V=entry.number("reverse", "V", least=0),
        current_A=entry.number("current", "A", least=0),
        figures=(GIVEN,),
    )


def _forward_points(entry: Fields) -> list[ForwardPoint]:
    points = []
    for row in entry.items("points", "pairs such as [1 mA, 0.62 V]"):
        cells = row.items if isinstance(row, Listing) else []
        if len(cells) not in (2, 3):
            entry.faults.add(row.mark, describe(row), "a pair such as [1 mA, 0.62 V]")
            continue
        current = value_of(cells[0], "A", entry.faults, least=0)
        volts = value_of(cells[1], "V", entry.faults, least=0)
        limit = describe(cells[2]) if len(cells) == 3 else "typical"
        if limit not in LIMITS:
            entry.faults.add(cells[2].mark, limit, "typical, maximum or minimum", near=LIMITS)
        if current is not None and volts is not None:
            points.append(ForwardPoint(current, volts, limit, ROOM_C, GIVEN))
    return points


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
    entry.refuse_others(
        ("name", "chemistry", "volts", "capacity", "resistance", "curve", "self_discharge", "shelf",
         "primary", "abnormal_charge", "fault_charge", "share", "trickle", "charge", "capacitance",
         "temperature"),
        "a cell given inline")
    entry.require("chemistry", f"such as {CHEMISTRIES[0]}")
    entry.require("volts", "of the whole pack")
    chemistry = entry.word("chemistry", CHEMISTRIES) or CHEMISTRIES[0]
    supercapacitor = chemistry == "supercapacitor"
    entry.require("capacitance" if supercapacitor else "capacity",
                  'such as "0.22 F"' if supercapacitor else 'such as "220 mAh"')
    entry.require("resistance", "the internal resistance of the whole pack")
    volts = entry.number("volts", "V", least=0) or 0.0
    resistance = entry.number("resistance", "ohm", least=0) or 0.0
    primary = entry.yes("primary")
    if "abnormal_charge" in entry and "fault_charge" in entry:
        entry.faults.add(entry.key_mark("fault_charge"), "fault_charge",
                         "only one of abnormal_charge and fault_charge")
    return CellSpec(
        name=entry.text("name") or name,
        chemistry=chemistry,
        primary=chemistry in PRIMARY_CHEMISTRIES if primary is None else primary,
        nominal_V=volts,
        capacity_Ah=entry.number("capacity", "Ah", least=0.0 if supercapacitor else LEAST_CAPACITY_AH) or 0.0,
        curve=_curve(entry, volts, resistance),
        self_discharge_per_year=entry.number("self_discharge", "%", least=0) or 0.0,
        shelf_years=entry.number("shelf", "year", least=0),
        abnormal_charge_A=_first(entry.number("abnormal_charge", "A", least=0),
                                 entry.number("fault_charge", "A", least=0)),
        leak_share=_first(entry.number("share", "%", least=0), USUAL_LEAK_SHARE),
        trickle=_trickle(entry),
        charge_window=entry.span("charge", "V"),
        capacitance_F=entry.number("capacitance", "F", least=0),
        temperature=entry.span("temperature", "°C"),
        lithium=chemistry.startswith("lithium"),
        figures=(GIVEN,),
    )


USUAL_LEAK_SHARE = 0.03
"""Share of the capacity that leakage may put in where the file states none (common practice, no source)."""

LEAST_CAPACITY_AH = 1e-6


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
        used, at_V = value_of(columns[0], "%", entry.faults, least=0), value_of(columns[1], "V", entry.faults)
        ohm = value_of(columns[2], "ohm", entry.faults, least=0) if len(columns) == 3 else resistance
        if used is None or at_V is None or ohm is None:
            continue
        if used > 1 or (points and used <= points[-1].used):
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
    found = [value_of(node, "A", entry.faults, least=0) for node in nodes]
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
    entry.refuse_others(("name", "draws", "most", "works"), "a load given inline")
    entry.require("draws", 'such as "2 uA at 3 V"')
    draws = tuple(point for node in entry.items("draws", 'draws such as "2 uA at 3 V"')
                  for point in draw_points(node, entry.faults))
    most_A = entry.number("most", "A", least=0)
    if most_A is not None:
        if draws and most_A < max(point.current_A for point in draws):
            entry.faults.add(entry.node.entries["most"].mark, describe(entry.node.entries["most"]),
                             "at least what it draws")
        usual = tuple(point for point in draws if point.limit != "maximum")
        draws = (*usual, *(replace(point, current_A=most_A, limit="maximum") for point in usual or draws[:1]))
    return LoadSpec(entry.text("name") or name, draws, entry.span("works", "V"), most_A, figures=(GIVEN,))


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
    if min(amps.values()) < 0 or list(amps.values()) != sorted(amps.values()):
        faults.add(node.mark, text, "a current of 0 or more, the typical one first")
    return tuple(DrawPoint(at_V, amp, limit, GIVEN) for limit, amp in amps.items())


def transistor(entry: Fields, name: str) -> TransistorSpec:
    """`{polarity: npn, gain: 100}` or `{polarity: n-channel, threshold: 2 V, on: 5, cutoff: 1 uA}`."""
    entry.refuse_others(("name", "polarity", "gain", "threshold", "on", "cutoff", "IS"), "a transistor given inline")
    entry.require("polarity", "npn, pnp, n-channel or p-channel")
    polarity = entry.word("polarity", POLARITIES) or POLARITIES[0]
    spec = TransistorSpec(
        entry.text("name") or name, polarity, gain=entry.number("gain", "", least=0),
        threshold_V=entry.number("threshold", "V", least=0), on_ohm=entry.number("on", "ohm", least=0),
        cutoff_A=entry.number("cutoff", "A", least=0), figures=(GIVEN,))
    saturation_A = entry.number("IS", "A", least=1e-30)
    return spec if saturation_A is None else replace(spec, saturation_A=saturation_A)


def relay(entry: Fields, name: str) -> RelaySpec | None:
    """`{coil: 167, pulls: 3.75 V}`: the coil's resistance, and the volts at which it pulls for certain."""
    entry.refuse_others(("name", "coil", "pulls"), "a relay given inline")
    entry.require("coil", "the resistance of the coil")
    coil = entry.quantity("coil", "ohm")
    if coil is None:
        return None
    if coil.low <= 0:
        entry.faults.add(entry.node.entries["coil"].mark, coil.text, "a value above zero")
    return RelaySpec(coil, entry.number("pulls", "V", least=0), entry.text("name") or "")


def regulator(entry: Fields, name: str) -> RegulatorSpec:
    """`{reference: 1.25 V ±2%, between: adjust-ground, …}` or, for a fixed one, `{output: 5 V ±4%, …}`."""
    entry.refuse_others(
        ("name", "reference", "between", "output", "adjust_current", "adjust_current_max", "dropout",
         "dropout_typical", "dropout_least", "limit", "minimum_load", "minimum_load_typical", "ground_current",
         "input_max", "junction_max", "junction_case", "junction_ambient", "case_sink", "junction_board", "power_max",
         "open_output", "back", "polarity", "output_capacitor", "esr"), "a regulator given inline")
    if ("reference" in entry) == ("output" in entry):
        entry.faults.add(entry.mark, ", ".join(entry.node.entries) or "{}",
                         "either reference (adjustable) or output (fixed)")
    if "reference" in entry:
        entry.require("between", "output-adjust, adjust-ground or shunt")
    adjust_A = entry.number("adjust_current", "A")
    return RegulatorSpec(
        name=entry.text("name") or name,
        reference=entry.quantity("reference", "V"),
        between=entry.word("between", BETWEEN),
        output=entry.quantity("output", "V"),
        adjust_current_A=adjust_A or 0.0,
        adjust_current_max_A=_first(entry.number("adjust_current_max", "A"), adjust_A) or 0.0,
        dropout_V=entry.number("dropout", "V", least=0) or 0.0,
        dropout_typical_V=entry.number("dropout_typical", "V", least=0),
        dropout_least_V=entry.number("dropout_least", "V", least=0),
        limit_A=entry.number("limit", "A", least=0),
        minimum_load_A=entry.number("minimum_load", "A", least=0),
        minimum_load_typical_A=entry.number("minimum_load_typical", "A", least=0),
        ground_current_A=entry.number("ground_current", "A", least=0) or 0.0,
        input_max_V=entry.number("input_max", "V", least=0),
        junction_max_C=entry.number("junction_max", "°C"),
        theta_junction_case=entry.number("junction_case", "K/W", least=0),
        theta_junction_ambient=entry.number("junction_ambient", "K/W", least=0),
        theta_case_sink=entry.number("case_sink", "K/W", least=0),
        theta_board=entry.number("junction_board", "K/W", least=0),
        power_max_W=entry.number("power_max", "W", least=0),
        open_V=entry.number("open_output", "V", least=0),
        back=entry.word("back", BACK),
        polarity=entry.word("polarity", SIGNS) or SIGNS[0],
        output_capacitor=entry.text("output_capacitor") or "",
        esr=entry.span("esr", "ohm"),
        figures=(GIVEN,),
    )


def connector(entry: Fields, name: str) -> ConnectorSpec:
    """`{pinout: {1: +5V, 2: GND}}`: what each pin ought to carry."""
    entry.refuse_others(("name", "pinout"), "a connector given inline")
    pinout = entry.fields("pinout", "a mapping of pin to signal")
    signals = () if pinout is None else tuple(
        (pin, signal) for pin in pinout.node.entries if (signal := pinout.text(pin, "a signal")) is not None)
    return ConnectorSpec(entry.text("name") or name, signals, figures=(GIVEN,))
