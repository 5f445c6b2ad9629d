"""What an operating point costs, beside the bare library and beside one program start per point.

Run by hand: python tests/benchmarks/operating_points.py [POINTS]
Everything is measured in one run, in turns, so that the ratios hold on a busy computer.
"""

from __future__ import annotations

import ctypes
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from netcheck.simulation.deck import Deck, deck
from netcheck.simulation.elements import Battery, Circuit, Draw, Junction, Resistance, Source
from netcheck.simulation.library import find_library
from netcheck.simulation.operating_point import solve
from netcheck.simulation.process import simulator

ROUNDS = 9


def circuits(count: int, first: float = 5.0) -> list[Circuit]:
    """Six parts: a rail, a charging resistor, a cell, two diodes and the load they feed; no two alike."""
    diode = {"saturation_A": 2.5e-9, "emission": 1.75, "series_ohm": 0.57,
             "leakage_A": 25e-9, "leakage_at_V": 20.0}
    return [
        Circuit((
            Source("+5V", "+5V", "GND", first + place * 1e-6),
            Resistance("R1", "+5V", "CELL", 4700.0),
            Battery("BT1", "CELL", "GND", 3.0, 15.0),
            Junction("D1", "CELL", "VRAM", **diode),
            Junction("D2", "+5V", "VRAM", **diode),
            Draw("U1", "VRAM", "GND", 2e-6),
        ), "GND")
        for place in range(count)
    ]


class Vector(ctypes.Structure):
    """vector_info of ngspice's sharedspice.h."""

    _fields_ = (
        ("name", ctypes.c_char_p), ("type", ctypes.c_int), ("flags", ctypes.c_short),
        ("real", ctypes.POINTER(ctypes.c_double)), ("complex", ctypes.c_void_p), ("length", ctypes.c_int),
    )


class BareLibrary:
    """The library by ctypes and nothing else: load, solve, read, clear."""

    def __init__(self) -> None:
        self._library = ctypes.CDLL(find_library())
        ignore = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p)(lambda *_: 0)
        ended = ctypes.CFUNCTYPE(
            ctypes.c_int, ctypes.c_int, ctypes.c_bool, ctypes.c_bool, ctypes.c_int, ctypes.c_void_p
        )(lambda *_: 0)
        self._kept = (ignore, ended)
        self._library.ngSpice_Init(ignore, None, ended, None, None, None, None)
        self._library.ngGet_Vec_Info.restype = ctypes.POINTER(Vector)

    def solve(self, written: Deck) -> list[float]:
        library = self._library
        lines = [line.encode() for line in written.text.splitlines()] + [b"", None]
        library.ngSpice_Circ((ctypes.c_char_p * len(lines))(*lines))
        library.ngSpice_Command(b"op")
        values = [library.ngGet_Vec_Info(name.encode()).contents.real[0] for name in written.vectors.split()]
        library.ngSpice_Command(b"destroy all")
        library.ngSpice_Command(b"remcirc")
        return values


def per_point_us(work: object, count: int) -> float:
    begun = time.perf_counter()
    work()  # type: ignore[operator]
    return (time.perf_counter() - begun) / count * 1e6


def with_program(written: list[str], folder: Path) -> None:
    """One `ngspice -b` for each deck."""
    for text in written:
        file = folder / "point.cir"
        file.write_text(text)
        subprocess.run(["ngspice", "-b", str(file)], check=True, capture_output=True)


def resident_kB(pid: int) -> int:
    return int(subprocess.run(["ps", "-o", "rss=", "-p", str(pid)], check=True, capture_output=True).stdout)


def main(points: int) -> None:
    bare = BareLibrary()
    wanted = circuits(points)
    decks = [deck(circuit) for circuit in wanted]
    programs = [deck(circuit, annotate=True).text for circuit in wanted[:20]]
    solve(wanted[:10])
    rows: list[tuple[float, float, float, float]] = []
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(ROUNDS):
            rows.append((
                per_point_us(lambda: [bare.solve(one) for one in decks], points),
                per_point_us(lambda: solve(wanted), points),
                per_point_us(lambda: [deck(circuit) for circuit in wanted], points),
                per_point_us(lambda: with_program(programs, Path(folder)), len(programs)),
            ))
    library_us, whole_us, deck_us, program_us = (median(column) for column in zip(*rows, strict=True))
    ratio = median(row[1] / row[0] for row in rows)
    cheaper = median(row[3] / row[1] for row in rows)
    pid = simulator().pid
    assert pid is not None
    grown = [resident_kB(pid)]
    for place in range(4):
        solve(circuits(5_000, first=4.0 + place * 0.1))
        grown.append(resident_kB(pid))
    print(f"{points} points, median of {ROUNDS} rounds")
    print(f"  bare library, load, solve and read   {library_us:8.0f} µs a point")
    print(f"  whole: solve()                       {whole_us:8.0f} µs a point   {ratio:.2f} x bare")
    print(f"    of which writing the deck          {deck_us:8.0f} µs (while the worker works)")
    print(f"  one program start for each point     {program_us:8.0f} µs a point   {cheaper:.0f} x whole")
    sizes = ", ".join(f"{kB / 1024:.1f}" for kB in grown)
    print(f"  worker's memory after each 5,000 more points: {sizes} MB")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000)
