"""Keys of loads, heat sinks, chips, settings, features, testers and lists: what they become, what is refused.

The boards are invented; the keys are those of the format's reference in the README and of `netcheck schema`.
"""

from __future__ import annotations

import jsonschema
import pytest
import yaml

import netcheck
from netcheck.checks.tracing import warnings
from netcheck.reading.mistakes import FragmentError
from netcheck.reading.schema.document import schema

BOARD = """
title: t
rails: {+5V: 5 V ±5%}
parts:
  U5: {regulator: LM317, input: +5V, output: VC, adjust: ADJ, heatsink: 15 K/W}
  R1: {resistor: 121, between: [VC, ADJ]}
  R2: {resistor: 191, between: [ADJ, GND]}
  U6: {load: {draws: 1.2 A at 3.3 V, most: 2 A}, plus: VC, minus: GND, works: 3.1 V to 3.6 V, survives: 4.0 V,
       kept: no, selected: held}
  U1: {chip: clock generator, pins: {LF: loop-filter, VDD: +5V, GND: GND, 9: {net: RST, role: reset}},
       paths: [{from: VDD, to: LF, by: charger, ohms: 2k, diodes: 1, when: {main: on, VDD: above 3 V}}]}
  C1, C4-C6: {capacitor: 220u ±20%, type: wet, rated: 10 V, plus: +5V, minus: GND}
  C2: {capacitor: 1u, plus: LF, minus: GND}
settings:
  - {of: U5, want: [3.3 V, 3.45 V], within: 2%}
features:
  pointing device: {joined: [[LF, RST]], volts: {at: U5.output, from: 4.75 V to 5.25 V}, because: the book says so}
  sound: {joined: [LF, RST], apart: [[LF, GND], [RST, GND]], volts: [{at: VC, against: ADJ, from: 1.2 to 1.3}]}
readings:
  - {of: C1, capacitance: 197u, esr: 0.7, tester: 100 kHz}
  - {at: VC, volts: 3.3}
mods:
  new:
    steps:
      - replace:
          C1, C4-C6: {capacitor: 330u, type: polymer, rated: 10 V}
      - {remove: [C2]}
"""
SCHEMA = schema()


def mistake(text: str) -> str:
    with pytest.raises(FragmentError) as caught:
        netcheck.loads(text)
    return str(caught.value)


def test_every_key_reaches_the_model_and_no_editor_marks_it() -> None:
    found = netcheck.loads(BOARD)
    load, chip, regulator = found.parts["U6"], found.parts["U1"], found.parts["U5"]
    assert (load.survives_V, load.kept, load.selected) == (4.0, False, "held")
    assert load.spec.most_A == 2  # type: ignore[union-attr]
    assert [(d.limit, d.current_A, d.volts_V) for d in load.spec.draws] == [  # type: ignore[union-attr]
        ("typical", 1.2, 3.3), ("maximum", 2.0, 3.3)]
    assert (regulator.heatsink_K_per_W, regulator.heatsink) == (15, None)
    assert (chip.pins, chip.pin_roles) == ({"LF": "LF", "VDD": "+5V", "GND": "GND", "9": "RST"},
                                           {"LF": "loop-filter", "9": "reset"})
    (path,) = chip.paths
    assert (path.start, path.end, path.by, path.ohm, path.diodes, path.when) == (
        "VDD", "LF", "charger", 2e3, 1, {"main": "on"})
    assert path.when_volts["+5V"].low == 3
    assert [name for name in found.parts if name[0] == "C"] == ["C1", "C4", "C5", "C6", "C2"]
    assert [(s.of, s.volts, s.within) for s in found.settings] == [("U5", (3.3, 3.45), 0.02)]
    device, sound = found.features
    assert (device.joined, device.volts[0].at, device.because) == ((("LF", "RST"),), "VC", "the book says so")
    assert (sound.joined, sound.apart) == ((("LF", "RST"),), (("LF", "GND"), ("RST", "GND")))
    (tester,) = found.tester_readings
    assert (tester.of, tester.capacitance_F, tester.esr_ohm, tester.at_Hz) == ("C1", 197e-6, 0.7, 100e3)
    assert len(found.readings) == 1
    after = netcheck.fragment.mods.apply(found, "new")
    assert after.parts["C5"].spec.type == "polymer"  # type: ignore[union-attr]
    assert "C2" not in after.parts
    assert list(jsonschema.Draft202012Validator(SCHEMA).iter_errors(yaml.safe_load(BOARD))) == []


@pytest.mark.parametrize("word", ["board", "none"])
def test_a_heat_sink_in_words(word: str) -> None:
    part = netcheck.loads(BOARD.replace("15 K/W", word)).parts["U5"]
    assert (part.heatsink_K_per_W, part.heatsink) == (None, word)


def test_a_list_of_parts_may_have_nets_with_a_single_pin() -> None:
    text = "title: t\nparts:\n  C1: {capacitor: 1u, plus: A, minus: GND}\n  C2: {capacitor: 1u, between: [B, C]}\n"
    assert len(warnings(netcheck.loads(text))) == 2
    assert warnings(netcheck.loads("scope: list\n" + text)) == ()


@pytest.mark.parametrize(("old", "new", "told"), [
    ("most: 2 A", "most: 1 A", "at least what it draws"),
    ("selected: held", "selected: yes", "held or floating"),
    ("15 K/W", "a lot", "tall, board or none"),
    ("{of: U5", "{of: R1", "R1 is a resistor"),
    ("within: 2%", "within: 200%", "from 0 % to 99 %"),
    ("want: [3.3 V, 3.45 V], ", "", "want"),
    ("{of: C1, ", "{of: R1, ", "a capacitor; R1 is a resistor"),
    ("{of: C1, capacitance: 197u, esr: 0.7, ", "{of: C1, ", "capacitance, esr, or both"),
    ("LF: loop-filter", "LF: loop-fliter", None),
    ("9: {net: RST, role: reset}", "9: reset", "a net, as a number is no name"),
    ("between: [ADJ, GND]", "between: [ADJ, loop-filter]", "either a role or a net"),
    ("by: charger", "by: magic", "switch, diode or charger"),
    ("from: VDD, to: LF", "from: VDX, to: LF", "a pin of this chip"),
    ("diodes: 1", "diodes: 1.5", "a whole number of diodes"),
    ("when: {main: on, ", "when: {mian: on, ", "a supply, a"),
    ("C2: {capacitor: 1u, plus: LF", "C5: {capacitor: 1u, plus: LF", "C5 is given already in line 12"),
    ("  C1, C4-C6: {capacitor: 220u", "  C1, C6-C4: {capacitor: 220u", "numbers rise"),
    ("  C1, C4-C6: {capacitor: 220u", "  C1, C4-6: {capacitor: 220u", "write both ends in full"),
    ("  C1, C4-C6: {capacitor: 220u", "  C1, C4-R6: {capacitor: 220u", "one prefix"),
    ("  C1, C4-C6: {capacitor: 220u", "  C1, C4-C600: {capacitor: 220u", "at most 400 parts"),
    ("joined: [[LF, RST]]", "joined: [[LF]]", "at least two nets"),
    ("from: 4.75 V to 5.25 V", "to: 5", "at, against or from"),
    ("title: t", "title: t\nscope: pile", "trace or list"),
])
def test_what_is_refused_and_how(old: str, new: str, told: str | None) -> None:
    assert old in BOARD
    text = BOARD.replace(old, new, 1)
    if told is None:  # a word that is no role is a net of its own, with a warning that it has a single pin
        assert any("loop-fliter" in one.message for one in warnings(netcheck.loads(text)))
    else:
        assert told in mistake(text)
