"""How often the true fault is found: every single fault of every example, read back through a meter.

Run by hand:  python tests/benchmarks/suspects_study.py [examples/NAME.yaml …]

Each fault is simulated with everything nominal, or with the board's tolerances
somewhere inside their bands (--spread), under every line of the probe sheet
(--volts: the voltmeter's lines alone). Each value is then put off by up to the
share given (0.5 %), rounded to what the meter shows, and the faults are ranked
by those readings. A fault that moves no reading beyond the bands of a healthy
board cannot be told from it by a meter; those are counted apart and listed.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

import netcheck  # noqa: E402
from netcheck.checks import measure, meter  # noqa: E402
from netcheck.checks.bench import probe_sheet  # noqa: E402
from netcheck.checks.hypotheses import hypotheses  # noqa: E402
from netcheck.checks.measure import Measurement  # noqa: E402
from netcheck.checks.meter import What  # noqa: E402
from netcheck.checks.suspects import Foreseen, Taken, foresee, rank  # noqa: E402
from netcheck.fragment import mods  # noqa: E402
from netcheck.fragment.model import Fragment  # noqa: E402


@dataclass(frozen=True)
class Trial:
    """One fault put on the bench: its place in the ranking (from 1), and how many share it."""

    words: str
    place: int
    alike: int
    hidden: bool


def variants(file: Path) -> Iterator[Fragment]:
    fragment = netcheck.load(file)
    yield fragment
    for name in fragment.mods:
        yield mods.apply(fragment, name)


def study(fragment: Fragment, share: float, spread: float, volts: bool, seed: int = 1) -> list[Trial]:
    """Every hypothesis of a variant in turn as the truth."""
    measurements = [probe.measurement for probe in probe_sheet(fragment).probes
                    if not volts or probe.measurement.what is What.VOLTS]
    foreseen = [one for one in foresee(hypotheses(fragment).all, measurements) if one.problem is None]
    healthy = foreseen[0]
    chance = random.Random(seed)
    trials = []
    for true in foreseen[1:]:
        taken = readings(true, measurements, share, spread, chance)
        ranked = rank(foreseen, taken)
        place, found = next((place, group) for place, group in enumerate(ranked, 1) if true.hypothesis in group.faults)
        trials.append(Trial(true.hypothesis.words, place, len(found.faults), hidden(healthy, true, measurements)))
    return trials


def readings(
    true: Foreseen, measurements: Sequence[Measurement], share: float, spread: float, chance: random.Random
) -> list[Taken]:
    """What the meter shows of a board with a fault, each tolerance anywhere in the middle `spread` of its band."""
    axes = sorted({axis for prospect in true.prospects for axis in prospect.swings})
    stands = {axis: chance.uniform(-spread, spread) for axis in axes}
    taken = []
    for measurement, prospect in zip(measurements, true.prospects, strict=True):
        moved = prospect.value + sum(
            stands[axis] * swing.plus if stands[axis] > 0 else -stands[axis] * swing.minus
            for axis, swing in prospect.swings.items())
        value = measure.reading(measurement.what, moved) * (1 + chance.uniform(-share, share))
        taken.append(Taken(measurement, meter.shown(measurement.what, value)))
    return taken


def hidden(healthy: Foreseen, true: Foreseen, measurements: Sequence[Measurement]) -> bool:
    """Whether every reading of a fault lies inside the healthy board's band."""
    for measurement, well, ill in zip(measurements, healthy.prospects, true.prospects, strict=True):
        band = measure.band(measurement.what, well)
        if not band.low <= measure.reading(measurement.what, ill.value) <= band.high:
            return False
    return True


def summary(trials: Sequence[Trial]) -> str:
    told = [trial for trial in trials if not trial.hidden]
    first = sum(trial.place == 1 for trial in told)
    three = sum(trial.place <= 3 for trial in told)
    count = max(1, len(told))
    return (f"{len(trials)} faults, {len(trials) - len(told)} hidden from a meter; of the other {len(told)}: "
            f"first {first} ({first / count:.1%}), among the first three {three} ({three / count:.1%}); "
            f"{sum(trial.alike for trial in told) / count:.1f} faults share a place")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="*", type=Path, default=sorted((ROOT / "examples").glob("*.yaml")))
    parser.add_argument("--share", type=float, default=0.005, help="error of a reading (default 0.005)")
    parser.add_argument("--spread", type=float, default=0.0, help="tolerances used, 0 (nominal) to 1 (all of the band)")
    parser.add_argument("--volts", action="store_true", help="the voltmeter's lines alone")
    parser.add_argument("--list", action="store_true", help="list the faults that are hidden, and those not found")
    given = parser.parse_args()
    everything: list[Trial] = []
    for file in given.files:
        for fragment in variants(file):
            began = time.monotonic()
            trials = study(fragment, given.share, given.spread, given.volts)
            everything += trials
            print(f"{file.stem}, {fragment.variant}: {summary(trials)} ({time.monotonic() - began:.1f} s)")
            if given.list:
                for trial in trials:
                    if trial.hidden or trial.place > 3:
                        print(f"    {'hidden' if trial.hidden else f'place {trial.place}'}: {trial.words}")
    print(f"all: {summary(everything)}")


if __name__ == "__main__":
    main()
