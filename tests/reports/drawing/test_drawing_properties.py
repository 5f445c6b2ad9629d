"""What must hold for every drawing, tried on random boards of up to sixty parts."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import netcheck
from netcheck.fragment import mods
from netcheck.fragment.states import enumerate_states
from netcheck.reports.drawing import Bar, Column, Fate, Picture, Placement, draw, picture_of, place
from netcheck.reports.drawing.placement import Lead
from netcheck.reports.drawing.stack import NEAR_V
from netcheck.reports.drawing.symbols import SYMBOLS, TRANSISTORS
from netcheck.reports.drawing.text import Box
from netcheck.solving.scene import scene

_WORDS = st.sampled_from(["", "1N4148", "10 kΩ", "SRAM-62256", "takes 9.1 mA", "blocks 0.77 V"])
_PINS = {"npn": ("collector", "base", "emitter"), "pnp": ("collector", "base", "emitter"),
         "n-channel": ("drain", "gate", "source"), "p-channel": ("drain", "gate", "source"),
         "regulator": ("input", "output", "adjust"), "cell": ("plus", "minus"),
         **dict.fromkeys(("diode", "schottky", "zener", "led", "germanium"), ("anode", "cathode"))}


@st.composite
def pictures(draw_: st.DrawFn) -> Picture:
    count = draw_(st.integers(1, 14))
    names = ["GND", "+5V", *(f"NET{i}" for i in range(count))][: count + 1]
    volts = st.one_of(st.none(), st.floats(-15, 15), st.sampled_from([0.0, 5.0, 4.995, 0.01]))
    bars = [Bar("GND", 0.0, "0 V", "ground")]
    for name in names[1:]:
        level = draw_(volts)
        label = "floats" if level is None else f"{level:.2f} V"
        bars.append(Bar(name, level, label, draw_(st.sampled_from(["net", "rail"])), draw_(st.booleans())))
    net = st.sampled_from(names)
    symbol = st.sampled_from([*SYMBOLS, *TRANSISTORS, "header", "box", "regulator"])
    columns = []
    for i in range(draw_(st.integers(0, 14))):
        kind = draw_(symbol)
        words = _PINS.get(kind) or ("1", "2")
        if kind in ("header", "box"):
            words = tuple(str(k + 1) for k in range(draw_(st.integers(1, 7))))
        pins = tuple((word, draw_(net)) for word in words)
        links = (pins[0][0], pins[-1][0]) if draw_(st.booleans()) else None
        columns.append(Column(
            f"X{i}", kind, pins, draw_(_WORDS), draw_(_WORDS), draw_(_WORDS), draw_(st.sampled_from(Fate)),
            draw_(st.booleans()), (links,) if links else (),
        ))
    names = [c.name for c in columns if c.on_route]
    said = st.sampled_from(["", "Charge route: +5V → R1 → BT1, 9.1 mA into BT1", "Left out: R1 & 30 <more>"])
    return Picture(
        "Random board", "made up", tuple(bars), tuple(columns), (tuple(names[:3]),), draw_(said), draw_(said)
    )


@settings(max_examples=6, deadline=None)
@given(pictures())
def test_every_drawing_is_in_order(picture: Picture) -> None:
    _in_order(picture)
    _in_order(picture, narrow=True)


EXAMPLES = Path(__file__).parents[3] / "examples"


@pytest.mark.parametrize("example", sorted(EXAMPLES.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_example_is_in_order(example: Path) -> None:
    """As found and with each mod, in every state, with the volts and routes that were found."""
    found = netcheck.load(example)
    for fragment in (found, *(mods.apply(found, name) for name in found.mods)):
        for state in enumerate_states(fragment).states:
            here = scene(fragment, state)
            against = found if fragment is not found else None
            _in_order(picture_of(fragment, here.state, here.point, routes=here.routes, against=against))


def _in_order(picture: Picture, narrow: bool = False) -> None:
    placed = place(picture, narrow)
    if picture.frame is None and not narrow:  # a frame keeps the order of its own state, wrapped pieces stand below
        _bars_fall_by_volts(placed)
    _every_pin_has_its_dot(placed, picture)
    _columns_are_apart(placed)
    _words_are_apart(placed)
    _nothing_is_off_the_page(placed)
    _it_is_valid_and_repeatable(picture)


def _bars_fall_by_volts(placed: Placement) -> None:
    heights = [bar.y for bar in placed.bars]
    assert heights == sorted(heights)
    known = [bar.bar.level for bar in placed.bars if bar.bar.level is not None]
    assert all(upper >= lower - NEAR_V for upper, lower in combinations(known, 2))
    for one, other in combinations(placed.bars, 2):
        assert one.y != other.y or one.x1 < other.x0 or other.x1 < one.x0, "two nets on one line meet"


def _every_pin_has_its_dot(placed: Placement, picture: Picture) -> None:
    ground = next(bar.net for bar in picture.bars if bar.kind == "ground")
    drawn = sorted({(p.column.name, lead.net) for p in placed.parts for lead in p.leads}
                   | {(p.column.name, ground) for p in placed.parts if p.grounds})
    assert drawn == sorted({(c.name, net) for c in picture.columns for _, net in c.pins})
    joints = [lead.dot for part in placed.parts for lead in part.leads]
    assert len(joints) == len(set(joints)), "no dot joins four lines"
    for part in placed.parts:
        for lead in part.leads:
            own = next(bar for bar in placed.bars if bar.bar.net == lead.net and bar.y == lead.dot[1])
            assert own.x0 <= lead.x <= own.x1
            assert lead.x in own.dots
            top, bottom = sorted((lead.points[0][1], lead.points[1][1]))
            met = [bar for bar in placed.bars if top < bar.y < bottom]
            assert {bar.bar.net for bar in met} <= set(lead.crossed)
            assert all(lead.x not in bar.dots for bar in met)


def _columns_are_apart(placed: Placement) -> None:
    for left, right in combinations(placed.parts, 2):
        assert not left.box.overlaps(right.box), (left.column, right.column)
    for part in placed.parts:
        for other in placed.parts:
            if other is not part:
                assert not any(_lead_box(lead).overlaps(part.box) for lead in other.leads)
    for one, other in combinations([lead for part in placed.parts for lead in part.leads], 2):
        assert not _lead_box(one).overlaps(_lead_box(other)), (one, other)


def _words_are_apart(placed: Placement) -> None:
    boxes = [(text.content, text.box) for text in placed.every_text]
    boxes += [(f"sample of {key.mark}", key.sample) for key in placed.keys]
    for (one, a), (other, b) in combinations(boxes, 2):
        assert not a.overlaps(b), (one, other)
    leads = [_lead_box(lead) for part in placed.parts for lead in part.leads]
    words = [(text, None) for bar in placed.bars for text in bar.texts]
    words += [(text, part) for part in placed.parts for text in part.label]
    for text, of in words:
        assert not any(lead.overlaps(text.box) for lead in leads), text
        assert not any(part.box.overlaps(text.box) for part in placed.parts
                       if part is not of or (part.body.symbol is not None)), text
    for part in placed.parts:
        assert all(_inside(text.box, part.outline or part.box) or part.outline is None or part.body.sockets
                   for text in part.words), part.column
        others = [_lead_box(lead) for other in placed.parts if other is not part for lead in other.leads]
        assert not any(lead.overlaps(text.box) for lead in others for text in part.words)


def _inside(inner: Box, outer: Box) -> bool:
    return (outer.x0 - 0.1 <= inner.x0 and inner.x1 <= outer.x1 + 0.1 and outer.y0 - 0.1 <= inner.y0
            and inner.y1 <= outer.y1 + 0.1)


def _lead_box(lead: Lead) -> Box:
    (x, y0), (_, y1) = lead.points[:2]
    return Box(x - 0.7, min(y0, y1), x + 0.7, max(y0, y1))


def _nothing_is_off_the_page(placed: Placement) -> None:
    for box in [t.box for t in placed.every_text] + [p.box for p in placed.parts]:
        assert 0 <= box.x0 <= box.x1 <= placed.width
        assert 0 <= box.y0 <= box.y1 <= placed.height


def _it_is_valid_and_repeatable(picture: Picture) -> None:
    svg = draw(picture)
    assert svg == draw(picture)
    root = ET.fromstring(svg)
    words = root.find("{http://www.w3.org/2000/svg}desc").text
    assert all(f"{column.shown} (" in words for column in picture.columns)
    assert all(bar.net in words for bar in picture.bars)
