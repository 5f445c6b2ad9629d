"""What an answer says holds when it is put to the test: worst figures, cures, the proposal, the failures that it tells.

Boards are those of the table (judged once for all tests), random ones and the examples.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path
from textwrap import indent
from typing import TypeVar

from random_boards import fragments
from verdict_boards import judged, table

import netcheck
from netcheck import api
from netcheck.checks.results import VariantResult
from netcheck.checks.standing import RANK
from netcheck.fragment.model import AS_FOUND
from netcheck.fragment.written import step_lines
from netcheck.judging import verdict_alone

T = TypeVar("T")
EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.yaml"))
SEED, RANDOM, CURES, PROPOSALS, FAILURES = 17, 6, 6, 5, 8
"""How many of each the ordinary run tries, chosen by the seed."""

_WITHIN = 1.0 + 1e-6


def answers() -> Iterator[tuple[str, VariantResult]]:
    yield from ((f"{board} ({after})", result) for board, after, result in variants())
    for sketch in islice(fragments(SEED), RANDOM):
        yield sketch.title, verdict_alone(netcheck.loads(sketch.text()), failing=False)
    for path in EXAMPLES[:3]:
        yield path.stem, verdict_alone(netcheck.load(path), failing=False)


def below(one: float | None, two: float | None) -> bool:
    """Whether the first is at most the second, where both are known."""
    return one is None or two is None or one <= two * _WITHIN + 1e-9


def better_than_nominal(variant: VariantResult) -> Iterator[str]:
    """Every worst figure of an answer that is better than the nominal one beside it."""
    for name, load in variant.loads.items():
        nominal = [volts for volts in load.volts.values() if volts is not None]
        if load.highest_V is not None and nominal and not below(max(nominal), load.highest_V):
            yield f"{name}: highest {load.highest_V} V below the nominal {max(nominal)} V"
        aged = load.aged_V
        for worse, usual in (("fresh at the worst", "fresh"), ("old at the worst", "old"),
                             ("old at the worst", "fresh at the worst"), ("old", "fresh")):
            if not below(aged.get(worse), aged.get(usual)):
                yield f"{name}: {worse} {aged[worse]} V above {usual} {aged[usual]} V"
        if not below(load.lowest_V, aged.get("old at the worst")):
            yield f"{name}: lowest {load.lowest_V} V above {aged}"
    for name, cell in variant.cells.items():
        if cell.life is not None and not below(cell.life.least_years, cell.life.years):
            yield f"{name}: lasts {cell.life.least_years} years at the worst and {cell.life.years} usually"
        for state, amps in cell.takes_A.items():
            if not below(amps, cell.charge_by_state.get(state)):
                yield f"{name}: takes {amps} A in {state}, and {cell.charge_by_state[state]} A at the worst"
        for worse, usual in ((cell.leakage_A, "typical"), (cell.leakage_share, "typical")):
            if not below(worse.get(usual), worse.get("maximum")):
                yield f"{name}: leakage {worse}"
        if not below(cell.hours_within.get("maximum"), cell.hours_within.get("typical")):
            yield f"{name}: hours within {cell.hours_within}"


def test_no_worst_figure_is_better_than_the_nominal_one():
    wrong = [f"{name}: {what}" for name, variant in answers() for what in better_than_nominal(variant)]
    assert not wrong, "\n".join(wrong)


def pasted(text: str, mod: str) -> str:
    """The text of a board with a mod added, as a person would paste it."""
    entry = indent(mod, "  ") + "\n"
    if "\nmods:\n" not in text:
        return f"{text}mods:\n{entry}"
    before, _, after = text.partition("\nmods:\n")
    return f"{before}\nmods:\n{entry}{after}"


def with_steps(text: str, steps: Iterable[str], after: str) -> str:
    """The text of a board with a mod "tried" of these steps."""
    head = [] if after == AS_FOUND else [f"  after: {after}"]
    return pasted(text, "\n".join(["tried:", *head, "  steps:", *(f"    - {step}" for step in steps)]))


def led_to(text: str, mod: str) -> VariantResult:
    """What a mod comes out as when the file is read and judged anew."""
    return verdict_alone(api.variants(netcheck.loads(text), mod)[-1])


def lowest_and_life(variant: VariantResult) -> tuple[float | None, float | None]:
    lowest = [load.lowest_V for load in variant.loads.values() if load.carried_by_cell and load.lowest_V is not None]
    lives = [cell.life.years for cell in variant.cells.values() if cell.life and cell.life.years is not None]
    return min(lowest, default=None), min(lives, default=None)


def alike(one: float | None, two: float | None) -> bool:
    return one == two or (one is not None and two is not None and math.isclose(one, two, rel_tol=1e-3))


def chosen(found: Iterable[T], count: int) -> list[T]:
    ordered = sorted(found, key=str)
    assert len(ordered) >= count
    return random.Random(SEED).sample(ordered, count)


TEXTS = {board.name: board.text for board in table()}


def variants() -> Iterator[tuple[str, str, VariantResult]]:
    """Board, name and answer of every variant of the table."""
    for name in TEXTS:
        results = judged(name)
        if not isinstance(results, str):
            yield from ((name, after, result) for after, result in results.items())


def test_a_cure_that_is_offered_leads_where_it_says():
    offered = {(board, after, tuple(line for step in remedy.steps for line in step_lines(step))): remedy
               for board, after, result in variants() for cell in result.cells.values() for remedy in cell.remedies
               if remedy.verdict is not None}
    wrong = []
    for board, after, steps in chosen(offered, CURES):
        remedy = offered[board, after, steps]
        result = led_to(with_steps(TEXTS[board], steps, after), "tried")
        lowest_V, years = lowest_and_life(result)
        if result.verdict != remedy.verdict or not alike(lowest_V, remedy.lowest_V) \
                or not alike(years, remedy.life_years):
            wrong.append(f"{board} ({after}), {steps}: said {remedy.verdict}, {remedy.lowest_V} V, {remedy.life_years} "
                         f"years; came to {result.verdict}, {lowest_V} V, {years} years")
    assert not wrong, "\n".join(wrong)


def test_a_proposal_that_is_pasted_ends_where_it_says_and_no_worse_than_it_began():
    proposed = {(board, after, cell.proposal.mod): (result.verdict, cell.proposal.verdict)
                for board, after, result in variants() for cell in result.cells.values() if cell.proposal}
    wrong = []
    for board, after, mod in chosen(proposed, PROPOSALS):
        before, said = proposed[board, after, mod]
        verdict = led_to(pasted(TEXTS[board], mod), mod.partition(":")[0]).verdict
        if verdict != said or RANK.index(verdict) > RANK.index(before):
            wrong.append(f"{board} ({after}), {before}: {mod}\n came to {verdict}")
    assert not wrong, "\n".join(wrong)


def failing(board: str, after: str, part: str, how: str) -> list[str] | None:
    """The steps of a mod that does what the failure would; None where the pins that are joined are not told."""
    (fragment,) = (one for one in api.variants(netcheck.loads(TEXTS[board]), every=True) if one.variant == after)
    pins = [f'"{net}"' for net in fragment.parts[part].pins.values()]
    if how != "short":
        return [f"{{remove: [{part}]}}"]
    if len(pins) != 2:
        return None
    return [f"{{remove: [{part}]}}", f"{{fit: {{R999: {{resistor: 1m, between: [{', '.join(pins)}]}}}}}}"]


def test_a_board_that_has_failed_so_is_no_better_than_the_failure_was_told():
    """A part out, or a link in its place: what was told as one failure away from danger is then more than ok."""
    told = {(board, after, finding.words["failing"], finding.words["how"])
            for board, after, result in variants() for finding in result.findings
            if finding.check in ("fault-current", "fault-voltage") and str(finding.severity) == "caution"
            and finding.words.get("how") in ("short", "open", "absent")}
    tried, wrong = 0, []
    for board, after, part, how in chosen(told, FAILURES):
        steps = failing(board, after, part, how)
        if steps is None:
            continue
        tried += 1
        result = led_to(with_steps(TEXTS[board], steps, after), "tried")
        if RANK.index(result.verdict) < RANK.index("caution"):
            wrong.append(f"{board} ({after}): {part} {how} was told as a caution, and is {result.verdict}")
    assert tried >= FAILURES // 2
    assert not wrong, "\n".join(wrong)
