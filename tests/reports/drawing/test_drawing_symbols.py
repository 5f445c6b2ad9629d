"""The symbols say what the trade reads in them."""

from __future__ import annotations

import pytest

from netcheck.reports.drawing import Bar, Column, Picture, place
from netcheck.reports.drawing.symbols import SYMBOLS, TRANSISTORS, ground, transistor, two_terminal


def bars(*volts: tuple[str, float]) -> tuple[Bar, ...]:
    return tuple(Bar(net, v, f"{v} V", "ground" if net == "GND" else "net") for net, v in volts)


@pytest.mark.parametrize("name", SYMBOLS)
def test_two_terminal_symbols_stand_upright_on_their_axis(name: str) -> None:
    symbol = two_terminal(name)
    (x1, y1), (x2, y2) = symbol.port("first"), symbol.port("second")
    assert x1 == x2 == 0
    assert y1 == -y2 < 0
    assert symbol.strokes


@pytest.mark.parametrize("name", TRANSISTORS)
def test_transistor_ends_stand_above_each_other(name: str) -> None:
    symbol = transistor(name)
    first, control, last = (symbol.port(pin) for pin in TRANSISTORS[name][2])
    assert first[0] == last[0] == 0
    assert first[1] == pytest.approx(-last[1])
    assert control[0] < 0


def test_longer_line_of_a_cell_is_plus() -> None:
    """Two unequal lines, the longer one plus (hackingtons.com, engineering symbols: battery)."""
    symbol = two_terminal("cell")
    lines = [s.points for s in symbol.strokes if s.points[0][1] == s.points[1][1]]
    plates = {abs(a[0] - b[0]): a[1] for a, b in lines if abs(a[0] - b[0]) > 8}
    assert plates[max(plates)] < plates[min(plates)], "the longer one on top, where the first pin is"
    upside = symbol.turned()
    assert upside.port("first")[1] > 0


@pytest.mark.parametrize("name", ["diode", "schottky", "zener", "led", "germanium"])
def test_diodes_point_from_anode_to_cathode(name: str) -> None:
    """The triangle points from the anode to the bar, which is the cathode (hackingtons.com, symbols)."""
    triangle = next(s for s in two_terminal(name).strokes if s.closed and s.fill == "ink")
    corners = sorted(triangle.points, key=lambda p: p[1])
    assert corners[-1][0] == 0, "one corner on the axis, lowest"
    assert corners[0][1] == corners[1][1]


@pytest.mark.parametrize(("anode", "points_down"), [(1.0, True), (0.1, False)])
def test_a_conducting_diode_points_down_and_a_blocking_one_up(anode: float, points_down: bool) -> None:
    column = Column("D1", "diode", (("anode", "A"), ("cathode", "K")))
    placed = place(Picture("", "", bars(("A", anode), ("K", 0.4), ("GND", 0)), (column,))).parts[0]
    triangle = next(s for s in placed.body.symbol.strokes if s.closed)
    tip = next(y for x, y in triangle.points if x == 0)
    assert (tip == max(y for _, y in triangle.points)) is points_down


def test_plus_of_a_cell_that_stands_backwards_is_at_the_bottom() -> None:
    column = Column("BT1", "cell", (("plus", "GND"), ("minus", "X")))
    placed = place(Picture("", "", bars(("X", 3.0), ("GND", 0)), (column,))).parts[0]
    assert placed.body.symbol.port("first")[1] > 0
    assert [ground.pin for ground in placed.grounds] == ["plus"]
    assert placed.grounds[0].sign[1] > placed.y


@pytest.mark.parametrize("name", ["jumper", "switch"])
def test_closed_link_differs_from_open_one(name: str) -> None:
    def heavy(closed: bool) -> list[tuple[tuple[float, float], ...]]:
        return [s.points for s in two_terminal(name, closed).strokes if s.heavy]

    assert heavy(True) == [((0.0, -12), (0.0, 12))]
    assert heavy(False) != heavy(True)


def test_arrow_of_an_npn_leaves_at_the_emitter_and_of_a_pnp_enters_there() -> None:
    def tip(name: str) -> tuple[float, float]:
        return next(s.points[0] for s in transistor(name).strokes if s.closed)

    def gap(name: str) -> float:
        x, y = transistor(name).port("emitter")
        return abs(tip(name)[1] - y) + abs(tip(name)[0] - x)

    assert gap("npn") < gap("pnp")
    assert transistor("npn").port("emitter")[1] > 0 > transistor("pnp").port("emitter")[1]


def test_ground_has_three_lines_that_shrink() -> None:
    widths = [abs(s.points[0][0] - s.points[-1][0]) for s in ground().strokes[-2:]]
    first = max(x for x, _ in ground().strokes[0].points) - min(x for x, _ in ground().strokes[0].points)
    assert first > widths[0] > widths[1] > 0


def test_a_header_links_the_pins_of_its_position() -> None:
    pins = (("1", "A"), ("2", "K"), ("3", "GND"))
    column = Column("JP1", "header", pins, links=(("2", "3"),))
    placed = place(Picture("", "", bars(("A", 2.0), ("K", 1.0), ("GND", 0)), (column,))).parts[0]
    at = dict(zip("123", placed.body.sockets, strict=True))
    assert placed.body.links == ((at["2"], at["3"]),)


@pytest.mark.parametrize(("nets", "above"), [("AKG", False), ("AGK", True)])
def test_a_link_over_a_pin_runs_on_the_side_away_from_its_lead(nets: str, above: bool) -> None:
    pins = tuple(zip("123", nets, strict=True))
    levels = (Bar("A", 2.0), Bar("K", 1.0), Bar("G", 0.0))
    column = Column("JP1", "header", pins, links=(("1", "3"),))
    placed = place(Picture("", "", levels, (column,))).parts[0]
    lead = next(lead for lead in placed.leads if lead.pin == "2")
    assert (lead.dot[1] > placed.y) is above
    assert {y for _, y in placed.body.links[0]} == {0.0, -7.0 if above else 7.0}
