"""The schema that editors use says the same of a file as the reader."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from netcheck.fragment.kinds import KEYS
from netcheck.fragment.model import Kind
from netcheck.parts.catalogue import KINDS, Catalogue
from netcheck.quantities.units import PREFIXES, UNITS
from netcheck.quantities.values import LETTER_PERCENT, ValueFault, number, quantity, span
from netcheck.reading.mistakes import FragmentError
from netcheck.reading.reader import loads
from netcheck.reading.schema import values as schema_values
from netcheck.reading.schema.document import ATTACH, schema
from netcheck.reading.schema.parts import INLINE
from netcheck.reading.starters import JOBS, starter

ROOT = Path(__file__).parents[2]
SCHEMA = schema()
FILES = {path.name: path.read_text("utf-8") for path in
         [*sorted((ROOT / "examples").glob("*.yaml")), Path(__file__).with_name("contract.yaml")]}
GOOD = {**FILES, **{f"start {job}": starter(job) for job in JOBS}}



class Editor11(yaml.SafeLoader):
    """What an editor of YAML 1.1 makes of a file; a key is the text that it is written with."""

    def construct_mapping(self, node: Any, deep: bool = False) -> Any:
        return {key.value: self.construct_object(value, deep=True) for key, value in node.value}


class Editor12(Editor11):
    """The same of YAML 1.2: on, off, yes and no are words."""


Editor12.yaml_implicit_resolvers = {}
for tag, form, first in (
    ("null", r"~|null|Null|NULL|", "~nN"), ("bool", r"true|True|TRUE|false|False|FALSE", "tTfF"),
    ("int", r"[-+]?[0-9]+", "-+0123456789"),
    ("float", r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?", "-+.0123456789"),
):
    Editor12.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(rf"^(?:{form})$"), [*first, ""])
EDITORS = {"YAML 1.1": Editor11, "YAML 1.2": Editor12}


def marks(text: str, editor: Any) -> list[str]:
    """What an editor finds wrong with a fragment."""
    found = Draft202012Validator(SCHEMA).iter_errors(yaml.load(text, Loader=editor))
    return [f"{'.'.join(map(str, error.path))}: {error.message[:160]}" for error in found]


def part(text: str) -> str:
    return f"title: t\nparts:\n  X1: {text}\n"


def test_it_is_a_schema_of_the_dialect_it_names() -> None:
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(SCHEMA)


def test_it_says_how_to_attach_it() -> None:
    assert ATTACH in SCHEMA["$comment"]


@pytest.mark.parametrize("editor", EDITORS.values(), ids=EDITORS)
@pytest.mark.parametrize("text", GOOD.values(), ids=GOOD)
def test_files_that_read_have_no_marks(text: str, editor: Any) -> None:
    loads(text)
    assert marks(text, editor) == []


@pytest.mark.parametrize("editor", EDITORS.values(), ids=EDITORS)
@pytest.mark.parametrize("text", [
    part("{resistor: 470, between: [A, B], power: 0.25, marked: 103}"),
    part("{resistor: 4.7 kΩ +5/-10%, between: [A, B], fitted: no}"),
    part("{capacitor: 4p7C, between: [A, B], fitted: yes}"),
    part("{capacitor: 47u, type: wet, rated: 16, hours: 2000 h at 105 °C, plus: A, minus: B}"),
    part("{inductor: bead, between: [A, B]}"),
    part("{fuse: unknown, between: [A, B], resistance: 0.1}"),
    part("{jumper: [A, B, C], positions: {one: 1-2, both: 1-2-3, none: none}, set: one}"),
    part("{switch: [A, B, C, D], positions: {on: [1-2, 3-4], off: open}, set: on}"),
    part("{jumper: 2, note: 5}") + "nets: {A: [X1.1], B: X1.2}\n",
    part("{jumper: , at: here}") + "nets: {A: [X1.1], B: [X1.2]}\n",
    part("{chip: 74, pins: {1: A, VCC: B}, clamps: {to: B, from: A}}") + "rails: {B: 5}\n",
    part("{chip: gate, pins: [A, B]}"),
    part("{connector: unknown, pins: {1: A}}"),
    part("{connector: {pinout: {1: +5V, 2: GND}}, pins: {1: A, 2: B}}"),
    part("{transistor: npn, collector: A, base: B, emitter: C}"),
    part("{transistor: {polarity: n-channel, threshold: 2 V, on: 5}, drain: A, gate: B, source: C}"),
    part("{load: 2 uA / 5 uA at 3 V, plus: A, minus: B}"),
    part("{load: {draws: [1 uA typical at 3 V, 5 uA maximum at 3 V], works: 2 to 5.5}, plus: A, minus: B}"),
    part("{diode: {points: [[1 mA, 0.62 V], [10 mA, 0.72 V, maximum]], leakage: 25 nA at 20 V}, anode: A, "
         "cathode: B}"),
    part("{diode: {IS: 2.5n, N: 1.75, RS: 0.57, leakage: [1 uA maximum at 20 V at 60 °C]}, anode: A, cathode: B}"),
    part("{diode: {zener: 5.1 V ±5%}, anode: A, cathode: B}"),
    part("{cell: {chemistry: lithium-primary, volts: 3.0, capacity: 220 mAh, resistance: 15}, plus: A, minus: B, "
         "plugged: yes, voltage: 2.71 V}"),
    part("{cell: {chemistry: supercapacitor, volts: 5.5, capacitance: 0.22, resistance: 30, primary: no, "
         "charge: up to 5.5 V, trickle: [0, 1 mA, 5 mA], curve: [[0 %, 5.5 V], [100 %, 0 V, 40]]}, plus: A, "
         "minus: B}"),
    part("{regulator: {reference: 1.25 V ±2%, between: adjust-ground, adjust_current: 0, dropout: 0.5 V, limit: "
         "2 A, esr: 0.2 to 1}, input: A, output: B, adjust: C}"),
    part("{regulator: {output: 5 V ±4%}, input: A, output: B, ground: C}"),
    "title: 40\nrails:\nparts:\nnets:\nstates:\nmods:\n",
    "title: t\nrails: {A: 5, B: -12, C: {volts: 3V3, supply: standby, when_off: open}}\nstates: {a: {main: on}, b: }\n",
    "title: t\nconditions: {temperature: -10..60, powered: 24, years: 8}\n",
], ids=lambda text: text.replace("title: t\n", "").strip()[:60])
def test_ways_to_write_things_that_read_have_no_marks(text: str, editor: Any) -> None:
    loads(text)
    assert marks(text, editor) == []


@pytest.mark.parametrize("text", [
    "parts: {}",
    "title: [a]",
    "title:",
    "titel: t\ntitle: t",
    "title: t\nphotos: {file: a.jpg}",
    "title: t\nphotos: [{caption: a}]",
    "title: t\nrails: {A: 5 Volt}",
    "title: t\nrails: {A: {supply: main}}",
    "title: t\nrails: {A: {volts: 5 V, when_off: high}}",
    "title: t\nrails: {A: {volts: 5 V, suply: main}}",
    "title: t\nrails: [5 V]",
    "title: t\nconditions: {temperature: warm}",
    "title: t\nconditions: {powered: 30 h/day, yeras: 3}",
    "title: t\nconditions: {powered: 30}",
    "title: t\nnets: {A: [D1]}",
    "title: t\nnets: {A: {D1: anode}}",
    "title: t\nstates: {a: on}",
    "title: t\nexpect: {at: A}",
    "title: t\nexpect: [{joined: [A]}]",
    "title: t\nrails: {A: 5}\nexpect: [{at: A, amps: 1 mA}]",
    "title: t\nrails: {A: 5}\nexpect: [{at: A, apart: [A, GND], volts: 5}]",
    "title: t\nrails: {A: 5}\nexpect: [{at: A, volts: 2 mA}]",
    "title: t\nrails: {A: 5}\nreadings: [{at: A, volts: 2, amps: 3}]",
    "title: t\nrails: {A: 5}\nreadings: [{volts: 2}]",
    "title: t\nrails: {A: 5}\nreadings: [{at: A, volts: 2, meter: 10 V}]",
    "title: t\nmods: {a: {about: x}}",
    "title: t\nmods: {as found: {steps: []}}",
    "title: t\nmods: {a: {steps: [{remov: R1}]}}",
    "title: t\nmods: {a: {steps: [{because: x}]}}",
    "title: t\nmods: {a: {steps: [{join: [A]}]}}",
    "title: t\nmods: {a: {steps: [{fit: {}}]}}",
    "title: t\nmods: {a: {steps: [{move: {D1: A}}]}}",
    "title: t\nmods: {a: {steps: [{fit: {R1: {resistor: 470, between: [A, B], colour: red}}}]}}",
    "title: t\nparts: {R.1: {resistor: 470, between: [A, B]}}",
    part("{}"),
    part("{resistr: 470, between: [A, B]}"),
    part("{resistor: 470, capacitor: 1u, between: [A, B]}"),
    part("{resistor: 470, betwen: [A, B]}"),
    part("{resistor: 470, between: [A, B, C]}"),
    part('{resistor: "4,7k", between: [A, B]}'),
    part("{resistor: 4.7 V, between: [A, B]}"),
    part("{resistor: -470, between: [A, B]}"),
    part("{resistor: [470], between: [A, B]}"),
    part("{capacitor: 100x, between: [A, B]}"),
    part("{capacitor: 0, between: [A, B]}"),
    part("{capacitor: 100n, type: ceramic, between: [A, B]}"),
    part("{capacitor: 100n, hours: 2000 h, between: [A, B]}"),
    part("{diode: BAT85, anode: A, kathode: B}"),
    part("{diode: BAT85, plus: A, minus: B}"),
    part("{diode: BAT85, anode: [A], cathode: B}"),
    part("{diode: {N: 1.7}, anode: A, cathode: B}"),
    part("{diode: {points: [[1 mA]]}, anode: A, cathode: B}"),
    part("{diode: {points: [[1 mA, 0.6 V, mean]]}, anode: A, cathode: B}"),
    part("{diode: {zener: 5.1 V, leakage: 25 nA}, anode: A, cathode: B}"),
    part("{cell: CR2032, plus: A, minus: B, plugged: no}"),
    part("{cell: CR2032, plus: A, minus: B, fitted: maybe}"),
    part("{cell: {chemistry: lithium, volts: 3, capacity: 220 mAh, resistance: 15}, plus: A, minus: B}"),
    part("{cell: {chemistry: alkaline, volts: 3, resistance: 15}, plus: A, minus: B}"),
    part("{cell: {chemistry: alkaline, volts: 3, capacity: 2 Ah, resistance: 1, share: 3}, plus: A, minus: B}"),
    part("{load: {works: 2 to 5}, plus: A, minus: B}"),
    part("{load: {draws: 3 V}, plus: A, minus: B}"),
    part("{transistor: {gain: 100}, collector: A, base: B, emitter: C}"),
    part("{regulator: {reference: 1.25 V}, input: A, output: B, adjust: C}"),
    part("{regulator: {reference: 1.25 V, between: adjust-ground, output: 5 V}, input: A, output: B, adjust: C}"),
    part("{jumper: [A, B], positions: {}}"),
    part("{jumper: [A, B], positions: {one: 1}}"),
    part("{chip: gate, pins: {1: A}, clamps: {to: A}}"),
], ids=lambda text: text.replace("title: t\n", "").strip()[:60])
@pytest.mark.parametrize("editor", EDITORS.values(), ids=EDITORS)
def test_mistakes_are_refused_by_reader_and_schema(text: str, editor: Any) -> None:
    with pytest.raises(FragmentError):
        loads(text)
    assert marks(text, editor)


def reader_words(text: str) -> set[str]:
    """The words that the reader says it knows where `text` has the key zzz."""
    with pytest.raises(FragmentError) as caught:
        loads(text)
    [fault] = [fault for fault in caught.value.faults if fault.expected.startswith("a word of")]
    listed = re.search(r"\((.*)\)", fault.expected)
    assert listed is not None
    return set(re.split(r", | or ", listed[1]))


@pytest.mark.parametrize(("text", "path"), [
    ("zzz: 1", ""),
    ("rails: {A: {zzz: 1}}", "rails additionalProperties anyOf 1"),
    ("conditions: {zzz: 1}", "conditions"),
    ("photos: [{zzz: 1}]", "photos items"),
    ("expect: [{zzz: 1}]", "expect items"),
    ("readings: [{zzz: 1}]", "readings items else"),
    ("mods: {a: {zzz: 1}}", "mods additionalProperties"),
    ("mods: {a: {steps: [{zzz: 1}]}}", "mods additionalProperties properties steps items"),
], ids=lambda text: text)
def test_sections_have_the_words_of_the_reader(text: str, path: str) -> None:
    at: Any = SCHEMA
    for step in ["properties", *path.split()] if path else []:
        at = at[int(step)] if step.isdigit() else at[step]
    assert at["additionalProperties"] is False
    assert set(at["properties"]) == reader_words(f"title: t\n{text}")


@pytest.mark.parametrize("kind", INLINE, ids=str)
def test_parts_given_in_the_file_have_the_words_of_the_reader(kind: Kind) -> None:
    assert set(INLINE[kind]["properties"]) == reader_words(part(f"{{{kind}: {{zzz: 1}}}}"))


def test_clamps_have_the_words_of_the_reader() -> None:
    assert set(of_kind(Kind.CHIP)["clamps"]["properties"]) == reader_words(part("{chip: a, clamps: {zzz: 1}}"))


def of_kind(kind: Kind) -> dict[str, Any]:
    """What the schema knows of the words of one kind of part."""
    [found] = [case["then"] for case in SCHEMA["$defs"]["part"]["allOf"] if case["if"] == {"required": [str(kind)]}]
    assert found["additionalProperties"] is False
    properties: dict[str, Any] = found["properties"]
    return properties


@pytest.mark.parametrize("kind", Kind, ids=str)
def test_every_kind_has_its_words_and_no_others(kind: Kind) -> None:
    assert set(of_kind(kind)) == KEYS[kind]


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "capacitor"])  # of a capacitor, its type
def test_names_of_the_library_are_offered_with_what_they_are(kind: str) -> None:
    catalogue = Catalogue.standard()
    [offer] = [choice for choice in of_kind(Kind(kind))[kind]["anyOf"][0]["anyOf"] if "enum" in choice]
    assert set(offer["enum"]) >= set(catalogue.names(kind))
    assert len(offer["enumDescriptions"]) == len(offer["enum"])


def test_names_of_a_library_of_ones_own_are_offered(tmp_path: Path) -> None:
    (tmp_path / "diodes.yaml").write_text(
        "sources: {bench: {title: measured on the bench}}\n"
        "diodes:\n"
        "  drawer-7:\n"
        "    about: a diode of the drawer\n"
        "    family: silicon\n"
        "    forward: [{typical: {1 mA: 0.6 V}, source: bench, sure: seen}]\n"
        "    leakage: [{maximum: {20 V: 25 nA}, source: bench, sure: seen}]\n", "utf-8")
    offered = json.dumps(schema(Catalogue.standard([tmp_path])))
    assert '"drawer-7"' in offered
    assert '"a diode of the drawer"' in offered
    assert '"drawer-7"' not in json.dumps(SCHEMA)


def descriptions(at: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Every property of the schema that has a place of its own, with its description."""
    if isinstance(at, dict):
        for key, value in at.get("properties", {}).items():
            if isinstance(value, dict) and value.keys() != {"const"}:
                yield f"{path}/{key}", value.get("description", "")
        for key, value in at.items():
            yield from descriptions(value, f"{path}/{key}")
    elif isinstance(at, list):
        for index, value in enumerate(at):
            yield from descriptions(value, f"{path}/{index}")


def test_every_word_explains_itself() -> None:
    assert [path for path, about in descriptions(SCHEMA) if len(about) < 5] == []


def spellings(unit: str, letters: Iterable[str] = ()) -> st.SearchStrategy[str]:
    """Texts near what the unit's values look like, right and wrong ones, perhaps with a tolerance letter."""
    names = UNITS[unit].names
    digits = st.sampled_from(
        ["0", "4", "4.7", "100", ".5", "2.", "1e3", "1E-6", "4k7", "2u2", "R47", "3V6", "1e+2"])
    suffix = st.sampled_from(["", *names, *PREFIXES, *(p + n for p in PREFIXES for n in names)])
    gap = st.sampled_from(["", " ", "\u00a0", "  "])
    sign = st.sampled_from(["", "", "", "+", "-", "−"])
    letter = st.sampled_from(["", *letters])
    return st.tuples(sign, digits, gap, suffix, gap, letter).map("".join)


def fits(pattern_of: dict[str, Any], text: str) -> bool:
    return Draft202012Validator(pattern_of).is_valid(text)


BARE = ("V", "A", "ohm", "F", "H", "W", "Ah", "°C", "h", "h/day", "year", "K/W", "%", "")


@given(st.data(), st.sampled_from(BARE))
def test_every_number_that_reads_fits_its_pattern(data: st.DataObject, unit: str) -> None:
    text = data.draw(spellings(unit))
    try:
        number(text, unit)
    except ValueFault:
        return
    assert fits(schema_values.number(unit, "x"), text)


@given(st.data(), st.sampled_from(BARE))
def test_every_quantity_that_reads_fits_its_pattern(data: st.DataObject, unit: str) -> None:
    tolerance = data.draw(st.sampled_from(
        ["", "", "±5%", " ± 5 %", " +/-0.25", "+-1%", " 5%", " +5/-10%", "+ 20 % - 10 %"]))
    text = data.draw(spellings(unit, LETTER_PERCENT)) + tolerance
    try:
        quantity(text, unit)
    except ValueFault:
        return
    assert fits(schema_values.quantity(unit, "x"), text)


@given(st.data(), st.sampled_from(BARE))
def test_every_range_that_reads_fits_its_pattern(data: st.DataObject, unit: str) -> None:
    before, between, after = data.draw(st.sampled_from([
        ("", " to ", ""), ("", "..", ""), ("", " - ", ""), ("", "–", ""), ("", "…", ""), ("from ", " to ", ""),
        ("between ", " and ", "")]))
    text = before + data.draw(spellings(unit)) + between + data.draw(spellings(unit)) + after
    try:
        span(text, unit)
    except ValueFault:
        return
    assert fits(schema_values.span(unit, "x"), text)


@pytest.mark.parametrize("text", ["below 10 mA", "up to 3", "<= 5 mA", "above 2 mA", "at least 1 A", "≥2 A"])
def test_open_ranges_that_read_fit_their_pattern(text: str) -> None:
    span(text, "A")
    assert fits(schema_values.span("A", "x"), text)


@pytest.mark.parametrize(("unit", "text"), [
    ("ohm", "4,7k"), ("ohm", "4 k 7"), ("ohm", "ten"), ("ohm", "4.7kX"), ("ohm", "47 percent"), ("ohm", ""),
    ("V", "5 Volt"), ("V", "5 V ±"), ("V", "5 V 5"), ("V", "2 V to"), ("F", "100x"), ("F", "u"), ("A", "2 V"),
    ("°C", "10 mC"), ("%", "5"), ("year", "10 weeks"), ("h/day", "2 per day"), ("", "5 V"),
])
def test_texts_that_do_not_read_do_not_fit(unit: str, text: str) -> None:
    for read, piece in ((number, schema_values.number), (quantity, schema_values.quantity),
                        (span, schema_values.span)):
        with pytest.raises(ValueFault):
            read(text, unit)
        assert not fits(piece(unit, "x"), text)


def test_patterns_keep_to_what_every_regular_expression_has() -> None:
    patterns = re.findall(r'"pattern": "(.*?)(?<!\\)"', json.dumps(SCHEMA))
    assert len(patterns) > 100
    assert [pattern for pattern in patterns if re.search(r"\(\?[P<>#]|\\\\[AZ]|\(\?[a-z]+\)|[+*?]\+", pattern)] == []
