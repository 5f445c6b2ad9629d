"""Warnings about the tracing itself: what was perhaps seen or written wrongly. No current is computed."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from difflib import get_close_matches
from types import MappingProxyType

from netcheck.findings import Finding, Severity
from netcheck.fragment.groups import groups
from netcheck.fragment.kinds import COIL, DESIGNATORS, MANY_PINNED, ROWS
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts.markings import misfit
from netcheck.parts.specs import CapacitorSpec, DiodeSpec, FuseSpec, InductorSpec, LoadSpec, ResistorSpec, TrimmerSpec
from netcheck.quantities.values import Quantity, improbable
from netcheck.wording.sentence import Word

CHECK = "tracing"
_SHOWN = 6
"""Nets and pins that are named of many."""

_NOTHING: Mapping[str, Word] = MappingProxyType({})
_LETTERS = re.compile(r"[A-Za-z]+")
_UNCONNECTED = ("nc", "n/c", "n.c.", "none", "-")


def warnings(fragment: Fragment) -> tuple[Finding, ...]:
    """What a second look at the board should settle, in the order of the file."""
    found = [
        *_net_warnings(fragment), *_feedless(fragment), *_rail_warnings(fragment),
        *(warning for part in fragment.fitted for warning in _part_warnings(fragment, part)),
    ]
    return tuple(sorted(found, key=lambda finding: finding.line or 0))


def _warning(
    part: Part, case: str, severity: Severity = Severity.CAUTION, nets: Iterable[str] = (),
    words: Mapping[str, Word] = _NOTHING, figures: Mapping[str, float] = MappingProxyType({}),
) -> Finding:
    return Finding(CHECK, severity, part.name, case=case, parts=(part.name,), nets=tuple(nets), line=part.mark.line,
                   words=dict(words), figures=dict(figures))


def _net_warnings(fragment: Fragment) -> Iterator[Finding]:
    """Parts that float, nets with a single pin, nets that differ only in their letters' case."""
    pins: dict[str, list[tuple[Part, str]]] = defaultdict(list)
    for part in fragment.fitted:
        for pin, net in part.pins.items():
            pins[net].append((part, pin))
    clamped = {net for part in fragment.fitted if part.clamp for net in (part.clamp.to, *part.clamp.inputs)}
    held = {fragment.ground, *fragment.rails} | clamped
    if fragment.scope == "list":
        held |= pins.keys()
    alone = {net for net, ends in pins.items() if net not in held and len({p.name for p, _ in ends}) == 1}
    cut = _nets_of_several(fragment.found) | _left_open(fragment)
    firm = {net for net, ends in pins.items() if len(ends) > 1} | {fragment.ground, *fragment.rails}
    floating = {part.name for part in fragment.fitted
                if part.pins and part.clamp is None and alone.issuperset(part.nets)}
    for part in fragment.fitted:
        loose = [net for net in dict.fromkeys(part.nets) if net in alone and len(pins[net]) == 1]
        if part.name in floating:
            yield _warning(part, "floats", nets=dict.fromkeys(part.nets))
        elif loose and part.kind in MANY_PINNED:
            alike = {net: other for net in loose if (other := _meant(net, pins, firm))}
            yield _warning(part, "loose-pins", Severity.CAUTION if alike else Severity.NOTE, loose, {
                **_shown(loose), "slips": tuple(alike),
                **{f"slips_{place}_other": other for place, other in enumerate(alike.values())}})
        else:
            for net in loose:
                if net in cut:
                    continue
                other = _meant(net, pins, firm)
                alone_by_a_slip = other is not None and part.kind in (Kind.CELL, Kind.LOAD)
                yield _warning(part, "single-pin", Severity.UNKNOWN if alone_by_a_slip else Severity.CAUTION, (net,), {
                    "pin": f"{part.name}.{pins[net][0][1]}", **({"meant": other} if other else {})})
    yield from _declared_warnings(fragment, set(pins))
    yield from _spellings(pins)


def _nets_of_several(found: Fragment | None) -> set[str]:
    """Nets that more than one pin stood on as found: where a mod leaves one, it was cut, and not left untraced."""
    ends = [net for part in found.fitted for net in part.nets] if found is not None else []
    return {net for net in ends if ends.count(net) > 1}


def _left_open(fragment: Fragment) -> set[str]:
    """Nets of cells that are not fitted: traced up to the empty holder."""
    return {net for part in fragment.parts.values() if part.kind is Kind.CELL and not part.fitted for net in part.nets}


def _meant(net: str, pins: Mapping[str, list[tuple[Part, str]]], firm: Collection[str]) -> str | None:
    """The net that a net of one pin perhaps is; of two such that resemble each other only the later is asked about."""
    other = _resembling(net, pins) or _one_letter_off(net, firm)
    if other is not None and other in pins and len(pins[other]) == 1:
        order = list(pins)
        return other if order.index(other) < order.index(net) else None
    return other


def _resembling(net: str, known: Collection[str]) -> str | None:
    """A net whose name is so like this one's that one of them is perhaps a slip; D0 and D1, CELL+ and CELL- are not.

    >>> _resembling("RAMPN24", ["RAMPIN24", "D1"]), _resembling("D0", ["D1"]), _resembling("CELL+", ["CELL-"])
    ('RAMPIN24', None, None)
    >>> _resembling("cell", ["VRAM", "CELL"])
    'CELL'
    """
    if other := next((name for name in known if name != net and name.casefold() == net.casefold()), None):
        return other
    others = [name for name in known if name != net and _DIGITS.sub("", name) != _DIGITS.sub("", net)
              and not (len(name) == len(net) and name[:-1] == net[:-1])]
    return next(iter(get_close_matches(net, others, 1, 0.8)), None)


def _one_letter_off(net: str, firm: Collection[str]) -> str | None:
    """Of the nets that surely are some (ground, rails, those of several pins) the only one a single letter away.

    Of words alone, of three letters or more: in numbered names one sign is what tells them apart, as it is where the
    first or the last letter differs (KCLK and MCLK).

    >>> _one_letter_off("GMD", ["GND", "VM"]), _one_letter_off("GDN", ["GND"]), _one_letter_off("VB", ["VM"])
    ('GND', 'GND', None)
    >>> _one_letter_off("CSA", ["CSB"]), _one_letter_off("VC1", ["VD1"]), _one_letter_off("MCLK", ["KCLK"])
    (None, None, None)
    >>> _one_letter_off("CE1L", ["CELL"]), _one_letter_off("VC5", ["VCS"]), _one_letter_off("D1", ["DL"])
    ('CELL', None, None)
    """
    if other := next((name for name in firm if name != net and name.isalpha() and _in_letters(net) == name
                      and (net[0], net[-1]) == (name[0], name[-1])), None):
        return other
    if len(net) < 3 or not net.isalpha():
        return None
    near = [name for name in firm if name.isalpha() and name != net and len(name) == len(net) and (
        (_differs(net[1:-1], name[1:-1]) == 1 and (net[0], net[-1]) == (name[0], name[-1]))
        or (sorted(net) == sorted(name) and _differs(net, name) == 2))]
    return near[0] if len(near) == 1 else None


_DIGITS_LIKE = str.maketrans("0158", "OLSB")


def _in_letters(net: str) -> str:
    """A name with the letters that its digits resemble in print."""
    return net.translate(_DIGITS_LIKE)


def _differs(one: str, other: str) -> int:
    return sum(a != b for a, b in zip(one, other, strict=True))


_DIGITS = re.compile("[0-9]")


def _declared_warnings(fragment: Fragment, used: set[str]) -> Iterator[Finding]:
    for net, mark in fragment.declared_nets.items():
        if net not in used and net not in fragment.rails:
            yield Finding(CHECK, Severity.CAUTION, net, case="no-pin", nets=(net,), line=mark.line)
    if fragment.parts and fragment.ground not in used:
        fed = any(net in used for net in fragment.rails)  # its volts are against a net that leads nowhere
        yield Finding(CHECK, Severity.UNKNOWN if fed else Severity.CAUTION, fragment.ground, case="no-ground",
                      nets=(fragment.ground,))


def _spellings(pins: dict[str, list[tuple[Part, str]]]) -> Iterator[Finding]:
    seen: dict[str, str] = {}
    for net, ends in pins.items():
        other = seen.setdefault(net.casefold(), net)
        part = ends[0][0]
        if other != net:
            yield _warning(part, "capitals", nets=(other, net))
        if net.casefold() in _UNCONNECTED and len(ends) > 1:
            yield _warning(part, "joins-unconnected", nets=(net,), words={
                "pins": tuple(f"{p.name}.{pin}" for p, pin in ends[:_SHOWN]), "own": f"{net}1"})


def _part_warnings(fragment: Fragment, part: Part) -> Iterator[Finding]:
    pins = part.pins
    if part.kind is Kind.CELL and _looks_backwards(fragment, part):
        yield _warning(part, "backwards", nets=part.nets,
                       words={"ground": fragment.ground, "other": pins["minus"]})
    if len(pins) == 2 and len(set(part.nets)) == 1 and part.kind not in MANY_PINNED:
        yield _warning(part, "both-pins", nets=part.nets[:1])
    letters = _LETTERS.match(part.name)
    if letters and letters[0].upper() not in DESIGNATORS[part.kind]:
        yield _warning(part, "designator", Severity.NOTE,
                       words={"kind": str(part.kind), "usual": DESIGNATORS[part.kind][:3]})
    for kind, value in _values(part):
        if why := improbable(value, kind):
            yield _warning(part, why, words={"text": value.text, "kind": kind},
                           figures={f"value_{value.unit}": value.value})
    main = _main_value(part)
    if part.marked is not None and main is not None and (found := misfit(str(part.kind), main, part.marked)):
        yield _warning(
            part, f"marking-{found.case}", Severity.CAUTION if found.contradicts else Severity.NOTE,
            words={"marked": part.marked, "kind": str(part.kind), "read": tuple(one.scheme for one in found.readings)},
            figures={f"value_{main.unit}": main.value,
                     **{f"read_{place}_as_{main.unit}": one.value.value for place, one in enumerate(found.readings)}})


_LEAD = (Kind.DIODE, Kind.RESISTOR, Kind.FUSE, Kind.INDUCTOR)
"""What may stand in the lead of a cell."""


def _looks_backwards(fragment: Fragment, cell: Part) -> bool:
    """Whether the plus of a cell leads to nothing but the ground, on a board where nothing near it is negative."""
    ground, minus = fragment.ground, cell.pins["minus"]
    if minus == ground or _lead_end(fragment, cell, cell.pins["plus"]) != ground:
        return False
    near = next(group for group in groups(fragment) if cell.name in group.parts)
    parts = [fragment.parts[name] for name in near.parts]
    negative = any(net in fragment.rails and fragment.rails[net].volts.value < 0 for one in parts for net in one.nets)
    hangs_below = any(one.kind is Kind.LOAD and one.pins["plus"] == ground for one in parts)
    return not negative and not hangs_below


def _lead_end(fragment: Fragment, cell: Part, net: str) -> str:
    """Where the lead of a cell ends that begins on a net: past what alone stands in it."""
    passed = {cell.name}
    while net != fragment.ground and net not in fragment.rails:
        others = [part for part in fragment.fitted if net in part.nets and part.name not in passed]
        if len(others) != 1 or others[0].kind not in _LEAD:
            break
        passed.add(others[0].name)
        net = next((end for end in others[0].nets if end != net), fragment.ground)
    return net


def _main_value(part: Part) -> Quantity | None:
    match part.spec:
        case ResistorSpec(resistance=value) | TrimmerSpec(resistance=value):
            return value
        case CapacitorSpec(capacitance=value):
            return value
        case InductorSpec(inductance=value):
            return value
    return None


def _values(part: Part) -> Iterator[tuple[str, Quantity]]:
    """The values of a part that can be improbable, with the kind that says how."""
    value = _main_value(part)
    if value is not None:
        yield str(part.kind), value
    match part.spec:
        case FuseSpec(rating_A=float() as rating):
            yield "fuse", Quantity(rating, rating, rating, "A", f"{rating} A")
        case DiodeSpec(zener_V=Quantity() as zener):
            yield "zener", zener
        case LoadSpec(draws=draws, figures=figures) if figures and figures[0].sure == "given":
            for draw in draws[:1]:
                yield "load", Quantity(draw.current_A, draw.current_A, draw.current_A, "A", part.spec.name)


def _rail_warnings(fragment: Fragment) -> Iterator[Finding]:
    for rail in fragment.rails.values():
        if why := improbable(rail.volts, "rail"):
            yield Finding(CHECK, Severity.CAUTION, rail.net, case=f"rail-{why}", nets=(rail.net,), line=rail.mark.line,
                          words={"text": rail.volts.text}, figures={"value_V": rail.volts.value})


def _feedless(fragment: Fragment) -> Iterator[Finding]:
    """Loads that no rail and no cell reaches, whatever the jumpers and diodes do."""
    groups = _Groups(fragment.ground)
    sources = set(fragment.rails)
    for part in fragment.fitted:
        if part.kind is Kind.CELL:
            sources.update(part.nets)
        for a, b in _ways(part):
            groups.join(a, b)
    fed = {groups.of(net) for net in sources if net != fragment.ground}
    for part in fragment.of_kind(Kind.LOAD):
        ends = [net for net in part.nets if net != fragment.ground]
        if ends and not any(groups.of(net) in fed for net in ends):
            yield _warning(part, "no-source", nets=ends, words=_shown(ends))


def _ways(part: Part) -> Iterator[tuple[str, str]]:
    """Pairs of nets between which a part can carry direct current in some position."""
    if ROWS[part.kind].copper:
        for pairs in part.positions.values():
            yield from ((part.pins[a], part.pins[b]) for a, b in pairs)
        if part.kind is Kind.RELAY:
            yield tuple(part.pins[pin] for pin in COIL)  # type: ignore[misc]
    elif part.kind is Kind.CHIP:
        yield from ((part.pins[path.start], part.pins[path.end]) for path in part.paths)
        if part.clamp is not None:
            yield from ((net, part.clamp.to) for net in part.clamp.inputs)
    elif part.kind not in (Kind.CAPACITOR, Kind.LOAD, *MANY_PINNED):
        first, *others = part.nets
        yield from ((first, other) for other in others)


class _Groups:
    """Nets gathered into groups; the ground joins nothing."""

    def __init__(self, ground: str) -> None:
        self._ground = ground
        self._parent: dict[str, str] = {}

    def of(self, net: str) -> str:
        root = net
        while (up := self._parent.get(root, root)) != root:
            root = up
        while net != root:
            self._parent[net], net = root, self._parent.get(net, net)
        return root

    def join(self, a: str, b: str) -> None:
        if self._ground not in (a, b):
            self._parent[self.of(a)] = self.of(b)


def _shown(nets: Sequence[str]) -> dict[str, Word]:
    """The first few nets, and whether there are more."""
    return {"shown": tuple(nets[:_SHOWN]), **({"more": "yes"} if len(nets) > _SHOWN else {})}
