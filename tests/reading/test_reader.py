"""The fragment file: every example of its contract, every kind, and every mistake with its place."""

from __future__ import annotations

import contextlib
import math
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from netcheck.fragment.kinds import KINDS
from netcheck.fragment.model import AS_FOUND, Fragment, Kind, Part
from netcheck.parts.specs import (
    CapacitorSpec,
    CellSpec,
    ConnectorSpec,
    DiodeSpec,
    FuseSpec,
    InductorSpec,
    LoadSpec,
    RegulatorSpec,
    ResistorSpec,
    TransistorSpec,
)
from netcheck.reading.mistakes import FragmentError
from netcheck.reading.reader import library_folders, load, loads

CONTRACT = Path(__file__).parent / "contract.yaml"
CELL = "chemistry: alkaline, volts: 3, capacity: 1 Ah, resistance: 1"


def fragment(parts: str, rest: str = "") -> Fragment:
    return loads(f"title: t\nrails: {{+5V: 5 V ±5%}}\nparts:\n  X1: {parts}\n{rest}")


def part(text: str) -> Part:
    return fragment(text).parts["X1"]


def faults(text: str) -> list[tuple[int, int, str]]:
    with pytest.raises(FragmentError) as caught:
        loads(text, "trace.yaml")
    return [(fault.line, fault.column, fault.text) for fault in caught.value.faults]


@pytest.fixture(scope="module")
def contract() -> Fragment:
    return load(CONTRACT)


class TestContract:
    def test_header(self, contract: Fragment) -> None:
        assert contract.title == "Memory backup, voice card"
        assert contract.board == "Larkspur S8 rack sampler (invented)"
        assert contract.about == "Traced with the power off and the pack lifted."
        assert contract.ground == "GND"
        assert [photo.file for photo in contract.photos] == ["section.jpg"]

    def test_rails(self, contract: Fragment) -> None:
        assert contract.supplies == ("main", "standby")
        rails = contract.rails
        assert (rails["+5V"].volts.low, rails["+5V"].volts.high) == (4.75, 5.25)
        assert (rails["-12V"].volts.low, rails["-12V"].volts.high) == pytest.approx((-12.6, -11.4))
        assert [rail.when_off for rail in rails.values()] == ["low", "low", "open"]

    def test_conditions(self, contract: Fragment) -> None:
        conditions = contract.conditions
        assert (conditions.temperature.low, conditions.temperature.high) == (10, 50)
        assert (conditions.powered_hours_a_day, conditions.years) == (2, 10)
        assert conditions.stated == {"temperature", "powered", "years"}

    def test_parts(self, contract: Fragment) -> None:
        assert " ".join(contract.parts) == "BT1 R1 D3 D1 D2 C1 C2 JP1 JP4 U1 U2 BT2"
        assert contract.parts["R1"].pins == {"1": "+5V", "2": "CHG"}
        assert contract.parts["C2"].pins == {"plus": "+5V", "minus": "GND"}
        assert contract.parts["JP1"].positions == {"normal": (("1", "2"),), "clear": (("2", "3"),)}
        assert contract.parts["JP4"].position == "open"
        assert contract.parts["BT2"].plugged is None
        assert contract.parts["U2"].works is not None
        assert contract.parts["D1"].mark.line == 24

    def test_states_expectations_and_readings(self, contract: Fragment) -> None:
        assert [state.name for state in contract.states] == ["running", "stored", "clearing"]
        assert contract.states[2].positions == {"JP1": "clear"}
        volts, joined, apart, amps = contract.expectations
        assert volts.volts is not None
        assert (volts.at, volts.state, volts.volts.high) == ("VRAM", "stored", 5.5)
        assert (joined.joined, joined.when) == (("MIRQ", "IRQ12"), {"JP4": "closed"})
        assert apart.apart == ("+5V", "GND")
        assert amps.amps is not None
        assert (amps.through, amps.amps.high) == ("R1", 0.01)
        first, second = contract.readings
        assert (first.mod, first.volts, first.meter_ohm) == (AS_FOUND, 2.71, 10e6)
        assert (second.mod, second.against, second.without) == ("coin-cell", "GND", ("BT1",))

    def test_mods(self, contract: Fragment) -> None:
        assert [step.action for step in contract.mods["coin-cell"].steps] == [
            "remove", "replace", "replace", "fit", "move", "join", "set"]
        assert contract.mods["bigger-caps"].after == "coin-cell"

    @pytest.mark.parametrize("text", [
        "{diode: {IS: 2.5n, N: 1.75, RS: 0.57}, anode: A, cathode: B}",
        "{diode: {points: [[1 mA, 0.62 V], [10 mA, 0.72 V]], leakage: 25 nA at 20 V}, anode: A, cathode: B}",
        "{diode: {zener: 5.1 V}, anode: A, cathode: B}",
        "{cell: {chemistry: lithium-primary, volts: 3.0, capacity: 220 mAh, resistance: 15}, "
        "plus: A, minus: B}",
        "{regulator: {reference: 1.25 V ±2%, between: adjust-ground, adjust_current: 0, dropout: 0.5 V, "
        "limit: 2 A}, input: +5V, output: B, adjust: C, ground: GND}",
        "{load: {draws: 2 uA at 3 V}, plus: A, minus: B}",
    ])
    def test_inline_examples(self, text: str) -> None:
        assert part(text).spec


class TestKinds:
    def test_resistor(self) -> None:
        spec = part("{resistor: 4k7 ±1%, between: [A, B], power: 0.25 W, marked: 472}").spec
        assert isinstance(spec, ResistorSpec)
        assert (spec.resistance.low, spec.resistance.high) == pytest.approx((4653, 4747))
        assert spec.power_W == 0.25

    def test_capacitor(self) -> None:
        found = part("{capacitor: 47u ±20%, type: wet, rated: 10 V, esr: 0.3, esl: 5n, size: 0603, "
                     "hours: 2000 h at 105 °C, ripple: 120 mA, role: rail, plus: A, minus: B}")
        spec = found.spec
        assert isinstance(spec, CapacitorSpec)
        assert (spec.type, spec.rated_V, spec.esr_ohm, spec.esl_H) == ("wet", 10, 0.3, 5e-9)
        assert (spec.size, spec.life_h, spec.life_at_C, spec.ripple_A) == ("0603", 2000, 105, 0.12)
        assert found.role == "rail"

    def test_inductor_bead_and_fuse(self) -> None:
        assert part("{inductor: bead, between: [A, B]}").spec == InductorSpec(None)
        coil = part("{inductor: 10u, between: [A, B], resistance: 0.2}").spec
        assert isinstance(coil, InductorSpec)
        assert coil.resistance_ohm == 0.2
        assert part("{fuse: 500 mA, between: [A, B]}").spec == FuseSpec(0.5)
        assert part("{fuse: unknown, between: [A, B]}").spec == FuseSpec(None)

    def test_jumper_positions(self) -> None:
        two = part("{jumper: [A, B]}")
        assert (two.positions, two.position) == ({"open": (), "closed": (("1", "2"),)}, "open")
        three = part("{jumper: [A, B, C]}")
        assert (three.positions, three.position) == ({"1-2": (("1", "2"),), "2-3": (("2", "3"),)}, "1-2")
        four = part("{jumper: [A, B, C, D], set: z, "
                    "positions: {x: [1-2, 3-4], y: '1-2, 2-3', z: none, w: 1-2-3}}")
        assert four.positions == {"x": (("1", "2"), ("3", "4")), "y": (("1", "2"), ("2", "3")), "z": (),
                                  "w": (("1", "2"), ("2", "3"))}
        assert four.position == "z"
        assert part("{jumper: [A, B], set: absent}").position == "open"
        assert part("{jumper: [A, B, C], set: absent}").position == "absent"
        assert part("{switch: [A, B]}").position == "open"

    def test_transistor_pins_follow_its_polarity(self) -> None:
        bipolar = part("{transistor: npn, emitter: C, base: B, collector: A}")
        assert list(bipolar.pins.values()) == ["A", "B", "C"]
        mosfet = part("{transistor: {polarity: p-channel, threshold: 2 V, on: 5}, "
                      "drain: A, gate: B, source: C}")
        assert isinstance(mosfet.spec, TransistorSpec)
        assert (mosfet.spec.threshold_V, mosfet.spec.on_ohm) == (2, 5)
        with pytest.raises(FragmentError, match="collector, base and emitter"):
            part("{transistor: npn, drain: A, gate: B, source: C}")

    def test_regulator_fixed_and_adjustable(self) -> None:
        fixed = part("{regulator: {output: 5 V ±4%, dropout: 2 V}, input: A, output: B, ground: GND, "
                     "heatsink: 20 K/W}")
        assert isinstance(fixed.spec, RegulatorSpec)
        assert fixed.heatsink_K_per_W == 20
        with pytest.raises(FragmentError, match="adjust or ground"):
            part("{regulator: {output: 5 V}, input: A, output: B}")

    def test_load_by_value(self) -> None:
        spec = part("{load: 2 uA, plus: A, minus: B, works: 2.0 V to 5.5 V}").spec
        assert isinstance(spec, LoadSpec)
        assert [(d.limit, d.current_A) for d in spec.draws] == [("typical", 2e-6), ("maximum", 2e-6)]
        pair = part("{load: {draws: [2 uA / 50 uA at 3 V, 90 uA maximum at 5 V]}, plus: A, minus: B}").spec
        assert isinstance(pair, LoadSpec)
        assert [(d.limit, d.current_A, d.volts_V) for d in pair.draws] == [
            ("typical", 2e-6, 3), ("maximum", 50e-6, 3), ("maximum", 90e-6, 5)]

    def test_chip_and_connector(self) -> None:
        chip = part("{chip: 6850 UART, pins: {2: A, 14: GND}, clamps: {to: +5V, from: [A]}}")
        assert chip.pins == {"2": "A", "14": "GND"}
        assert chip.clamp is not None
        assert (chip.clamp.to, chip.clamp.inputs) == ("+5V", ("A",))
        plug = part("{connector: {pinout: {1: +5V, 2: GND}}, pins: [A, GND]}")
        assert isinstance(plug.spec, ConnectorSpec)
        assert (plug.spec.pinout, plug.pins) == ((("1", "+5V"), ("2", "GND")), {"1": "A", "2": "GND"})
        assert part("{connector: unknown, pins: {A1: A}}").pins == {"A1": "A"}

    def test_inline_cell(self) -> None:
        spec = part("{cell: {chemistry: alkaline, volts: 4.5, capacity: 2 Ah, resistance: 0.5, share: 3 %, "
                    "self_discharge: 3 %, fault_charge: 10 mA, "
                    "curve: [[0 %, 4.6 V], [50 %, 3.9 V, 0.8], [100 %, 2.7 V]]}, "
                    "plus: A, minus: B, voltage: 4.4 V}").spec
        assert isinstance(spec, CellSpec)
        assert (spec.primary, spec.abnormal_charge_A, spec.leak_share) == (True, 0.01, 0.03)
        assert [(p.used, p.volts_V, p.resistance_ohm) for p in spec.curve] == [
            (0, 4.6, 0.5), (0.5, 3.9, 0.8), (1, 2.7, 0.5)]
        flat = part("{cell: {chemistry: nickel-cadmium, volts: 3.6, capacity: 60 mAh, resistance: 1, "
                    "trickle: [1 mA, 3 mA, 6 mA]}, plus: A, minus: B}").spec
        assert isinstance(flat, CellSpec)
        assert (flat.primary, [p.volts_V for p in flat.curve]) == (False, [3.6, 3.6])
        assert flat.trickle is not None

    def test_inline_diode(self) -> None:
        spec = part("{diode: {family: schottky, points: [[1 mA, 0.3 V], [10 mA, 0.4 V, maximum]], "
                    "leakage: [2 uA maximum at 25 V, 50 uA at 20 V at 75 °C]}, anode: A, cathode: B}").spec
        assert isinstance(spec, DiodeSpec)
        assert spec.family == "schottky"
        assert [(p.limit, p.current_A) for p in spec.forward] == [("typical", 1e-3), ("maximum", 10e-3)]
        assert [(p.limit, p.temperature_C) for p in spec.leakage] == [
            ("maximum", 25), ("typical", 75), ("maximum", 75)]
        zener = part("{diode: {zener: 5.1 V ±5%}, anode: A, cathode: B}").spec
        assert isinstance(zener, DiodeSpec)
        assert zener.zener_V is not None
        assert (zener.family, zener.zener_V.high) == ("zener", pytest.approx(5.355))

    def test_words_that_yaml_would_turn(self) -> None:
        found = part("{resistor: 1e3, between: [on, no], fitted: no, note: yes, at: 1:30}")
        assert found.pins == {"1": "on", "2": "no"}
        assert (found.fitted, found.note, found.at) == (False, "yes", "1:30")

    def test_unfitted_part_is_not_in_the_circuit(self) -> None:
        assert list(fragment("{resistor: 1k, between: [A, B], fitted: no}").fitted) == []


def test_defaults() -> None:
    found = loads("title: t")
    assert (found.ground, found.conditions.stated, found.conditions.years) == ("GND", frozenset(), 10)
    assert found.conditions.powered_hours_a_day is None
    assert (found.conditions.temperature.low, found.conditions.temperature.high) == (10, 50)


class TestNets:
    def test_pins_from_the_continuity_beeper(self) -> None:
        found = loads("title: t\nparts:\n  D1: {diode: {zener: 5 V}}\n  R1: {resistor: 1k, between: [A, B]}\n"
                      "  JP1: {jumper: 3 pins}\n  C1: {capacitor: 1u}\n"
                      "nets: {A: [D1.anode, R1.1, JP1.1, C1.plus], B: [D1.cathode, JP1.2], "
                      "C: [JP1.3, C1.minus]}\n")
        assert found.parts["D1"].pins == {"anode": "A", "cathode": "B"}
        assert found.parts["JP1"].pins == {"1": "A", "2": "B", "3": "C"}
        assert found.parts["C1"].pins == {"plus": "A", "minus": "C"}
        assert found.declared_nets["B"].line == 7

    def test_contradiction_names_both_lines(self) -> None:
        text = "title: t\nparts:\n  R1: {resistor: 1k, between: [A, B]}\nnets:\n  C: [R1.1]\n"
        assert faults(text) == [(5, 7, "R1.1")]
        with pytest.raises(FragmentError, match="the net A, as in line 3"):
            loads(text)

    def test_pin_on_two_nets(self) -> None:
        assert faults("title: t\nparts:\n  R1: {resistor: 1k}\nnets:\n  A: [R1.1, R1.2]\n  B: [R1.1]\n") == [
            (6, 7, "R1.1")]

    def test_unknown_pin_and_part(self) -> None:
        text = "title: t\nparts:\n  R1: {resistor: 1k, between: [A, B]}\nnets:\n  A: [R1.anode, R2.1, R1]\n"
        assert faults(text) == [(5, 7, "R1.anode"), (5, 17, "R2.1"), (5, 23, "R1")]


class TestMistakes:
    def test_all_in_one_go_in_file_order(self) -> None:
        text = """\
titel: x
rails: {+5V: 5 X, GND: 5 V}
parts:
  R1: {resistr: 470, between: [A, B]}
  R2: {resistor: "4,7k", between: [A, B]}
  R3: {resistor: 470, between: [A]}
  D1: {diode: {zener: 5 V}, anode: A}
  JP1: {jumper: [A, B, C], positions: {normal: 1-2, clear: 2-4}, set: normale}
  X: {resistor: 1, capacitor: 2}
states: {a: {main: of}}
expect: [{at: NOWHERE, volts: 3 V}]
"""
        assert faults(text) == [
            (1, 1, "titel"), (1, 1, "titel, rails, parts, states, expect"), (2, 14, "5 X"), (2, 19, "GND"),
            (4, 8, "resistr"), (5, 18, "4,7k"), (6, 7, "R3"), (6, 32, "1 nets"), (7, 7, "D1"), (8, 60, "2-4"),
            (8, 71, "normale"), (9, 20, "capacitor"), (10, 20, "of"), (11, 15, "NOWHERE"),
        ]

    def test_message_shows_line_expectation_and_nearest_word(self) -> None:
        with pytest.raises(FragmentError) as caught:
            loads("title: t\nparts:\n  R1: {resistr: 470, between: [A, B]}\n", "trace.yaml")
        said = str(caught.value)
        assert said.startswith('trace.yaml:3:8: "resistr": expected a kind of part (cell, diode,')
        assert 'did you mean "resistor"?' in said
        assert said.splitlines()[-1].index("^") == said.splitlines()[-2].index("resistr")

    @pytest.mark.parametrize(("text", "word", "nearest"), [
        ("{diode: 1N4184, anode: A, cathode: B}", "1N4184", "1N4148"),
        ("{diode: 1N4148, anod: A, cathode: B}", "anod", "anode"),
        ("{capacitor: 1u, type: tantal, between: [A, B]}", "tantal", "tantalum"),
        ("{resistor: 1k, between: [A, B], fited: no}", "fited", "fitted"),
        ("{resistor: 1k, between: [A, B], fitted: nope}", "nope", "no"),
        ("{jumper: [A, B], set: close}", "close", "closed"),
        ("{cell: {chemistry: alkalin, volts: 3}, plus: A, minus: B}", "alkalin", "alkaline"),
        ("{transistor: {polarity: nppn}, collector: A, base: B, emitter: C}", "nppn", "npn"),
        ("{load: {drows: 2 uA}, plus: A, minus: B}", "drows", "draws"),
        ("{chip: x, pins: [A], clamps: {to: +5V, from: [+5W]}}", "+5W", "+5V"),
    ])
    def test_nearest_right_word(self, text: str, word: str, nearest: str) -> None:
        with pytest.raises(FragmentError) as caught:
            part(text)
        assert (word, nearest) in [(fault.text, fault.nearest) for fault in caught.value.faults]

    @pytest.mark.parametrize("text", [
        "5", "[a]", "{}", "", "{note: x}", "{resistor: [1], between: [A, B]}",
        "{resistor: -1k, between: [A, B]}",
        "{resistor: 1k, between: [A, [B]]}", "{resistor: 1k, between: A}", "{resistor: 1k, between: {A: B}}",
        "{resistor: 1k, between: [A, '']}", "{capacitor: 0, between: [A, B]}",
        "{capacitor: 1u, between: [A, B], plus: C}", "{capacitor: 1u, plus: A}",
        "{capacitor: 1u, between: [A, B], hours: 2000 h}", "{resistor: 1k, between: [A, B], plugged: maybe}",
        "{cell: {}, plus: A, minus: B}", "{cell: {chemistry: alkaline}, plus: A, minus: B}",
        f"{{cell: {{{CELL}, curve: [[50 %, 3], [20 %, 2]]}}, plus: A, minus: B}}",
        f"{{cell: {{{CELL}, curve: [[0 %, 3]]}}, plus: A, minus: B}}",
        f"{{cell: {{{CELL}, trickle: [3 mA, 1 mA]}}, plus: A, minus: B}}",
        "{diode: {}, anode: A, cathode: B}", "{diode: {points: [1 mA]}, anode: A, cathode: B}",
        "{diode: {zener: 5 V, leakage: 25 nA}, anode: A, cathode: B}",
        "{diode: {zener: 5 V, leakage: x at y}, anode: A, cathode: B}", "{diode: [x], anode: A, cathode: B}",
        "{load: 2 uA / 1 uA, plus: A, minus: B}", "{load: 5 mA at x, plus: A, minus: B}",
        "{load: 2 uA, plus: A, minus: B, works: x}",
        "{regulator: {dropout: 1 V}, input: A, output: B, ground: C}",
        "{regulator: {reference: 1.25 V}, input: A, output: B, adjust: C}",
        "{jumper: [A, B, C, D]}", "{jumper: x}", "{jumper: [A, B], positions: {}}",
        "{jumper: [A, B], positions: x}",
        "{jumper: [A, B, C], positions: {absent: 1-2}}", "{switch: [A, B], set: absent}",
        "{connector: unknown}", "{connector: unknown, pins: x}", "{chip: '', pins: [A]}",
        "{transistor: , base: A}", "{resistor: 4,7k, between: [A, B]}",
        "{chip: x, clamps: 5}", "{chip: x, clamps: {to: +5V}}",
        "{capacitor: 1u, marked: [1], between: [A, B]}",
    ])
    def test_mistake_in_a_part_has_a_line(self, text: str) -> None:
        with pytest.raises(FragmentError) as caught:
            part(text)
        assert all(fault.line == 4 and fault.expected for fault in caught.value.faults)

    @pytest.mark.parametrize("section", [
        "rails: [x]", "rails: {+5V: }", "rails: {+5V: [x]}", "rails: {+5V: {volts: 5, supply: R1}}",
        "rails: {+5V: {volts: 5, when_off: lo}}", "rails: {+5V: {supply: main}}",
        "conditions: x", "conditions: {temperature: below 50 °C}", "conditions: {powered: 25 h/day}",
        "conditions: {temprature: 5}", "conditions: {years: -1}", "nets: [x]", "nets: {A: {x: y}}",
        "states: [x]", "states: {a: x}", "states: {a: {R1: open}}", "states: {a: {JP9: open}}",
        "states: {a: {JP1: opened}}", "expect: x", "expect: [{joined: [A]}]", "expect: [{at: A}]",
        "expect: [{volts: 3}]", "expect: [{at: A, volts: 3, through: R1, amps: 1}]",
        "expect: [{through: R9, amps: 1}]",
        "expect: [{at: A, volts: 3, state: nowhere}]", "expect: [{at: R1.9, volts: 3}]",
        "expect: [{joined: [A, B], when: {JP1: x}}]", "expect: [{at: A, volt: 3}]",
        "readings: [{at: A}]", "readings: [{volts: 3}]", "readings: [{at: A, volts: 3, amps: 1}]",
        "readings: [{mod: x, at: A, volts: 1}]", "readings: [{at: A, volts: 1, without: [Z]}]",
        "readings: [{at: ZZ, volts: 1}]", "readings: [{through: R1, volts: 1}]",
        "readings: [{at: A, volts: 1, meter: 0}]",
        "photos: [x]", "photos: [{caption: x}]", "mods: [x]", "mods: {m: x}", "mods: {m: {step: []}}",
        "mods: {as found: {steps: []}}", "mods: {m: {after: x, steps: []}}", "title2: x", "<<: {a: b}",
    ])
    def test_mistake_in_a_section_has_a_line(self, section: str) -> None:
        text = "title: t\nparts:\n  R1: {resistor: 1k, between: [A, B]}\n  JP1: {jumper: [A, B]}\n" + section
        with pytest.raises(FragmentError) as caught:
            loads(text)
        assert {fault.line for fault in caught.value.faults} == {5}

    def test_not_a_mapping(self) -> None:
        assert faults("- a\n- b\n") == [(1, 1, "[…]")]
        assert faults("hello") == [(1, 1, "hello")]

    def test_title_is_required(self) -> None:
        with pytest.raises(FragmentError, match="expected title"):
            loads("board: b")

    def test_designator_without_points(self) -> None:
        assert faults("title: t\nparts: {R1.2: {resistor: 1, between: [A, B]}}") == [(2, 9, "R1.2")]

    def test_bad_part_is_not_complained_about_twice(self) -> None:
        text = ("title: t\nparts: {R1: {resistor: x, between: [A, B]}, R2: {resistor: 1, between: [A, B]}}\n"
                "expect: [{through: R1, amps: 1 mA}]\nmods: {m: {steps: [{remove: R1}]}}\n")
        assert faults(text) == [(2, 24, "x")]


def test_readings_may_use_state_names_that_were_not_given() -> None:
    found = fragment("{resistor: 1k, between: [+5V, B]}", "readings: [{state: main on, at: B, volts: 5 V}]")
    assert found.readings[0].state == "main on"


def test_pin_names_a_net() -> None:
    found = fragment("{resistor: 1k, between: [+5V, B]}",
                     "expect: [{at: X1.2, volts: below 5 V}]\nreadings: [{through: X1, amps: 1 mA}]")
    assert found.expectations[0].at == "B"
    assert found.expectations[0].volts is not None
    assert found.expectations[0].volts.low == -math.inf


def test_library_folder_beside_the_file(tmp_path: Path) -> None:
    assert library_folders(tmp_path / "a.yaml", [Path("x")]) == (Path("x"),)
    (tmp_path / "library").mkdir()
    (tmp_path / "library" / "scan.png").write_bytes(b"")  # somebody's other library
    assert library_folders(tmp_path / "a.yaml", [Path("x")]) == (Path("x"),)
    (tmp_path / "library" / "diodes.yaml").write_text("diodes: {}\n", encoding="utf-8")
    assert library_folders(tmp_path / "a.yaml", [Path("x")]) == (tmp_path / "library", Path("x"))


def test_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="nothing"):
        load(tmp_path / "nothing.yaml")


def test_faults_name_the_file(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_bytes(b"title: \xb5\n")
    with pytest.raises(FragmentError) as caught:
        load(path)
    assert caught.value.faults[0].file == str(path)


_WORDS = st.sampled_from([
    *KINDS, "title", "parts", "rails", "nets", "states", "expect", "mods", "readings", "steps", "remove",
    "replace", "fit", "move", "join", "set", "after", "plus", "minus", "between", "anode", "at", "volts",
    "main", "on", "R1", "BT1", "1N4148", "470", "5 V", "2 uA", "A", "GND", "R1.1", "maybe", "positions",
    "clamps", "to", "from", "state",
])
_TREES = st.recursive(
    _WORDS, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_WORDS, inner, max_size=4),
    max_leaves=25)
_SECTIONS = st.sampled_from(
    ["parts", "rails", "nets", "states", "expect", "mods", "readings", "photos", "conditions"])


def flow(tree: object) -> str:
    if isinstance(tree, dict):
        return "{" + ", ".join(f"{key}: {flow(value)}" for key, value in tree.items()) + "}"
    if isinstance(tree, list):
        return "[" + ", ".join(map(flow, tree)) + "]"
    return str(tree)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.dictionaries(_SECTIONS, st.dictionaries(_WORDS, _TREES, max_size=4) | _TREES))
def test_no_tree_of_words_raises_anything_else(tree: dict[str, object]) -> None:
    with contextlib.suppress(FragmentError):
        loads("title: t\n" + "\n".join(f"{key}: {flow(value)}" for key, value in tree.items()))


def test_every_kind_is_spoken_of() -> None:
    assert set(KINDS.values()) == set(Kind)
