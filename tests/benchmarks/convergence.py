"""How many ordinary fragments with zeners, and with nets between blocked diodes, do not come to a solution.

    python tests/benchmarks/convergence.py [COUNT]

Each made-up fragment is checked whole; one in which any state stays unsolved is counted, with what was said of it.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter

import netcheck

DIODES = ("1N4148", "BAT85", "BAS70", "1N4001", "BAT54")
ZENERS = ("BZX55C5V6", "BZX55C3V9", "{zener: 5.1 V}", "{zener: 3.3 V}")


def fragment(seed: int) -> str:
    """A memory with its cell, and two to five more parts somewhere between its nets, one of them a zener."""
    dice = random.Random(seed)
    lines = [
        "title: made up", "rails: {+5V: 5 V ±5%, +12V: 12 V}", "parts:",
        "  BT1: {cell: CR2032, plus: CELL, minus: GND}",
        "  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}",
        "  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}",
        "  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}",
    ]
    nets = ["CELL", "VRAM", "+5V", "+12V", "GND", "A", "B"]
    for n in range(10, 10 + dice.randint(2, 5)):
        one, other = dice.sample(nets, 2)
        kind = dice.choice(("diode", "resistor", "zener")) if n > 10 else "zener"
        if kind == "resistor":
            lines.append(f"  R{n}: {{resistor: {dice.choice(('470', '10k', '1M'))}, between: [{one}, {other}]}}")
        else:
            name = dice.choice(ZENERS if kind == "zener" else DIODES)
            lines.append(f"  D{n}: {{diode: {name}, anode: {one}, cathode: {other}}}")
    return "\n".join(lines) + "\n"


def unsolved(text: str) -> str | None:
    """What was said of the first state that was not solved."""
    report = netcheck.check(netcheck.loads(text))
    said = (one.message for variant in report.variants for one in variant.findings if one.severity.value == "unknown")
    return next((message for message in said if "simulation failed" in message or "no definite" in message
                 or "did not finish" in message), None)


def main(count: int) -> None:
    started = time.perf_counter()
    found = [message for seed in range(count) if (message := unsolved(fragment(seed)))]
    print(f"{len(found)} of {count} fragments with a state that was not solved ({len(found) / count:.2%}), "
          f"{time.perf_counter() - started:.0f} s")
    for message, times in Counter(message[:100] for message in found).most_common(5):
        print(f"  {times} x {message}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2_000)
