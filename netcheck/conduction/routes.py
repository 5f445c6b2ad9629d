"""How a rail or another cell can push current into a cell, and what feeds a load.

Every question here is one or two shortest-path searches, so the cost grows
with the size of the circuit; the simple paths of a circuit are never listed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from typing import Any

import networkx as nx
from msgspec import Struct

from netcheck.clock import in_time
from netcheck.conduction.graph import Conduction, Node, Outlet, present
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts.cell import end_V, volts
from netcheck.parts.specs import CellSpec

_FAILURE = 1_000_000
"""Weight of a failure against that of a part: fewest failures first, then fewest parts."""

_SHOWN = 6
_HIDDEN = 4
"""Of a conducting route, how many parts are hidden one at a time to find the routes beside it."""


class Route(Struct, frozen=True):
    """A way for current from a source through the cell from plus to minus.

    source: the live rail, or the other cell, that pushes. parts and nets: in
    the order in which the current meets them. shorts: those of the parts that
    would have to fail short first.
    """

    source: str
    cell: str
    state: str
    parts: tuple[str, ...]
    nets: tuple[str, ...]
    shorts: tuple[str, ...]

    @property
    def conducting(self) -> bool:
        return not self.shorts


class Feed(Struct, frozen=True):
    """What can supply a load in one state: whether a live rail can, and which cells can."""

    by_rail: bool
    by_cells: frozenset[str]


def _weight(hidden: Collection[str]) -> Callable[[Node, Node, Mapping[str, Any]], int | None]:
    def weight(tail: Node, head: Node, edges: Mapping[str, Any]) -> int | None:
        failures = [edge["failures"] for part, edge in edges.items() if part not in hidden]
        return _FAILURE * min(failures) + 1 if failures else None

    return weight


class _Search(Struct, frozen=True):
    """Cheapest ways from one node to all others (or, searched backwards, from all others to it)."""

    graph: nx.MultiDiGraph[Any]
    hidden: Collection[str]
    before: Mapping[Node, list[Node]]
    cost: Mapping[Node, int]
    backwards: bool

    @classmethod
    def of(cls, conduction: Conduction, node: Node, hidden: Collection[str], backwards: bool) -> _Search:
        if node in conduction.held:  # what holds a net takes or gives the current itself
            return cls(conduction.graph, hidden, {}, {}, backwards)
        graph = nx.reverse_view(conduction.graph) if backwards else conduction.graph
        before, cost = nx.dijkstra_predecessor_and_distance(graph, node, weight=_weight(hidden))
        return cls(conduction.graph, hidden, before, cost, backwards)

    def way(self, node: Node) -> list[tuple[Node, Node]]:
        """The steps of the cheapest way, in the direction of the current."""
        steps = []
        while self.before[node]:
            nearer = self.before[node][0]
            steps.append((node, nearer) if self.backwards else (nearer, node))
            node = nearer
        return steps if self.backwards else steps[::-1]


def charge_routes(
    fragment: Fragment, conduction: Conduction, cell: Part, hidden: Collection[str] = ()
) -> list[Route]:
    """The cheapest route into a cell from each source that could push current into it, best first.

    hidden: parts taken as removed. A source counts only where its volts exceed
    those of the cell at its end point, the least it takes to charge it.
    """
    if not present(cell, conduction.state):
        return []
    assert isinstance(cell.spec, CellSpec)
    floor_V = end_V(cell.spec)
    hidden = {*hidden, cell.name}
    plus, minus = cell.pins["plus"], cell.pins["minus"]
    into = _Search.of(conduction, plus, hidden, backwards=True)
    out_of = _Search.of(conduction, minus, hidden, backwards=False)
    found = [
        *_from_rails(conduction, cell, floor_V, into, out_of),
        *_from_cells(fragment, conduction, cell, floor_V, into, out_of),
    ]
    found.sort(key=lambda pair: pair[0])
    best: dict[str, Route] = {}
    for _, route in found:
        best.setdefault(route.source, route)
    return list(best.values())


def _from_rails(
    conduction: Conduction, cell: Part, floor_V: float, into: _Search, out_of: _Search
) -> Iterator[tuple[int, Route]]:
    plus, minus = cell.pins["plus"], cell.pins["minus"]
    held = conduction.held.values()
    highs = [h for h in held if _reaches(into, Outlet(h.net), plus, h.net, conduction)]
    lows = [h for h in held if _reaches(out_of, h.net, minus, h.net, conduction)]
    for high in highs:
        for low in lows:
            if high.net == low.net or high.high_V - low.low_V <= floor_V:
                continue
            inward = [] if high.net == plus else into.way(Outlet(high.net))
            outward = [] if low.net == minus else out_of.way(low.net)
            cost = (into.cost[Outlet(high.net)] if inward else 0) + (out_of.cost[low.net] if outward else 0)
            source = high.net if high.live else low.net
            route = _route(source, cell, conduction, inward, outward, into, high.high_V - low.low_V - floor_V)
            yield cost + _FAILURE * (len(route.shorts) - cost // _FAILURE), route


def _spec(cell: Part) -> CellSpec:
    assert isinstance(cell.spec, CellSpec)
    return cell.spec


def _reaches(search: _Search, node: Node, end: str, net: str, conduction: Conduction) -> bool:
    """Whether a held net can take part: a cell pin on a held net is tied to that net alone."""
    return net == end if end in conduction.held else node in search.cost


def _from_cells(
    fragment: Fragment, conduction: Conduction, cell: Part, floor_V: float, into: _Search, out_of: _Search
) -> Iterator[tuple[int, Route]]:
    """Routes from another cell: from its plus into this plus, from this minus back to its minus.

    Others may stand in series with it, so the volts of all of them count.
    """
    others = [other for other in fragment.of_kind(Kind.CELL)
              if other.name != cell.name and present(other, conduction.state)]
    stack_V = sum(volts(_spec(other), 0.0, other.measured_V) for other in others)
    for other in others:
        if stack_V <= floor_V or other.pins["plus"] in conduction.held:
            continue
        hidden = {*into.hidden, other.name}
        inward = _Search.of(conduction, cell.pins["plus"], hidden, backwards=True)
        start = conduction.start(other.pins["plus"])
        if start not in inward.cost:
            continue
        back = _way_back(conduction, cell.pins["minus"], other.pins["minus"], hidden)
        if back is not None:
            cost, steps = back
            route = _route(other.name, cell, conduction, inward.way(start), steps, inward, stack_V - floor_V)
            yield inward.cost[start] + cost, route


def _way_back(
    conduction: Conduction, minus: str, other_minus: str, hidden: Collection[str]
) -> tuple[int, list[tuple[Node, Node]]] | None:
    """The cheapest way from one cell's minus to another's, through at most one held net."""
    if minus == other_minus:
        return 0, []
    leaving = _Search.of(conduction, minus, hidden, backwards=False)
    arriving = _Search.of(conduction, other_minus, hidden, backwards=True)
    ways: list[tuple[int, list[tuple[Node, Node]]]] = []
    if other_minus in leaving.cost:
        ways.append((leaving.cost[other_minus], leaving.way(other_minus)))
    for net in conduction.held:
        leave = 0 if net == minus else leaving.cost.get(net)
        arrive = 0 if net == other_minus else arriving.cost.get(Outlet(net))
        if leave is not None and arrive is not None:
            steps = [*([] if net == minus else leaving.way(net)),
                     *([] if net == other_minus else arriving.way(Outlet(net)))]
            ways.append((leave + arrive, steps))
    return min(ways, key=lambda way: way[0], default=None)


def _route(
    source: str,
    cell: Part,
    conduction: Conduction,
    inward: list[tuple[Node, Node]],
    outward: list[tuple[Node, Node]],
    search: _Search,
    spare_V: float,
) -> Route:
    """The route over these steps; spare_V: what is left to break down zeners, which block where it is too little."""
    parts: list[str] = []
    shorts: list[str] = []
    nets = [_net(inward[0][0]) if inward else cell.pins["plus"]]
    broken: list[str] = []
    for tail, head in [*inward, *outward]:
        edges = search.graph[tail][head]
        usable = {part: edge for part, edge in edges.items() if part not in search.hidden}
        part = min(usable, key=lambda name: (usable[name]["failures"], usable[name]["volts_V"]))
        parts.append(part)
        if usable[part]["failures"]:
            shorts.append(part)
        elif usable[part]["volts_V"]:
            broken.append(part)
            spare_V -= usable[part]["volts_V"]
        nets.append(_net(head))
    if broken and spare_V <= 0:
        shorts += broken
    return Route(source, cell.name, conduction.state.name, tuple(parts),
                 tuple(dict.fromkeys(nets)), tuple(dict.fromkeys(shorts)))


def _net(node: Node) -> str:
    return node.net if isinstance(node, Outlet) else node


def distinct_routes(
    fragment: Fragment, conductions: Iterable[Conduction], cell: Part, hidden: Collection[str] = ()
) -> list[Route]:
    """The few routes worth showing over all states: conducting ones first, then the nearest blocked ones.

    Parallel routes are found by hiding one part of a known route at a time.
    """
    conducting: dict[frozenset[str], Route] = {}
    blocked: dict[frozenset[str], Route] = {}
    for conduction in in_time(list(conductions), "Looking for ways into a cell"):
        for route in charge_routes(fragment, conduction, cell, hidden):
            shown = conducting if route.conducting else blocked
            shown.setdefault(frozenset((*route.parts, route.source)), route)
            if route.conducting and len(conducting) < _SHOWN:
                for part in route.parts[:_HIDDEN]:
                    for other in charge_routes(fragment, conduction, cell, {*hidden, part}):
                        if other.conducting:
                            conducting.setdefault(frozenset((*other.parts, other.source)), other)
    nearest = sorted(blocked.values(), key=lambda route: (len(route.shorts), len(route.parts)))
    fewest = len(nearest[0].shorts) if nearest else 0
    return [*list(conducting.values())[:_SHOWN],
            *[route for route in nearest if len(route.shorts) == fewest][: _SHOWN // 2]]


def feeds(fragment: Fragment, conduction: Conduction, hidden: Collection[str] = ()) -> dict[str, Feed]:
    """Load to what can supply it as the circuit stands; hidden parts taken as removed.

    A rail does where current that enters the plus comes from a higher held net than what leaves the minus goes into.
    Two searches for all rails and two for each cell, whatever the number of loads.
    """
    held = conduction.held
    into_plus = _levels(conduction, hidden, backwards=False)
    out_of_minus = _levels(conduction, hidden, backwards=True)
    loads = {load.name for load in fragment.of_kind(Kind.LOAD)}
    from_cells: dict[str, tuple[Collection[Node], Collection[Node]]] = {}
    for cell in fragment.of_kind(Kind.CELL):
        if present(cell, conduction.state) and cell.name not in hidden:
            out = {*hidden, cell.name}
            past = () if fragment.ground in cell.nets else (fragment.ground,)
            from_cells[cell.name] = (
                _further(conduction, cell.pins["plus"], past, out, loads, backwards=False),
                _further(conduction, cell.pins["minus"], past, out, loads, backwards=True))
    found: dict[str, Feed] = {}
    for load in fragment.of_kind(Kind.LOAD):
        plus, minus = load.pins["plus"], load.pins["minus"]
        above = held[plus].middle_V if plus in held else into_plus.get(plus, -math.inf)
        below = held[minus].middle_V if minus in held else out_of_minus.get(minus, math.inf)
        cells = frozenset(
            name for name, (downstream, returning) in from_cells.items()
            if plus in downstream and conduction.start(minus) in returning
        )
        found[load.name] = Feed(above > below, cells)
    return found


def _levels(conduction: Conduction, hidden: Collection[str], backwards: bool) -> dict[Node, float]:
    """Node to the highest volts of a held net whose current reaches it (backwards: the lowest that it flows into)."""
    found: dict[Node, float] = {}
    for one in sorted(conduction.held.values(), key=lambda held: held.middle_V, reverse=not backwards):
        start: Node = one.net if backwards else Outlet(one.net)
        for node in _conducting(conduction, [start], hidden, backwards, found):
            found[node] = one.middle_V
    return found


def _conducting(
    conduction: Conduction, nodes: Collection[Node], hidden: Collection[str], backwards: bool = False,
    known: Collection[Node] = (),
) -> set[Node]:
    """What current reaches from these nodes (or, backwards, where it can have come from) without a failure.

    known: nodes that need not be found again.
    """
    neighbours = conduction.graph.pred if backwards else conduction.graph.adj
    seen, waiting = set(nodes), list(nodes)
    while waiting:
        for near, edges in neighbours[waiting.pop()].items():
            fresh = near not in seen and near not in known
            if fresh and any(not edge["failures"] and part not in hidden for part, edge in edges.items()):
                seen.add(near)
                waiting.append(near)
    return seen


def _further(
    conduction: Conduction, pin: str, past: Collection[str], hidden: Collection[str], loads: Collection[str],
    backwards: bool,
) -> set[Node]:
    """The nodes that a cell's plus feeds (backwards: from which current gets back to its minus).

    past: held nets that the current may pass on its way, though not through a load.
    """
    near = _conducting(conduction, [pin if backwards else conduction.start(pin)], hidden, backwards)
    near |= {pin, conduction.start(pin)}
    for net in past:
        arrives, leaves = (Outlet(net), net) if backwards else (net, Outlet(net))
        if arrives in near:
            near |= {arrives, *_conducting(conduction, [leaves], {*hidden, *loads}, backwards)}
    return near


def feed_path(fragment: Fragment, conduction: Conduction, load: Part, source: str) -> tuple[tuple[str, str, str], ...]:
    """The shortest way between a source and a load, in the direction of the current: (part, from net, to net) in turn.

    From a rail above ground to the plus, from the minus to a rail below it; from a cell to the plus and from the
    minus back to the cell. A side is left out where the load sits on the source itself, or where nothing leads there
    without a failure.
    """
    minus = load.pins["minus"]
    if source in fragment.parts:
        cell = fragment.parts[source]
        back = _way_back(conduction, minus, cell.pins["minus"], {load.name, cell.name})
        return (*_to_plus(conduction, load, cell.pins["plus"]), *(_free(conduction, back[1]) if back else ()))
    if conduction.held[source].middle_V >= 0:
        return _to_plus(conduction, load, source)
    if source == minus or minus in conduction.held:
        return ()
    search = _Search.of(conduction, minus, {load.name}, backwards=False)
    return _free(conduction, search.way(source)) if source in search.cost else ()


def _to_plus(conduction: Conduction, load: Part, start: str) -> tuple[tuple[str, str, str], ...]:
    plus, node = load.pins["plus"], conduction.start(start)
    if start == plus or plus in conduction.held:
        return ()
    search = _Search.of(conduction, plus, {load.name}, backwards=True)
    return _free(conduction, search.way(node)) if node in search.cost else ()


def _free(conduction: Conduction, steps: list[tuple[Node, Node]]) -> tuple[tuple[str, str, str], ...]:
    """The parts of these steps with the nets they lie between; nothing where one would have to fail first."""
    found = []
    for tail, head in steps:
        edges = conduction.graph[tail][head]
        part = min(edges, key=lambda name: edges[name]["failures"])
        if edges[part]["failures"]:
            return ()
        found.append((part, _net(tail), _net(head)))
    return tuple(found)
