"""One placement for a file, kept over states and variants; arrows as the simulated current flows; hatch is danger."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from itertools import combinations
from pathlib import Path

import drawing_boards as boards
import pytest
from msgspec.structs import replace

import netcheck
from netcheck.fragment.model import Fragment, Kind
from netcheck.fragment.mods import apply
from netcheck.fragment.states import enumerate_states
from netcheck.parts.specs import ChipSpec
from netcheck.reports.drawing import Placement, beside, draw, frame_of, letters_pt, picture_of, place
from netcheck.reports.drawing.layout import LEAST_PT
from netcheck.reports.drawing.picture import Picture
from netcheck.reports.drawing.stack import NEAR_V
from netcheck.reports.drawing.text import Text
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.scene import Scene, reference, scene

EXAMPLES = sorted((Path(__file__).resolve().parents[3] / "examples").glob("*.yaml"))

# Crossings of the drawings of all variants and named states of each example with the layout before this one, which
# drew ground as a bar (October 2026: counted with the same rule, a lead that crosses a bar it is not on).
CROSSINGS_BEFORE = {"clock-card": 0, "coprocessor-card": 3, "logger": 1, "pointer-port": 13, "rack-sampler": 2,
                    "sound-card": 47, "terminal": 1}


@cache
def pictures(path: Path) -> tuple[tuple[Scene, Picture], ...]:
    """Every variant of a file in every named state, in its frame."""
    return tuple(_pictures(path))


def _pictures(path: Path) -> Iterator[tuple[Scene, Picture]]:
    found = netcheck.load(path)
    ref = reference(found)
    frame = frame_of(found, ref.state, ref.point, ref.stood)
    assert frame is not None
    for fragment in (found, *(apply(found, mod) for mod in found.mods)):
        named = {state.name for state in fragment.states}
        for state in enumerate_states(fragment).states:
            if state.name in named:
                here = scene(fragment, state)
                yield here, picture_of(fragment, state, here.point, routes=here.routes, frame=frame,
                                       against=found if fragment.variant != found.variant else None,
                                       verdict="OK", corner=here.corner)


def places(placement: Placement) -> dict[tuple[object, ...], tuple[float, float]]:
    return {part.column.spot: (part.x, part.y) for part in placement.parts}


@pytest.mark.parametrize("narrow", [False, True], ids=["wide", "narrow"])
def test_a_part_stands_in_the_same_place_in_every_state_and_variant(narrow: bool) -> None:
    moved = []
    for path in EXAMPLES:
        seen: dict[tuple[object, ...], tuple[float, float]] = {}
        for here, picture in pictures(path):
            for key, spot in places(place(picture, narrow)).items():
                if seen.setdefault(key, spot) != spot:
                    moved.append((path.stem, here.fragment.variant, here.state.name, key, seen[key], spot))
        assert seen
    assert moved == []


def test_an_added_part_leaves_the_others_where_they_are() -> None:
    """Added to the drawing of a file, between every two nets of the first example: nothing goes to another column, and
    the nets keep their order; what is below goes down as far as the part needs. Only where the bar of a net is shut in
    between others on its line is everything placed anew."""
    here, picture = pictures(EXAMPLES[4])[0]
    frame, before = picture.frame, places(place(picture))
    shut_in = {net for group in picture.level or () for net in group}
    nets = [net for net in here.fragment.nets if any(net == bar.net for bar in picture.bars)]
    kept = 0
    for a, b in combinations(nets, 2):
        fragment = replace(here.fragment, parts={**here.fragment.parts, "R99": boards.resistor("R99", a, b, 1e3)})
        added = picture_of(fragment, here.state, here.point, routes=here.routes, frame=frame, verdict="OK",
                           corner=here.corner)
        placed = place(added)
        now = places(placed)
        assert len(now) == len(before) + 1
        assert [bar.bar.net for bar in placed.bars] == [bar.bar.net for bar in place(picture).bars]
        same = {key: x for key, (x, _) in now.items() if key in before} == {key: x for key, (x, _) in before.items()}
        assert same or {a, b} & shut_in, (a, b)
        kept += same
    assert kept >= 7


def test_arrows_point_the_way_the_simulated_current_flows() -> None:
    """Within a part current goes from the pin it enters at: the first for a positive current, but a cell's plus is
    its first pin, and a cell that gives sends its current out there."""
    wrong, seen = [], 0
    for path in EXAMPLES:
        for here, picture in pictures(path):
            for column in picture.columns:
                amps = here.point.amps.get(column.name, 0.0)
                seen += bool(column.flow_A)
                if column.flow_A and (column.flow_A > 0) != ((amps < 0) if column.symbol == "cell" else (amps > 0)):
                    wrong.append((path.stem, here.state.name, column.name))
    assert wrong == []
    assert seen > 50


_HEAD = re.compile(r'<path d="M([\d.-]+) ([\d.-]+)L([\d.-]+) ([\d.-]+)L([\d.-]+) ([\d.-]+)Z"')


def test_every_arrow_that_is_drawn_points_from_the_higher_to_the_lower_potential() -> None:
    """Through everything but a source current falls: so the head on a lead points at the part on the side of its higher
    net, and away from it on the other. Looked up in the SVG itself, with the volts of the simulator."""
    seen = 0
    for path in EXAMPLES:
        for here, picture in pictures(path):
            groups = re.findall(r"<g><title>(.*?)</title>(.*?)</g>", draw(picture), re.DOTALL)
            placed = place(picture)
            for part, (_, drawn) in zip(placed.parts, groups, strict=True):
                column = part.column
                if column.symbol == "cell" or not column.flow_A or len(column.pins) != 2 or len(part.leads) != 1:
                    continue
                lead = part.leads[0]
                head = _HEAD.findall(drawn.splitlines()[-1])
                assert len(head) == 1, column.name
                _, tip, _, one, _, other = map(float, head[0])
                down = tip > (one + other) / 2
                towards = down == (part.y > lead.dot[1])
                volts = here.point.volts[lead.net] or 0.0
                assert towards == (volts > 0), (path.stem, here.state.name, column.name)
                seen += 1
    assert seen > 20


def test_every_branch_that_carries_more_than_leakage_has_an_arrow() -> None:
    for path in EXAMPLES:
        for here, picture in pictures(path):
            for column in picture.columns:
                amps = abs(here.point.amps.get(column.name, 0.0))
                through = len(column.pins) == 2 or column.symbol in ("regulator", "npn", "pnp", "n-channel")
                if amps > 1e-6 and through and not column.blocks and column.fate.value != "removed":
                    assert column.flow_A, (path.stem, here.state.name, column.name)


def test_hatch_is_danger_and_danger_alone() -> None:
    seen = {False: 0, True: 0}
    for path in EXAMPLES:
        for _, picture in pictures(path):
            svg = draw(picture)
            danger = bool(picture.routes) and not picture.meant
            assert ('class="nd-hatch"' in svg) == danger
            assert ("must never be charged" in svg or "no charge in this state" in svg) == danger
            assert ("charging that is meant" in svg) == picture.meant
            seen[danger] += 1
    assert all(seen.values())


def test_there_are_no_more_crossings_than_before() -> None:
    most = {path.stem: max(crossings(place(picture)) for _, picture in pictures(path)) for path in EXAMPLES}
    assert all(count <= CROSSINGS_BEFORE.get(name, count) for name, count in most.items()), most


def crossings(placed: Placement) -> int:
    return sum(bar.bar.net in lead.crossed and bar.x0 <= lead.x <= bar.x1
               for part in placed.parts for lead in part.leads for bar in placed.bars)


def test_nets_that_never_differ_stand_level() -> None:
    """Beside each other on one line; where their parts do not let them, in a bundle that says so, and only where that
    would tangle (one example, whose nets all stand at 5 V) apart."""
    level: dict[str, int] = {}
    apart: dict[str, int] = {}
    for path in EXAMPLES:
        _, picture = pictures(path)[0]
        assert picture.level is not None
        heights = {bar.bar.net: bar.y for _, one in pictures(path) for bar in place(one).bars}
        for group in picture.level:
            for one, other in combinations([net for net in group if net in heights], 2):
                near = abs(heights[one] - heights[other]) < 60
                level[path.stem] = level.get(path.stem, 0) + near
                apart[path.stem] = apart.get(path.stem, 0) + (not near)
    assert level["rack-sampler"] >= 1
    assert {name for name, count in apart.items() if count} <= {"pointer-port"}


def test_only_nets_that_never_differ_share_a_line() -> None:
    for path in EXAMPLES:
        for here, picture in pictures(path):
            for one, other in combinations(place(picture).bars, 2):
                a, b = here.point.volts.get(one.bar.net), here.point.volts.get(other.bar.net)
                if one.y == other.y and a is not None and b is not None:
                    assert abs(a - b) <= NEAR_V, (path.stem, one.bar.net, other.bar.net)


def test_letters_on_a4_and_on_a_phone() -> None:
    """6.5 points at least on A4; 9 pixels on a screen of 390, where the drawing goes from edge to edge."""
    for path in EXAMPLES:
        for _, picture in pictures(path):
            wide, narrow = place(picture), place(picture, narrow=True)
            assert letters_pt(wide) >= LEAST_PT, path.stem
            smallest = min(text.size for text in narrow.every_text) * min(1.0, 390 / narrow.width)
            assert smallest >= 9.0, (path.stem, narrow.width)


def test_made_up_boards_of_up_to_25_parts_on_a4_and_on_a_phone() -> None:
    """Of several shapes: chains (of eleven: many more in series than that do not go on a page), trees, all on one rail,
    many cells."""
    for picture in made_up():
        wide, narrow = place(picture), place(picture, narrow=True)
        assert letters_pt(wide) >= LEAST_PT, (picture.title, wide.width, wide.height)
        assert min(text.size for text in narrow.every_text) * min(1.0, 390 / narrow.width) >= 9.0, (
            picture.title, narrow.width)
        assert len(wide.parts) == len(narrow.parts) == len(picture.columns)


def made_up() -> Iterator[Picture]:
    for count in (5, 11, 25):
        chain = [boards.resistor(f"R{n}", "+5V" if n == 1 else f"N{n - 1}", f"N{n}", 1e3) for n in range(1, count)]
        if count <= 11:
            yield _of(boards.fragment(f"Chain of {count}", *chain, boards.cell("BT1", f"N{count - 1}", "GND"),
                                      rails={"+5V": 5}), {f"N{n}": 5 - 4.9 * n / count for n in range(1, count)})
        rail = [boards.capacitor(f"C{n}", "+5V", "GND", n * 1e-9) for n in range(count)]
        yield _of(boards.fragment(f"On one rail {count}", *rail, rails={"+5V": 5}), {})
        tree = [boards.resistor(f"R{n}", f"N{n // 2}" if n > 1 else "+12V", f"N{n}", 1e3) for n in range(1, count)]
        yield _of(boards.fragment(f"Tree of {count}", *tree, boards.load("U1", "N1", "GND"), rails={"+12V": 12}),
                  {f"N{n}": 12 - n * 0.4 for n in range(count)})
        backup = [part for n in range(count // 3) for part in (
            boards.diode(f"D{n}", f"C{n}", "VRAM"), boards.cell(f"BT{n}", f"C{n}", "GND", f"cell {n}"),
            boards.load(f"U{n}", "VRAM", "GND", f"chip {n}"))]
        yield _of(boards.fragment(f"Cells {count}", *backup, rails={"+5V": 5}),
                  {"VRAM": 2.8, **{f"C{n}": 3.2 for n in range(count)}})


def _of(board: Fragment, volts: dict[str, float]) -> Picture:
    rails = {net: rail.volts.value for net, rail in board.rails.items()}
    return picture_of(board, boards.RUNNING, OperatingPoint({"GND": 0.0, **rails, **volts}), verdict="OK")


def test_a_chip_of_273_pins_is_drawn_at_once() -> None:
    """Its pins on nets that nothing else is on are left out, and that is said. Told by counting, not by a clock."""
    pins = {"VDD": "+5V", "VSS": "GND", **{f"{n}": f"P{n}" for n in range(1, 272)}}
    chip = boards.part("U1", Kind.CHIP, ChipSpec("big"), pins)
    board = boards.fragment("Big chip", chip, boards.resistor("R1", "P1", "GND", 1e3), rails={"+5V": 5})
    picture = picture_of(board, boards.RUNNING)
    assert [pin for pin, _ in next(c for c in picture.columns if c.name == "U1").pins] == ["VDD", "VSS", "1"]
    assert "Not drawn: 270 pins of U1 on nets that nothing else is on." in picture.note
    assert len(place(picture).bars) == 2


def test_the_title_block_says_what_is_drawn() -> None:
    here, picture = pictures(EXAMPLES[4])[0]
    foot = place(picture)
    said = {text.content for text in foot.texts}
    assert {"Board", here.fragment.board, "Variant", "as found", "State", "running: main on", "Conditions",
            "nominal, 25 °C, fresh cell", "Verdict", "OK"} <= said
    for text in foot.texts:
        if text.y > foot.cells[0].y0:
            assert any(_within(text, cell) for cell in foot.cells), text
    for narrow in (False, True):
        one = place(picture, narrow)
        assert all(cell.x1 <= one.width and cell.y1 <= one.height for cell in one.cells)


def _within(text: Text, cell: object) -> bool:
    box = text.box
    return bool(cell.x0 <= box.x0 and box.x1 <= cell.x1 and cell.y0 <= box.y0 and box.y1 <= cell.y1)


def test_equal_loads_and_capacitors_are_one_symbol() -> None:
    rows = [boards.load(f"U{n}", "+5V", "GND") for n in (1, 2, 4)]
    caps = [boards.capacitor(f"C{n}", "+5V", "GND", 1e-7) for n in range(1, 10)]
    board = boards.fragment("Many", *rows, boards.load("U3", "+5V", "GND", "another"), *caps, rails={"+5V": 5})
    picture = picture_of(board, boards.RUNNING)
    assert {column.shown: column.value for column in picture.columns} == {
        "U1, U2, U4": "3 × SRAM-62256", "U3": "another", "C1-C9": "9 × 100 nF"}


def test_states_side_by_side_are_one_picture() -> None:
    drawn = [draw(picture) for _, picture in pictures(EXAMPLES[-1])][:2]
    both = beside(drawn)
    assert both.count("<svg ") == 3
    widths = [float(found) for found in re.findall(r'<svg [^>]*?width="([\d.]+)"', both)]
    assert widths[0] > widths[1]
    assert beside(drawn[:1]) == drawn[0]
