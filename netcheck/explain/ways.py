"""What was seen of a section: its solved points, as it is and with each part failed, and its currents as ways."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

import networkx as nx
from msgspec import Struct, field

from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Fault
from netcheck.simulation.elements import Circuit, OperatingPoint
from netcheck.solving.flows import DRIVEN_A, flows, part_of
from netcheck.solving.solved_states import Survey


class Seen(Struct, frozen=True):
    """The solved points: as the board is, and with each part failed."""

    found: Survey
    states: Sequence[State]
    base: Mapping[str, OperatingPoint]
    failed: Mapping[Any, OperatingPoint]
    _ways: dict[str, Ways] = field(default_factory=dict)

    @property
    def fragment(self) -> Fragment:
        return self.found.fragment

    def circuit(self, state: State, *failed: Fault) -> Circuit:
        return circuit_of(self.fragment, state, self.found.corners.room, faults=failed)

    def ways(self, state: State) -> Ways:
        if state.name not in self._ways:
            self._ways[state.name] = Ways.of(self.fragment, self.circuit(state), self.base[state.name])
        return self._ways[state.name]

    def into(self, point: OperatingPoint, cell: Part) -> float:
        """The current into a cell at a point, 0 where it gives some, or where nothing is known."""
        return max(0.0, -point.amps.get(cell.name, 0.0)) if point.known else 0.0


class Ways(Struct, frozen=True):
    """The currents of one state as a graph of nets without its sources, cells and loads, and who gives and takes."""

    graph: nx.DiGraph[Any]
    parts: Mapping[str, tuple[tuple[str, str], ...]]
    held: frozenset[str]

    @classmethod
    def of(cls, fragment: Fragment, circuit: Circuit, point: OperatingPoint) -> Ways:
        graph: nx.DiGraph[Any] = nx.DiGraph()
        parts: dict[str, list[tuple[str, str]]] = defaultdict(list)
        for flow in flows(circuit, point):
            name = part_of(fragment, flow.element)
            through = name is not None and fragment.parts[name].kind not in (Kind.CELL, Kind.LOAD)
            if through and not flow.leaking and flow.amps > DRIVEN_A and flow.tail != flow.head:
                graph.add_edge(flow.tail, flow.head)
                parts[str(name)].append((flow.tail, flow.head))
        held = frozenset((fragment.ground, *(net for net in fragment.rails if net in point.amps)))
        return cls(graph, {name: tuple(edges) for name, edges in parts.items()}, held)

    def between(self, start: str, end: str) -> dict[str, tuple[str, str]]:
        """The parts on any way of current from one net to another, with the nets it passes between; no held net lies
        within a way."""
        ahead, behind = self._reached(start, self.graph.successors), self._reached(end, self.graph.predecessors)
        return {name: edge for name, edges in self.parts.items() for edge in edges
                if edge[0] in ahead and edge[1] in behind
                and (edge[0] == start or edge[0] not in self.held) and (edge[1] == end or edge[1] not in self.held)}

    def reach(self, start: str, end: str) -> bool:
        """Whether current goes from one net to another."""
        return start == end or end in self._reached(start, self.graph.successors)

    def _reached(self, start: str, further: Any) -> set[str]:
        seen, waiting = {start}, [start]
        while waiting:
            net = waiting.pop()
            if net not in self.graph or (net != start and net in self.held):
                continue
            for other in further(net):
                if other not in seen:
                    seen.add(other)
                    waiting.append(other)
        return seen
