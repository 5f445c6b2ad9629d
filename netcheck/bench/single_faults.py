"""What can be wrong with a board: every single fault that a person would think of, as a changed board."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, combinations
from math import comb

from msgspec import Struct
from msgspec.structs import replace
from typing_extensions import assert_never

from netcheck.bench.affordable import distances_from
from netcheck.bench.measure import Subject
from netcheck.fragment.kinds import COIL
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import ABSENT, PULLED, REST, choices
from netcheck.parts import cell
from netcheck.parts.specs import CellSpec, LoadSpec, ResistorSpec, TransistorSpec
from netcheck.quantities.values import Quantity
from netcheck.simulation.corner import Fault
from netcheck.simulation.elements import Resistance
from netcheck.wording.phrases import phrase

LEAKS_OHM = (1e3, 3.3e3, 10e3, 33e3, 100e3)
"""Sizes of a leak that a meter notices, each taken as anything within LEAK_SPREAD (common practice, no source)."""

LEAK_SPREAD = 1.8

SHORT_OHM = 0.1
"""A solder bridge, or a part that has failed short (common practice, no source)."""

SPENT = (0.1, 0.25, 0.4, 0.55, 0.7)
SPENT_SPREAD = 0.08
"""Shares of its fresh volts that a spent cell still has, each taken as anything within the spread: its volts are
fitted to the readings as a leak's size is (common practice, no source)."""

MOST_BRIDGES = 60

# Size of the fault, what it stands for either way, in words, and why: common practice, no source.
_FACTORS = ((10.0, 1.25, "ten times", "a band misread"), (0.1, 1.25, "a tenth of", "a band misread"),
            (5.0, 1.6, "about five times", "drifted"), (0.2, 1.6, "about a fifth of", "drifted"),
            (2.0, 1.6, "about twice", "drifted"), (0.5, 1.6, "about half", "drifted"))
_APPETITES = ((10.0, "ten"), (100.0, "a hundred"), (1000.0, "a thousand"))
_APPETITE_SPREAD = 3.2


class Hypothesis(Struct, frozen=True):
    """One thing that may be wrong (or nothing: `parts` and `nets` are then empty), and the board with it.

    around: where a fault may have any size, the board with it smaller and larger.
    family: the same for faults that differ in nothing but their size.
    """

    words: str
    subject: Subject
    parts: tuple[str, ...] = ()
    nets: tuple[str, ...] = ()
    around: tuple[Subject, Subject] | None = None
    family: str = ""

    @property
    def healthy(self) -> bool:
        return not (self.parts or self.nets)


class Hypotheses(Struct, frozen=True):
    """All that is tried; untried: pairs of nets between which no solder bridge is tried.

    parts_untried: parts of which no fault is tried, as they are further from the readings than those that are.
    """

    all: tuple[Hypothesis, ...]
    untried: int = 0
    parts_untried: int = 0


def hypotheses(fragment: Fragment, nets: Iterable[str] = (), most: int | None = None) -> Hypotheses:
    """No fault, every single fault of every part and supply, and solder bridges between nets.

    most: about how many faults of parts may be tried, those of the parts nearest to these nets first.
    """
    parts, bare = list(fragment.fitted), set(fragment.rails) | {fragment.ground}
    if most is not None:
        hops, far = distances_from(fragment, nets), len(fragment.nets)
        parts.sort(key=lambda part: min((hops.get(net, far) for net in part.nets if net not in bare), default=far))
    faults: list[Hypothesis] = []
    tried = 0
    for part in parts:
        if most is not None and len(faults) >= most:
            break
        faults += of_part(fragment, part)
        tried += 1
    bridges, untried = _bridges(fragment, parts)
    healthy = Hypothesis("no fault: tolerances, or a slip in a reading", Subject(fragment))
    return Hypotheses((healthy, *faults, *_supplies(fragment), *bridges), untried, len(parts) - tried)


def of_part(fragment: Fragment, part: Part) -> Iterator[Hypothesis]:
    """Every single fault of one part."""
    match part.kind:
        case Kind.RESISTOR:
            yield from _open_and_short(fragment, part)
            yield from _misread(fragment, part)
        case Kind.INDUCTOR:
            yield from _open_and_short(fragment, part)
        case Kind.FUSE:
            yield _open(fragment, part, f"{part.name} blown")
        case Kind.DIODE:
            yield from _open_and_short(fragment, part)
            yield _turned(fragment, part, "anode", "cathode", f"{part.name} fitted backwards")
            yield from _leaky(fragment, part)
        case Kind.CAPACITOR:
            yield from _shorts(fragment, part)
            yield from _leaky(fragment, part)
        case Kind.TRANSISTOR:
            yield _open(fragment, part)
            yield from _shorts(fragment, part)
            assert isinstance(part.spec, TransistorSpec)
            ends = ("collector", "emitter") if part.spec.bipolar else ("drain", "source")
            yield _turned(fragment, part, *ends, f"{part.name} turned round ({ends[0]} and {ends[1]} swapped)")
        case Kind.REGULATOR:
            yield _open(fragment, part)
            yield from _shorts(fragment, part)
        case Kind.CELL:
            yield from _cell(fragment, part)
        case Kind.LOAD:
            yield from _load(fragment, part)
        case Kind.JUMPER | Kind.SWITCH:
            yield from _links(fragment, part)
        case Kind.RELAY:
            yield from _stuck(fragment, part)
            yield from _shorts(fragment, part, (COIL,))
        case Kind.TRIMMER:
            yield from _trimmer(fragment, part)
        case Kind.CHIP:
            if part.clamp is not None:
                yield _open(fragment, part, f"{part.name} out, or its protection diodes open")
        case Kind.CONNECTOR:
            pass  # nothing of it is in the circuit
        case _:
            assert_never(part.kind)


def _with(fragment: Fragment, part: Part) -> Subject:
    return Subject(fragment.with_parts({**fragment.parts, part.name: part}))


def _joined(fragment: Fragment, name: str, one: str, other: str, ohm: float = SHORT_OHM) -> Subject:
    return Subject(fragment, extra=(Resistance(name, one, other, ohm),))


def _open(fragment: Fragment, part: Part, words: str = "") -> Hypothesis:
    return Hypothesis(words or f"{part.name} open", Subject(fragment, faults=(Fault(part.name, "open"),)),
                      (part.name,))


def _open_and_short(fragment: Fragment, part: Part) -> Iterator[Hypothesis]:
    yield _open(fragment, part)
    yield from _shorts(fragment, part)


def _shorts(
    fragment: Fragment, part: Part, pairs: Iterable[tuple[str, str]] | None = None
) -> Iterator[Hypothesis]:
    """A short between each pair of pins; between a rail and ground it drags that rail down."""
    for one, other in combinations(part.pins, 2) if pairs is None else pairs:
        nets = part.pins[one], part.pins[other]
        between = f" from {one} to {other}" if len(part.pins) > 2 else ""
        words = f"{part.name} short{between}"
        driven = [net for net in nets if net in fragment.rails]
        if nets[0] == nets[1] or len(driven) > 1:
            continue
        if driven and fragment.ground in nets:
            yield Hypothesis(f"{words}, which drags {driven[0]} down", _dragged(fragment, driven[0]), (part.name,))
        else:
            yield Hypothesis(words, _joined(fragment, "(short)", *nets), (part.name,))


def _turned(fragment: Fragment, part: Part, one: str, other: str, words: str) -> Hypothesis:
    turned = replace(part, pins={**part.pins, one: part.pins[other], other: part.pins[one]})
    return Hypothesis(words, _with(fragment, turned), (part.name,))


def _leaky(fragment: Fragment, part: Part) -> Iterator[Hypothesis]:
    first, second = part.nets
    for ohm in LEAKS_OHM if first != second else ():
        least, own, most = (_joined(fragment, "(leak)", first, second, ohm * factor)
                            for factor in (1 / LEAK_SPREAD, 1.0, LEAK_SPREAD))
        yield Hypothesis(phrase("leaky", part=part.name, leak_ohm=ohm), own, (part.name,), (),
                         (least, most), f"{part.name} leaky")


def _misread(fragment: Fragment, part: Part) -> Iterator[Hypothesis]:
    spec = part.spec
    assert isinstance(spec, ResistorSpec)
    marked = spec.resistance

    def changed(factor: float) -> Subject:
        band = Quantity(marked.value * factor, marked.low * factor, marked.high * factor, marked.unit)
        return _with(fragment, replace(part, spec=replace(spec, resistance=band)))

    for factor, spread, times, why in _FACTORS:
        yield Hypothesis(
            phrase("off-value", part=part.name, times=times, value_ohm=marked.value * factor, why=why),
            changed(factor), (part.name,), (), (changed(factor / spread), changed(factor * spread)),
            f"{part.name} off value")


def _cell(fragment: Fragment, part: Part) -> Iterator[Hypothesis]:
    assert isinstance(part.spec, CellSpec)
    fresh = cell.volts(part.spec, 0.0)

    def spent(share: float) -> Subject:
        return _with(fragment, replace(part, measured_V=max(0.0, share) * fresh))

    for share in SPENT:
        yield Hypothesis(phrase("spent", part=part.name, left_V=share * fresh), spent(share),
                         (part.name,), (), (spent(share - SPENT_SPREAD), spent(share + SPENT_SPREAD)),
                         f"{part.name} spent")
    yield Hypothesis(f"{part.name} dead (0 V)", _with(fragment, replace(part, measured_V=0.0)), (part.name,))
    yield Hypothesis(f"{part.name} missing or without contact", Subject(fragment, without=(part.name,)),
                     (part.name,))
    yield _turned(fragment, part, "plus", "minus", f"{part.name} in backwards")


def _load(fragment: Fragment, part: Part) -> Iterator[Hypothesis]:
    spec = part.spec
    assert isinstance(spec, LoadSpec)

    def hungry(factor: float) -> Subject:
        draws = tuple(replace(point, current_A=point.current_A * factor) for point in spec.draws)
        return _with(fragment, replace(part, spec=replace(spec, draws=draws)))

    yield _open(fragment, part, f"{part.name} draws nothing (missing, or a pin lifted)")
    yield from _shorts(fragment, part)
    for factor, times in _APPETITES:
        yield Hypothesis(f"{part.name} draws about {times} times its current", hungry(factor), (part.name,), (),
                         (hungry(factor / _APPETITE_SPREAD), hungry(factor * _APPETITE_SPREAD)),
                         f"{part.name} draws too much")


def _links(fragment: Fragment, part: Part) -> Iterator[Hypothesis]:
    for position in choices(part):
        if position != part.position:
            words = f"{part.name} off, or without contact" if position == ABSENT or not part.positions[position] \
                else f"{part.name} stands at {position}"
            yield Hypothesis(words, Subject(fragment, positions={part.name: position}), (part.name,))


def _stuck(fragment: Fragment, part: Part) -> Iterator[Hypothesis]:
    """A relay that does not move, or makes no contact."""
    for position, why in ((REST, "its coil open or not driven"), (PULLED, "its contact welded")):
        yield Hypothesis(f"{part.name} stuck at {position} ({why})",
                         Subject(fragment, positions={part.name: position}), (part.name,))
    yield _open(fragment, part, f"{part.name} makes no contact")


def _trimmer(fragment: Fragment, part: Part) -> Iterator[Hypothesis]:
    """Another setting, a wiper without contact, a track worn through or short."""
    for position in choices(part):
        if position != part.position:
            yield Hypothesis(f"{part.name} turned to {position}", Subject(fragment, positions={part.name: position}),
                             (part.name,))
    for pin, words in (("wiper", "the wiper of {} makes no contact"), ("1", "{} open at end 1"),
                       ("2", "{} open at end 2")):
        yield Hypothesis(words.format(part.name), Subject(fragment, faults=(Fault(part.name, "open", pin=pin),)),
                         (part.name,))
    yield from _shorts(fragment, part)


def _supplies(fragment: Fragment) -> Iterator[Hypothesis]:
    for net, rail in fragment.rails.items():
        rails = {name: other for name, other in fragment.rails.items() if name != net}
        yield Hypothesis(f"{net} does not arrive (its track or connector open)",
                         Subject(replace(fragment, rails=rails)), nets=(net,))
        yield Hypothesis(f"{net} at 0 V (supply {rail.supply} off, or shorted)", _dragged(fragment, net),
                         nets=(net,))


def _dragged(fragment: Fragment, net: str) -> Subject:
    """A rail that stands at 0 V whatever its supply does."""
    rail = replace(fragment.rails[net], volts=Quantity(0.0, 0.0, 0.0, "V"), when_off="low")
    return Subject(replace(fragment, rails={**fragment.rails, net: rail}))


def _bridges(fragment: Fragment, parts: Sequence[Part]) -> tuple[list[Hypothesis], int]:
    """Solder bridges between nets, those first that a part, in this order, has on its pins; never between rails."""
    held = {fragment.ground, *fragment.rails}
    nets = fragment.nets
    place = {net: number for number, net in enumerate(nets)}
    near = (tuple(sorted(set(pair), key=place.__getitem__)) for part in parts for pair in combinations(part.nets, 2))
    among = len(held.intersection(nets))
    total = comb(len(nets), 2) - comb(among, 2)
    tried: dict[tuple[str, ...], None] = {}
    for pair in chain(near, combinations(nets, 2)):
        if len(tried) == MOST_BRIDGES:
            break
        if len(pair) == 2 and not held.issuperset(pair):
            tried[pair] = None
    return [
        Hypothesis(f"a bridge between {one} and {other}", _joined(fragment, "(bridge)", one, other), nets=(one, other))
        for one, other in tried
    ], total - len(tried)
