"""How the cost of an answer grows with the board, as ratios in one run.

    python tests/benchmarks/growth.py

Boards of 9, 25, 60 and 150 parts are made up: a backed-up memory with its pack, and around it sections of the usual
kind (pull-ups, a jumper, a clamp, a load on a rail of its own), some of them coupled with the memory. Goals against
the check of the first example: 25 parts at most 4 times, 60 at most 10 times, 150 at most 30 times; 20 jumpers that
do not touch each other leave nothing untried; a re-check in a warm process at most a quarter of a cold one; two
processors at least 1.6 times one on 60 parts.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median

EXAMPLE = Path(__file__).parents[2] / "examples" / "rack-sampler.yaml"
RUNS = 5
SIZES = (9, 25, 60, 150)
GOALS = {9: 4.0, 25: 4.0, 60: 10.0, 150: 30.0}

HEAD = """title: board of {parts} parts
rails: {{+5V: 5 V ±5%, +12V: {{volts: 12 V ±5%, supply: main}}}}
parts:
  BT1: {{cell: CR2032, plus: CELL, minus: GND}}
  D1: {{diode: 1N4148, anode: CELL, cathode: VRAM}}
  D2: {{diode: 1N4148, anode: +5V, cathode: VRAM}}
  U1: {{load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}}
  JP1: {{jumper: [VRAM, CLR]}}
  R1: {{resistor: 10k, between: [CLR, GND]}}
  BT2: {{cell: alkaline-3xAA, plus: EXT, minus: GND, plugged: maybe}}
  D3: {{diode: BAT85, anode: EXT, cathode: VRAM}}
  C1: {{capacitor: 100n, type: X7R, between: [VRAM, GND]}}
"""
SECTION = """  JP{n}: {{jumper: [+5V, A{n}, +12V]}}
  R{n}: {{resistor: 4k7, between: [A{n}, B{n}]}}
  D{n}: {{diode: 1N4148, anode: B{n}, cathode: C{n}}}
  R{m}: {{resistor: 100k, between: [C{n}, GND]}}
  U{n}: {{load: 1 mA, plus: C{n}, minus: GND}}
  R{k}: {{resistor: 22k, between: [C{n}, E{n}]}}
  D{k}: {{diode: 1N4148, anode: GND, cathode: E{n}}}
"""


def board(parts: int) -> str:
    lines = HEAD.format(parts=parts).splitlines()
    while len(lines) - 3 < parts:
        n = len(lines)
        lines += SECTION.format(n=100 + n, m=1100 + n, k=2100 + n).splitlines()
    return "\n".join(lines[:parts + 3]) + "\n"


def jumpers(count: int) -> str:
    parts = "".join(f"  JP{n}: {{jumper: [+5V, N{n}]}}\n  R{n}: {{resistor: 1k, between: [N{n}, GND]}}\n"
                    for n in range(10, 10 + count))
    return HEAD.format(parts="jumpers") + parts


def check(path: Path, processors: int | None = None) -> float:
    few = [] if processors is None else ["taskset", "-c", ",".join(map(str, range(processors)))]
    started = time.perf_counter()
    subprocess.run([*few, sys.executable, "-m", "netcheck", "check", str(path)], stdout=subprocess.DEVNULL, check=False)
    return time.perf_counter() - started


def in_turn(one: Callable[[], float], other: Callable[[], float], runs: int) -> tuple[float, float, float]:
    """Seconds of two things that are done in turn, as the machine's speed wanders: the medians, and that of the ratios.

    The ratio of each pair is that of the other to the one.
    """
    pairs = [(one(), other()) for _ in range(runs)]
    return median(a for a, _ in pairs), median(b for _, b in pairs), median(b / a for a, b in pairs)


WARM = """
import sys, time, netcheck
started = time.perf_counter()
fragment = netcheck.load(sys.argv[1])
report = netcheck.check(fragment)
cold = time.perf_counter() - started
started = time.perf_counter()
netcheck.check(netcheck.load(sys.argv[1]))
warm = time.perf_counter() - started
changed = netcheck.loads(open(sys.argv[1], encoding="utf-8").read().replace("resistor: 10k", "resistor: 11k"))
started = time.perf_counter()
netcheck.check(changed)
changed = time.perf_counter() - started
untried = [one.message for one in report.variants[-1].findings if one.check == "states"]
print(cold, warm, changed, len(untried))
"""


def warm(path: Path) -> tuple[float, float, float, int]:
    """Seconds of a first check, of a second one in the same process and of one with one value changed.

    With them the number of findings of states left untried.
    """
    done = subprocess.run([sys.executable, "-c", WARM, str(path)], capture_output=True, text=True, check=True)
    cold, again, changed, untried = done.stdout.split()
    return float(cold), float(again), float(changed), int(untried)


def main(arguments: Sequence[str]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        def against_example(words: str, path: Path, runs: int, goal: str) -> None:
            example, took, ratio = in_turn(lambda: check(EXAMPLE), lambda: check(path), runs)
            print(f"{words:<34}{took:>8.2f} s{ratio:>7.1f} times {example:.2f} s of the first example ({goal})")

        for size in SIZES:
            path = Path(folder, f"{size}.yaml")
            path.write_text(board(size), encoding="utf-8")
            against_example(f"{size} parts", path, RUNS if size <= 60 else 1, f"goal: at most {GOALS[size]:g}")
        path = Path(folder, "jumpers.yaml")
        path.write_text(jumpers(20), encoding="utf-8")
        against_example("20 jumpers apart", path, 1, f"untried: {warm(path)[3]}, goal: 0")
        for size in (25, 60):
            cold, again, changed, _ = warm(Path(folder, f"{size}.yaml"))
            print(f"{f'{size} parts, again in one process':<34}{again:>8.2f} s{again / cold:>7.2f} of the first "
                  "(goal: at most 0.25)")
            print(f"{f'{size} parts, one value changed':<34}{changed:>8.2f} s{changed / cold:>7.2f} of the first")
        if (os.cpu_count() or 1) > 1:
            path = Path(folder, "60.yaml")
            two, one, ratio = in_turn(lambda: check(path, 2), lambda: check(path, 1), RUNS)
            print(f"{'60 parts, one and two processors':<34}{one:>8.2f} s{two:>8.2f} s{ratio:>7.2f} times "
                  "(goal: at least 1.6)")


if __name__ == "__main__":
    main(sys.argv[1:])
