"""One entry of `parts:`, or of a mod's fit and replace, to a Part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from netcheck.fragment.kinds import KEYS, KINDS, LINKS, keys_of
from netcheck.fragment.model import Clamp, Kind, Mark, Part
from netcheck.parts.specs import LoadSpec
from netcheck.quantities.words import one_of
from netcheck.reading.fields import Fields, fields, refuse_key
from netcheck.reading.mistakes import Faults
from netcheck.reading.pins_reader import complete_pins, read_pins, read_positions
from netcheck.reading.specs_reader import SpecsReader
from netcheck.reading.yaml_nodes import Node, Scalar

LONGEST_NAME = 64
_PLUGGED: Mapping[str, bool | None] = {"yes": True, "maybe": None}


@dataclass
class PartsReader:
    """Reads parts; remembers the clamps, whose nets can only be judged when all parts are known."""

    specs: SpecsReader
    faults: Faults
    clamp_nets: list[tuple[str, Mark]] = field(default_factory=list)

    def read(
        self, key: Scalar, node: Node, declared: Mapping[str, tuple[str, Mark]], old: Part | None = None
    ) -> Part | None:
        """The part under the name `key`; None where there was a mistake.

        declared: its pins as the `nets:` section gives them. old: the part it replaces.
        """
        before = len(self.faults.found)
        self._name(key)
        part = fields(node, "a part such as {resistor: 470, between: [A, B]}", self.faults)
        kind = None if part is None else self._kind(part)
        if part is None or kind is None:
            return None
        self._keys(kind, part)
        spec = self.specs.read(key.text, kind, part)
        pins = read_pins(key.text, kind, part, declared)
        pins = complete_pins(key.text, kind, spec, part, pins, old.pins if old else {})
        positions, position = read_positions(key.text, kind, part, pins) if kind in LINKS else ({}, None)
        clamp = self._clamp(part) if "clamps" in part else None
        entries = part.node.entries
        read = Part(
            name=key.text, kind=kind, pins=pins, spec=spec, mark=key.mark,  # type: ignore[arg-type]
            positions=positions, position=position, clamp=clamp,
            fitted=True if "fitted" not in entries else part.yes("fitted") is not False,
            plugged=_PLUGGED[part.word("plugged", _PLUGGED) or "yes"] if "plugged" in entries else True,
            measured_V=part.number("voltage", "V") if "voltage" in entries else None,
            works=part.span("works", "V") if "works" in entries
            else spec.works if isinstance(spec, LoadSpec) else None,
            heatsink_K_per_W=part.number("heatsink", "K/W", least=0) if "heatsink" in entries else None,
            role=part.text("role") if "role" in entries else None,
            marked=part.text("marked") if "marked" in entries else None,
            note=part.text("note") if "note" in entries else None,
            at=part.text("at") if "at" in entries else None,
        )
        return read if len(self.faults.found) == before else None

    def _name(self, key: Scalar) -> None:
        if not key.text.strip() or len(key.text) > LONGEST_NAME or "." in key.text or "\n" in key.text:
            self.faults.add(key.mark, key.text, f"a designator such as R1, without points, of at most "
                                                f"{LONGEST_NAME} characters")

    def _kind(self, part: Fields) -> Kind | None:
        given = [key for key in part.node.entries if key in KINDS]
        if len(given) == 1:
            return KINDS[given[0]]
        if given:
            self.faults.add(part.key_mark(given[1]), given[1], "exactly one kind a part",
                            hint=f"it is a {given[0]} already")
            return None
        first = next(iter(part.node.keys.values()), None)
        self.faults.add(first.mark if first else part.mark, first.text if first else "{}",
                        f"a kind of part ({one_of(KINDS)})", near=KINDS)
        return None

    def _keys(self, kind: Kind, part: Fields) -> None:
        known = KEYS[kind]
        for key, node in part.node.keys.items():
            if key not in known:
                refuse_key(node, keys_of(kind), f"a {kind}", self.faults)

    def _clamp(self, part: Fields) -> Clamp | None:
        clamps = part.fields("clamps", "clamps such as {to: +5V, from: [NET]}")
        if clamps is None:
            return None
        clamps.refuse_others(("to", "from"), "clamps")
        clamps.require("to", "the net that the diodes lead to")
        clamps.require("from", "the nets of the inputs")
        to = clamps.text("to", "the name of a net")
        inputs = clamps.texts("from", "nets")
        node = clamps.get("to")
        if to is not None and node is not None:
            self.clamp_nets.append((to, node.mark))
        self.clamp_nets += inputs
        return None if to is None else Clamp(to, tuple(net for net, _ in inputs))
