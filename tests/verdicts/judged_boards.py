"""The program against the judge: what it calls boards that are surely charged, and boards that surely are not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations, islice

import numpy as np
from nodal_judge import (
    CHARGED_A,
    Bipolar,
    Diode,
    Jumper,
    Load,
    Resistor,
    Sketch,
    Zener,
    charge_of,
    corners,
    primaries,
    solve,
)
from random_boards import fragments, mutants

import netcheck
from netcheck.judging import verdict_alone

UNSOLVED = "unknown simulation"
"""How a state that did not settle is told; what is not stated of a part is unknown, too, and no fault of the solver."""

SHORTED_A = 20e-3
"""Far over the 3 mA that makers of CR coin cells allow continuously."""


@dataclass
class Tally:
    """What came out of one run. false_safe and false_charge must stay empty; unknown: those that did not settle."""

    boards: int = 0
    charged: int = 0
    quiet: int = 0
    dangerous: int = 0
    undecided: int = 0
    verdicts: Counter[str] = field(default_factory=Counter)
    false_safe: list[str] = field(default_factory=list)
    false_charge: list[str] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)

    def __iadd__(self, other: Tally) -> Tally:
        for name in self.__dataclass_fields__:
            setattr(self, name, getattr(self, name) + getattr(other, name))
        return self

    def __str__(self) -> str:
        return (f"{self.boards} boards ({self.charged} charged, {self.quiet} not, {self.dangerous} dangerous, "
                f"{self.undecided} not decided): {len(self.false_safe)} false safe, {len(self.false_charge)} called "
                f"charged wrongly, {len(self.unknown)} unknown; {dict(self.verdicts)}")


def said_of(sketch: Sketch) -> tuple[str, bool, str]:
    """The program's verdict, whether it calls a primary cell charged, and its findings in short.

    Without cures and single failures, neither of which makes a danger or takes one away.
    """
    variant = verdict_alone(netcheck.loads(sketch.text()), failing=False)
    names = {cell.name for cell in primaries(sketch)}
    serious = [f for f in variant.findings if str(f.severity) != "note"]
    charged = any(f.check == "charge-route" and str(f.severity) == "danger" and f.subject in names for f in serious)
    return variant.verdict, charged, "; ".join(f"{f.severity} {f.check} {f.subject}: {f.message[:90]}" for f in serious)


def run_fragments(count: int, seed: int) -> Tally:
    """`count` random fragments: charged primary cells must be a danger, and quiet ones not called charged."""
    tally = Tally()
    for sketch in islice(fragments(seed), count):
        judgement = charge_of(sketch, primaries(sketch))
        verdict, called, findings = said_of(sketch)
        tally.boards += 1
        tally.verdicts[verdict] += 1
        tally.charged += judgement.charged
        tally.quiet += judgement.quiet
        tally.undecided += not (judgement.charged or judgement.quiet)
        told = f"{judgement.sure_A:.3g} to {judgement.possible_A:.3g} A\n{sketch.text()}said {verdict}: {findings}\n"
        if judgement.charged and verdict not in ("danger", "unknown"):
            tally.false_safe.append(told)
        if judgement.quiet and called:
            tally.false_charge.append(told)
        if UNSOLVED in findings:
            tally.unknown.append(told)
    return tally


def dangers(sketch: Sketch) -> list[str]:
    """What is surely dangerous: a primary cell charged, forced beyond flat, shorted, or a load over its limit."""
    found = solve(sketch)
    spent = solve(sketch, corners(sketch, spent=True))
    judgement = charge_of(sketch, primaries(sketch))
    dangerous = ["charged"] if judgement.charged else []
    for cell in primaries(sketch):
        forced = np.array([corner.cells[cell.name] == 0.0 for corner in spent.corners])
        if np.nanmax(np.where(forced, -spent.charge(cell), 0.0)) > 10 * CHARGED_A:
            dangerous.append("forced")
        if np.nanmax(-found.charge(cell)) > SHORTED_A:
            dangerous.append("shorted")
    for load in sketch.of(Load):
        if found.settled.all() and found.across(load.plus, load.minus).max() > 1.1 * load.most_V:
            dangerous.append("over-voltage")
    return dangerous if found.settled.all() and spent.settled.all() else []


def dangerous_mutants(seed: int) -> Iterator[tuple[Sketch, list[str]]]:
    for sketch in mutants(seed):
        found = dangers(sketch)
        if found:
            yield sketch, found


def run_mutants(count: int, seed: int) -> Tally:
    """`count` dangerous mutants of safe boards: each is a danger, or something of it is unknown; none may be less."""
    tally = Tally()
    for sketch, found in islice(dangerous_mutants(seed), count):
        verdict, _, findings = said_of(sketch)
        tally.boards += 1
        tally.dangerous += 1
        tally.verdicts[verdict] += 1
        told = f"{', '.join(found)}\n{sketch.text()}said {verdict}: {findings}\n"
        if verdict not in ("danger", "unknown"):
            tally.false_safe.append(told)
        if UNSOLVED in findings:
            tally.unknown.append(told)
    return tally


MOST_SHORTS = 3


def shorted(sketch: Sketch, names: tuple[str, ...]) -> Sketch:
    for part in sketch.parts:
        if part.name in names:
            ends = (part.collector, part.emitter) if isinstance(part, Bipolar) else part.pins()
            sketch = sketch.with_part(part.name, Resistor(part.name, *ends, 0.05))
    return sketch


SUPPLY_A = 5.0
"""What no part of a board carries: as much as a supply of a small computer gives."""


def shorts_a_supply(sketch: Sketch, names: tuple[str, ...]) -> bool:
    """Whether one of these parts, each a copper short, carries more than a board ever does."""
    found = solve(sketch) if names else None
    return found is not None and any(
        float(np.nanmax(np.abs(found.across(part.one, part.two)), initial=0.0)) / part.ohm > SUPPLY_A
        for part in sketch.of(Resistor) if part.name in names)


def fewest(sketch: Sketch) -> tuple[int | None, int | None]:
    """Least number of shorted parts with which BT1 may be charged, and with which it surely is.

    Up to two of all parts are shorted, and three of those that block. Where a supply is shorted with them, nobody knows
    what it still gives: such a set may charge the cell, and decides nothing.
    """
    blocking = [part.name for part in sketch.parts if isinstance(part, Diode | Zener | Bipolar)]
    every = blocking + [part.name for part in sketch.of(Resistor)]
    possible: int | None = None
    for count in range(MOST_SHORTS + 1):
        for names in combinations(every if count < MOST_SHORTS else blocking, count):
            changed = shorted(sketch, names)
            if shorts_a_supply(changed, names):
                possible = count if possible is None else possible
                continue
            judgement = charge_of(changed, [cell for cell in primaries(changed) if cell.name == "BT1"])
            if judgement.charged:
                return count if possible is None else possible, count
            if possible is None and not judgement.quiet:
                possible = count
    return possible, None


def small_fragments(seed: int) -> Iterator[Sketch]:
    for sketch in fragments(seed):
        diodes = sum(isinstance(part, Diode | Zener | Bipolar) for part in sketch.parts)
        if diodes <= 6 and not any(isinstance(part, Jumper) for part in sketch.parts):
            yield sketch


def shorts_that_differ(count: int, seed: int) -> list[str]:
    """Of `count` small fragments, those whose shorts to charge brute force does not find."""
    wrong = []
    for sketch in islice(small_fragments(seed), count):
        least, most = fewest(sketch)
        said = verdict_alone(netcheck.loads(sketch.text())).cells["BT1"].shorts_to_charge
        low, high = (least if least is not None else MOST_SHORTS), (most if most is not None else 99)
        if not low <= (99 if said is None else said) <= high:
            wrong.append(f"said {said}, by brute force {least} to {most}\n{sketch.text()}")
    return wrong
