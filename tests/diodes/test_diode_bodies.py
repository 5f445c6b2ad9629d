"""Which candidates fit the board: leaded or for the surface, as what stands there."""

import pytest

import netcheck
from netcheck.diodes.comparison import NoPlace, of_body, question
from netcheck.parts.catalogue import Catalogue
from netcheck.parts.families import BODIES, LEADED_BODIES

DIODES = Catalogue.standard().entries("diode")
BOARD = """
title: bodies
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: DIODE, anode: CELL, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2 V to 5.5 V}
"""


def asked(name, at=()):
    return question(netcheck.loads(BOARD.replace("DIODE", name)), at)


def bodies(found):
    return {spec.body for spec in found}


def test_every_diode_and_transistor_of_the_library_has_a_body():
    for kind in ("diode", "transistor"):
        assert all(spec.body in BODIES for spec in Catalogue.standard().entries(kind))


@pytest.mark.parametrize(("name", "leaded"), [("1N4148", True), ("BAT54", False), ("LL4148", False), ("1N5817", True)])
def test_what_stands_there_decides(name, leaded):
    found = of_body(asked(name), DIODES)
    assert found
    assert all((body in LEADED_BODIES) is leaded for body in bodies(found))


def test_a_bare_lead_takes_what_the_board_has():
    assert bodies(of_body(asked("1N4148", ["BT1.plus"]), DIODES)) <= set(LEADED_BODIES)


@pytest.mark.parametrize(("wanted", "expected"), [
    ("axial", {"axial glass", "axial plastic"}), ("sot-23", {"SOT-23"}), ("any", bodies(DIODES)),
    ("leaded", bodies(DIODES) & set(LEADED_BODIES)), ("surface", bodies(DIODES) - set(LEADED_BODIES)),
])
def test_a_body_asked_for(wanted, expected):
    assert bodies(of_body(asked("1N4148"), DIODES, wanted)) == expected


def test_a_body_that_no_diode_has():
    with pytest.raises(NoPlace, match="SOT-23"):
        of_body(asked("1N4148"), DIODES, "TO-99")
