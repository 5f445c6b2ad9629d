"""How often the true fault is found: every single fault of every example, read back through a meter.

Run by hand:  python tests/benchmarks/suspects_study.py [examples/NAME.yaml …]

Each fault is simulated with everything nominal, or with the board's tolerances
somewhere inside their bands (--spread), under every line of the probe sheet
(--volts: the voltmeter's lines alone). Each value is then put off by up to the
share given (0.5 %), rounded to what the meter shows, and the faults are ranked
by those readings. A fault that moves no reading beyond the bands of a healthy
board cannot be told from it by a meter; those are counted apart and listed.

With --odd the faults put on the bench are of sizes that the ranking does not
try (a resistor at a third or seven times its value, a leak of 4.7 kΩ or 22 kΩ,
a load at thirty times its current); it is right where it names the part and
what is wrong with it, whatever the size.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

import netcheck  # noqa: E402
from netcheck.bench import measure, meter  # noqa: E402
from netcheck.bench.diagnosis import Foreseen, foresee, rank  # noqa: E402
from netcheck.bench.likelihood import Taken  # noqa: E402
from netcheck.bench.measure import Measurement, Subject  # noqa: E402
from netcheck.bench.meter import What  # noqa: E402
from netcheck.bench.probe_sheet import probe_sheet  # noqa: E402
from netcheck.bench.single_faults import Hypothesis, hypotheses  # noqa: E402
from netcheck.fragment import mods  # noqa: E402
from netcheck.fragment.model import Fragment, Kind, Part  # noqa: E402
from netcheck.parts.specs import LoadSpec, ResistorSpec  # noqa: E402
from netcheck.quantities.values import Quantity  # noqa: E402
from netcheck.simulation.elements import Resistance  # noqa: E402


@dataclass(frozen=True)
class Trial:
    """One fault put on the bench: its place in the ranking (from 1), and how many share it.

    unsolved: why the simulator could not say what the meter would show; it then has no place (0).
    """

    words: str
    place: int
    alike: int
    hidden: bool
    unsolved: str = ""


def variants(file: Path) -> Iterator[Fragment]:
    fragment = netcheck.load(file)
    yield fragment
    for name in fragment.mods:
        yield mods.apply(fragment, name)


def odd(fragment: Fragment) -> Iterator[Hypothesis]:
    """Faults of sizes that no hypothesis has, under the names of those they belong to."""
    for part in fragment.fitted:
        if isinstance(part.spec, ResistorSpec):
            for factor in (1 / 3, 7.0):
                value = part.spec.resistance
                band = Quantity(value.value * factor, value.low * factor, value.high * factor, value.unit)
                changed = replace(part, spec=replace(part.spec, resistance=band))
                yield Hypothesis(f"{part.name} at {factor:.2g} of its value", _with(fragment, changed), (part.name,),
                                 family=f"{part.name} off value")
        elif part.kind in (Kind.DIODE, Kind.CAPACITOR):
            for ohm in (4.7e3, 22e3):
                leak = Resistance("(leak)", *part.nets, ohm)
                yield Hypothesis(f"{part.name} leaks, {ohm:g} ohm", Subject(fragment, extra=(leak,)), (part.name,),
                                 family=f"{part.name} leaky")
        elif isinstance(part.spec, LoadSpec):
            draws = tuple(replace(point, current_A=point.current_A * 30) for point in part.spec.draws)
            changed = replace(part, spec=replace(part.spec, draws=draws))
            yield Hypothesis(f"{part.name} draws thirty times its current", _with(fragment, changed), (part.name,),
                             family=f"{part.name} draws too much")


def _with(fragment: Fragment, part: Part) -> Subject:
    return Subject(fragment.with_parts({**fragment.parts, part.name: part}))


def study(
    fragment: Fragment, share: float = 0.005, spread: float = 0.0, volts: bool = False, strange: bool = False,
    seed: int = 1,
) -> list[Trial]:
    """Every hypothesis of a variant in turn as the truth; strange: faults of odd sizes instead."""
    measurements = [probe.measurement for probe in probe_sheet(fragment).probes
                    if not volts or probe.measurement.what is What.VOLTS]
    foreseen = foresee(hypotheses(fragment).all, measurements)
    healthy = foreseen[0]
    chance = random.Random(seed)
    trials = []
    for true in foresee(list(odd(fragment)), measurements) if strange else foreseen[1:]:
        if true.problem is not None:
            trials.append(Trial(true.hypothesis.words, 0, 0, False, true.problem))
            continue
        fault = true.hypothesis.family or true.hypothesis.words
        ranked = rank(foreseen, readings(true, measurements, share, spread, chance))
        place, found = next(
            (place, group) for place, group in enumerate(ranked, 1)
            if any(fault in (named.words, named.family) for named in group.faults))
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
    solved = [trial for trial in trials if not trial.unsolved]
    told = [trial for trial in solved if not trial.hidden]
    first = sum(trial.place == 1 for trial in told)
    three = sum(trial.place <= 3 for trial in told)
    count = max(1, len(told))
    return (f"{len(trials)} faults, {len(trials) - len(solved)} not simulated, {len(solved) - len(told)} hidden "
            f"from a meter; of the other {len(told)}: "
            f"first {first} ({first / count:.1%}), among the first three {three} ({three / count:.1%}); "
            f"{sum(trial.alike for trial in told) / count:.1f} faults share a place")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="*", type=Path, default=sorted((ROOT / "examples").glob("*.yaml")))
    parser.add_argument("--share", type=float, default=0.005, help="error of a reading (default 0.005)")
    parser.add_argument("--spread", type=float, default=0.0, help="tolerances used, 0 (nominal) to 1 (all of the band)")
    parser.add_argument("--volts", action="store_true", help="the voltmeter's lines alone")
    parser.add_argument("--odd", action="store_true", help="faults of sizes that are not tried")
    parser.add_argument("--list", action="store_true", help="list the faults that are hidden, and those not found")
    given = parser.parse_args()
    everything: list[Trial] = []
    for file in given.files:
        for fragment in variants(file):
            began = time.monotonic()
            trials = study(fragment, given.share, given.spread, given.volts, given.odd)
            everything += trials
            print(f"{file.stem}, {fragment.variant}: {summary(trials)} ({time.monotonic() - began:.1f} s)")
            if given.list:
                for trial in trials:
                    if trial.unsolved:
                        print(f"    not simulated: {trial.words}: {trial.unsolved}")
                    elif trial.hidden or trial.place > 3:
                        print(f"    {'hidden' if trial.hidden else f'place {trial.place}'}: {trial.words}")
    print(f"all: {summary(everything)}")


if __name__ == "__main__":
    main()
