"""What each part does: every sentence is tried, with the part taken out or short, and has to come true."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest

import netcheck
from netcheck.api import explain
from netcheck.explain.duties import ORDER, Duty, PartDuties
from netcheck.explain.effects import effects
from netcheck.fragment.kinds import ROWS
from netcheck.fragment.model import AS_FOUND, Fragment, Kind
from netcheck.fragment.mods import apply
from netcheck.fragment.states import State, enumerate_states
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Fault
from netcheck.simulation.elements import OperatingPoint
from netcheck.simulation.operating_point import solve
from netcheck.solving.solved_states import Corners, survey

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = sorted((ROOT / "examples").glob("*.yaml"))
RANDOM = 200


def random_board(seed: int) -> Fragment:
    """A rail, a cell, a memory and a few parts between a few nets, as chance has it."""
    chance = random.Random(seed)
    nets = ["+5V", "CELL", "VRAM", "GND", "N1", "N2"]
    lines = ["title: a board of chance", "rails: {+5V: 5 V ±5%}", "parts:",
             f"  BT1: {{cell: {chance.choice(['CR2032', 'NiCd-3x60'])}, plus: CELL, minus: GND}}",
             "  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}"]
    for number in range(chance.randint(2, 7)):
        a, b = chance.sample(nets, 2)
        lines.append(chance.choice([
            f"  R{number}: {{resistor: {chance.choice(['100', '1k', '10k', '100k'])}, between: [{a}, {b}]}}",
            f"  D{number}: {{diode: 1N4148, anode: {a}, cathode: {b}}}",
            f"  D{number}: {{diode: BAT85, anode: {a}, cathode: {b}}}",
            f"  C{number}: {{capacitor: 100n, between: [{a}, {b}]}}",
            f"  JP{number}: {{jumper: [{a}, {b}], set: closed}}",
        ]))
    lines.append("states: {running: {main: on}, stored: {main: off}}")
    return netcheck.loads("\n".join(lines) + "\n")


class Tried:
    """One board, solved again with single parts failed, apart from how the program does it."""

    def __init__(self, fragment: Fragment) -> None:
        self.fragment = survey(fragment).fragment
        self.room = Corners.of(self.fragment).room
        self.states = {state.name: state for state in enumerate_states(self.fragment).states}

    def point(self, state: str, *faults: Fault, without: tuple[str, ...] = ()) -> OperatingPoint:
        (point,) = solve([circuit_of(self.fragment, self.states[state], self.room, faults, without)])
        return point

    def into(self, point: OperatingPoint, cell: str) -> float:
        return max(0.0, -point.amps.get(cell, 0.0))

    def volts(self, point: OperatingPoint, load: str) -> float:
        plus, minus = (point.volts.get(self.fragment.parts[load].pins[pin]) for pin in ("plus", "minus"))
        return (plus or 0.0) - (minus or 0.0)


def untrue(board: Tried, part: str, duty: Duty) -> str | None:
    """Why a duty is not so, tried on the board; None where it is."""
    return _TRIALS.get(duty.duty, lambda *_: None)(board, part, duty)


def _on_a_way(board: Tried, part: str, duty: Duty) -> str | None:
    for state in duty.states:
        before, after = board.point(state), board.point(state, without=(part,))
        assert duty.source
        assert duty.to
        given = before.amps.get(duty.source, 0.0), after.amps.get(duty.source, 0.0)
        moved = abs(board.volts(before, duty.to) - board.volts(after, duty.to))
        if abs(given[0] - given[1]) < 1e-9 and moved < 1e-6:
            return f"{state}: neither {duty.source} nor {duty.to} feels that it is out"
    return None


def _charges(board: Tried, part: str, duty: Duty) -> str | None:
    assert duty.to
    state = duty.states[0]
    charge = max(board.into(board.point(state), duty.to) for state in duty.states)
    if charge != pytest.approx(duty.amps, rel=1e-3):
        return f"the charge is {charge}"
    without = board.into(board.point(state, without=(part,)), duty.to)
    return None if without != pytest.approx(board.into(board.point(state), duty.to), rel=1e-4) else "same without it"


def _blocks(board: Tried, part: str, duty: Duty) -> str | None:
    assert duty.source
    fault = short(board, part)
    best = 0.0
    for state in duty.states:
        before, after = board.point(state), board.point(state, fault)
        if duty.to in board.fragment.parts:
            best = max(best, board.into(after, duty.to))
            if board.into(after, duty.to) <= board.into(before, duty.to):
                return f"{state}: no more into {duty.to}"
        else:
            more = after.amps[duty.source] - before.amps[duty.source]
            best = max(best, after.amps[duty.source])
            if more <= 0:
                return f"{state}: no more out of {duty.source}"
    assert duty.if_short_A
    return None if best >= duty.if_short_A * 0.99 else f"only {best} flows"


def _limits(board: Tried, part: str, duty: Duty) -> str | None:
    assert duty.to
    other = short(board, duty.others[0])
    small = board.into(board.point(duty.states[0], other), duty.to)
    large = board.into(board.point(duty.states[0], other, short(board, part)), duty.to)
    said = (duty.amps, duty.if_short_A)
    return None if (small, large) == pytest.approx(said, rel=1e-3) and large > small else f"{small} and {large}"


def _pulls(board: Tried, part: str, duty: Duty) -> str | None:
    floating = [board.point(state, without=(part,)).volts.get(str(duty.to)) is None for state in duty.states]
    return None if all(floating) else f"{duty.to} does not float without it"


def _nothing(board: Tried, part: str, duty: Duty) -> str | None:
    kind = board.fragment.parts[part].kind
    for state in (name for name in board.states if name in ("running", "stored")):
        before = board.point(state)
        changed = [board.point(state, without=(part,))]
        if ROWS[kind].shorts and kind is not Kind.LOAD and len(set(board.fragment.parts[part].nets)) > 1:
            changed.append(board.point(state, short(board, part)))
        own = set(board.fragment.parts[part].nets)
        for after in changed:
            felt = [one for one in effects(board.fragment, before, after)
                    if one.name != part and not (one.what == "net" and one.name in own)]
            if felt:
                return f"{state}: {felt[0]}"
    return None


_TRIALS = {"feeds": _on_a_way, "backs-up": _on_a_way, "charges": _charges, "blocks": _blocks, "limits": _limits,
           "pulls": _pulls, "nothing": _nothing}


def short(board: Tried, part: str) -> Fault:
    pins = tuple(board.fragment.parts[part].pins)
    ends = [pair for pair in (("anode", "cathode"), ("collector", "emitter"), ("drain", "source"), ("input", "output"))
            if set(pair) <= set(pins)]
    return Fault(part, "short", ends[0] if ends else (pins[0], pins[1]))


def variants() -> Iterator[Fragment]:
    for path in EXAMPLES:
        fragment = netcheck.load(path)
        yield fragment
        yield from (apply(fragment, mod) for mod in fragment.mods)


def wrong(fragment: Fragment) -> list[str]:
    board = Tried(fragment)
    told = explain(fragment)
    assert set(told) == {part.name for part in fragment.fitted}
    return [f"{fragment.title}, {fragment.variant}, {part}, {duty.duty} {duty.source} {duty.to}: {why}"
            for part, found in told.items() for duty in found.duties
            if (why := untrue(board, part, duty)) is not None]


def test_every_duty_of_the_examples_comes_true() -> None:
    assert [line for fragment in variants() for line in wrong(fragment)] == []


def test_every_duty_of_random_boards_comes_true() -> None:
    assert [line for seed in range(RANDOM) for line in wrong(random_board(seed))] == []


def the(found: dict[str, PartDuties], part: str, duty: str) -> Duty:
    return next(one for one in found[part].duties if one.duty == duty)


def test_sentences_of_the_contract() -> None:
    """The kinds of sentence that a person at the bench says of such a section, each from what the parts do."""
    swap = explain(apply(netcheck.load(ROOT / "examples" / "rack-sampler.yaml"), "plain-swap"))
    assert the(swap, "D2", "feeds").to == "U1"
    assert the(swap, "D1", "backs-up").source == "BT1"
    assert the(swap, "R1", "charges").source == "+5V"
    assert the(swap, "D1", "blocks").to == "BT1"
    assert sum(one.sets_it for part in ("R1", "D3") for one in swap[part].duties) == 1
    safe = explain(apply(netcheck.load(ROOT / "examples" / "rack-sampler.yaml"), "coin-cell"))
    assert the(safe, "R9", "limits").others == ("D1",)
    assert next(iter(safe)) == "D2"


BOARD = """\
title: a pointing-device port
rails: {+5V: 5 V}
parts:
  R1: {resistor: 10k, between: [+5V, MDAT]}
  R2: {resistor: 10k, between: [MCLK, GND]}
  R9: {resistor: 10k, between: [N1, N2]}
  D1: {diode: {zener: 5.6 V}, anode: GND, cathode: VM}
  F1: {fuse: 1 A, between: [+5V, VM]}
  U1: {load: 5 mA, plus: VM, minus: GND, works: 4.75 V to 5.25 V}
  J1: {connector: unknown, pins: {1: MDAT, 2: MCLK, 3: VM, 4: GND}}
  JP1: {jumper: [MIRQ, IRQ12]}
states: {running: {main: on}, off: {main: off}}
"""


def test_pulls_clamps_links_and_what_does_nothing() -> None:
    found = explain(netcheck.loads(BOARD))
    assert (the(found, "R1", "pulls").source, the(found, "R1", "pulls").to) == ("+5V", "MDAT")
    assert (the(found, "R2", "pulls").source, the(found, "R2", "pulls").to) == ("GND", "MCLK")
    assert the(found, "D1", "clamps").limit_V == pytest.approx(5.6)
    assert the(found, "F1", "feeds").to == "U1"
    assert set(the(found, "JP1", "selects").positions) == {"open", "closed"}
    assert found["R9"].duties[0].duty == "nothing"


def test_feedback_of_a_regulator_is_found_from_its_adjust_pin() -> None:
    found = explain(netcheck.loads("""\
title: a supply
rails: {+12V: 12 V}
parts:
  U5: {regulator: LM317, input: +12V, output: VC, adjust: ADJ}
  R1: {resistor: 240, between: [VC, ADJ]}
  R2: {resistor: 390, between: [ADJ, GND]}
  R3: {resistor: 1k, between: [VC, GND]}
"""))
    assert the(found, "R1", "sets").others == ("R2",)
    assert the(found, "R2", "sets").to == "VC"
    assert "sets" not in {one.duty for one in found["R3"].duties}


def test_json_holds_every_part_with_words_of_one_list() -> None:
    report = netcheck.check(netcheck.load(EXAMPLES[0]), AS_FOUND, duties=True).to_dict()
    duties = report["variants"][-1]["duties"]
    assert duties
    for found in duties.values():
        for one in found:
            assert one["duty"] in ORDER
            assert {"duty", "from", "to", "states", "if_short_A", "if_open"} <= set(one)


def test_states_of_a_board_without_names_are_told_as_they_are() -> None:
    fragment = netcheck.loads(BOARD.rsplit("states:", 1)[0])
    states: list[State] = list(enumerate_states(fragment).states)
    assert the(explain(fragment), "F1", "feeds").states[0] in {state.name for state in states}
