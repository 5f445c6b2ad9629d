"""From a traced fragment, a state and a corner to the circuit that the simulator solves."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from functools import lru_cache
from math import nan

from msgspec import Struct
from msgspec.structs import replace
from typing_extensions import assert_never

from netcheck.fragment.groups import groups
from netcheck.fragment.kinds import COIL
from netcheck.fragment.model import Fragment, Kind, Part, Rail
from netcheck.fragment.paths import is_open
from netcheck.fragment.states import REST, State, joined_pins
from netcheck.parts import cell, diode, load
from netcheck.parts.capacitor_laws import leakage
from netcheck.parts.catalogue import family
from netcheck.parts.specs import (
    CapacitorSpec,
    CellSpec,
    ChipSpec,
    ConnectorSpec,
    DiodeParameters,
    DiodeSpec,
    FuseSpec,
    InductorSpec,
    LinkSpec,
    LoadSpec,
    RegulatorSpec,
    RelaySpec,
    ResistorSpec,
    TransistorSpec,
    TrimmerSpec,
)
from netcheck.quantities.values import Quantity
from netcheck.simulation import models
from netcheck.simulation.corner import Corner, Fault, same
from netcheck.simulation.elements import (
    Battery,
    Bipolar,
    Capacitance,
    Circuit,
    Draw,
    Element,
    FieldEffect,
    Junction,
    Regulation,
    Resistance,
    Source,
)
from netcheck.simulation.memory import Memory

SHORT_OHM = 1e-3  # a part that has failed short
WIPER_OHM = 0.01  # of a wiper at the end of its track: as a link
ONE_WAY = 0.02  # emission coefficient of a way that blocks backwards and drops next to nothing: some 10 mV
ROOM_C = 25.0
CUTOFF_KNEE_V = 0.1  # volts over which the current of a transistor that is off sets in
LEAST_LEAKAGE_POWER = 0.05  # reverse current never stands quite still, or the net between two diodes has no volts
SEEPS_AT_V = 3.0  # where the leakage of a capacitor is pinned: a backed-up net
LEAST_SEEPING_A = 1e-9  # less than the self-discharge of any cell
LEAKIEST = "wet"  # of the families with polarity
TYPICAL_CUTOFF = 0.1  # of the published most, where nothing typical is published: common practice, no source
USUAL_GAIN = 100.0  # of a small transistor: common practice, no source

_GAP_eV, _TEMPERATURE_EXPONENT = 1.11, 3.0  # silicon, the defaults of the SPICE diode law
# A chip's input protection diode: common practice, no source.
_CLAMP = DiodeSpec("clamp", "silicon", parameters=DiodeParameters(
    1e-14, 1.0, series_ohm=10.0, gap_eV=_GAP_eV, temperature_exponent=_TEMPERATURE_EXPONENT))


def circuit_of(
    fragment: Fragment,
    state: State,
    corner: Corner,
    faults: Sequence[Fault] = (),
    without: Collection[str] = (),
    extra: Sequence[Element] = (),
    lasting_A: float | None = None,
) -> Circuit:
    """The circuit of a fragment as it stands in a state, with every tolerance at its corner.

    Elements carry the names of their parts, rails those of their nets, a chip's
    clamp diodes names like "U5.clamp.NET" (up) and "U5.clamp.NET.ground" (from
    ground), a jumper that joins more than two pins "JP1", "JP1.2", …, a trimmer's two halves "RV1" and
    "RV1.2", a relay's coil "K1.coil" and its closed contact "K1".

    What is not known of a part, such as a diode's drop, is handed on as not a
    number: the simulator then answers with a problem that names it.

    faults: parts that have failed. A two-pin part that is short becomes a
    resistance under its own name; of others the short is added beside it, as
    "Q1.short". without: names of parts (or rails) left out. extra: elements added.
    lasting_A: what loads the cells for good [A], where the fragment is a section of the board; else worked out.
    """
    corner = same(corner)
    steady = steady_A(fragment, corner) if lasting_A is None else lasting_A
    sound = _sound(fragment, state, corner, steady)
    if not (faults or without or extra):
        return Circuit(sound.elements, fragment.ground, corner.temperature_C)
    failed = {fault.part: fault for fault in faults}
    elements: list[Element] = []
    at = 0
    for name, part, start, end in sound.places:
        fault = failed.get(name) if part is not None else None
        if fault is not None or name in without:
            elements += sound.elements[at:start]
            at = end
            if part is not None and fault is not None and name not in without:
                elements += map(_one_object, _faulty(part, fault, fragment, state, corner))
    elements += sound.elements[at:]
    elements += map(_one_object, extra)
    return Circuit(tuple(elements), fragment.ground, corner.temperature_C)


class _Sound(Struct, frozen=True):
    """The elements of a fragment as it stands, nothing failed, and where those of each rail and plugged part lie.

    Kept with what it is told apart by. places: name, the part (None for a rail), first place and the one past the last.
    """

    fragment: Fragment
    state: State
    corner: Corner
    elements: tuple[Element, ...]
    places: tuple[tuple[str, Part | None, int, int], ...]


def _sound(fragment: Fragment, state: State, corner: Corner, steady_A: float) -> _Sound:
    key = (id(fragment), id(state), id(corner), steady_A)
    found = _stood.get(key)
    if found is not None:
        return found
    ends = dict(corner.ends)
    elements: list[Element] = []
    places: list[tuple[str, Part | None, int, int]] = []
    for rail in fragment.rails.values():
        start = len(elements)
        elements += _rail(rail, fragment.ground, state, ends.get(rail.net, corner.supply))
        places.append((rail.net, None, start, len(elements)))
    for part in fragment.fitted:
        if not _plugged(part, state):
            continue
        start = len(elements)
        elements += _made(part, state, corner, fragment.ground, steady_A)
        if part.paths:
            elements += map(_one_object, _through_chip(part, fragment, state, corner))
        places.append((part.name, part, start, len(elements)))
    found = _Sound(fragment, state, corner, tuple(elements), tuple(places))
    _stood.put(key, found, len(elements) + len(places))
    return found


def _faulty(part: Part, fault: Fault, fragment: Fragment, state: State, corner: Corner) -> Iterator[Element]:
    """What is left of a part that has failed."""
    if fault.how == "short":
        yield from _shorted(part, fault, state, corner, fragment.ground)
        yield from _through_chip(part, fragment, state, corner)
    elif fault.pin is not None:
        lifted = replace(part, pins={**part.pins, fault.pin: f"{part.name}.{fault.pin} (open)"})
        idle = replace(state, positions={**state.positions, part.name: REST}) if fault.pin in COIL else state
        yield from _healthy(lifted, idle, corner, fragment.ground)


def toleranced(quantity: Quantity, place: float) -> float:
    """The value at a place in its tolerance: -1 its low end, 0 nominal, +1 its high end.

    >>> toleranced(Quantity(5.0, 4.75, 5.25, "V"), -1)
    4.75
    """
    if place < 0:
        return quantity.value + place * (quantity.value - quantity.low)
    return quantity.value + place * (quantity.high - quantity.value)


def _rail(rail: Rail, ground: str, state: State, place: float) -> Iterator[Source]:
    """The rail's source, at this place in its tolerance: the high end of a negative one is further from 0 V."""
    if state.supplies.get(rail.supply, False):
        away = place if rail.volts.value >= 0 else -place
        yield _held(rail.net, ground, toleranced(rail.volts, away))
    elif rail.when_off == "low" and rail.net != ground:
        yield _held(rail.net, ground, 0.0)


@lru_cache(maxsize=4096)
def _held(net: str, ground: str, volts: float) -> Source:
    return Source(net, net, ground, volts)


def _plugged(part: Part, state: State) -> bool:
    return bool(state.plugged.get(part.name, True)) if part.plugged is None else part.plugged


def _shorted(part: Part, fault: Fault, state: State, corner: Corner, ground: str) -> Iterator[Element]:
    a, b = fault.nets or (part.pins[pin] for pin in fault.pins or tuple(part.pins)[:2])
    if len(part.pins) == 2 and not fault.nets:
        yield Resistance(part.name, a, b, SHORT_OHM)
    else:
        yield from _healthy(part, state, corner, ground)
        yield Resistance(f"{part.name}.short", a, b, SHORT_OHM)


def steady_A(fragment: Fragment, corner: Corner) -> float:
    """What the loads that no rail feeds directly draw together [A]: the most that a cell carries for good.

    Of the loads those count that can hang on a cell; where they are several groups, those of the group that draws most.
    """
    key = (id(fragment), corner.draw)
    found = _steady.get(key)
    if found is None:
        together = [[fragment.parts[name] for name in group.parts] for group in groups(fragment)]
        groups_A = [sum(_drawn_A(fragment, part, corner) for part in parts) for parts in together
                    if any(part.kind is Kind.CELL for part in parts)]
        found = (fragment, max(groups_A, default=0.0))
        _steady.put(key, found, 1)
    return found[1]


def _drawn_A(fragment: Fragment, part: Part, corner: Corner) -> float:
    """What a load draws; nothing of one that stands right on a rail."""
    spec = part.spec
    if not isinstance(spec, LoadSpec) or not spec.draws or part.pins["plus"] in fragment.rails:
        return 0.0
    return load.draw(spec, corner.draw).amps


_steady: Memory[tuple[int, str], tuple[Fragment, float]] = Memory(64)
_stood: Memory[tuple[int, int, int, float], _Sound] = Memory(400_000)
_same: Memory[Element, Element] = Memory(200_000)
_known: Memory[tuple[int, int, str, str | None, float], tuple[Part, Corner, tuple[Element, ...]]] = Memory(200_000)
"""What was worked out before. Fragments, parts and corners are told apart as objects, which are kept."""


def _made(part: Part, state: State, corner: Corner, ground: str, steady_A: float) -> tuple[Element, ...]:
    """As _healthy: most states have most parts in common."""
    key = (id(part), id(corner), ground, state.positions.get(part.name), steady_A)
    found = _known.get(key)
    if found is None:
        made = _healthy(part, state, corner, ground, steady_A)
        found = (part, corner, tuple(_one_object(element) for element in made))
        _known.put(key, found, 1)
    return found[2]


def _one_object(element: Element) -> Element:
    """The same object for equal elements, so that whoever remembers circuits need not look into them."""
    known = _same.get(element)
    if known is None:
        _same.put(element, known := element, 1)
    return known


def _healthy(part: Part, state: State, corner: Corner, ground: str, steady_A: float = 0.0) -> Iterator[Element]:
    """The elements of a part; none for a connector or a chip without clamps. steady_A: what loads a cell [A]."""
    name, pins, spec = part.name, part.pins, part.spec
    match spec:
        case ResistorSpec():
            yield Resistance(name, pins["1"], pins["2"], toleranced(spec.resistance, corner.resistance))
        case TrimmerSpec():
            yield from _trimmer(part, spec, state, corner)
        case RelaySpec():
            one, other = (pins[pin] for pin in COIL)
            yield Resistance(f"{name}.coil", one, other, toleranced(spec.coil, corner.resistance))
            for one, other in joined_pins(part, state.positions[name]):
                yield Resistance(name, pins[one], pins[other], spec.contact_ohm)
        case InductorSpec() | FuseSpec():
            yield Resistance(name, pins["1"], pins["2"], spec.resistance_ohm)
        case LinkSpec():
            for place, (one, other) in enumerate(joined_pins(part, state.positions[name]), 1):
                link = name if place == 1 else f"{name}.{place}"
                yield Resistance(link, pins[one], pins[other], spec.resistance_ohm)
        case DiodeSpec():
            yield _junction(name, pins["anode"], pins["cathode"], spec, corner)
        case CellSpec():
            used = 1.0 if corner.flat == name else corner.used
            if spec.capacitance_F is not None and used < 1.0:
                used = 0.0  # a capacitor is charged or it is flat; it does not age by use
            volts = cell.volts(spec, used, part.measured_V, corner.temperature_C, steady_A)
            yield Battery(name, pins["plus"], pins["minus"], volts, cell.resistance(spec, used))
        case LoadSpec():
            drawn = load.draw(spec, corner.draw)
            yield Draw(name, pins["plus"], pins["minus"], drawn.amps, drawn.at_V, drawn.siemens)
        case CapacitorSpec():
            a, b = part.nets
            yield Capacitance(name, a, b, spec.capacitance.value, spec.esr_ohm or 0.0, spec.esl_H or 0.0)
            yield from _seeping(part, spec, corner)
        case TransistorSpec():
            yield _transistor(part, spec, corner)
            yield from _cutoff(part, spec, corner)
        case RegulatorSpec():
            yield _regulation(part, spec, corner, ground)
        case ChipSpec():
            yield from _clamps(part, corner, ground)
        case ConnectorSpec():
            pass
        case _:
            assert_never(spec)


def _seeping(part: Part, spec: CapacitorSpec, corner: Corner) -> Iterator[Draw]:
    """What leaks through a capacitor, in proportion to its volts: "C1.leak", and "C1.leak.back" without polarity.

    One with polarity and of no stated type counts as nothing typically and as the leakiest family at most.
    """
    polarised = "plus" in part.pins
    maximum = corner.leakage == "maximum"
    if spec.type == "unknown" and polarised and maximum:
        spec = replace(spec, type=LEAKIEST)
    leak = leakage(spec, SEEPS_AT_V, corner.temperature_C)
    amps = 0.0 if leak is None else leak.maximum_A if maximum else leak.typical_A
    if amps < LEAST_SEEPING_A:
        return
    one, other = part.nets
    ways = [("leak", one, other)] if polarised else [("leak", one, other), ("leak.back", other, one)]
    for name, start, end in ways:
        yield Draw(f"{part.name}.{name}", start, end, amps, SEEPS_AT_V, amps / SEEPS_AT_V)


def _trimmer(part: Part, spec: TrimmerSpec, state: State, corner: Corner) -> Iterator[Resistance]:
    """Two resistances that make up the track: "RV1" from end 1 to the wiper, "RV1.2" from there to end 2."""
    whole = toleranced(spec.resistance, corner.resistance)
    share = part.travel[state.positions.get(part.name, part.position or "middle")]
    wiper = part.pins["wiper"]
    yield Resistance(part.name, part.pins["1"], wiper, max(WIPER_OHM, share * whole))
    yield Resistance(f"{part.name}.2", wiper, part.pins["2"], max(WIPER_OHM, (1 - share) * whole))


def _junction(name: str, anode: str, cathode: str, spec: DiodeSpec, corner: Corner) -> Junction:
    try:
        at = diode.at(spec, corner.temperature_C, corner.drop, corner.leakage, _clamp_at(corner))
    except diode.UnknownDrop:
        return Junction(name, anode, cathode, nan, 1.0)
    series_ohm = at.series_ohm if spec.parameters else max(at.series_ohm, models.LEAST_SERIES_OHM)
    return Junction(
        name, anode, cathode, at.saturation_A, at.emission, series_ohm,
        at.leakage_A, at.leakage_at_V, max(at.leakage_power, LEAST_LEAKAGE_POWER), at.leakage_from_V,
        at.knees, at.breakdown_V,
    )


def _clamp_at(corner: Corner) -> str:
    """A zener passes most where leakage is at its most; else it follows the supplies: a high corner has it high."""
    if corner.leakage == "maximum":
        return "maximum"
    return "minimum" if corner.supply > 0 else "typical"


def _transistor(part: Part, spec: TransistorSpec, corner: Corner) -> Bipolar | FieldEffect:
    pins = part.pins
    if spec.bipolar:
        junctions = DiodeSpec(spec.name, "silicon", parameters=DiodeParameters(
            spec.saturation_A, 1.0, gap_eV=_GAP_eV, temperature_exponent=_TEMPERATURE_EXPONENT))
        saturation_A = diode.at(junctions, corner.temperature_C).saturation_A
        return Bipolar(part.name, pins["collector"], pins["base"], pins["emitter"],
                       spec.polarity == "npn", saturation_A, spec.gain or USUAL_GAIN)
    return FieldEffect(
        part.name, pins["drain"], pins["gate"], pins["source"], spec.polarity == "n-channel",
        nan if spec.threshold_V is None else spec.threshold_V, nan if spec.on_ohm is None else spec.on_ohm,
    )


def _cutoff(part: Part, spec: TransistorSpec, corner: Corner) -> Iterator[Draw]:
    """What passes a transistor that is off; the law of a silicon junction's leakage with temperature."""
    if spec.cutoff_A is None:
        return
    silicon = family("silicon")
    amps = spec.cutoff_A
    if corner.leakage == "typical":
        amps = spec.cutoff_typical_A or spec.cutoff_A * TYPICAL_CUTOFF
    amps *= 2 ** ((corner.temperature_C - ROOM_C) / silicon.doubling_K)
    first, second = ("collector", "emitter") if spec.bipolar else ("drain", "source")
    yield Draw(f"{part.name}.off", part.pins[first], part.pins[second], amps, knee_V=CUTOFF_KNEE_V)


def _regulation(part: Part, spec: RegulatorSpec, corner: Corner, ground: str) -> Regulation:
    """The reference takes the corner of the supplies: a high corner has everything that feeds high.

    A minimum load counts at a high corner as every specimen needs it, else as most do. An adjust pin that is on
    no net is open.
    """
    pins = part.pins
    held = spec.held
    between = "fixed" if spec.output else spec.between or "output-adjust"
    high, low = corner.supply > 0, corner.supply < 0
    idle = spec.minimum_load_A if high else spec.minimum_load_typical_A
    adjust_A = spec.adjust_current_max_A if high else 0.0 if low else spec.adjust_current_A
    source, output = pins.get("input"), pins["output"]
    if between == "shunt":
        source, output = output, pins.get("ground", ground)
    return Regulation(
        part.name, source or output, output,
        None if between == "fixed" else pins.get("adjust", f"{part.name}.adjust"),
        pins.get("ground", ground if between == "adjust-ground" else None),
        nan if held is None else abs(toleranced(held, corner.supply)), between,
        _dropout(spec, corner), adjust_A, spec.limit_A, 0.0 if low or between == "shunt" else idle or 0.0,
        0.0 if between == "shunt" else spec.ground_current_A, spec.back == "diode", spec.negative, spec.open_V,
    )


def _dropout(spec: RegulatorSpec, corner: Corner) -> float:
    """The dropout at a corner; what is not published stands at the worse end, 0 V for the least."""
    if corner.drop == "minimum":
        return spec.dropout_least_V or 0.0
    typical = spec.dropout_typical_V if corner.drop == "typical" else None
    return spec.dropout_V if typical is None else typical


def _through_chip(part: Part, fragment: Fragment, state: State, corner: Corner) -> Iterator[Element]:
    """The ways through a chip that are open: "U3.path1", …; a diode or charger carries current one way alone."""
    for place, path in enumerate(part.paths, 1):
        if not is_open(path, fragment, state):
            continue
        name, start, end = f"{part.name}.path{place}", part.pins[path.start], part.pins[path.end]
        if path.by == "switch" and not path.diodes:
            yield Resistance(name, start, end, WIPER_OHM if path.ohm is None else path.ohm)
            continue
        one = _junction(name, start, end, _CLAMP, corner)
        junctions = 1 if path.diodes is None and path.by == "diode" else path.diodes or 0
        ohm = 0.0 if path.by == "diode" and path.ohm is None else nan if path.ohm is None else path.ohm
        yield replace(one, emission=one.emission * (junctions or ONE_WAY), series_ohm=ohm)


def _clamps(part: Part, corner: Corner, ground: str) -> Iterator[Junction]:
    if part.clamp is None:
        return
    for net in part.clamp.inputs:
        up = f"{part.name}.clamp.{net}"
        yield _junction(up, net, part.clamp.to, _CLAMP, corner)
        if net != ground:
            yield _junction(f"{up}.ground", ground, net, _CLAMP, corner)
