"""Whole commands against what they stand on, measured side by side in one run.

    python tests/benchmarks/whole_program.py

Goals: `netcheck check` on the first example at most 3 times the import of the
simulator's binding and networkx; `netcheck --help` at most 3 times the import
of click; 10,000 samples of the tolerance study at most 20 times one plain check.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

EXAMPLE = str(Path(__file__).parents[2] / "examples" / "rack-sampler.yaml")
RUNS = 7

COMMANDS = {
    "import of PySpice's netlist and networkx": ["-c", "import PySpice.Spice.Netlist, networkx"],
    "netcheck check, first example": ["-m", "netcheck", "check", EXAMPLE],
    "import of click": ["-c", "import click"],
    "netcheck --help": ["-m", "netcheck", "--help"],
}


def seconds(arguments: list[str]) -> float:
    started = time.perf_counter()
    subprocess.run([sys.executable, *arguments], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)
    return time.perf_counter() - started


def main() -> None:
    best = {name: float("inf") for name in COMMANDS}
    for _ in range(RUNS):  # by turns, so that a busy moment hits all alike
        for name, arguments in COMMANDS.items():
            best[name] = min(best[name], seconds(arguments))
    for name, took in best.items():
        print(f"{name:<44}{took * 1000:>9.0f} ms")
    binding, check, click, shown = best.values()
    print(f"check against the import: {check / binding:.2f} times (goal: at most 3)")
    print(f"--help against click: {shown / click:.2f} times (goal: at most 3)")
    study = ["-m", "netcheck", "diodes", EXAMPLE, "--mod", "coin-cell", "--at", "D1", "--try", "BAS70"]
    plain, sampled = seconds(study), seconds([*study, "--samples", "10000"])
    took = sampled - plain
    print(f"10,000 samples: {took:.1f} s, {took / check:.1f} times a plain check (goal: at most 20)")


if __name__ == "__main__":
    main()
