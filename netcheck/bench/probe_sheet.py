"""The probe sheet: what a meter should show, in a safe order, before and after a cell goes in.

First with the power off and every cell out (resistance and diode tests, which
confirm the trace), then at the empty holders with the power on, then with the
cells in: power off, power on, and the other ways the board can stand.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import count
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from netcheck.bench import measure, meter
from netcheck.bench.affordable import affordable
from netcheck.bench.judgeable import CURRENT_TOO, judgeable, unseen
from netcheck.bench.measure import Depth, Measurement, Progress, Prospect, Subject, prospects
from netcheck.bench.meter import What
from netcheck.bench.power import capacitors_of, keeping_off, stopping
from netcheck.bench.sheet import Probe, ProbeSheet, Section
from netcheck.bench.sheet_states import chosen_states, moved, told_before
from netcheck.bench.swings import NOMINAL
from netcheck.checks.leakage import powered_hours
from netcheck.findings import Finding
from netcheck.fragment.kinds import COIL, COPPER, NUMBERED_PAIR
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State, enumerate_states, joined_pins
from netcheck.parts import cell as cells
from netcheck.parts.specs import CellSpec, TransistorSpec
from netcheck.quantities.words import in_ranges
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import OperatingPoint
from netcheck.simulation.operating_point import solve
from netcheck.wording.lists import designators
from netcheck.wording.phrases import phrase

MOST_SETTINGS = 16
"""Settings of one regulator that a sheet goes through, the lowest ones."""

_LOADED = 0.02
"""Share by which a meter must shift a net's volts before the sheet says so."""


class _Line(Struct, frozen=True):
    """A line of the sheet before its figures are known."""

    measurement: Measurement
    what_for: str
    limit: float | None = None
    note: str = ""


_Planned = tuple[str, tuple[str, ...], list[_Line]]

_POWER_OFF = (
    "Supply unplugged, every cell out, capacitors run down.",
    "Red lead on the net named first. The dead rails are taken as anything from open to shorted by the rest of "
    "the board, which is not traced: a reading above the band is a fault of the part or the trace, one below "
    "it may be a path outside the section. Wait until the reading stands still.",
)
_EMPTY = (
    "Power on, every cell out of its holder, black lead on the holder's minus.",
    CURRENT_TOO,
    "More than the limit: do not fit the cell.",
)
_PADS = (
    "Power off, the old capacitors run down and out, the new ones not yet in; then power on.",
    "Red lead on the pad for plus, black on the pad for minus. A reading below zero: the plus goes to the other pad. "
    "More than the new one is rated: do not fit it. Then power off, and wait until the rails are empty.",
)
_OFF = ("Power off. Fit the cells now, if everything above was within its limit.", )
_ON = ("Power on, cells in.", )
_POWER_OFF_ALONE = ("Supply unplugged, capacitors run down.", *_POWER_OFF[1:])
_OFF_ALONE, _ON_ALONE = ("Power off.",), ("Power on.",)
"""The same on a board without a cell."""


def probe_sheet(
    fragment: Fragment, meter_ohm: float = meter.INPUT_OHM, progress: Progress | None = None,
    dangers: Sequence[Finding] = (), regulators: Mapping[str, Any] | None = None,
) -> ProbeSheet:
    """The probe sheet of a variant; meter_ohm: input resistance of the voltmeter [ohm].

    dangers: what the check calls one, in its order (`VariantResult.dangers`). With any that is in some state, no
    cell is fitted: the sheet ends at the empty holders; and what harms without a cell is not powered at all.
    regulators: the settings that the check found of each (`VariantResult.regulators`): every one that harms nothing
    else is probed with what it feeds taken out, the lowest first.
    """
    stops = stopping(dangers)
    found = enumerate_states(fragment)
    off, on, others = chosen_states(fragment, found.states)
    kept_off = {state.name: keeping_off(fragment, stops, state) for state in (on, *others) if state is not None}
    powered = [state for state in (on, *others) if state is not None and not kept_off[state.name]]
    base = off or on or found.states[0]
    celled = bool(always_there(fragment))
    plan: list[_Planned] = [
        ("Power off, cells out: the parts and the trace" if celled else "Power off: the parts and the trace",
         _POWER_OFF if celled else _POWER_OFF_ALONE, list(_parts(fragment, base))),
        ("Power on, cells out: the empty holders", _EMPTY,
         list(_holders(fragment, powered, meter_ohm, {one.subject for one in stops}))),
    ]
    told: list[State] = []
    skipped: tuple[str, ...] = ()
    if on is not None:
        outputs, skipped = _outputs(fragment, _Powering(stops, found.states, on), regulators or {}, meter_ohm)
        plan += outputs
        told = told_before(fragment, on, others, [line.measurement.state for _, _, lines in outputs for line in lines])
        others = [state for state in others if state not in told]
    if (pads := list(_pads(fragment, powered[0], meter_ohm)) if powered else []):
        plan.insert(1, ("Power on, capacitors out: the empty pads", _PADS, pads))
    if not stops:
        for state, how in ((off, _OFF if celled else _OFF_ALONE), (on, _ON if celled else _ON_ALONE)):
            if state is not None:
                plan.append((f"State {state.name}", how, list(_nets(fragment, state, meter_ohm))))
        before = (on or off or base, *others)
        plan += [(f"State {state.name}", (*moved(fragment, last, state), _stands(state, celled)),
                  list(_nets(fragment, state, meter_ohm))) for last, state in zip(before, others, strict=False)]
    plan, beyond = _affordable(fragment, plan)
    filled = list(_filled(fragment, plan, progress))
    sections, left_out = judgeable(filled)
    if beyond:
        left_out += (f"{beyond} measurements further from the cells and loads, as the board is large. Check the "
                     "section around one of them in a file of its own to have them.",)
    shown = len({state.name for state in (off, on, *others, *told) if state is not None})
    return ProbeSheet(fragment.title, fragment.board, fragment.variant, sections, meter_ohm,
                      found.untried + len(found.states) - shown,
                      _why(stops, kept_off.values()), (*skipped, *left_out),
                      tuple(probe for section in filled for probe in section.probes
                            if probe.limit is not None and unseen(probe)), celled)


def _why(stops: Sequence[Finding], kept_off: Iterable[Sequence[Finding]]) -> str:
    """Why a sheet ends: the danger that the check tells first, and the first that keeps the power off."""
    off = next((found[0] for found in kept_off if found), None)
    return " ".join(dict.fromkeys(one.message for one in (*stops[:1], off) if one is not None))


def _affordable(fragment: Fragment, plan: Sequence[_Planned]) -> tuple[list[_Planned], int]:
    """The plan as far as a board of this size can have figures, what proves a cell safe always; how many lines less."""
    lines = [line for _, _, section in plan for line in section]
    kept = affordable(fragment, [line.measurement for line in lines],
                      [place for place, line in enumerate(lines) if line.limit is not None])
    places = count()
    left = [(title, how, [line for line in section if next(places) in kept]) for title, how, section in plan]
    return left, len(lines) - len(kept)


class _Powering(Struct, frozen=True):
    """What the check says of the states that the settings of a regulator are; on: at rest with the power on."""

    dangers: tuple[Finding, ...]
    states: tuple[State, ...]
    on: State

    def tried(self, positions: Mapping[str, str]) -> State | None:
        """The state that the check tried with links put like this; None where it left that out."""
        wanted = {**self.on.positions, **positions}
        return next((state for state in self.states if state.supplies == self.on.supplies
                     and state.plugged == self.on.plugged and state.positions == wanted), None)


def _outputs(
    fragment: Fragment, powering: _Powering, regulators: Mapping[str, Any], meter_ohm: float
) -> tuple[list[_Planned], tuple[str, ...]]:
    """The output of each adjustable regulator in every setting, the lowest first, with what it feeds taken out.

    With what is left out: settings that harm more than that are not powered.
    """
    plan: list[_Planned] = []
    skipped: list[str] = []
    for name, found in regulators.items():
        if not found["links"]:
            continue
        fed = tuple(found["windows_V"])
        lines = []
        kept_off: dict[str, tuple[Finding, ...]] = {}
        for setting in found["settings"][:MOST_SETTINGS]:
            words = ", ".join(f"{link} {position}" for link, position in setting["positions"].items())
            why = keeping_off(fragment, powering.dangers, powering.tried(setting["positions"]), fed, regulators)
            if why or _INPUT in setting["dangers"]:
                kept_off[words] = why
                continue
            on = powering.on
            state = replace(on, name=words, positions={**on.positions, **setting["positions"]})
            harms = setting["verdict"] == "danger"
            lines.append(_Line(
                Measurement(What.VOLTS, state, found["output"], fragment.ground, meter_ohm=meter_ohm,
                            without=(*always_there(fragment), *fed)),
                words, note=f"beyond what {' and '.join(fed)} can stand: never with it in place" if harms else ""))
        out = f"{' and '.join(fed)} out of the socket" if fed else "nothing at the output"
        plan.append((
            f"Power on, {out}: the settings of {name}, lowest first",
            (f"Power on with {out}; where it is soldered in, leave out the settings that it cannot stand.",
             "Power off before each link is moved. Fit what it feeds last, in the setting that reads right."), lines))
        skipped += _not_powered(name, kept_off)
    return plan, tuple(skipped)


_INPUT = "input"
"""The case of a setting that takes the regulator itself beyond what it stands."""


def _not_powered(name: str, kept_off: Mapping[str, tuple[Finding, ...]]) -> Iterator[str]:
    """Which settings of a regulator are not powered, and why; what has to be out for them."""
    if not kept_off:
        return
    found = [one for why in kept_off.values() for one in why]
    told = [*(one.message for one in found),
            *("More would stand across it than it bears." for why in kept_off.values() if not why)]
    first = f" Take {designators(out)} out first to have them." if (out := tuple(capacitors_of(found))) else ""
    yield (f"Settings of {name} that may not be powered as the board is: {'; '.join(kept_off)}. "
           f"{' '.join(dict.fromkeys(told))}{first}")


def _stands(state: State, celled: bool) -> str:
    """A state in words, for the line that says how to set the board up."""
    words = [*(f"supply {supply} {'on' if on else 'off'}" for supply, on in state.supplies.items()),
             *(f"{name} at {position}" for name, position in state.positions.items()),
             *(f"{name} {'plugged in' if there else 'unplugged'}" for name, there in state.plugged.items())]
    text = ", ".join(words)
    return f"{text[:1].upper()}{text[1:]}{', cells in' if celled else ''}."


def always_there(fragment: Fragment) -> tuple[str, ...]:
    """The cells that are to be taken out for tests at an empty board."""
    return tuple(part.name for part in fragment.of_kind(Kind.CELL))


def _parts(fragment: Fragment, state: State) -> Iterator[_Line]:
    """Resistance across each resistor, coil, fuse and closed jumper; diode tests both ways."""
    out = always_there(fragment)

    def line(what: What, at: str, against: str, what_for: str) -> _Line:
        return _Line(Measurement(what, state, at, against, without=out), what_for)

    for part in fragment.of_kind(Kind.RESISTOR, Kind.INDUCTOR, Kind.FUSE):
        if part.pins["1"] != part.pins["2"]:
            yield line(What.OHMS, part.pins["1"], part.pins["2"], part.name)
    for part in fragment.of_kind(Kind.TRIMMER):
        for one, other in (NUMBERED_PAIR, ("1", "wiper"), ("wiper", "2")):
            if part.pins[one] != part.pins[other]:
                yield line(What.OHMS, part.pins[one], part.pins[other],
                           f"{part.name} ({_end(one)} to {_end(other)}, {state.positions[part.name]})")
    for part in fragment.of_kind(Kind.RELAY):
        one, other = (part.pins[pin] for pin in COIL)
        yield line(What.OHMS, one, other, f"{part.name} (coil)")
    for part in fragment.of_kind(*COPPER):
        position = state.positions[part.name]
        for one, other in joined_pins(part, position):
            yield line(What.OHMS, part.pins[one], part.pins[other], f"{part.name} ({position})")
    for part in fragment.of_kind(Kind.DIODE, Kind.TRANSISTOR):
        for anode, cathode, which in _junctions(part):
            if part.pins[anode] != part.pins[cathode]:
                yield line(What.DIODE, part.pins[anode], part.pins[cathode], f"{part.name}{which}")
                yield line(What.DIODE, part.pins[cathode], part.pins[anode], f"{part.name}{which} reversed")


def _end(pin: str) -> str:
    return f"end {pin}" if pin.isdigit() else pin


def _junctions(part: Part) -> Iterator[tuple[str, str, str]]:
    """Anode pin, cathode pin and name of each junction of a diode or transistor."""
    spec = part.spec
    if not isinstance(spec, TransistorSpec):
        yield "anode", "cathode", ""
        return
    if spec.bipolar:
        for end in ("emitter", "collector"):
            yield ("base", end, f" base-{end}") if spec.polarity == "npn" else (end, "base", f" {end}-base")
    else:
        yield ("source", "drain", " body diode") if spec.polarity == "n-channel" else \
            ("drain", "source", " body diode")


def _holders(
    fragment: Fragment, states: Sequence[State], meter_ohm: float, harmed: Collection[str]
) -> Iterator[_Line]:
    """Volts and short-circuit current at each empty holder, wherever something could drive it.

    harmed: the cells that the check calls in danger. A rechargeable that is not takes less than what flows into a
    short, which has a band here and no limit.
    """
    soldered = tuple(part.name for part in fragment.of_kind(Kind.CELL) if part.plugged)
    for part in fragment.of_kind(Kind.CELL):
        for state in states:
            if not state.plugged.get(part.name, True) or not (state.live or any(state.plugged.values())):
                continue
            out = tuple(dict.fromkeys((*soldered, part.name)))
            plus, minus = part.pins["plus"], part.pins["minus"]
            limit_A = current_limit(fragment, part)
            where = f"{part.name} holder" if len(states) == 1 else f"{part.name} holder in {state.name}"
            packs = [name for name, there in state.plugged.items() if there and name not in out]
            where += f" ({' and '.join(packs)} plugged in)" if packs else ""
            yield _Line(Measurement(What.VOLTS, state, plus, minus, None, meter_ohm, out),
                        where, volts_limit(part, limit_A, meter_ohm))
            assert isinstance(part.spec, CellSpec)
            limit, note = (limit_A, "") if part.spec.primary or part.name in harmed else (
                None, f"into a short; less flows into {part.name} itself")
            yield _Line(Measurement(What.AMPS, state, plus, minus, None, meter_ohm, out), where, limit, note)


def current_limit(fragment: Fragment, part: Part) -> float | None:
    """The most that may flow into a cell for good [A]: a primary cell's leakage, a rechargeable's harm.

    For a primary cell the share of its capacity that may leak in, over the hours
    powered in the years of service; None where it is not stated.
    """
    spec = part.spec
    assert isinstance(spec, CellSpec)
    if not spec.primary:
        return spec.trickle.harmful_A if spec.trickle else None
    hours = powered_hours(fragment, unstated=24.0)
    return spec.leak_share * spec.capacity_Ah / hours if spec.leak_share is not None and hours else None


def volts_limit(part: Part, limit_A: float | None, meter_ohm: float) -> float | None:
    """The most that may stand at an empty holder [V].

    For a primary cell what its current limit drops across the voltmeter, but no
    more than its own fresh volts; for others the end of their charge window.
    """
    spec = part.spec
    assert isinstance(spec, CellSpec)
    if not spec.primary:
        return spec.charge_window.high if spec.charge_window else None
    fresh = cells.volts(spec, 0.0)
    return fresh if limit_A is None else min(limit_A * meter_ohm, fresh)


def _pads(fragment: Fragment, state: State, meter_ohm: float) -> Iterator[_Line]:
    """Volts at the pads of each polarised capacitor across supplies that a mod changes, before it goes in."""
    supplies = {fragment.ground, *fragment.rails, *(part.pins["output"] for part in fragment.of_kind(Kind.REGULATOR))}
    places: dict[tuple[str, str], list[Part]] = {}
    for part in fragment.of_kind(Kind.CAPACITOR):
        old = fragment.found.parts.get(part.name) if fragment.found is not None else part
        if "plus" in part.pins and supplies.issuperset(part.nets) and (
                old is None or old.spec != part.spec or dict(old.pins) != dict(part.pins)):
            places.setdefault((part.pins["plus"], part.pins["minus"]), []).append(part)
    for (plus, minus), parts in places.items():
        names = in_ranges([part.name for part in parts])
        yield _Line(Measurement(What.VOLTS, state, plus, minus, None, meter_ohm, always_there(fragment)),
                    f"{names} pads, plus against minus")


def _nets(fragment: Fragment, state: State, meter_ohm: float) -> Iterator[_Line]:
    dead = {rail.net for rail in fragment.rails.values() if not state.supplies[rail.supply]}
    for net in fragment.nets:
        if net != fragment.ground and net not in dead:
            yield _Line(Measurement(What.VOLTS, state, net, fragment.ground, None, meter_ohm), net)
    for part in fragment.of_kind(Kind.CELL):
        if state.plugged.get(part.name, True):
            yield _Line(Measurement(What.AMPS, state, None, through=part.name), f"{part.name} current")


def _filled(
    fragment: Fragment, plan: Sequence[_Planned], progress: Progress | None
) -> Iterator[Section]:
    """The sections with their figures, from two runs of the simulator: with the meter and without it."""
    subject = Subject(fragment)
    lines = [line for _, _, section in plan for line in section]
    found = prospects([(subject, line.measurement) for line in lines], progress, Depth.TOGETHER)
    states = {_setup(line.measurement): line.measurement for line in lines if not line.measurement.what.unpowered}
    bare = dict(zip(states, solve([circuit_of(fragment, m.state, NOMINAL, without=m.without)
                                   for m in states.values()]), strict=True))
    numbered = iter([
        _probe(step, line, prospect, bare.get(_setup(line.measurement)))
        for step, (line, prospect) in enumerate(zip(lines, found, strict=True), 1)])
    for title, how, section in plan:
        yield Section(title, how, tuple(next(numbered) for _ in section))


def _setup(measurement: Measurement) -> tuple[str, tuple[str, ...]]:
    return measurement.state.name, measurement.without


def _probe(step: int, line: _Line, prospect: Prospect, bare: OperatingPoint | None) -> Probe:
    measurement, what = line.measurement, line.measurement.what
    if prospect.problem is not None:
        return Probe(step, measurement, line.what_for, None, None, None, what.unit, line.limit, line.note,
                     prospect.problem)
    band = measure.band(what, prospect)
    notes = [line.note] if line.note else []
    if what is What.VOLTS and bare is not None and bare.known:
        notes += _loading(measurement, band.expected, bare)
    if measurement.through is not None and bare is not None and bare.known:
        charging = bare.amps.get(measurement.through, 0.0) < 0
        notes.append(f"flows into {measurement.through}: it is charged" if charging else
                     f"flows out of {measurement.through}")
    if what is What.OHMS and 10 * meter.LEADS_OHM < band.expected < math.inf and 2 * band.low < band.expected:
        notes.append("a meter with more test volts, or the rest of the board, may make it read less")
    return Probe(step, measurement, line.what_for, band.expected, band.low, band.high, what.unit, line.limit,
                 "; ".join(notes))


def _loading(measurement: Measurement, expected: float, bare: OperatingPoint) -> list[str]:
    """What the meter itself does to the volts it shows."""
    assert measurement.at is not None
    high, low = bare.volts.get(measurement.at), bare.volts.get(measurement.against or "", 0.0)
    if high is None or low is None:
        return ["floats: only the meter holds it, a charge left on it may show first"]
    free = high - low
    if abs(free - expected) <= max(_LOADED * abs(free), 2 * meter.error(What.VOLTS, free)):
        return []
    return [phrase("without-meter", free_V=free)]
