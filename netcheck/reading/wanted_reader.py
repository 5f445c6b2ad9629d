"""The sections that say what is wanted of the board: settings of a regulator, needs of a feature."""

from __future__ import annotations

from netcheck.fragment.model import Feature, Kind, Wanted, WantedVolts
from netcheck.parts.tables import SETTING
from netcheck.reading.fields import Fields, bounded, describe, fields
from netcheck.reading.wishes_reader import Circuits
from netcheck.reading.yaml_nodes import Listing, Node

_SETTING = "a setting such as {of: U5, want: [3.3 V, 3.45 V], within: 2%}"


def read_settings(root: Fields, circuits: Circuits) -> tuple[Wanted, ...]:
    """The outputs that are wanted of the regulators."""
    found = []
    for node in root.items("settings", "settings such as {of: U5, want: [3.3 V, 3.45 V]}"):
        entry = fields(node, _SETTING, root.faults)
        if entry is not None:
            found.append(_setting(entry, circuits))
    return tuple(one for one in found if one is not None)


def _setting(entry: Fields, circuits: Circuits) -> Wanted | None:
    entry.refuse_others(("of", "want", "within"), "a setting")
    entry.require("of", "the regulator that is meant")
    entry.require("want", "the volts that are wanted, such as [3.3 V, 3.45 V]")
    node = entry.get("of")
    name = None if node is None else circuits.part(node)
    for part in circuits.parts.get(name or "", ())[:1]:
        if node is not None and part.kind is not Kind.REGULATOR:
            entry.faults.add(node.mark, part.name, "a regulator", hint=f"{part.name} is a {part.kind}")
    entry = Fields(entry.node, entry.faults, SETTING)
    volts = [bounded(item, SETTING["want"], entry.faults) for item in entry.items("want", "volts")]
    within = entry.number("within")
    known = tuple(one for one in volts if one is not None)
    if "want" in entry and not volts:
        entry.faults.add(entry.key_mark("want"), "want", "at least one voltage")
    return None if name is None else Wanted(entry.mark, name, known, within)


def read_features(root: Fields, circuits: Circuits) -> tuple[Feature, ...]:
    """What each feature of the board needs."""
    section = root.fields("features", "a mapping of feature to needs, such as {mouse: {joined: [[MIRQ, IRQ12]]}}")
    found = []
    for name, node in section.node.entries.items() if section else ():
        entry = fields(node, "needs such as {joined: [[A, B]], volts: {at: VP, from: 4.75 V to 5.25 V}}", root.faults)
        if entry is not None and section is not None:
            entry.refuse_others(("joined", "apart", "volts", "because"), "a feature")
            if not {"joined", "apart", "volts"} & entry.node.entries.keys():
                entry.faults.add(section.key_mark(name), name, "joined, apart or volts: what the feature needs")
            found.append(Feature(
                name, section.key_mark(name), _groups(entry, "joined", circuits), _groups(entry, "apart", circuits),
                _volts(entry, circuits), entry.text("because")))
    return tuple(found)


def _groups(entry: Fields, key: str, circuits: Circuits) -> tuple[tuple[str, ...], ...]:
    """Groups of nets, or a single group."""
    items = entry.items(key, "groups of nets: [[A, B], [C, D]]")
    groups: list[Node] = items if any(isinstance(item, Listing) for item in items) else [
        Listing(items, entry.key_mark(key))] if items else []
    found = []
    for group in groups:
        names = group.items if isinstance(group, Listing) else [group]
        if len(names) < 2:
            entry.faults.add(group.mark, describe(group), "at least two nets: [A, B]")
        found.append(tuple(net for item in names if (net := circuits.net(item)) is not None))
    return tuple(found)


def _volts(entry: Fields, circuits: Circuits) -> tuple[WantedVolts, ...]:
    """`{at: VP, from: 4.75 V to 5.25 V}`, or a list of those."""
    node = entry.get("volts")
    found = []
    for item in [] if node is None else node.items if isinstance(node, Listing) else [node]:
        need = fields(item, "volts such as {at: VP, from: 4.75 V to 5.25 V}", entry.faults)
        if need is None:
            continue
        need.refuse_others(("at", "against", "from"), "volts")
        need.require("at", "the net that is meant")
        need.require("from", "the range wanted there")
        at, against, span = circuits.net(need.get("at")), circuits.net(need.get("against")), need.span("from", "V")
        if at is not None and span is not None:
            found.append(WantedVolts(at, span, against))
    return tuple(found)
