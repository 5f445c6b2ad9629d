"""Settings and choices against one plain check, and how the settings grow with the links.

    python tests/benchmarks/settings_growth.py

Goals: `netcheck settings` of three links, worst case and faults included, at most 3 times `netcheck check` on the
first example; `netcheck choose` over E24 with four free resistors and three links at most 30 times.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from netcheck.api import loads, settings_of

EXAMPLES = Path(__file__).parents[2] / "examples"
FIRST, SUPPLY = EXAMPLES / "rack-sampler.yaml", EXAMPLES / "coprocessor-card.yaml"
RUNS = 5
BOARD = """
title: Growth
rails: {+5V: 5 V ±3%}
parts:
  U5: {regulator: MIC29302, input: +5V, output: VC, adjust: ADJ, ground: GND, heatsink: 10 K/W}
  R1: {resistor: 249 ±1%, between: [VC, ADJ]}
  R2: {resistor: 150 ±1%, between: [ADJ, GND]}
  U6: {load: {draws: 0.7 A at 3.3 V, most: 1 A}, plus: VC, minus: GND, works: 3.1 V to 4.3 V, survives: 4.6 V}
"""


def seconds(*arguments: str) -> float:
    """The best of some runs of a command."""
    best = float("inf")
    for _ in range(RUNS):
        started = time.perf_counter()
        subprocess.run([sys.executable, "-m", "netcheck", *arguments], stdout=subprocess.DEVNULL,
                       stderr=subprocess.DEVNULL, check=False)
        best = min(best, time.perf_counter() - started)
    return best


def with_links(count: int) -> str:
    return BOARD + "".join(f"  R{10 + place}: {{resistor: {1000 * 2 ** place} ±1%, between: [ADJ, S{place}]}}\n"
                           f"  JP{place}: {{jumper: [S{place}, GND]}}\n" for place in range(count))


def main() -> None:
    check = seconds("check", str(FIRST))
    found = seconds("settings", str(SUPPLY), "--mod", "eight-settings")
    print(f"check, first example             {check:6.2f} s")
    print(f"settings, three links            {found:6.2f} s, {found / check:.1f} times a check (goal: at most 3)")
    with tempfile.NamedTemporaryFile("w", suffix=".yaml", encoding="utf-8") as file:
        file.write(BOARD)
        file.flush()
        chosen = seconds("choose", file.name, "--outputs", "3.3 V, 3.45 V, 3.6 V, 4.0 V", "--links", "3",
                         "--keep", "R1")
    print(f"choose, four resistors of E24    {chosen:6.2f} s, {chosen / check:.1f} times a check (goal: at most 30)")
    for count in range(7):
        fragment = loads(with_links(count))
        started = time.perf_counter()
        settings = settings_of(fragment)["U5"].settings
        print(f"{count} links: {len(settings):3} settings in {time.perf_counter() - started:.2f} s")


if __name__ == "__main__":
    main()
