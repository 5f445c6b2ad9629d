"""What a board of an archive costs against a single check, with one process and with two; run by hand.

    python tests/benchmarks/archive.py [BOARDS]

Prints ratios of one run, and the resident size of this process before and after: it must not grow with the boards.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import netcheck

BOARD = """\
title: board {n}
rails: {{+5V: 5 V ±5%}}
parts:
  BT1: {{cell: CR2032, plus: CELL, minus: GND}}
  R1: {{resistor: {ohms}, between: [CELL, N]}}
  D1: {{diode: 1N4148, anode: N, cathode: VRAM}}
  D2: {{diode: 1N4148, anode: +5V, cathode: VRAM}}
  U1: {{load: {amps} uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}}
"""


def main(boards: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for n in range(boards):
            (folder / f"{n:05}.yaml").write_text(BOARD.format(n=n, ohms=500 + n, amps=1 + n % 7))
        first = next(folder.iterdir())
        netcheck.check(netcheck.load(first))
        started = time.perf_counter()
        for _ in range(5):
            netcheck.check(netcheck.load(first))
        single = (time.perf_counter() - started) / 5
        size = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        print(f"a single check, warm: {single * 1e3:.0f} ms")
        started = time.perf_counter()
        for done, _ in enumerate(netcheck.check_many([folder]), 1):
            if done % 100 == 0:
                print(f"  {done} boards", file=sys.stderr)
        alone = (time.perf_counter() - started) / boards
        grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - size) / 1024
        print(f"a board of {boards} in this process: {alone / single:.2f} times that; memory grew by {grown:.1f} MB")
        for processes in (1, 2):
            with ProcessPoolExecutor(processes, mp_context=multiprocessing.get_context("spawn")) as pool:
                started = time.perf_counter()
                assert sum(1 for _ in netcheck.check_many([folder], pool)) == boards
                each = (time.perf_counter() - started) / boards
            print(f"a board of {boards} with {processes} process{'es' * (processes > 1)}: {each / single:.2f} times")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
