"""What each capacitor of a fragment is for, told from the circuit around it.

The more telling sign goes first: a chip's pin whose role is known, a regulator's pins, two rails, one rail, the backup
net, then what a resistor makes of it. What shows no sign is `unknown`, and is then kept as it is.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from functools import cached_property

from msgspec import Struct
from msgspec.structs import replace

from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts import capacitor as library
from netcheck.parts.capacitor import family
from netcheck.parts.specs import CapacitorSpec, ResistorSpec

PIN_ROLES: Mapping[str, str] = {
    "loop-filter": "loop-filter", "reset": "reset", "timing": "timing", "crystal": "crystal-load",
    "reference": "reference", "bias": "bias", "audio": "coupling",
}
"""A chip's pin role to that of the capacitor on it."""

KEPT_APART = {"regulator-input", "regulator-output", "rail", "decoupling", "between-rails"}
"""Roles across supplies: two of these are told by circuit alone, so that one may be said for the other."""

_RESET = re.compile(r"(?i)(?<![a-z])(?:n?res(?:et)?|n?rst|por)(?![a-z])")
_MOST_AT_AN_INPUT = 2  # capacitors on a rail up to which they count as those of the one regulator that it feeds


class Place(Struct, frozen=True):
    """What a capacitor is for.

    why: in words. rail: the supply that it stands across (of two, the first). of: the part that it serves. resistors:
    those that make the time with it. shown: what the circuit shows where the file says something else.
    """

    role: str
    why: str
    rail: str | None = None
    of: str | None = None
    resistors: tuple[str, ...] = ()
    stated: bool = False
    shown: str | None = None


def places(fragment: Fragment) -> dict[str, Place]:
    """The place of every fitted capacitor, by its name."""
    around = Surroundings(fragment)
    return {part.name: place(around, part) for part in fragment.of_kind(Kind.CAPACITOR)}


def place(around: Surroundings, part: Part) -> Place:
    """The place of one capacitor: as the file says, else as the circuit shows."""
    shown = next(_signs(around, part))
    if part.role is None:
        return shown
    role = part.role.strip().casefold().replace(" ", "-")
    role = PIN_ROLES.get(role, role)
    role = role if role in library.role_names() else "unknown"
    same = shown.role in (role, "unknown") or {shown.role, role} <= KEPT_APART
    return replace(shown, role=role, why=f"as the file says ({part.role})", stated=True,
                   shown=None if same else shown.role)


class Surroundings:
    """The nets of a fragment and what is on them, gathered once for all its capacitors."""

    def __init__(self, fragment: Fragment) -> None:
        self.fragment = fragment
        self.on: dict[str, list[tuple[Part, str]]] = defaultdict(list)
        for part in fragment.fitted:
            for pin, net in part.pins.items():
                self.on[net].append((part, pin))
        self.outputs = {part.pins["output"]: part for part in fragment.of_kind(Kind.REGULATOR) if "output" in part.pins}

    @cached_property
    def _same_supply(self) -> dict[str, str]:
        """Nets that a fuse, an inductor or a bead joins to a rail or to a regulator's output, and that supply."""
        found = {net: net for net in (*self.fragment.rails, *self.outputs)}
        waiting = list(found)
        while waiting:
            net = waiting.pop()
            for part, _ in self.on[net]:
                if part.kind in (Kind.FUSE, Kind.INDUCTOR):
                    for other in part.nets:
                        if other not in found and other != self.fragment.ground:
                            found[other] = found[net]
                            waiting.append(other)
        return found

    def supply(self, net: str) -> str | None:
        """The rail or regulator output that feeds a net directly; None for ground and every other net."""
        return None if net == self.fragment.ground else self._same_supply.get(net)

    def held(self, net: str) -> bool:
        """Whether a net is ground or a supply."""
        return net == self.fragment.ground or self.supply(net) is not None

    def of_kinds(self, net: str, *kinds: Kind) -> Iterator[tuple[Part, str]]:
        return ((part, pin) for part, pin in self.on[net] if part.kind in kinds)

    def resistors(self, net: str) -> dict[str, str]:
        """Resistors on a net, with the net at their other end."""
        return {part.name: next(other for other in part.nets if other != net)
                for part, _ in self.of_kinds(net, Kind.RESISTOR) if len(set(part.nets)) == 2}

    def pin_role(self, net: str) -> tuple[str, str] | None:
        """The chip and the role of its pin on a net, where the file gives one."""
        return next(((part.name, part.pin_roles[pin]) for part, pin in self.of_kinds(net, Kind.CHIP)
                     if pin in part.pin_roles), None)

    @cached_property
    def backup(self) -> Mapping[str, str]:
        """Nets that a cell can feed without going through a supply, and that cell."""
        found: dict[str, str] = {}
        for cell in self.fragment.of_kind(Kind.CELL):
            waiting = [cell.pins["plus"]]
            while waiting:
                net = waiting.pop()
                if net in found or self.held(net):
                    continue
                found[net] = cell.name
                waiting += [other for part, pin in self.on[net] for other in _onward(part, pin)]
        return found

    def capacitors_across(self, net: str) -> int:
        return sum(1 for part, _ in self.of_kinds(net, Kind.CAPACITOR)
                   if set(part.nets) == {net, self.fragment.ground})


def _onward(part: Part, pin: str) -> Collection[str]:
    """The nets to which a cell's current goes on through a part."""
    if part.kind is Kind.DIODE:
        return (part.pins["cathode"],) if pin == "anode" else ()
    if part.kind in (Kind.RESISTOR, Kind.FUSE, Kind.INDUCTOR, Kind.JUMPER, Kind.SWITCH):
        return part.nets
    if part.kind is Kind.TRANSISTOR:
        return [net for name, net in part.pins.items() if name not in ("base", "gate")]
    return ()


def _signs(around: Surroundings, part: Part) -> Iterator[Place]:
    """Every sign of what a capacitor is for, the most telling first; the last is that there is none."""
    nets = part.nets
    yield from _at_a_chips_pin(around, nets)
    yield from _at_a_regulator(around, nets)
    supplies = [around.supply(net) for net in nets]
    if supplies[0] is not None and supplies[1] is not None:
        first, second = sorted(dict.fromkeys(filter(None, supplies)), key=lambda net: -_volts(around, net)) \
            if supplies[0] != supplies[1] else (supplies[0], supplies[1])
        yield Place("between-rails", f"between {first} and {second}", first)
    if around.fragment.ground in nets and any(supplies):
        yield from _across_a_rail(around, part, next(filter(None, supplies)))
    yield from _behind_a_resistor(around, nets)
    yield Place("unknown", "nothing around it tells what it is for: same value, same or better kind")


def _volts(around: Surroundings, net: str) -> float:
    rail = around.fragment.rails.get(net)
    return 0.0 if rail is None else rail.volts.value


def _at_a_chips_pin(around: Surroundings, nets: tuple[str, ...]) -> Iterator[Place]:
    for net in nets:
        found = None if around.held(net) else around.pin_role(net)
        if found is not None:
            chip, word = found
            role = PIN_ROLES.get(word, "unknown")
            resistors = tuple(around.resistors(net)) if role in ("reset", "timing", "loop-filter", "coupling") else ()
            other = next((other for other in nets if other != net), net)
            if word == "audio" and around.held(other):
                role = "audio"
            yield Place(role, f"at the {word} pin of {chip} ({net})", of=chip, resistors=resistors)


def _at_a_regulator(around: Surroundings, nets: tuple[str, ...]) -> Iterator[Place]:
    ground = around.fragment.ground
    for regulator in around.fragment.of_kind(Kind.REGULATOR):
        pins = regulator.pins
        low = {ground, pins.get("ground", ground)}
        others = [net for net in nets if net not in low]
        if pins.get("adjust") in others:
            yield Place("regulator-adjust", f"at the adjust pin of {regulator.name}", of=regulator.name)
        if len(others) != 1:
            continue
        supply = around.supply(others[0])
        if others[0] == pins["output"]:
            yield Place("regulator-output", f"at the output of {regulator.name} ({others[0]})", others[0],
                        regulator.name)
        elif others[0] == pins["input"] and (supply is None or _its_input(around, others[0])):
            yield Place("regulator-input", f"at the input of {regulator.name} ({others[0]})", supply, regulator.name)


def _its_input(around: Surroundings, net: str) -> bool:
    """Whether the few capacitors on a rail that feeds a regulator are those of its input."""
    fed = sum(1 for part, pin in around.of_kinds(net, Kind.REGULATOR) if pin == "input")
    loads = any(True for _ in around.of_kinds(net, Kind.LOAD, Kind.CHIP, Kind.CONNECTOR))
    return fed > 0 and not loads and net not in around.outputs \
        and around.capacitors_across(net) <= _MOST_AT_AN_INPUT * fed


def _across_a_rail(around: Surroundings, part: Part, supply: str) -> Iterator[Place]:
    spec = part.spec
    assert isinstance(spec, CapacitorSpec)
    net = next(net for net in part.nets if net != around.fragment.ground)
    served = [other.name for other, pin in around.of_kinds(net, Kind.CHIP, Kind.LOAD, Kind.CONNECTOR)
              if other.kind is not Kind.LOAD or pin == "plus"]
    named = next((name for name in served if part.at and re.search(rf"\b{re.escape(name)}\b", part.at)), None)
    known = family(spec.type)
    biggest_F = library.role("decoupling").biggest_F or 0.0
    fast = not known.polarised if known is not None else spec.capacitance.value <= biggest_F and "plus" not in part.pins
    small = fast and spec.capacitance.value <= biggest_F
    if small or (served and fast and spec.type in library.role("decoupling").may):
        of = named or (served[0] if len(served) == 1 else None)
        where = f"a supply pin of {of}" if of else "the supply pins of the chips" if served else "a chip's supply pin"
        yield Place("decoupling", f"small and fast, for {where} ({supply})", supply, of)
    yield Place("rail", f"across {supply}", supply)


def _behind_a_resistor(around: Surroundings, nets: tuple[str, ...]) -> Iterator[Place]:
    """What a capacitor on a net that no supply holds is for."""
    free = [net for net in nets if not around.held(net)]
    ends = [net for net in nets if around.held(net)]
    for net in free if ends else ():
        if net in around.backup:
            yield Place("backup", f"on {net}, which {around.backup[net]} keeps alive", of=around.backup[net])
    for net in free:
        resistors = around.resistors(net)
        if _damps(around, net, resistors):
            name, other = next(iter(resistors.items()))
            if not around.held(other):
                yield Place("snubber", f"in series with {name} across {other}", resistors=(name,))
        fed = {name: other for name, other in resistors.items() if around.supply(other) is not None}
        if ends and fed and any(around.of_kinds(net, Kind.LOAD, Kind.REGULATOR, Kind.CELL)):
            name, other = next(iter(fed.items()))
            yield Place("rail", f"across {net}, which {other} feeds through {name}", other)
        if ends and resistors:
            role = "reset" if _RESET.search(net) else "timing"
            yield Place(role, f"on {net}, where it makes a time with {' and '.join(resistors)}",
                        resistors=tuple(resistors))
        elif ends and _RESET.search(net):
            yield Place("reset", f"on {net}")
    if len(free) == 2 and not set(around.resistors(free[0])) & set(around.resistors(free[1])):
        names = tuple(dict.fromkeys(name for net in free for name, other in around.resistors(net).items()
                                    if around.held(other)))
        yield Place("coupling", f"between the signals {free[0]} and {free[1]}", resistors=names)
    diodes = [part.name for net in free if ends for part, _ in around.of_kinds(net, Kind.DIODE)]
    if diodes:
        yield Place("rail", f"a reservoir behind {diodes[0]}", of=diodes[0])


def _damps(around: Surroundings, net: str, resistors: Mapping[str, str]) -> bool:
    """Whether a net joins one resistor and one capacitor and nothing else."""
    return len(resistors) == 1 and len(around.on[net]) == 2


def resistance_ohm(fragment: Fragment, names: Collection[str]) -> float | None:
    """Resistors taken in parallel, as a capacitor on their common net sees them."""
    found = [part.spec.resistance.value for name in names
             if isinstance((part := fragment.parts[name]).spec, ResistorSpec)]
    return None if not found or min(found) <= 0 else 1 / sum(1 / ohm for ohm in found)
