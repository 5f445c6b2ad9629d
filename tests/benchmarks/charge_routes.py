"""Charge routes on 1,000, 10,000 and 100,000 parts, measured side by side in one run.

    python tests/benchmarks/charge_routes.py

The boards are random ladders of resistors, diodes and capacitors around one
cell and one rail. Time is that of the graph and its searches for both states;
it should grow no faster than 15 times for ten times the parts. The best of
three rounds counts.
"""

from __future__ import annotations

import gc
import random
import time

import netcheck
from netcheck.conduction.graph import conduction
from netcheck.conduction.routes import Route, charge_routes, feeds
from netcheck.fragment.states import enumerate_states

SIZES = (1_000, 10_000, 100_000)
ROUNDS = 3


def board(parts: int, seed: int = 1) -> str:
    """A board of about this many parts: nets in a chain with cross links, a cell at one end, a rail at the other."""
    chance = random.Random(seed)
    lines = ["title: ladder", "rails: {+5V: 5 V}", "parts:",
             "  BT1: {cell: CR2032, plus: N0, minus: GND}",
             "  U1: {load: 2 uA, plus: N1, minus: GND}",
             f"  R0: {{resistor: 1k, between: [+5V, N{parts // 2}]}}"]
    nets = parts // 2
    lines += [f"  R{number}: {{resistor: 10k, between: [N{number - 1}, N{number}]}}" for number in range(1, nets + 1)]
    for number in range(nets + 1, parts - 2):
        near = chance.randrange(nets)
        if number % 3 == 0:
            lines.append(f"  C{number}: {{capacitor: 100n, between: [N{near}, GND]}}")
        elif number % 3 == 1:
            lines.append(f"  D{number}: {{diode: 1N4148, anode: N{near}, cathode: N{min(nets, near + 2)}}}")
        else:
            lines.append(f"  R{number}: {{resistor: 10k, between: [N{near}, N{chance.randrange(nets)}]}}")
    return "\n".join(lines) + "\n"


def measure(parts: int) -> tuple[float, float, int]:
    """Seconds to read the file, seconds for the graph and routes of both states, and shorts to charge."""
    text = board(parts)
    started = time.perf_counter()
    fragment = netcheck.loads(text)
    read = time.perf_counter()
    took = []
    for _ in range(ROUNDS):
        gc.collect()
        begun = time.perf_counter()
        routes = searched(fragment)
        took.append(time.perf_counter() - begun)
    return read - started, min(took), min(len(route.shorts) for route in routes)


def searched(fragment: netcheck.Fragment) -> list[Route]:
    """The graph of every state, the routes into the cell and what feeds the load."""
    graphs = [conduction(fragment, state) for state in enumerate_states(fragment).states]
    routes = [route for graph in graphs for route in charge_routes(fragment, graph, fragment.parts["BT1"])]
    for graph in graphs:
        feeds(fragment, graph)
    return routes


def main() -> None:
    print(f"{'parts':>8} {'reading':>10} {'routes':>10} {'growth':>8}  shorts to charge")
    before = None
    for parts in SIZES:
        read, searched, shown = measure(parts)
        growth = "" if before is None else f"{searched / before:.1f} x"
        print(f"{parts:>8} {read:>8.2f} s {searched:>8.2f} s {growth:>8}  {shown}")
        before = searched


if __name__ == "__main__":
    main()
