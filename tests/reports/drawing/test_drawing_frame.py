"""One placement for a file, kept over states and variants; arrows as the simulated current flows; hatch is danger."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import netcheck
from netcheck.fragment.mods import apply
from netcheck.fragment.states import enumerate_states
from netcheck.reports.drawing import Placement, beside, draw, frame_of, picture_of, place
from netcheck.reports.drawing.picture import Picture
from netcheck.solving.scene import Scene, reference, scene

EXAMPLES = sorted((Path(__file__).resolve().parents[3] / "examples").glob("*.yaml"))


def pictures(path: Path) -> Iterator[tuple[Scene, Picture]]:
    """Every variant of a file in every named state, in its frame."""
    found = netcheck.load(path)
    ref = reference(found)
    frame = frame_of(found, ref.state, ref.point)
    for fragment in (found, *(apply(found, mod) for mod in found.mods)):
        named = {state.name for state in fragment.states}
        for state in enumerate_states(fragment).states:
            if state.name in named:
                here = scene(fragment, state)
                yield here, picture_of(fragment, state, here.point, routes=here.routes, frame=frame,
                                       against=found if fragment.variant != found.variant else None)


def places(placement: Placement) -> dict[tuple[str, int], tuple[float, float]]:
    return {(part.column.name, part.column.slot): (part.x, part.y) for part in placement.parts}


def test_a_part_stands_in_the_same_place_in_every_state_and_variant() -> None:
    moved = []
    for path in EXAMPLES:
        seen: dict[tuple[str, int], tuple[float, float]] = {}
        for here, picture in pictures(path):
            if picture.frame is None:
                continue
            for key, spot in places(place(picture)).items():
                if seen.setdefault(key, spot) != spot:
                    moved.append((path.stem, here.fragment.variant, here.state.name, key, seen[key], spot))
    assert moved == []


def test_arrows_point_the_way_the_simulated_current_flows() -> None:
    """Within a column current goes from the pin it enters at: the first for a positive current, but a cell's plus is
    its first pin, and a cell that gives sends its current out there."""
    wrong = []
    for path in EXAMPLES:
        for here, picture in pictures(path):
            for column in picture.columns:
                amps = here.point.amps.get(column.name, 0.0)
                if column.flow_A and (column.flow_A > 0) != ((amps < 0) if column.symbol == "cell" else (amps > 0)):
                    wrong.append((path.stem, here.state.name, column.name))
    assert wrong == []


def test_every_branch_that_carries_more_than_leakage_has_an_arrow() -> None:
    for path in EXAMPLES:
        for here, picture in pictures(path):
            for column in picture.columns:
                amps = abs(here.point.amps.get(column.name, 0.0))
                if amps > 1e-6 and len(column.pins) == 2 and not column.blocks and column.fate.value != "removed":
                    assert column.flow_A, (path.stem, here.state.name, column.name)


def test_hatch_is_danger_and_danger_alone() -> None:
    for path in EXAMPLES:
        for _, picture in pictures(path):
            svg = draw(picture)
            assert ("nd-hatch" in svg) == (bool(picture.routes) and not picture.meant)
            assert ("charging that is meant" in svg) == picture.meant


def test_states_side_by_side_are_one_picture() -> None:
    drawn = [draw(picture) for _, picture in pictures(EXAMPLES[-1])][:2]
    both = beside(drawn)
    assert both.count("<svg ") == 3
    widths = [float(found) for found in re.findall(r'<svg [^>]*?width="([\d.]+)"', both)]
    assert widths[0] > widths[1]
    assert beside(drawn[:1]) == drawn[0]
