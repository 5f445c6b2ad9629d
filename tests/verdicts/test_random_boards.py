"""Random boards and mutants against the judge: a small seeded share; the whole is tests/benchmarks/verdict_judge.py."""

from __future__ import annotations

from functools import cache
from itertools import islice

from judged_boards import Tally, run_fragments, run_mutants, shorts_that_differ
from nodal_judge import Zener
from random_boards import fragments

FRAGMENTS, MUTANTS, SEED = 150, 100, 8
SMALL = 8


@cache
def fragments_judged() -> Tally:
    return run_fragments(FRAGMENTS, SEED)


def test_no_charged_cell_is_called_safe_and_no_quiet_one_charged():
    tally = fragments_judged()
    print(tally)
    assert tally.charged >= FRAGMENTS / 4
    assert tally.quiet >= FRAGMENTS / 4
    assert not tally.false_safe, "\n".join([str(tally), *tally.false_safe])
    assert not tally.false_charge, "\n".join([str(tally), *tally.false_charge])


def test_ordinary_circuits_settle():
    """Of random boards at most one in fifty may end unknown."""
    tally = fragments_judged()
    assert len(tally.unknown) <= FRAGMENTS / 50 + 1, "\n".join([str(tally), *tally.unknown])


def test_no_dangerous_mutant_of_a_safe_board_is_ok():
    tally = run_mutants(MUTANTS, SEED)
    print(tally)
    assert not tally.false_safe, "\n".join([str(tally), *tally.false_safe])


def test_shorts_to_charge_is_what_brute_force_finds():
    wrong = shorts_that_differ(SMALL, SEED)
    assert not wrong, "\n".join(wrong)


def test_the_generator_makes_what_it_is_meant_to():
    """Decoy zeners, second packs, minus-side diodes and several supplies all occur."""
    made = list(islice(fragments(SEED), 60))
    assert sum(any(isinstance(part, Zener) for part in sketch.parts) for sketch in made) > 20
    assert sum(any(part.name == "BT2" for part in sketch.parts) for sketch in made) > 8
    assert sum(any(part.name == "D3" for part in sketch.parts) for sketch in made) > 8
    assert sum(len({rail.supply for rail in sketch.rails.values()}) > 1 for sketch in made) > 8
    assert len({sketch.text() for sketch in made}) == len(made)
