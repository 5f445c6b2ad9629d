"""The part of a big fragment that matters to its cells and loads.

What hangs together only through ground or a rail that is held cannot affect
it, so it need not be simulated with it.
"""

from __future__ import annotations

from collections.abc import Collection

import networkx as nx
from msgspec.structs import replace

from netcheck.fragment.model import Fragment, Kind


def around(
    fragment: Fragment, nets: Collection[str] = (), kinds: Collection[Kind] = (Kind.CELL, Kind.LOAD)
) -> Fragment:
    """The fragment with only what hangs together, not through a held net, with these nets or kinds of part.

    Held are ground and every rail that is near 0 V when off. Linear in the
    size of the fragment.
    """
    held = {fragment.ground, *(rail.net for rail in fragment.rails.values() if rail.when_off == "low")}
    together: nx.Graph[str] = nx.Graph()
    for part in fragment.fitted:
        free = [net for net in _nets(fragment, part.name) if net not in held]
        together.add_nodes_from(free)
        nx.add_path(together, free)
    wanted = {*nets, *(net for part in fragment.of_kind(*kinds) for net in part.nets)} - held
    kept = {net for group in nx.connected_components(together) if not wanted.isdisjoint(group) for net in group}
    of_kinds = {part.name for part in fragment.of_kind(*kinds)}
    parts = {
        name: part for name, part in fragment.parts.items()
        if name in of_kinds or not kept.isdisjoint(_nets(fragment, name))
    }
    return replace(fragment, parts=parts)


def _nets(fragment: Fragment, name: str) -> tuple[str, ...]:
    part = fragment.parts[name]
    clamped = part.clamp.inputs if part.clamp else ()
    return (*part.nets, *clamped) if part.kind is not Kind.CHIP else clamped
