"""Mods: each step on the circuit as it stands, the circuit as found untouched."""

from __future__ import annotations

import pytest

from netcheck.fragment.model import Fragment, Mark, Step
from netcheck.fragment.mods import StepFault, apply, apply_steps
from netcheck.reading.mistakes import FragmentError
from netcheck.reading.reader import loads

BOARD = """\
title: t
rails: {+5V: 5 V, +12V: 12 V}
parts:
  R1: {resistor: 470, between: [+5V, CHG]}
  D1: {diode: {zener: 5.1 V}, anode: CHG, cathode: CELL}
  C1: {capacitor: 10u, plus: CELL, minus: GND}
  JP1: {jumper: [CELL, OUT, GND], positions: {normal: 1-2, clear: 2-3}}
  JP2: {jumper: [OUT, X]}
  R7: {resistor: 1k, between: [X, GND], fitted: no}
  U1: {chip: port, pins: {1: X}, clamps: {to: +5V, from: [X]}}
"""


def board(*steps: str, rest: str = "") -> Fragment:
    return loads(BOARD + rest + "mods:\n  m:\n    steps:\n" + "".join(f"      - {step}\n" for step in steps))


def modded(*steps: str, rest: str = "") -> Fragment:
    return apply(board(*steps, rest=rest), "m")


def test_variant_has_its_name_and_the_circuit_as_found_stays() -> None:
    found = board("{remove: [R1, D1]}")
    changed = apply(found, "m")
    assert changed.variant == "m"
    assert "R1" not in changed.parts
    assert "R1" in found.parts


def test_replaced_part_keeps_pins_by_word() -> None:
    changed = modded("{replace: {D1: {diode: {IS: 1n}}}}")
    assert changed.parts["D1"].pins == {"anode": "CHG", "cathode": "CELL"}
    assert list(changed.parts).index("D1") == 1


@pytest.mark.parametrize(("step", "name", "pins"), [
    ("{replace: {D1: {resistor: 0}}}", "D1", {"1": "CHG", "2": "CELL"}),
    ("{replace: {R1: {diode: {zener: 5 V}}}}", "R1", {"anode": "+5V", "cathode": "CHG"}),
    ("{replace: {C1: {capacitor: 22u}}}", "C1", {"plus": "CELL", "minus": "GND"}),
    ("{replace: {C1: {capacitor: 22u, between: [CELL, GND]}}}", "C1", {"1": "CELL", "2": "GND"}),
    ("{replace: {D1: {diode: {zener: 5 V}, cathode: OUT}}}", "D1", {"anode": "CHG", "cathode": "OUT"}),
    ("{replace: {JP2: {jumper: }}}", "JP2", {"1": "OUT", "2": "X"}),
    ("{replace: {JP2: {fuse: 1 A}}}", "JP2", {"1": "OUT", "2": "X"}),
    ("{fit: {R7: {resistor: 2k}}}", "R7", {"1": "X", "2": "GND"}),
    ("{fit: {R9: {resistor: 2k, between: [X, NEW]}}}", "R9", {"1": "X", "2": "NEW"}),
    ("{move: {D1.anode: NEW}}", "D1", {"anode": "NEW", "cathode": "CELL"}),
])
def test_pins_after_a_step(step: str, name: str, pins: dict[str, str]) -> None:
    part = modded(step).parts[name]
    assert part.pins == pins
    assert part.fitted


def test_joined_nets_are_one_everywhere() -> None:
    changed = modded("{join: [OUT, X, FAR]}", rest="expect: [{apart: [X, CELL]}]\n"
                     "readings: [{mod: m, at: X, volts: 1}, {mod: m, at: FAR, volts: 1}]\n")
    assert [reading.at for reading in changed.readings] == ["OUT", "OUT"]
    assert changed.parts["JP2"].pins == {"1": "OUT", "2": "OUT"}
    assert changed.parts["U1"].clamp is not None
    assert changed.parts["U1"].clamp.inputs == ("OUT",)
    assert changed.expectations[0].apart == ("OUT", "CELL")
    assert "X" not in changed.nets


def test_join_keeps_the_name_of_a_rail_or_the_ground() -> None:
    assert modded("{join: [X, GND]}").parts["JP2"].pins["2"] == "GND"
    assert modded("{join: [X, +5V]}").parts["JP2"].pins["2"] == "+5V"


def test_reading_names_the_net_of_its_variant() -> None:
    changed = modded("{move: {D1.anode: N7}}", rest="readings: [{mod: m, at: N7, volts: 1}]\n")
    assert changed.readings[0].at == "N7"


def test_set() -> None:
    assert modded("{set: {JP1: clear, JP2: closed}}").parts["JP1"].position == "clear"
    assert modded("{set: {JP1: absent}}").parts["JP1"].position == "absent"
    assert modded("{set: {JP2: absent}}").parts["JP2"].position == "open"


def test_mod_after_another() -> None:
    found = loads(BOARD + "mods: {b: {after: a, steps: [{remove: D1}]}, a: {steps: [{remove: R1}]}}")
    assert list(found.mods) == ["b", "a"]
    assert {"R1", "D1"}.isdisjoint(apply(found, "b").parts)
    assert "D1" in apply(found, "a").parts


@pytest.mark.parametrize(("step", "word", "nearest"), [
    ("{remove: R11}", "R11", "R1"),
    ("{replace: {D11: {diode: {zener: 5 V}}}}", "D11", "D1"),
    ("{replace: {D1: {diode: 1N4184}}}", "1N4184", "1N4148"),
    ("{move: {D1.anod: X}}", "D1.anod", "D1.anode"),
    ("{move: {D1: X}}", "D1", None),
    ("{join: [OUTT, XX]}", "OUTT", "OUT"),
    ("{join: [+5V, GND]}", "GND", None),
    ("{join: [X]}", "join", None),
    ("{set: {JP1: cleer}}", "cleer", "clear"),
    ("{set: {R1: open}}", "R1", None),
    ("{fit: {R1: {resistor: 1k, between: [X, GND]}}}", "R1", None),
    ("{fit: {R9: {resistor: 1k}}}", "R9", None),
    ("{remov: R1}", "remov", "remove"),
    ("{remove: R1, set: {JP1: clear}}", "remove, set", None),
    ("{because: x}", "{}", None),
    ("{set: }", "{}", None),
    ("x", "x", None),
])
def test_impossible_step_has_its_line_and_the_nearest_word(step: str, word: str, nearest: str | None) -> None:
    with pytest.raises(FragmentError) as caught:
        board("{set: {JP1: normal}}", step)
    (fault,) = caught.value.faults
    assert (fault.line, fault.text, fault.nearest) == (15, word, nearest)


def test_step_is_judged_after_the_steps_before() -> None:
    with pytest.raises(FragmentError) as caught:
        board("{remove: R1}", "{move: {R1.1: X}}")
    (fault,) = caught.value.faults
    assert (fault.line, fault.text) == (15, "R1")


def test_circle_of_mods_is_told_once() -> None:
    with pytest.raises(FragmentError) as caught:
        loads(BOARD + "mods: {a: {after: c, steps: []}, b: {after: a, steps: []}, c: {after: b, steps: []}}")
    (fault,) = caught.value.faults
    assert "does not come after" in fault.expected


def test_unknown_mod_and_impossible_step_of_a_caller() -> None:
    found = loads(BOARD)
    with pytest.raises(KeyError):
        apply(found, "m")
    with pytest.raises(StepFault, match="a part of the circuit"):
        apply_steps(found, [Step("remove", Mark(1, 1), names=("R99",))])
