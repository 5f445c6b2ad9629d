"""Big boards against the clock: python tests/benchmarks/sizes.py [SHAPE…] [--commands check,bench] [--most 100]

Boards of several shapes (chains, stars, meshes, backed-up memories, wide chips, jumpers, packs, supplies), all of whose
parts hang together, go through the commands. Prints the seconds by the clock and of the processor, the peak memory
of each run (the simulator's process apart), and what was told as left out. Goals: 60 s of the processor, 500 MB. Exits
1 where one is missed.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

GOAL_S, GOAL_MB = 60.0, 500.0
HEAD = """title: {title}
rails: {{+5V: 5 V ±5%, +12V: {{volts: 12 V ±5%, supply: aux}}}}
parts:
  BT1: {{cell: CR2032, plus: CELL, minus: GND}}
  D1: {{diode: 1N4148, anode: CELL, cathode: VRAM}}
  D2: {{diode: 1N4148, anode: +5V, cathode: VRAM}}
  U1: {{load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}}
"""


def chain(count: int) -> Iterator[str]:
    """Resistors and diodes in turn, from the backed-up net on, each knot with a load's pull-down."""
    before = "VRAM"
    for n in range(10, 10 + count // 2):
        after = f"N{n}"
        yield f"  R{n}: {{resistor: 4k7, between: [{before}, {after}]}}" if n % 2 else \
            f"  D{n}: {{diode: 1N4148, anode: {before}, cathode: {after}}}"
        yield f"  R{n + 5000}: {{resistor: 1M, between: [{after}, GND]}}"
        before = after


def star(count: int) -> Iterator[str]:
    """Everything on the backed-up net."""
    for n in range(10, 10 + count // 4):
        yield f"  R{n}: {{resistor: 100k, between: [VRAM, A{n}]}}"
        yield f"  D{n}: {{diode: BAT85, anode: A{n}, cathode: B{n}}}"
        yield f"  U{n}: {{load: 1 uA, plus: B{n}, minus: GND, works: 1 V to 5.5 V}}"
        yield f"  C{n}: {{capacitor: 100n, type: X7R, between: [B{n}, GND]}}"


def mesh(count: int) -> Iterator[str]:
    """A grid of resistors and diodes between the cell and the rail."""
    side = max(2, int((count / 2) ** 0.5))
    made = 0
    for row in range(side):
        for column in range(side):
            here = "CELL" if row == column == 0 else f"M{row}.{column}".replace(".", "_")
            for there in ((row, column + 1), (row + 1, column)):
                if max(there) < side:
                    made += 1
                    word = "diode: 1N4148, anode" if made % 5 == 0 else "resistor: 10k, between"
                    name = f"M{there[0]}_{there[1]}"
                    yield f"  D{made + 9}: {{diode: 1N4148, anode: {here}, cathode: {name}}}" if made % 5 == 0 else \
                        f"  R{made + 9}: {{{word}: [{here}, {name}]}}"
    yield f"  R9: {{resistor: 1k, between: [+5V, M{side - 1}_{side - 1}]}}"


def cells(count: int) -> Iterator[str]:
    """Backed-up memories whose cells reach each other through resistors."""
    for n in range(10, 10 + count // 5):
        yield f"  BT{n}: {{cell: CR2032, plus: C{n}, minus: GND}}"
        yield f"  D{n}: {{diode: 1N4148, anode: C{n}, cathode: V{n}}}"
        yield f"  D{n + 5000}: {{diode: 1N4148, anode: +5V, cathode: V{n}}}"
        yield f"  U{n}: {{load: 2 uA, plus: V{n}, minus: GND, works: 1.5 V to 5.5 V}}"
        yield f"  R{n}: {{resistor: 10k, between: [V{n}, VRAM]}}"


def chip(count: int) -> Iterator[str]:
    """One chip of so many pins with clamps on half of them, each pin with a pull-up."""
    pins = ", ".join(f"{n}: P{n}" for n in range(1, count + 1))
    clamped = ", ".join(f"P{n}" for n in range(1, count // 2))
    yield f"  U9: {{chip: gate array, pins: {{{pins}}}, clamps: {{to: +5V, from: [{clamped}]}}}}"
    for n in range(1, count // 2):
        yield f"  R{n + 9}: {{resistor: 10k, between: [P{n}, VRAM]}}"


def bare_chip(count: int) -> Iterator[str]:
    """One chip of so many pins and nothing else on them."""
    yield f"  U9: {{chip: gate array, pins: {{1: VRAM, {', '.join(f'{n}: P{n}' for n in range(2, count + 1))}}}}}"


def jumpers(count: int) -> Iterator[str]:
    """Jumpers in a row, all of which see each other."""
    before = "VRAM"
    for n in range(10, 10 + count):
        yield f"  JP{n}: {{jumper: [{before}, N{n}]}}"
        yield f"  R{n}: {{resistor: 1k, between: [{before}, N{n}]}}"
        before = f"N{n}"
    yield f"  R9: {{resistor: 1M, between: [{before}, GND]}}"


def jumpers_apart(count: int) -> Iterator[str]:
    """Jumpers that do not touch each other."""
    for n in range(10, 10 + count):
        yield f"  JP{n}: {{jumper: [+5V, N{n}]}}"
        yield f"  R{n}: {{resistor: 1k, between: [N{n}, GND]}}"


def packs(count: int) -> Iterator[str]:
    """Packs that may be plugged in, all onto the backed-up net."""
    for n in range(10, 10 + count):
        yield f"  BT{n}: {{cell: alkaline-3xAA, plus: EXT{n}, minus: GND, plugged: maybe}}"
        yield f"  D{n}: {{diode: BAT85, anode: EXT{n}, cathode: VRAM}}"


def supplies(count: int) -> Iterator[str]:
    """Rails of supplies of their own, all onto the backed-up net."""
    for n in range(10, 10 + count):
        yield f"  D{n}: {{diode: 1N4148, anode: S{n}, cathode: VRAM}}"


def relays(count: int) -> Iterator[str]:
    """Relays whose coils something else drives."""
    for n in range(10, 10 + count):
        yield f"  K{n}: {{relay: 167, coil: [X{n}, GND], common: VRAM, rest: A{n}, work: B{n}}}"
        yield f"  R{n}: {{resistor: 10k, between: [A{n}, +5V]}}"
        yield f"  R{n + 5000}: {{resistor: 10k, between: [B{n}, +12V]}}"


def regulators(count: int) -> Iterator[str]:
    """Adjustable regulators with links, one after the other."""
    for n in range(10, 10 + count // 6):
        yield f"  U{n}: {{regulator: LM317, input: +12V, output: O{n}, adjust: A{n}}}"
        yield f"  R{n}: {{resistor: 240, between: [O{n}, A{n}]}}"
        yield f"  R{n + 5000}: {{resistor: 390, between: [A{n}, B{n}]}}"
        yield f"  R{n + 6000}: {{resistor: 100, between: [B{n}, GND]}}"
        yield f"  JP{n}: {{jumper: [B{n}, GND]}}"
        yield f"  D{n}: {{diode: 1N4148, anode: O{n}, cathode: VRAM}}"


def capacitors(count: int) -> Iterator[str]:
    """Capacitors of every kind, with diodes between them."""
    for n in range(10, 10 + count // 2):
        yield f"  C{n}: {{capacitor: 100u, type: wet, rated: 10 V, plus: Q{n}, minus: GND}}"
        yield f"  D{n}: {{diode: 1N4148, anode: VRAM, cathode: Q{n}}}"


SHAPES: dict[str, tuple[Callable[[int], Iterator[str]], tuple[int, ...]]] = {
    "chain": (chain, (50, 100, 1000)), "star": (star, (50, 100, 1000)), "mesh": (mesh, (50, 100, 1000)),
    "cells": (cells, (50, 100, 1000)), "chip": (chip, (60, 168)), "bare_chip": (bare_chip, (168, 273)),
    "jumpers": (jumpers, (8, 20)), "jumpers_apart": (jumpers_apart, (20,)), "packs": (packs, (6, 12)),
    "supplies": (supplies, (6, 30)), "relays": (relays, (10, 30)), "regulators": (regulators, (50, 100)),
    "capacitors": (capacitors, (50, 100)),
}


def board(shape: str, count: int) -> str:
    make = SHAPES[shape][0]
    head = HEAD.format(title=f"{shape} of {count}")
    if shape == "supplies":
        rails = ", ".join(f"S{n}: {{volts: {3 + n / 10:g} V ±5%, supply: s{n}}}" for n in range(10, 10 + count))
        head = head.replace("supply: aux}}", f"supply: aux}}, {rails}}}")
    return head + "\n".join(make(count)) + "\n"


def run(command: str, path: Path, more: list[str]) -> tuple[float, float, float, int, str]:
    """Seconds by the clock and of the processor, megabytes, exit status, and the lines that tell what was left out."""
    given = {"document": ["-o", str(path.with_suffix(".html")), "--force"],
             "draw": ["-o", str(path.with_suffix(".svg")), "--force"], "impedance": ["--at", "VRAM"],
             "changes": ["--against", "as found"],
             "check": ["--full"]}.get(command, [])
    with tempfile.TemporaryFile() as out:
        started = time.monotonic()
        process = subprocess.Popen([sys.executable, "-m", "netcheck", command, str(path), *given, *more],
                                   stdout=out, stderr=subprocess.STDOUT)
        _, status, used = os.wait4(process.pid, 0)
        took = time.monotonic() - started
        out.seek(0)
        text = out.read().decode(errors="replace")
    words = ("were not", "was not tried", "not tried", "used up", "left out", "untried", "Error")
    told = [line.strip() for line in text.splitlines() if any(word in line for word in words)]
    process.returncode = os.waitstatus_to_exitcode(status)
    return took, used.ru_utime + used.ru_stime, used.ru_maxrss / 1000, process.returncode, "; ".join(told[:2])[:200]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("shapes", nargs="*", metavar="SHAPE", help=", ".join(SHAPES))
    parser.add_argument("--commands", default="check,bench,document,draw")
    parser.add_argument("--most", type=int, default=10**9, help="no board of more parts than this")
    parser.add_argument("--least", type=int, default=0)
    parser.add_argument("--deadline", help="given to every command")
    asked = parser.parse_args()
    missed = 0
    with tempfile.TemporaryDirectory(prefix="netcheck-sizes-") as folder:
        for shape in asked.shapes or SHAPES:
            for count in SHAPES[shape][1]:
                if not asked.least <= count <= asked.most:
                    continue
                path = Path(folder, f"{shape}-{count}.yaml")
                path.write_text(board(shape, count), encoding="utf-8")
                for command in asked.commands.split(","):
                    more = ["--deadline", asked.deadline] if asked.deadline else []
                    took, worked, memory, status, told = run(command, path, more)
                    beyond = worked > GOAL_S or memory > GOAL_MB or status not in (0, 1, 2)
                    missed += beyond
                    print(f"{shape} {count:<6}{command:<10}{took:7.1f} s{worked:7.1f} s{memory:7.0f} MB  exit {status}"
                          f"{'  MISSED' if beyond else ''}  {told}", flush=True)
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
