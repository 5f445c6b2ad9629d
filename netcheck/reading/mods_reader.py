"""The `mods:` section: each step judged against the circuit as it stands after the steps before it."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct, field

from netcheck.fragment.kinds import STEPS
from netcheck.fragment.model import AS_FOUND, Fragment, Mark, Mod, Part, Step
from netcheck.fragment.mods import StepFault, apply_steps
from netcheck.quantities.words import one_of
from netcheck.reading.fields import Fields, fields, text
from netcheck.reading.names import names_of
from netcheck.reading.parts_reader import PartsReader
from netcheck.reading.yaml_nodes import Mapped, Node, Scalar


class ModsReader(Struct):
    """Reads the mods of a file.

    unreadable: parts with a mistake of their own, about which nothing more is said.
    variants: the circuits that the mods make. joined: the nets that a mod's wire
    links join, by any of their names.
    """

    parts: PartsReader
    found: Fragment
    unreadable: set[str]
    variants: dict[str, Fragment] = field(default_factory=dict)
    joined: dict[str, frozenset[str]] = field(default_factory=dict)

    def read(self, section: Fields) -> dict[str, Mod]:
        """All mods, in the order of the file."""
        entries = {name: entry for name, node in section.node.entries.items()
                   if (entry := fields(node, "a mod such as {steps: [{remove: R1}]}", self.parts.faults))}
        if AS_FOUND in section:
            self.parts.faults.add(section.key_mark(AS_FOUND), AS_FOUND, "another name for this mod")
        before = {name: self._before(entry, entries) for name, entry in entries.items()}
        read = {name: self._mod(name, section.key_mark(name), entries[name], before[name])
                for name in self._ordered(entries, before)}
        return {name: read[name] for name in entries}

    def _before(self, entry: Fields, entries: Mapping[str, Fields]) -> str | None:
        """The mod that this one comes after."""
        after = entry.text("after", "the name of a mod")
        if after is None or after in entries:
            return after
        self.parts.faults.add(entry.node.entries["after"].mark, after, "the name of a mod", near=entries)
        return None

    def _ordered(self, entries: Mapping[str, Fields], before: dict[str, str | None]) -> list[str]:
        """The names so that each comes after the one it builds on; a circle is a mistake, and is cut."""
        ordered: dict[str, None] = {}
        for name in entries:
            chain: dict[str, None] = {}
            at: str | None = name
            while at is not None and at not in ordered and at not in chain:
                chain[at] = None
                at = before[at]
            if at is not None and at in chain:
                last = next(reversed(chain))
                self.parts.faults.add(entries[last].node.entries["after"].mark, at,
                                      f"a mod that does not come after {last} itself")
                before[last] = None
            ordered.update(dict.fromkeys(reversed(chain)))
        return list(ordered)

    def _mod(self, name: str, mark: Mark, entry: Fields, after: str | None) -> Mod:
        entry.refuse_others(("about", "after", "steps"), "a mod")
        entry.require("steps", "a list such as [{remove: R1}]")
        circuit = self.found if after is None else self.variants[after]
        steps = []
        for node in entry.items("steps", "steps"):
            step = self._step(node, circuit)
            if step is not None:
                circuit = self._applied(step, node, circuit)
                steps.append(step)
        self.variants[name] = circuit
        links = frozenset(net for step in steps if step.action == "join" for net in step.names)
        self.joined[name] = links | self.joined.get(after or "", frozenset())
        return Mod(name, tuple(steps), mark, entry.text("about"), after)

    def _applied(self, step: Step, node: Node, circuit: Fragment) -> Fragment:
        try:
            return apply_steps(circuit, [step])
        except StepFault as fault:
            if fault.text.partition(".")[0] not in self.unreadable:
                self.parts.faults.add(_place_of(fault.text, node), fault.text, fault.expected,
                                      near=fault.near)
            return circuit

    def _step(self, node: Node, circuit: Fragment) -> Step | None:
        faults = self.parts.faults
        step = fields(node, "a step such as {remove: R1}", faults)
        if step is None:
            return None
        step.refuse_others((*STEPS, "because"), "a step")
        actions = [key for key in step.node.entries if key in STEPS]
        if len(actions) != 1:
            if actions or "because" in step or not step.node.entries:
                faults.add(step.mark, ", ".join(actions) or "{}", f"exactly one of {one_of(STEPS)} a step")
            return None
        action, because = actions[0], step.text("because")
        if action in ("remove", "join"):
            names = tuple(name for name, _ in step.texts(action, "names"))
            if action == "remove":
                names = tuple(each.text for name, mark in step.texts(action, "names")
                              for each in ([Scalar(name, mark)] if name in circuit.parts
                                           else names_of(Scalar(name, mark), faults)))
            if action == "join" and len(names) < 2:
                faults.add(step.key_mark(action), action, "at least two nets: [A, B]")
                return None
            return Step(action, step.mark, names=names, because=because)
        what = step.fields(action, f"a mapping, as in {_EXAMPLES[action]}")
        if what is None or not what.node.entries:
            if what is not None:
                faults.add(what.mark, "{}", f"a mapping, as in {_EXAMPLES[action]}")
            return None
        if action in ("fit", "replace"):
            return Step(action, step.mark, parts=self._parts(action, what, circuit), because=because)
        if action == "set":
            return Step(action, step.mark, settings=_texts(what), because=because)
        return Step(action, step.mark, moves=self._moves(what), because=because)

    def _parts(self, action: str, what: Fields, circuit: Fragment) -> tuple[Part, ...]:
        """The parts of a fit or replace, with the pins of the part or footprint they take the place of."""
        parts = []
        keys = [(name, node) for key, node in what.node.entries.items()
                for name in names_of(what.node.keys[key], self.parts.faults)]
        seen: set[str] = set()
        for key, node in keys:
            name = key.text
            if name in seen:
                self.parts.faults.add(key.mark, name, "each part once in a step")
                continue
            seen.add(name)
            old = circuit.parts.get(name)
            if action == "replace" and old is None:
                if name not in self.unreadable:
                    self.parts.faults.add(key.mark, name,
                                          "a part that is on the board at this step", near=circuit.parts)
                continue
            part = self.parts.read(key, node, {}, old)
            if part is None:
                self.unreadable.add(name)
            else:
                parts.append(part)
        return tuple(parts)

    def _moves(self, what: Fields) -> dict[tuple[str, str], str]:
        moves = {}
        for dotted, net in _texts(what).items():
            name, point, pin = dotted.partition(".")
            if point:
                moves[name, pin] = net
            else:
                self.parts.faults.add(what.key_mark(dotted), dotted, "a pin such as D1.anode")
        return moves


_EXAMPLES = {
    "replace": "{replace: {D1: {diode: BAT85}}}",
    "fit": "{fit: {R9: {resistor: 1k, between: [A, B]}}}",
    "move": "{move: {D1.anode: N7}}",
    "set": "{set: {JP1: normal}}",
}


def _texts(what: Fields) -> dict[str, str]:
    return {key: found for key, node in what.node.entries.items()
            if (found := text(node, "a word", what.faults)) is not None}


def _place_of(word: str, node: Node) -> Mark:
    """Where in a step a word stands, or the step itself."""
    if isinstance(node, Scalar):
        return node.mark
    if isinstance(node, Mapped):
        for key, value in node.entries.items():
            if key == word:
                return node.keys[key].mark
            if isinstance(value, Scalar) and value.text == word:
                return value.mark
        inner = list(node.entries.values())
    else:
        inner = node.items
    for item in inner:
        if isinstance(item, Scalar) and item.text == word:
            return item.mark
        if not isinstance(item, Scalar) and (place := _place_of(word, item)) != item.mark:
            return place
    return node.mark
