"""Every sentence of the checks is said by a real board: of the table, of the examples, or of `speaking.yaml`."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import yaml
from verdict_boards import judged, table

import netcheck
from netcheck.judging import judge
from netcheck.wording.sentences import SENTENCES

HERE = Path(__file__).parent
EXAMPLES = HERE.parents[1] / "examples"


UNSPOKEN = frozenset((
    "ageing/shorter", "back-current/back", "back-feed/lost", "cell-pin/diode", "cell-pin/leaks",
    "charge-route/charged-at-least", "charge-route/slight", "charger/rechargeable", "charger/unsolved",
    "clamp/not-solved", "connector/counted-across", "connector/counted-along", "connector/counted-behind",
    "connector/counted-exchanged", "connector/counted-halves", "connector/counted-later",
    "connector/counted-mirrored", "connector/counted-rows", "connector/unpulled", "derating/beyond",
    "expectation/current-not-known", "expectation/floats", "expectation/no-state", "expectation/not-solved",
    "fault-current/untried", "fault-part/capacitor", "feature/floats", "feature/joined", "feature/not-solved",
    "feature/not-tried", "feature/volts", "leakage/no-guarantee", "library/overridden", "library/same",
    "life/worst-never-kept", "link-mistake/on-the-way", "link-mistake/slip", "output-capacitor/no-diode",
    "over-current/cell", "polarity/either-way", "polarity/perhaps-reversed", "rating/after-fault",
    "rating/may-exceed", "rating/not-known", "rating/not-stated", "reading/explained", "reading/not-known",
    "reading/output", "reversal/not-solved", "role/shown-otherwise", "setting-wanted/none-known",
    "setting-wanted/none-near", "setting/against", "setting/cured", "setting/untried",
    "short-circuit/cell-by-copper", "short-circuit/supply-by-copper", "simulation/none", "simulation/state-late",
    "stability/near-limit", "stability/not-known", "stability/too-high", "start/too-much", "states/late",
    "states/untried", "tester/tired", "time/used-up", "tracing/marking-no-preferred-number", "value/never-ends",
    "value/outside",
))
"""What no board says yet; tests of their checks say most of it on points that are given. It may only shrink."""


@cache
def boards() -> tuple[tuple[frozenset[tuple[str, str]], str], ...]:
    page: list[Any] = yaml.load((HERE / "speaking.yaml").read_text("utf-8"), Loader=yaml.BaseLoader)
    return tuple((frozenset(tuple(key.split("/")) for key in one["says"]),  # type: ignore[misc]
                  yaml.safe_dump(one["board"], allow_unicode=True, sort_keys=False)) for one in page)


def said_by(text: str) -> set[tuple[str, str]]:
    """Check and case of everything that is said of the last variant; every text of it can be made."""
    variant = judge(netcheck.loads(text), cured=False)
    assert all(found.message for found in variant.findings)
    return {(found.check, found.case) for found in variant.findings}


def test_each_board_says_what_it_is_there_for():
    silent = {text.splitlines()[0]: missing for wanted, text in boards() if (missing := wanted - said_by(text))}
    assert not silent


def test_no_further_sentence_is_said_by_no_board():
    said = {f"{check}/{case}" for wanted, _ in boards() for check, case in wanted}
    results = [judged(board.name) for board in table()]
    variants = [variant for one in results if not isinstance(one, str) for variant in one.values()]
    for path in EXAMPLES.glob("*.yaml"):
        variants += netcheck.check(netcheck.load(path), every=True).variants
    said |= {f"{found.check}/{found.case}" for variant in variants for found in variant.findings}
    every = {"/".join(key) for key in SENTENCES}
    assert every >= UNSPOKEN
    assert every - said <= UNSPOKEN
