"""Which pin of a part is on which net, and which pins a jumper or switch joins."""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import pairwise

from msgspec import Struct, field
from typing_extensions import assert_never

from netcheck.fragment.kinds import (
    BIPOLAR,
    COIL,
    FIELD_EFFECT,
    KEYS,
    LINKS,
    MANY_PINNED,
    NUMBERED_PAIR,
    PIN_ROLES,
    PIN_WORDS,
    POLAR_PAIR,
    ROWS,
    UNPOLARISED,
    Moves,
    possible_pins,
)
from netcheck.fragment.model import Kind, Mark
from netcheck.fragment.states import ABSENT, PULLED, REST
from netcheck.parts.specs import RegulatorSpec, Spec, TransistorSpec
from netcheck.quantities.words import nearest, one_of
from netcheck.reading.fields import Fields, describe, text, value_of
from netcheck.reading.mistakes import Faults
from netcheck.reading.yaml_nodes import Listing, Mapped, Node, Scalar

Positions = Mapping[str, tuple[tuple[str, str], ...]]
_COUNT = re.compile(r"([2-9]|[1-9][0-9])(?:[ -]?pins?)?")


def net_name(node: Node, faults: Faults) -> str | None:
    return text(node, "the name of a net", faults)


def read_pins(
    name: str, kind: Kind, part: Fields, declared: Mapping[str, tuple[str, Mark]],
) -> dict[str, str]:
    """The pins that the part and the `nets:` section give, without asking for the rest."""
    pins = _own_pins(kind, part)
    for pin, (net, mark) in declared.items():
        if not _has_pin(kind, pin):
            part.faults.add(mark, f"{name}.{pin}", f"a pin of the {kind} {name} ({_pin_words(kind)})",
                            near=[f"{name}.{word}" for word in possible_pins(kind)])
        elif pins.setdefault(pin, net) != net:
            part.faults.add(mark, f"{name}.{pin}", f"the net {pins[pin]}, as in line {part.mark.line}",
                            hint=f"here it is put on {net}: one of the two is wrong")
    return pins


def complete_pins(
    name: str, kind: Kind, spec: Spec | None, part: Fields, pins: Mapping[str, str], old: Mapping[str, str],
) -> dict[str, str]:
    """The pins in the order of the kind, those not given taken from the part it replaces."""
    found = {**_inherited(kind, spec, pins, old), **pins} if old else dict(pins)
    wanted = _wanted(kind, spec, found)
    missing = [pin for pin in wanted if pin not in found]
    if kind is Kind.REGULATOR and not {"adjust", "ground"} & found.keys():
        missing.append("adjust or ground")
    if kind is Kind.CONNECTOR and not found:
        missing.append("pins")
    if kind is Kind.RELAY and not {"rest", "work"} & found.keys():
        missing.append("rest or work")
    slips = {nearest(key, missing) for key in part.node.entries if key not in KEYS[kind]}  # told as such
    missing = [pin for pin in missing if pin not in slips]
    if missing:
        part.faults.add(part.mark, name, f"a net for {_and(missing)} of the {kind}",
                        hint=_how(kind, missing))
    for pin in found:
        if pin not in wanted and kind not in MANY_PINNED and not (
                kind in (Kind.REGULATOR, Kind.RELAY) and pin in PIN_WORDS[kind]):
            part.faults.add(part.mark, f"{name}.{pin}", f"only the pins {_and(list(wanted))}")
    return {pin: found[pin] for pin in (*wanted, *found) if pin in found}


def _own_pins(kind: Kind, part: Fields) -> dict[str, str]:
    faults = part.faults
    pins: dict[str, str] = {}
    if kind in LINKS:
        return _linked(kind, part)
    if kind in MANY_PINNED:
        node = part.get("pins")
        if isinstance(node, Mapped):
            return _named_pins(kind, node, faults)
        return {} if node is None else _listed(node, "a mapping of pin to net, or a list of nets", faults)
    for key, names in ROWS[kind].lists.items():
        if key not in part.node.entries:
            continue
        node = part.node.entries[key]
        pins.update(zip(names, _listed(node, "two nets: [A, B]", faults).values(), strict=False))
        if isinstance(node, Listing) and len(node.items) != len(names):
            faults.add(node.mark, f"{len(node.items)} nets", "two nets: [A, B]")
    for pin in PIN_WORDS[kind]:
        if pin in part.node.entries:
            net = net_name(part.node.entries[pin], faults)
            if net is not None:
                pins[pin] = net
    if kind is Kind.CAPACITOR and len(pins) > 2:
        faults.add(part.key_mark("between"), "between", "either between, or plus and minus")
        return {pin: net for pin, net in pins.items() if pin in NUMBERED_PAIR}
    return pins


_ELSEWHERE = ("between", "pins")


def listed_elsewhere(kind: Kind, part: Fields, key: str) -> str:
    """How the nets of a jumper or switch are written, where they stand under this key; else empty."""
    nets = part.node.entries.get(key)
    if kind not in LINKS or key not in _ELSEWHERE or not isinstance(nets, Listing):
        return ""
    return f"write {kind}: [{', '.join(describe(item) for item in nets.items)}]"


def _linked(kind: Kind, part: Fields) -> dict[str, str]:
    """The nets of a jumper or switch; where they stand under another word, that word is the only mistake."""
    node = part.node.entries[kind.value]
    elsewhere = [key for key in _ELSEWHERE if listed_elsewhere(kind, part, key)]
    if elsewhere and not isinstance(node, Listing):
        node = part.node.entries[elsewhere[0]]
    return _listed(node, f"a list of the nets of the {kind}", part.faults)


def _named_pins(kind: Kind, node: Mapped, faults: Faults) -> dict[str, str]:
    """Pin to net. A chip's pin that has only a role is on the net of its own name (`{LF: loop-filter}`)."""
    pins: dict[str, str] = {}
    for pin, item in node.entries.items():
        if kind is Kind.CHIP and isinstance(item, Mapped):
            long = Fields(item, faults)
            long.refuse_others(("net", "role"), "a pin")
            long.require("net", "the net that the pin is on")
            net = long.text("net", "the name of a net")
        else:
            net = pin if kind is Kind.CHIP and _role_word(item) else net_name(item, faults)
            if net == pin and pin.isdigit() and _role_word(item):
                faults.add(item.mark, describe(item), "a net, as a number is no name for one",
                           hint=f"write {{{pin}: {{net: NET, role: {describe(item)}}}}}")
        if net is not None:
            pins[pin] = net
    return pins


def _role_word(node: Node) -> str | None:
    """The role that a pin's value is, if it is one: only as a plain word, so that "reset" in quotes is a net."""
    return node.text if isinstance(node, Scalar) and node.plain and node.text in PIN_ROLES else None


def read_roles(part: Fields) -> dict[str, str]:
    """Pin to its role in words, for the pins of a chip that have one."""
    node = part.get("pins")
    roles: dict[str, str] = {}
    for pin, item in node.entries.items() if isinstance(node, Mapped) else ():
        long = Fields(item, part.faults) if isinstance(item, Mapped) else None
        role = _role_word(item) if long is None else long.word("role", PIN_ROLES)
        if role is not None:
            roles[pin] = role
    return roles


def _listed(node: Node, expected: str, faults: Faults) -> dict[str, str]:
    """Nets in a list, pins numbered from 1; a bare count leaves the nets to the `nets:` section."""
    if isinstance(node, Listing):
        nets = [net_name(item, faults) for item in node.items]
        return {str(number): net for number, net in enumerate(nets, start=1) if net is not None}
    if isinstance(node, Mapped) or (node.text != "" and not _COUNT.fullmatch(node.text)):
        faults.add(node.mark, describe(node), expected)
    return {}


def _has_pin(kind: Kind, pin: str) -> bool:
    if kind in MANY_PINNED:
        return True
    if kind in LINKS:
        return pin.isascii() and pin.isdigit() and 1 <= int(pin[:4]) <= 99 and not pin.startswith("0")
    return pin in possible_pins(kind)


def _pin_words(kind: Kind) -> str:
    return "1, 2, …" if kind in LINKS else one_of(possible_pins(kind))


def _wanted(kind: Kind, spec: Spec | None, found: Mapping[str, str]) -> tuple[str, ...]:
    """The pins that a part must have, given those it has."""
    if kind is Kind.TRANSISTOR:
        bipolar = spec.bipolar if isinstance(spec, TransistorSpec) else "base" in found
        return BIPOLAR if bipolar else FIELD_EFFECT
    if kind is Kind.CAPACITOR:
        return POLAR_PAIR if "plus" in found or "minus" in found else NUMBERED_PAIR
    if kind in UNPOLARISED:
        return NUMBERED_PAIR
    if kind in LINKS:
        last = max((int(pin) for pin in found), default=2)
        return tuple(str(pin) for pin in range(1, max(last, 2) + 1))
    if kind is Kind.REGULATOR:
        shunt = isinstance(spec, RegulatorSpec) and spec.between == "shunt"
        return ("output", "adjust", "ground") if shunt else ("input", "output")
    if kind is Kind.TRIMMER:
        return (*NUMBERED_PAIR, "wiper")
    if kind is Kind.RELAY:
        return (*COIL, "common")
    return PIN_WORDS[kind]


def _inherited(
    kind: Kind, spec: Spec | None, given: Mapping[str, str], old: Mapping[str, str]
) -> dict[str, str]:
    """The nets of the part that is replaced: by the same pin words, else first pin to first pin."""
    wanted = _wanted(kind, spec, given)
    if not given and kind is Kind.CAPACITOR and set(old) == set(POLAR_PAIR):
        wanted = POLAR_PAIR
    if kind in MANY_PINNED or kind in LINKS or set(wanted) <= set(old) or len(old) != len(wanted):
        return {pin: net for pin, net in old.items() if _has_pin(kind, pin)}
    return dict(zip(wanted, old.values(), strict=True))


def _and(pins: list[str]) -> str:
    *most, last = pins
    return f"{', '.join(most)} and {last}" if most else last


def _how(kind: Kind, missing: list[str]) -> str:
    if kind in LINKS:
        return f"write {kind}: [A, B]"
    for key, pins in ROWS[kind].lists.items():
        if missing[0] in pins:
            return f"write {key}: [A, B]"
    if kind is Kind.CONNECTOR:
        return "write pins: {1: NET, 2: NET}"
    return f"write {missing[0].split(' ')[0]}: NET"


class Standing(Struct, frozen=True):
    """The positions of a part and the one it is set to; travel: of a trimmer, position to share of its track."""

    positions: Positions
    position: str | None
    travel: Mapping[str, float] = field(default_factory=dict)


TRAVEL = {"end 1": 0.0, "middle": 0.5, "end 2": 1.0}
"""The positions of a trimmer that are always tried, with the share of its track from end 1 to the wiper."""


def read_positions(name: str, kind: Kind, part: Fields, pins: Mapping[str, str]) -> Standing:
    """The positions that a part of this kind can be put in, and the one it is set to."""
    match ROWS[kind].moves:
        case Moves.NOTHING:
            return Standing({}, None)
        case Moves.CAP | Moves.CONTACTS:
            positions = _positions(kind, part, pins)
            default = "open" if "open" in positions and "positions" not in part else next(iter(positions), None)
        case Moves.COIL:
            positions = {position: (("common", pin),) if pin in pins else ()
                         for position, pin in ((REST, "rest"), (PULLED, "work"))}
            default = REST
        case Moves.WIPER:
            return _wiper(name, kind, part)
        case _:
            assert_never(ROWS[kind].moves)
    node = part.get("set")
    if node is None or not positions:
        return Standing(positions, default)
    return Standing(positions, setting(name, kind, positions, node, part.faults) or default)


def _wiper(name: str, kind: Kind, part: Fields) -> Standing:
    """Both ends and the middle, and where it is set to if that is another place: `set: 30 %` of the way from end 1."""
    node = part.get("set")
    travel, position = dict(TRAVEL), "middle"
    if isinstance(node, Scalar) and node.text.strip().endswith("%"):
        share = value_of(node, "%", part.faults, least=0)
        if share is not None and share > 1:
            part.faults.add(node.mark, node.text, "at most 100 %, the whole way from end 1 to end 2")
        elif share is not None:
            position = next((word for word, at in TRAVEL.items() if at == share), f"{100 * share:g} %")
            travel[position] = share
    elif node is not None:
        position = setting(name, kind, dict.fromkeys(travel, ()), node, part.faults) or position
    positions: Positions = {word: (("1", "wiper"),) if at == 0 else (("wiper", "2"),) if at == 1 else ()
                            for word, at in travel.items()}
    return Standing(positions, position, travel)


def setting(name: str, kind: Kind, positions: Positions, node: Node, faults: Faults) -> str | None:
    """A position that a part is put in; "absent" is a position of every jumper."""
    found = text(node, "a position", faults)
    if found is None or found in positions:
        return found
    absent = [ABSENT] if ROWS[kind].moves is Moves.CAP else []
    if found in absent:
        return next((position for position, pairs in positions.items() if not pairs), ABSENT)
    words = [*positions, *absent]
    faults.add(node.mark, found, f"a position of {name} ({one_of(words)})", near=words)
    return None


def _positions(kind: Kind, part: Fields, pins: Mapping[str, str]) -> Positions:
    node = part.get("positions")
    if node is None:
        if len(pins) == 2:
            return {"open": (), "closed": (NUMBERED_PAIR,)}
        if len(pins) == 3:
            return {"1-2": (("1", "2"),), "2-3": (("2", "3"),)}
        part.faults.add(part.mark, kind.value, f"positions: what a {kind} of {len(pins)} pins can join",
                        hint="write positions: {one: 1-2, other: 3-4}")
        return {}
    if isinstance(node, Listing):
        return {describe(item): _joins(item, pins, part.faults) for item in node.items}
    if not isinstance(node, Mapped) or not node.entries:
        part.faults.add(node.mark, describe(node), "positions such as {normal: 1-2, clear: 2-3}")
        return {}
    found = {position: _joins(item, pins, part.faults) for position, item in node.entries.items()}
    if found.get(ABSENT):
        part.faults.add(node.keys[ABSENT].mark, ABSENT, "another word",
                        hint="absent is a cap that is not there")
    return found


def _joins(node: Node, pins: Mapping[str, str], faults: Faults) -> tuple[tuple[str, str], ...]:
    """The pairs in "1-2", "1-2, 3-4", "1-2-3", [1-2, 3-4] or "none"."""
    if isinstance(node, Scalar) and node.text in ("none", "open"):
        return ()
    items = node.items if isinstance(node, Listing) else [node]
    pairs: list[tuple[str, str]] = []
    for item in items:
        for group in describe(item).split(","):
            joined = [pin.strip() for pin in group.split("-")]
            wrong = [pin for pin in joined if pin not in pins]
            if len(joined) < 2 or wrong:
                faults.add(item.mark, group.strip(), "pins that are joined, such as 1-2",
                           hint=f"there is no pin {wrong[0]}" if len(joined) > 1 else "")
                continue
            pairs += pairwise(joined)
    return tuple(pairs)
