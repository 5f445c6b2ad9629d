"""The sections that speak about the circuit: states, expect, readings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property

from msgspec import Struct, field

from netcheck.fragment.kinds import MOVABLE
from netcheck.fragment.model import (
    AS_FOUND,
    Expectation,
    Fragment,
    Kind,
    Mark,
    NamedState,
    Part,
    Reading,
    TesterReading,
)
from netcheck.fragment.states import choices, enumerate_states, follows, meant, state_names
from netcheck.parts.tables import TESTER
from netcheck.quantities.words import one_of
from netcheck.reading.fields import Fields, describe, fields, known_word, text
from netcheck.reading.mistakes import Faults
from netcheck.reading.pins_reader import setting
from netcheck.reading.yaml_nodes import Node, Scalar

ON_OFF: Mapping[str, bool] = {"on": True, "off": False}
PLUGGED: Mapping[str, bool] = {"plugged": True, "unplugged": False}
METER_OHM = 10e6  # of a meter that the file says nothing about


class Circuits(Struct, dict=True):
    """The circuit as found and every variant of it, as one place to look names up in.

    joined: for each mod, names of nets that its wire links join: they still may be used.
    """

    variants: Mapping[str, Fragment]
    joined: Mapping[str, frozenset[str]]
    unreadable: set[str]
    faults: Faults
    _states: dict[str, frozenset[str]] = field(default_factory=dict)

    @cached_property
    def nets(self) -> dict[str, None]:
        return dict.fromkeys(net for nets in (*(variant.nets for variant in self.variants.values()),
                                              *self.joined.values()) for net in nets)

    @cached_property
    def parts(self) -> dict[str, list[Part]]:
        """Every part that there is in any variant, with all it is."""
        found: dict[str, list[Part]] = {}
        for variant in self.variants.values():
            for name, part in variant.parts.items():
                known = found.setdefault(name, [])
                if not known or known[-1] is not part:
                    known.append(part)
        return found

    @property
    def supplies(self) -> tuple[str, ...]:
        return next(iter(self.variants.values())).supplies

    def part(self, node: Node, within: Fragment | None = None) -> str | None:
        """The name of a part, of any variant or of one."""
        name = text(node, "the name of a part", self.faults)
        if name is None or name in self.unreadable:
            return name
        known: Iterable[str] = self.parts if within is None else within.parts
        return known_word(node, known, "the name of a part" + _in(within), self.faults)

    def net(self, node: Node | None, within: Fragment | None = None) -> str | None:
        """A net, named itself or by a pin that is on it."""
        name = None if node is None else text(node, "the name of a net, or a pin", self.faults)
        if node is None or name is None:
            return None
        nets: Iterable[str] = self.nets if within is None else (
            *within.nets, *self.joined.get(within.variant, ()))
        if name in nets:
            return name
        part, _, pin = name.partition(".")
        if part in self.unreadable:
            return None
        versions = self.parts.get(part, []) if within is None else [
            p for p in [within.parts.get(part)] if p is not None]
        found = next((version.pins[pin] for version in versions if pin in version.pins), None)
        if found is None:
            pins = [f"{part}.{known}" for version in versions for known in version.pins]
            self.faults.add(node.mark, name, "the name of a net, or a pin such as D1.anode" + _in(within),
                            near=pins or nets)
        return found

    def state(self, node: Node | None, variant: str) -> str | None:
        """The name of a state: a given one, one such as "main on, JP1 clear", or as much of it as says enough."""
        if node is None:
            return None
        if isinstance(node, Scalar) and (" " in node.text.strip()):
            fragment = self.variants[variant]
            found = meant(fragment, enumerate_states(fragment).states, node.text.strip())
            if len(found) == 1:
                return found[0].name
            if found:
                self.faults.add(node.mark, node.text, "words that mean one state alone",
                                hint="it may be " + ", or ".join(f'"{one.name}"' for one in found[:4]))
                return None
        if variant not in self._states:
            named = (state.name for state in self.variants[variant].states)
            self._states[variant] = frozenset((*named, *state_names(self.variants[variant])))
        return known_word(node, self._states[variant], "the name of a state", self.faults)


def _in(variant: Fragment | None) -> str:
    return "" if variant is None else f' of the circuit "{variant.variant}"'


def read_states(root: Fields, circuits: Circuits) -> tuple[NamedState, ...]:
    section = root.fields("states", "a mapping of name to positions, such as {stored: {main: off}}")
    states = []
    for name, node in section.node.entries.items() if section else ():
        entry = fields(node, "positions such as {main: off, JP1: clear}", root.faults)
        if entry is not None and section is not None:
            states.append(_state(name, section.key_mark(name), entry, circuits))
    return tuple(states)


def _state(name: str, mark: Mark, entry: Fields, circuits: Circuits) -> NamedState:
    supplies: dict[str, bool] = {}
    positions: dict[str, str] = {}
    plugged: dict[str, bool] = {}
    for key, node in entry.node.entries.items():
        versions = circuits.parts.get(key, [])
        if key in circuits.supplies:
            supplies[key] = ON_OFF.get(_word(node, ON_OFF, entry.faults), False)
        elif any(part.plugged is None for part in versions):
            plugged[key] = PLUGGED.get(_word(node, PLUGGED, entry.faults), False)
        elif links := [part for part in versions if part.kind in MOVABLE]:
            positions[key] = _position(links, node, entry.faults) or ""
            if all(follows(variant, variant.parts[key]) for variant in circuits.variants.values()
                   if key in variant.parts):
                entry.faults.add(entry.key_mark(key), key, "nothing here for a relay that follows a supply",
                                 hint=f"{key} is pulled whenever the supply of its coil is on")
        elif key not in circuits.unreadable:
            settable = (name for name, parts in circuits.parts.items() if any(map(_settable, parts)))
            entry.faults.add(entry.key_mark(key), key,
                             f"a supply, a {one_of(map(str, MOVABLE))}, or a cell that may be plugged",
                             near=(*circuits.supplies, *settable),
                             hint=f"{key} is a {versions[0].kind} and has no positions" if versions else "")
    return NamedState(name, supplies, positions, plugged, mark)


def check_positions(entry: Fields, circuits: Circuits) -> None:
    """Note what is no supply, position or plugged cell among conditions such as {main: off, JP1: clear}."""
    _state("", entry.mark, entry, circuits)


def _settable(part: Part) -> bool:
    return part.kind in MOVABLE or part.plugged is None


def _word(node: Node, words: Mapping[str, bool], faults: Faults) -> str:
    return known_word(node, words, one_of(words), faults) or ""


def _position(versions: list[Part], node: Node, faults: Faults) -> str | None:
    """A position of a jumper or switch in any of its versions."""
    for part in versions[1:]:
        if describe(node) in choices(part):
            return describe(node)
    first = versions[0]
    return setting(first.name, first.kind, first.positions, node, faults)


def read_expectations(root: Fields, circuits: Circuits) -> tuple[Expectation, ...]:
    found = []
    for node in root.items("expect", "wishes such as {apart: [+5V, GND]}"):
        entry = fields(node, "a wish such as {apart: [+5V, GND]}", root.faults)
        if entry is not None:
            found.append(_expectation(entry, circuits))
    return tuple(found)


_WISHES = ("joined", "apart", "at", "through")


def _expectation(entry: Fields, circuits: Circuits) -> Expectation:
    entry.refuse_others((*_WISHES, "against", "volts", "amps", "state", "when", "because"), "an expectation")
    given = [key for key in _WISHES if key in entry]
    if len(given) != 1:
        entry.faults.add(entry.mark, ", ".join(given) or ", ".join(entry.node.entries) or "{}",
                         f"exactly one of {one_of(_WISHES)}")
    for key, other in (("at", "volts"), ("through", "amps"), ("against", "at")):
        if key in entry:
            entry.require(other, f"to go with {key}")
    for key, other in (("volts", "at"), ("amps", "through")):
        if key in entry:
            entry.require(other, f"to go with {key}")
    through = entry.get("through")
    return Expectation(
        mark=entry.mark,
        joined=_nets(entry, "joined", circuits),
        apart=_nets(entry, "apart", circuits),
        at=circuits.net(entry.get("at")),
        against=circuits.net(entry.get("against")),
        volts=entry.span("volts", "V"),
        through=None if through is None else circuits.part(through),
        amps=entry.span("amps", "A"),
        state=circuits.state(entry.get("state"), AS_FOUND),
        when=_when(entry, circuits),
        because=entry.text("because"),
    )


def _nets(entry: Fields, key: str, circuits: Circuits) -> tuple[str, ...]:
    if key not in entry:
        return ()
    items = entry.items(key, "nets")
    if len(items) < 2:
        entry.faults.add(entry.key_mark(key), key, "at least two nets: [A, B]")
    return tuple(net for item in items if (net := circuits.net(item)) is not None)


def _when(entry: Fields, circuits: Circuits) -> dict[str, str]:
    """The positions under which a wish is meant, checked like a state, kept as words."""
    when = entry.fields("when", "positions such as {JP4: closed}")
    if when is None:
        return {}
    state = _state("", when.mark, when, circuits)
    words = {**{supply: "on" if on else "off" for supply, on in state.supplies.items()}, **state.positions,
             **{cell: "plugged" if there else "unplugged" for cell, there in state.plugged.items()}}
    return {key: words[key] for key in when.node.entries if key in words}


_MEASURED = ("volts", "amps", "ohms", "diode")


def read_readings(root: Fields, circuits: Circuits) -> tuple[tuple[Reading, ...], tuple[TesterReading, ...]]:
    """What the meter said at nets, and what a component tester said of parts (entries with `of`)."""
    found, tested = [], []
    for node in root.items("readings", "readings such as {state: stored, at: VRAM, volts: 2.71}"):
        entry = fields(node, "a reading such as {state: stored, at: VRAM, volts: 2.71}", root.faults)
        if entry is not None and "of" in entry:
            tested.append(_tester_reading(entry, circuits))
        elif entry is not None:
            found.append(_reading(entry, circuits))
    return tuple(found), tuple(one for one in tested if one is not None)


def _tester_reading(entry: Fields, circuits: Circuits) -> TesterReading | None:
    entry.refuse_others(("of", "mod", "capacitance", "esr", "tester"), "a tester's reading")
    if "capacitance" not in entry and "esr" not in entry:
        entry.faults.add(entry.mark, ", ".join(entry.node.entries), "capacitance, esr, or both")
    node = entry.node.entries["of"]
    mod = _mod(entry, circuits)
    name = circuits.part(node, circuits.variants[mod])
    part = None if name is None else circuits.variants[mod].parts.get(name)
    if part is not None and part.kind is not Kind.CAPACITOR:
        entry.faults.add(node.mark, part.name, "a capacitor", hint=f"{part.name} is a {part.kind}")
    read = [Fields(entry.node, entry.faults, TESTER).number(key) for key in TESTER]
    return None if name is None else TesterReading(entry.mark, mod, name, *read)


def _mod(entry: Fields, circuits: Circuits) -> str:
    node = entry.get("mod")
    return AS_FOUND if node is None else known_word(
        node, circuits.variants, f'a mod, or "{AS_FOUND}"', entry.faults) or AS_FOUND


def _reading(entry: Fields, circuits: Circuits) -> Reading:
    entry.refuse_others(("mod", "state", "at", "against", "through", *_MEASURED, "meter", "without"),
                        "a reading")
    given = [key for key in _MEASURED if key in entry]
    if len(given) != 1:
        entry.faults.add(entry.mark, ", ".join(given) or ", ".join(entry.node.entries) or "{}",
                         f"exactly one of {one_of(_MEASURED)}")
    if ("at" in entry) == ("through" in entry) or ("through" in entry and "amps" not in entry):
        entry.faults.add(entry.mark, ", ".join(entry.node.entries) or "{}",
                         "at (a net), or for amps through (a part)")
    mod = _mod(entry, circuits)
    variant = circuits.variants[mod]
    through = entry.get("through")
    without = (circuits.part(item, variant) for item in entry.items("without", "parts"))
    return Reading(
        mark=entry.mark,
        mod=mod,
        state=circuits.state(entry.get("state"), mod),
        at=circuits.net(entry.get("at"), variant),
        against=circuits.net(entry.get("against"), variant),
        through=None if through is None else circuits.part(through, variant),
        volts=entry.number("volts", "V"),
        amps=entry.number("amps", "A"),
        ohms=entry.number("ohms", "ohm", least=0),
        diode_V=entry.number("diode", "V"),
        meter_ohm=entry.number("meter", "ohm", least=1) or METER_OHM,
        without=tuple(name for name in without if name is not None),
    )
