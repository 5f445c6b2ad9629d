"""Boards of our own with the verdict that is right for each, worked out by hand: read from `boards/*.yaml`.

A board is a mapping: `board` its name; `on` a stem of its file whose parts it takes over; `parts` its own parts
(`none` takes one of the stem out); `rails`, `conditions`, `states`, `expect`, `mods` as in a fragment file;
`verdict` a word, a list of words that are all right, or a mapping of variant to either; `names` parts or nets that a
finding of that verdict names; `figures` dotted keys of the JSON report with the range that holds; `cure` removals
that a remedy begins with; `no_cure` sets whose removal must not be offered; `leads_to` the verdict of the whole mod
that is proposed, `step` a line that stands in it; `says` words of a message or an advice; `why` one line, with the
figure.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import yaml

import netcheck
from netcheck.checks.results import VariantResult
from netcheck.reading.mistakes import FragmentError

BOARDS = Path(__file__).parent / "boards"
ORDER = ("ok", "caution", "fails", "unknown", "danger")
_SECTIONS = ("conditions", "states", "expect", "mods")


@dataclass(frozen=True)
class Expected:
    """What one variant of one board must come out as."""

    verdicts: tuple[str, ...]
    names: tuple[str, ...] = ()
    cure: tuple[str, ...] = ()
    leads_to: tuple[str, ...] = ()
    step: tuple[str, ...] = ()
    says: tuple[str, ...] = ()


@dataclass(frozen=True)
class Board:
    theme: str
    name: str
    text: str
    why: str
    variants: dict[str, Expected]
    figures: dict[str, tuple[float, float]] = field(default_factory=dict)
    no_cure: tuple[tuple[str, ...], ...] = ()


def _listed(value: Any) -> tuple[str, ...]:
    return tuple(value) if isinstance(value, list) else (value,) if value else ()


def _by_variant(value: Any, variants: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    """A value for every variant, or a mapping of variant to value."""
    if isinstance(value, dict):
        return {name: _listed(entry) for name, entry in value.items()}
    return dict.fromkeys(variants, _listed(value))


def _board(theme: str, stems: dict[str, Any], entry: dict[str, Any]) -> Board:
    parts = {**stems.get(entry.get("on", ""), {}), **entry.get("parts", {}), **entry.get("replace", {})}
    fragment = {
        "title": entry["board"], "rails": entry.get("rails", {"+5V": "5 V ±5%"}),
        **{section: entry[section] for section in _SECTIONS if section in entry},
        "parts": {name: part for name, part in parts.items() if part != "none"},
    }
    verdicts = _by_variant(entry["verdict"], ("as found",))
    names = _by_variant(entry.get("names"), tuple(verdicts))
    further = [_by_variant(entry.get(key), tuple(verdicts)) for key in ("cure", "leads_to", "step", "says")]
    return Board(
        theme, entry["board"], yaml.safe_dump(fragment, allow_unicode=True, sort_keys=False), entry["why"],
        {name: Expected(allowed, names.get(name, ()), *(one.get(name, ()) for one in further))
         for name, allowed in verdicts.items()},
        {key: (float(low), float(high)) for key, (low, high) in entry.get("figures", {}).items()},
        tuple(tuple(parts) for parts in entry.get("no_cure", ())))


@cache
def table() -> tuple[Board, ...]:
    """Every board."""
    found: list[Board] = []
    for path in sorted(BOARDS.glob("*.yaml")):
        page = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
        found += [_board(path.stem, page["stems"], entry) for entry in page["boards"]]
    return tuple(found)


@cache
def judged(name: str) -> dict[str, VariantResult] | str:
    """The results of one board by variant, worked out once for all tests; text where its file was refused."""
    (board,) = (board for board in table() if board.name == name)
    try:
        report = netcheck.check(netcheck.loads(board.text), every=True)
    except FragmentError as refused:
        return f"could not be read: {refused}"
    return {variant.name: variant for variant in report.variants}


def answers() -> Iterator[tuple[Board, Expected, VariantResult]]:
    """Every variant that the table expects something of, with what came out."""
    for board in table():
        results = judged(board.name)
        if not isinstance(results, str):
            for name, expected in board.variants.items():
                yield board, expected, results[name]
