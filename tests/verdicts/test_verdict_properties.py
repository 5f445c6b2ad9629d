"""What must not matter to a verdict: names, order, a wire split in two; a mirrored board has the mirrored figures."""

from __future__ import annotations

import copy
import math
from itertools import islice
from typing import Any

import pytest
import yaml
from random_boards import fragments as random_fragments
from verdict_boards import table

import netcheck
from netcheck import api
from netcheck.judging import verdict_alone

PINS = {"anode": "cathode", "cathode": "anode", "plus": "minus", "minus": "plus"}
MIRRORED = {"2N3904": "2N3906", "2N3906": "2N3904"}


def last(text: str) -> Any:
    """The last variant of a board, judged without cures, which have no part in what is compared here."""
    return verdict_alone(api.variants(netcheck.loads(text))[-1])


CHANGED = (
    "charger left in when the pack was swapped", "two resistors, a diode, and a zener that never breaks down",
    "a pack charges the coin cell through the dead rail", "returns through a negative rail",
    "cell traced backwards behind its diode", "1N4148 and 1k, CR2032, 2 h a day and 15 to 35 °C",
    "holder reversed, resistor to +5 V", "pull-up from the backed-up net into the dead rail",
    "zener whose upper tolerance passes the limit",
    "a load from ground to a net that a resistor joins to a negative rail",
    "the resistor to the negative rail is too large", "the low side of a load is cut off from ground",
)
"""Boards of every verdict, on which what must not matter is changed."""

SEED, RANDOM = 5, 3
"""Random boards beside them."""


def fragments():
    for board in table():
        if board.name in CHANGED:
            page = yaml.load(board.text, Loader=yaml.BaseLoader)
            page.pop("mods", None)
            yield board.name, page
    for sketch in islice(random_fragments(SEED), RANDOM):
        yield sketch.title, yaml.load(sketch.text(), Loader=yaml.BaseLoader)


def written(page: dict[str, Any]) -> str:
    return yaml.safe_dump(page, allow_unicode=True, sort_keys=False)


def answer(variant: Any) -> tuple[Any, ...]:
    """Verdict and the figures of the cells and loads, without names."""
    cells = [(cell.shorts_to_charge, cell.charge_A, cell.leakage_A.get("maximum"),
              cell.life.years if cell.life else None) for cell in variant.cells.values()]
    loads = [(load.lowest_V, load.highest_V) for load in variant.loads.values()]
    return variant.verdict, sorted(cells, key=str), sorted(loads, key=str)


def said(variant: Any) -> set[tuple[str, str, str]]:
    """What was found, without names.

    Left out: that a cell's plus is on ground, and what the solver found no answer to in one of two equal circuits.
    """
    return {(one.check, one.case, str(one.severity)) for one in variant.findings
            if one.case != "backwards" and one.check != "simulation" and str(one.severity) != "unknown"}


def same(one: Any, two: Any, tolerance: float = 1e-2) -> bool:
    if isinstance(one, float) and isinstance(two, float):
        return math.isclose(one, two, rel_tol=tolerance, abs_tol=2e-9)
    if isinstance(one, list | tuple) and isinstance(two, list | tuple):
        return len(one) == len(two) and all(same(a, b, tolerance) for a, b in zip(one, two, strict=True))
    return bool(one == two)


def renamed(page: dict[str, Any]) -> dict[str, Any]:
    """Every net but ground and every part under another name."""
    def net(name: str) -> str:
        return name if name == "GND" else f"Z_{name.strip('+-')}_{'N' if name.startswith('-') else 'P'}"

    def part(entry: dict[str, Any]) -> dict[str, Any]:
        return {key: net(value) if key in (*PINS, "emitter", "base", "collector")
                else [net(one) for one in value] if key in ("between", "jumper") else value
                for key, value in entry.items()}

    return {**page, "rails": {net(name): rail for name, rail in page["rails"].items()},
            "parts": {f"{name}7": part(entry) for name, entry in page["parts"].items()}}


def reordered(page: dict[str, Any]) -> dict[str, Any]:
    return {**page, "parts": dict(reversed(page["parts"].items()))}


def split(page: dict[str, Any]) -> dict[str, Any]:
    """The net CELL, where there is one, in two halves that a wire link joins."""
    page = copy.deepcopy(page)
    places = [(entry, key) for entry in page["parts"].values() for key in PINS if entry.get(key) == "CELL"]
    for entry, key in places[1::2]:
        entry[key] = "CELLB"
    if len(places) < 2:
        return page
    return {**page, "mods": {"whole": {"steps": [{"join": ["CELL", "CELLB"]}]}}}


def mirrored(page: dict[str, Any]) -> dict[str, Any]:
    """All signs turned: rails negative, every part with a direction the other way round."""
    def turned(text: str) -> str:
        return text[1:] if text.startswith("-") else f"-{text}"

    rails = {name: {**rail, "volts": turned(rail["volts"])} if isinstance(rail, dict) else turned(rail)
             for name, rail in page["rails"].items()}
    def other(transistor: Any) -> Any:
        if isinstance(transistor, dict):
            return {**transistor, "polarity": {"npn": "pnp", "pnp": "npn"}[transistor["polarity"]]}
        return MIRRORED.get(transistor, transistor)

    parts = {name: {PINS.get(key, key): other(value) if key == "transistor" else value
                    for key, value in entry.items()} for name, entry in page["parts"].items()}
    return renamed({**page, "rails": rails, "parts": parts})


@pytest.mark.parametrize("change", [renamed, reordered, split, mirrored])
def test_what_must_not_matter_does_not(change):
    wrong = []
    for name, page in fragments():
        one, other = last(written(page)), last(written(change(page)))
        before, after = answer(one), answer(other)
        if change is mirrored:
            before, after = (said(one), *before[1:]), (said(other), *after[1:])
        if not same(before, after):
            wrong.append(f"{name}: {before} became {after}")
    assert not wrong, "\n".join(wrong)
