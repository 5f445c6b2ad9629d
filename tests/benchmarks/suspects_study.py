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

With --other the readings come from a board whose parts follow other laws than
the program's (`other_world.py`: diodes off by up to 30 mV, everything anywhere
in its tolerance), one such board for each fault.

With --order it counts the readings that it takes until one suspect holds 95 %
of the likelihood: from the first reading of the sheet that lies outside the
healthy board's band on, in the sheet's order and in the order that `netcheck
bench` proposes, and how often the suspect so named is the true fault.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from msgspec.structs import replace

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from other_world import other_board  # noqa: E402

import netcheck  # noqa: E402
from netcheck.bench import measure, meter  # noqa: E402
from netcheck.bench.diagnosis import Foreseen, Suspect, foresee, rank  # noqa: E402
from netcheck.bench.likelihood import Taken  # noqa: E402
from netcheck.bench.measure import Depth, Measurement, Subject  # noqa: E402
from netcheck.bench.meter import What  # noqa: E402
from netcheck.bench.next_probe import most_telling, weights  # noqa: E402
from netcheck.bench.probe_sheet import probe_sheet  # noqa: E402
from netcheck.bench.sheet import Probe  # noqa: E402
from netcheck.bench.single_faults import Hypothesis, hypotheses  # noqa: E402
from netcheck.fragment import mods  # noqa: E402
from netcheck.fragment.model import Fragment, Kind, Part  # noqa: E402
from netcheck.parts.specs import LoadSpec, ResistorSpec  # noqa: E402
from netcheck.quantities.values import Quantity  # noqa: E402
from netcheck.simulation.elements import Resistance  # noqa: E402

SURE = 0.95
MOST_WEIGHED = 40


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


@dataclass(frozen=True)
class Search:
    """Readings until one suspect was named, in the sheet's order and in the proposed one, and whether rightly.

    None: all readings of the sheet name none.
    """

    sheet: int | None
    proposed: int | None
    sheet_right: bool
    proposed_right: bool


@dataclass(frozen=True)
class Bench:
    """A variant with all that its faults predict for every line of its sheet."""

    probes: tuple[Probe, ...]
    foreseen: tuple[Foreseen, ...]

    @property
    def measurements(self) -> list[Measurement]:
        return [probe.measurement for probe in self.probes]

    def truths(self, strange: bool, fragment: Fragment) -> Sequence[Foreseen]:
        return foresee(list(odd(fragment)), self.measurements) if strange else self.foreseen[1:]


def bench_of(fragment: Fragment, volts: bool) -> Bench:
    probes = tuple(probe for probe in probe_sheet(fragment).probes
                   if not volts or probe.measurement.what is What.VOLTS)
    found = foresee(hypotheses(fragment).all, [probe.measurement for probe in probes])
    return Bench(probes, tuple(found))


def study(
    fragment: Fragment, share: float = 0.005, spread: float = 0.0, volts: bool = False, strange: bool = False,
    seed: int = 1, other: bool = False, order: bool = False,
) -> tuple[list[Trial], list[Search]]:
    """Every hypothesis of a variant in turn as the truth; strange: faults of odd sizes instead."""
    bench = bench_of(fragment, volts)
    measurements, foreseen, healthy = bench.measurements, bench.foreseen, bench.foreseen[0]
    chance = random.Random(seed)
    trials: list[Trial] = []
    searches: list[Search] = []
    for number, true in enumerate(bench.truths(strange, fragment)):
        shown = elsewhere(true, measurements, f"{seed} {number}") if other else true
        problem = true.problem or shown.problem
        if problem is not None:
            trials.append(Trial(true.hypothesis.words, 0, 0, False, problem))
            continue
        taken = readings(shown, measurements, share, spread, chance)
        place, found = next((place, group) for place, group in enumerate(rank(foreseen, taken), 1)
                            if names(group, true))
        lost = hidden(healthy, shown, measurements)
        trials.append(Trial(true.hypothesis.words, place, len(found.faults), lost))
        if order and not lost:
            searches.append(search(bench, taken, true))
    return trials, searches


def names(suspect: Suspect, true: Foreseen) -> bool:
    fault = true.hypothesis.family or true.hypothesis.words
    return any(fault in (named.words, named.family) for named in suspect.faults)


def elsewhere(true: Foreseen, measurements: Sequence[Measurement], seed: str) -> Foreseen:
    """The same fault on a board of other parts, every one of them where it stands."""
    other = replace(true.hypothesis, subject=other_board(true.hypothesis.subject, seed), around=None)
    return foresee([other], measurements, depth=Depth.NOMINAL)[0]


def search(bench: Bench, taken: Sequence[Taken], true: Foreseen) -> Search:
    """How many readings name a fault, in either order, from the first reading that a healthy board does not give."""
    symptom = next((place for place, (one, well) in enumerate(zip(taken, bench.foreseen[0].prospects, strict=True))
                    if not _inside(one, well)), 0)
    in_order = named_after(bench, taken, true, [symptom], proposed=False)
    best = named_after(bench, taken, true, [symptom], proposed=True)
    return Search(in_order[0], best[0], in_order[1], best[1])


def _inside(one: Taken, well: measure.Prospect) -> bool:
    band = measure.band(one.measurement.what, well)
    return band.low <= one.value <= band.high


def named_after(
    bench: Bench, taken: Sequence[Taken], true: Foreseen, done: Sequence[int], proposed: bool
) -> tuple[int | None, bool]:
    """Readings until one suspect holds SURE of the likelihood, and whether it is the true one."""
    places = list(done)
    while True:
        suspects = rank([_only(one, places) for one in bench.foreseen], [taken[place] for place in places])
        shares = weights(suspects)
        if shares[0] >= SURE:
            return len(places), names(suspects[0], true)
        left = [place for place in range(len(taken)) if place not in places]
        if not left:
            return None, names(suspects[0], true)
        places.append(_proposed(bench, suspects[:MOST_WEIGHED], left) if proposed else left[0])


def _proposed(bench: Bench, suspects: Sequence[Suspect], left: Sequence[int]) -> int:
    by_hypothesis = {id(one.hypothesis): one for one in bench.foreseen}
    foreseen = [_only(by_hypothesis[id(suspect.faults[0])], left) for suspect in suspects]
    best = most_telling([bench.probes[place] for place in left], foreseen, weights(suspects))
    return left[0] if best is None else next(place for place in left if bench.probes[place] is best.probe)


def _only(one: Foreseen, places: Sequence[int]) -> Foreseen:
    return Foreseen(one.hypothesis, tuple(one.prospects[place] for place in places))


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


def ordered(searches: Sequence[Search]) -> str:
    def told(found: Sequence[tuple[int | None, bool]]) -> str:
        counts = [count for count, _ in found if count is not None]
        right = sum(right for count, right in found if count is not None)
        return (f"named {len(counts)} of {len(found)}, rightly {right}, "
                f"after {statistics.mean(counts or [0]):.1f} readings (median {statistics.median(counts or [0]):g})")

    both = [one for one in searches if one.sheet is not None and one.proposed is not None]
    return (f"sheet's order: {told([(one.sheet, one.sheet_right) for one in searches])}; "
            f"proposed order: {told([(one.proposed, one.proposed_right) for one in searches])}; where both name: "
            f"{statistics.mean([one.sheet or 0 for one in both] or [0]):.1f} against "
            f"{statistics.mean([one.proposed or 0 for one in both] or [0]):.1f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="*", type=Path, default=sorted((ROOT / "examples").glob("*.yaml")))
    parser.add_argument("--share", type=float, default=0.005, help="error of a reading (default 0.005)")
    parser.add_argument("--spread", type=float, default=0.0, help="tolerances used, 0 (nominal) to 1 (all of the band)")
    parser.add_argument("--volts", action="store_true", help="the voltmeter's lines alone")
    parser.add_argument("--odd", action="store_true", help="faults of sizes that are not tried")
    parser.add_argument("--list", action="store_true", help="list the faults that are hidden, and those not found")
    parser.add_argument("--other", action="store_true", help="readings from a board of other laws")
    parser.add_argument("--order", action="store_true", help="count the readings until a fault is named")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    everything: list[Trial] = []
    sought: list[Search] = []
    for file in given.files:
        for fragment in variants(file):
            began = time.monotonic()
            trials, searches = study(fragment, given.share, given.spread, given.volts, given.odd, given.seed,
                                     given.other, given.order)
            everything += trials
            sought += searches
            print(f"{file.stem}, {fragment.variant}: {summary(trials)} ({time.monotonic() - began:.1f} s)", flush=True)
            if searches:
                print(f"    {ordered(searches)}", flush=True)
            if given.list:
                for trial in trials:
                    if trial.unsolved:
                        print(f"    not simulated: {trial.words}: {trial.unsolved}")
                    elif trial.hidden or trial.place > 3:
                        print(f"    {'hidden' if trial.hidden else f'place {trial.place}'}: {trial.words}")
    print(f"all: {summary(everything)}")
    if sought:
        print(f"     {ordered(sought)}")


if __name__ == "__main__":
    main()
