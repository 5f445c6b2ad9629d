"""One row a kind, and no kind that falls through in silence."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import yaml

import netcheck
from netcheck.bench.single_faults import of_part
from netcheck.checks import unjudged
from netcheck.conduction.graph import ways
from netcheck.findings import Severity
from netcheck.fragment.kinds import KEYS, ROWS, Form, Moves
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import enumerate_states
from netcheck.fragment.written import part_text
from netcheck.judging import forget_judged, judge
from netcheck.reports.drawing import symbols
from netcheck.reports.drawing.part_words import column_of
from netcheck.reports.drawing.picture import Fate
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Corner
from netcheck.solving.failures import faults_of

PARTS = {
    Kind.CELL: "{cell: CR2032, plus: A, minus: GND}",
    Kind.DIODE: "{diode: 1N4148, anode: A, cathode: B}",
    Kind.RESISTOR: "{resistor: 4.7k ±1%, between: [A, B]}",
    Kind.TRIMMER: "{trimmer: 1k ±20%, ends: [A, GND], wiper: B, set: end 2}",
    Kind.CAPACITOR: "{capacitor: 100n, type: wet, rated: 16 V, plus: A, minus: B}",
    Kind.INDUCTOR: "{inductor: 10u, between: [A, B]}",
    Kind.FUSE: "{fuse: 1 A, between: [A, B]}",
    Kind.JUMPER: "{jumper: [A, B, GND], positions: {low: 1-2, high: [1-2, 2-3], off: none}, set: high}",
    Kind.SWITCH: "{switch: [A, B], set: closed}",
    Kind.RELAY: "{relay: 167 ±10%, coil: [A, GND], common: B, rest: C, work: +5V}",
    Kind.TRANSISTOR: "{transistor: npn, collector: A, base: B, emitter: GND}",
    Kind.REGULATOR: "{regulator: LM317, input: A, output: B, adjust: GND}",
    Kind.LOAD: "{load: 2 uA at 3 V, plus: A, minus: GND}",
    Kind.CHIP: "{chip: 'gate, quad', pins: {1: A, 2: GND}}",
    Kind.CONNECTOR: "{connector: unknown, pins: {1: A, 2: GND}}",
}


def board(*parts: str, more: str = "") -> Fragment:
    lines = "".join(f"  X{number}: {part}\n" for number, part in enumerate(parts, 1))
    return netcheck.loads(f"title: t\nrails: {{+5V: 5 V ±5%}}\nparts:\n{lines}{more}")


def each() -> Iterator[tuple[Fragment, Part]]:
    for kind in Kind:
        fragment = board(PARTS[kind])
        yield fragment, fragment.parts["X1"]


def test_every_kind_has_its_row_and_is_known_wherever_kinds_are_told_apart() -> None:
    assert set(ROWS) == set(Kind) == set(PARTS)
    for fragment, part in each():
        state = enumerate_states(fragment).states[0]
        assert part.name
        list(ways(part, state, "GND"))
        list(of_part(fragment, part))
        faults_of(part, "GND")
        circuit_of(fragment, state, Corner("room"))
        symbol = column_of(part, state, None, Fate.AS_FOUND).symbol
        drawn = {*symbols.SYMBOLS, *symbols.TRANSISTORS, "header", "regulator", "box"}
        assert symbol in drawn, f"{part.kind} is drawn as {symbol}, which nothing draws"


def test_a_part_written_out_reads_back_the_same() -> None:
    for _, part in each():
        again = board(part_text(part)).parts["X1"]
        assert (again.kind, dict(again.pins), again.position, dict(again.positions), again.spec) == (
            part.kind, dict(part.pins), part.position, dict(part.positions), part.spec), part_text(part)
        assert yaml.safe_load(part_text(part))


def test_what_moves_has_positions_and_only_that() -> None:
    for _, part in each():
        assert bool(part.positions) == (ROWS[part.kind].moves is not Moves.NOTHING), part.kind
        assert (ROWS[part.kind].form is Form.LISTED) == (part.kind in (Kind.JUMPER, Kind.SWITCH))
        assert str(part.kind) in KEYS[part.kind]


def test_a_kind_that_no_check_judges_is_unknown(monkeypatch: pytest.MonkeyPatch) -> None:
    fragment = board(PARTS[Kind.CELL], PARTS[Kind.LOAD], PARTS[Kind.TRIMMER])
    assert not [f for f in judge(fragment).findings if f.check == "not-judged"]
    monkeypatch.setattr(unjudged, "BACKUP", unjudged.BACKUP - {Kind.TRIMMER})
    forget_judged()
    told = [f for f in judge(fragment).findings if f.check == "not-judged"]
    assert [(f.severity, f.parts) for f in told] == [(Severity.UNKNOWN, ("X3",))]
    assert judge(fragment).verdict != "ok"
