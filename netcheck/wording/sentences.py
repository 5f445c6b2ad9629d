"""Every sentence of the checks, by check and case, and what each says of given facts."""

from __future__ import annotations

from typing import Protocol

from netcheck.wording import (
    board,
    capacitors,
    charge,
    chips,
    failing,
    leaking,
    living,
    loads,
    readings,
    supplies,
    traced,
    wishes,
)
from netcheck.wording.sentence import Facts, Sentence, Sentences, filled


class Case(Facts, Protocol):
    """Facts, and which sentence says them."""

    @property
    def check(self) -> str: ...
    @property
    def case(self) -> str: ...


def _joined(*tables: Sentences) -> Sentences:
    found: dict[tuple[str, str], Sentence] = {}
    for table in tables:
        if twice := found.keys() & table.keys():
            raise ValueError(f"two sentences for {sorted(twice)}")
        found |= table
    return found


_PAGES = (board, capacitors, charge, chips, failing, leaking, living, loads, readings, supplies, traced, wishes)
SENTENCES = _joined(*(page.SENTENCES for page in _PAGES))

_ALIKE = "[ The same holds for {alike:runs}.]"


def message(case: Case) -> str:
    """What was found."""
    said = SENTENCES[case.check, case.case]
    return filled(said.message + _ALIKE, case, said.choices, said.each)


_PROVED = "{cures:either}."


def advice(case: Case) -> str:
    """What cures it, as proved where it was; empty where nothing is said."""
    said = SENTENCES[case.check, case.case]
    if case.words.get("cures") and "cured" not in said.advice:
        return filled(_PROVED, case)
    return filled(said.advice, case, said.choices, said.each)


def short(case: Case) -> str:
    """The same in a few words; empty where it has none."""
    said = SENTENCES[case.check, case.case]
    return filled(said.short, case, said.choices, said.each)
