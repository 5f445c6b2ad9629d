"""Capacitors against a plain check of the first example, measured by turns in one run.

    python tests/benchmarks/capacitors.py

Goals: 60 capacitors on 5 rails at most 2 times `netcheck check` of the first example; an impedance curve of 400
points over 20 capacitors at most 1.5 times.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

EXAMPLE = str(Path(__file__).parents[2] / "examples" / "rack-sampler.yaml")
RAILS = {"+3.3V": 3.3, "+5V": 5.0, "+12V": 12.0, "-5V": -5.0, "-12V": -12.0}
RUNS = 7


def sixty() -> str:
    """60 capacitors on 5 rails, every second a ceramic."""
    lines = ["title: sixty capacitors", "scope: list",
             "rails: {" + ", ".join(f"{net}: {volts} V ±5%" for net, volts in RAILS.items()) + "}", "parts:"]
    number = 1
    for net, volts in RAILS.items():
        plus, minus = (net, "GND") if volts > 0 else ("GND", net)
        for place in range(12):
            what = f"type: X7R, rated: 50 V, between: [{net}, GND]" if place % 2 else \
                f"type: wet, rated: 25 V, plus: {plus}, minus: {minus}"
            lines.append(f"  C{number}: {{capacitor: {'100n' if place % 2 else f'{10 + place}u'}, {what}}}")
            number += 1
    return "\n".join(lines) + "\n"


def twenty() -> str:
    """20 capacitors on one rail, no two alike."""
    lines = ["title: twenty capacitors", "scope: list", "rails: {+5V: 5 V}", "parts:"]
    lines += [f"  C{n}: {{capacitor: {n * 47}u, type: wet, rated: 16 V, plus: +5V, minus: GND}}" for n in range(1, 11)]
    lines += [f"  C{n}: {{capacitor: {n * 10}n, type: X7R, rated: 50 V, between: [+5V, GND]}}" for n in range(11, 21)]
    return "\n".join(lines) + "\n"


def seconds(arguments: list[str]) -> float:
    started = time.perf_counter()
    subprocess.run([sys.executable, "-m", "netcheck", *arguments], stdout=subprocess.DEVNULL, check=False)
    return time.perf_counter() - started


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        many, one_rail = Path(folder, "sixty.yaml"), Path(folder, "twenty.yaml")
        many.write_text(sixty(), encoding="utf-8")
        one_rail.write_text(twenty(), encoding="utf-8")
        commands = {
            "check, first example": ["check", EXAMPLE],
            "check, 60 capacitors on 5 rails": ["check", str(many)],
            "caps, 60 capacitors on 5 rails": ["caps", str(many)],
            "impedance, 400 points, 20 capacitors": ["impedance", str(one_rail), "--at", "+5V"],
        }
        best = dict.fromkeys(commands, float("inf"))
        for _ in range(RUNS):
            for name, arguments in commands.items():
                best[name] = min(best[name], seconds(arguments))
    plain = best["check, first example"]
    for name, took in best.items():
        print(f"{name:<40}{took * 1000:>8.0f} ms {took / plain:>6.2f} times")


if __name__ == "__main__":
    main()
