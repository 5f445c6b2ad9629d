"""From a fragment to the picture: marks, words, bars and what is left out."""

from __future__ import annotations

import drawing_boards as boards
import pytest
from msgspec.structs import replace

from netcheck.reports.drawing import MOST_PARTS, Column, Fate, Picture, draw, picture_of, place
from netcheck.simulation.elements import OperatingPoint


def column(picture: Picture, name: str, fate: Fate | None = None) -> Column:
    return next(c for c in picture.columns if c.name == name and fate in (None, c.fate))


def heights(picture: Picture) -> list[str]:
    return [bar.bar.net for bar in place(picture).bars]


def test_words_of_parts_as_found() -> None:
    board, point = boards.backup()
    picture = picture_of(board, boards.RUNNING, point, routes=[boards.BACKUP_ROUTE])
    r1, d1, bt1 = (column(picture, name) for name in ("R1", "D1", "BT1"))
    assert (r1.value, r1.amps, r1.drop, r1.on_route) == ("470 Ω", "690 µA", "drops 0.32 V", True)
    assert (d1.value, d1.amps, d1.drop, d1.on_route) == ("1N4148", "5 nA", "blocks 0.37 V", False)
    assert (bt1.value, bt1.amps) == ("NiCd-3x60", "takes 690 µA")
    assert column(picture, "D4").drop == "5 V across"
    assert column(picture, "U2").amps == "", "the current is its value already"
    assert column(picture, "JP1").links == (("1", "2"),)
    assert column(picture, "C1").value == "100 nF"
    assert {c.fate for c in picture.columns} == {Fate.AS_FOUND}


def test_bars_by_height_with_their_words() -> None:
    board, point = boards.backup()
    picture = picture_of(board, boards.RUNNING, point)
    assert heights(picture) == ["+5V", "CHG", "VRAM", "VBAT", "CELL"]
    assert {bar.net: bar.label for bar in picture.bars}["CHG"] == "4.68 V"
    assert {bar.net: bar.kind for bar in picture.bars} == {
        "+5V": "rail", "GND": "ground", "CHG": "net", "VRAM": "net", "VBAT": "net", "CELL": "net",
    }


def test_negative_rails_hang_below_ground() -> None:
    board, point = boards.switched()
    picture = picture_of(board, boards.RUNNING, point)
    assert heights(picture)[-2:] == ["OUT", "-12V"]
    zener = next(part for part in place(picture).parts if part.column.name == "D5")
    assert zener.grounds[0].sign[1] < zener.y < zener.leads[0].dot[1], "it hangs from ground, down to its net"


def test_charge_route_is_marked_and_said_with_its_current() -> None:
    board, point = boards.backup()
    picture = picture_of(board, boards.RUNNING, point, routes=[boards.BACKUP_ROUTE])
    assert picture.route_label == "Charging that is meant: +5V → R1 → D3 → BT1, 690 µA into BT1"
    assert {bar.net for bar in picture.bars if bar.highlighted} == {"CHG", "CELL"}
    y = {part.column.name: part.y for part in place(picture).parts}
    assert y["R1"] < y["D3"] < y["BT1"], "a staircase down into the cell"


def test_a_route_that_does_not_charge_now_says_so() -> None:
    board, point = boards.backup()
    still = replace(point, amps={**point.amps, "BT1": 2e-6})
    picture = picture_of(board, boards.STORED, still, routes=[boards.BACKUP_ROUTE])
    assert picture.route_label.endswith("no charge in this state")
    unknown = picture_of(board, boards.STORED, routes=[boards.BACKUP_ROUTE])
    assert unknown.route_label.endswith("current not known")


def test_mod_marks_removed_fitted_moved_and_empty() -> None:
    board, point, before = boards.backup_with_coin_cell()
    state = replace(boards.RUNNING, plugged={"BT2": False})
    picture = picture_of(board, state, point, against=before)
    fates = {(c.name, c.value): c.fate for c in picture.columns if c.fate is not Fate.AS_FOUND}
    assert fates == {
        ("R1", "470 Ω"): Fate.REMOVED, ("D3", "1N4148"): Fate.REMOVED, ("BT1", "NiCd-3x60"): Fate.REMOVED,
        ("D2", "1N4148"): Fate.REMOVED, ("D2", "BAT85"): Fate.FITTED, ("BT1", "CR2032"): Fate.FITTED,
        ("D1", "1N4148"): Fate.MOVED, ("R9", "1 kΩ"): Fate.FITTED, ("C9", "47 µF"): Fate.EMPTY,
        ("BT2", "alkaline-3xAA"): Fate.FITTED,
    }
    assert column(picture, "BT2").word == "not plugged"
    gone = next(bar for bar in picture.bars if bar.net == "CHG")
    assert (gone.kind, gone.label, gone.volts) == ("gone", "not used", None)
    assert column(picture, "R1").amps == ""


def test_a_wire_link_is_said_and_moves_nothing() -> None:
    after, before = boards.joined()
    picture = picture_of(after, boards.RUNNING, against=before)
    assert {c.fate for c in picture.columns} == {Fate.AS_FOUND}
    assert picture.note == "N8 is joined to N7."


def test_floating_net_and_dead_rail_are_said() -> None:
    board, point = boards.regulated()
    labels = {bar.net: bar.label for bar in picture_of(board, boards.RUNNING, point).bars}
    assert labels["IRQ"] == "floats"
    dead, off = boards.external_pack()[:2]
    labels = {bar.net: bar.label for bar in picture_of(dead, boards.STORED, off).bars}
    assert labels["+5V"] == "off, 0 V"


def test_without_an_operating_point_the_order_is_the_expected_one() -> None:
    board, _ = boards.backup()
    picture = picture_of(board, boards.RUNNING)
    order = heights(picture)
    assert order[0] == "+5V"
    assert order.index("CHG") < order.index("CELL")
    assert order.index("VRAM") < order.index("CELL"), "the rail feeds it through D2, so D1 blocks"
    assert all(bar.volts is None and not bar.label for bar in picture.bars)
    assert all(not c.amps and not c.drop for c in picture.columns)


def test_a_problem_of_the_simulator_is_printed_in_the_picture() -> None:
    board, _ = boards.backup()
    picture = picture_of(board, boards.RUNNING, OperatingPoint(problem="it did not converge"))
    assert picture.note == "No volts: it did not converge. The nets stand in their expected order."


def test_nets_of_the_same_volts_stand_in_the_order_of_feeding() -> None:
    board = boards.fragment(
        "Chain", boards.resistor("R2", "B", "C", 10), boards.resistor("R1", "A", "B", 10),
        boards.resistor("R0", "+5V", "A", 10), boards.load("U1", "C", "GND"), rails={"+5V": 5},
    )
    volts = {"GND": 0.0, "+5V": 5.0, "A": 4.99999, "B": 5.00001, "C": 4.99998}
    assert heights(picture_of(board, boards.RUNNING, OperatingPoint(volts))) == ["+5V", "A", "B", "C"]


def test_regulator_stands_between_its_input_and_its_output() -> None:
    board, point = boards.regulated()
    placed = next(p for p in place(picture_of(board, boards.RUNNING, point)).parts if p.column.name == "U1")
    height = {lead.pin: lead.dot[1] for lead in placed.leads}
    assert height["input"] < placed.y < height["output"] < height["adjust"]


def test_too_many_parts_leave_the_neighbourhood_of_the_cell() -> None:
    board = boards.ladder(100)
    picture = picture_of(board, boards.RUNNING)
    assert 2 < len(picture.columns) <= MOST_PARTS
    assert "BT1" in [c.name for c in picture.columns]
    assert picture.note.startswith("Drawn: the part of the circuit around BT1. Left out: C1-C100, R60,")
    assert picture.note.endswith("and 34 more.")
    assert "34 more" in draw(picture)


def test_around_a_named_part() -> None:
    board = boards.ladder(100)
    names = [c.name for c in picture_of(board, boards.RUNNING, around="R80").columns]
    assert "R80" in names
    assert "R2" not in names
    with pytest.raises(ValueError, match="no part BT2 to draw around; nearest: BT1"):
        picture_of(board, boards.RUNNING, around="BT2")


def test_a_board_with_nothing_on_it_is_still_a_picture() -> None:
    picture = picture_of(boards.fragment("Empty", rails={"+5V": 5}), boards.RUNNING)
    assert [bar.net for bar in picture.bars] == ["GND"]
    assert draw(picture).endswith("</svg>\n")


def test_a_current_is_written_only_where_one_link_carries_it() -> None:
    def amps(*pairs: tuple[str, str]) -> str:
        jumper = boards.link("JP1", "A", "B", "C", "D", position="set", set=pairs)
        board = boards.fragment("Links", jumper, rails={})
        return column(picture_of(board, boards.RUNNING, OperatingPoint({}, {"JP1": 1e-3})), "JP1").amps

    assert amps(("1", "2")) == "1 mA"
    assert amps(("1", "2"), ("3", "4")) == ""
