"""Per field: its least and most read, what lies beyond is refused with its place, by the reader and by the schema.

Values that no part has (a drop of 600 V at 1 mA, a zener of -5 V) are slips of the pen: refused, never computed with.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner
from jsonschema import Draft202012Validator

import netcheck
from netcheck.cli import main
from netcheck.parts import tables
from netcheck.parts.catalogue import Catalogue
from netcheck.parts.library import LibraryError
from netcheck.parts.tables import Field, Form
from netcheck.reading.mistakes import FragmentError
from netcheck.reading.schema.document import schema

SCHEMA = Draft202012Validator(schema())
ENDS = {
    "diode": "anode: A, cathode: GND", "cell": "plus: A, minus: GND", "load": "plus: A, minus: GND",
    "regulator": "input: +5V, output: A, ground: GND", "relay": "coil: [A, GND], common: A, rest: B",
    "connector": "pins: {1: A}",
}
NEEDED = {
    "diode": {"zener": "5.1 V"}, "load": {"draws": "2 uA"}, "relay": {"coil": "100"}, "connector": {},
    "cell": {"chemistry": "lithium-primary", "volts": "3", "capacity": "220 mAh", "resistance": "15"},
    "transistor": {"polarity": "npn"}, "regulator": {"output": "5 V"},
}


def part(text: str) -> str:
    return f"title: t\nrails: {{+5V: 5 V}}\nparts:\n  X1: {text}\n"


def inline(kind: str, key: str, value: str) -> str:
    given = {**NEEDED[kind], "'on'" if key == "on" else key: value}  # a bare on is no text in YAML 1.1
    if (kind, key) == ("regulator", "reference"):
        given = {"reference": value, "between": "output-adjust"}
    if kind == "diode" and key in ("N", "RS", "EG", "XTI", "BV"):
        given["IS"] = "1e-14"
    if (kind, key) == ("load", "most"):
        given["draws"] = "0 A"
    if (kind, key) == ("cell", "capacitance"):
        given["chemistry"] = "supercapacitor"
    ends = ENDS.get(kind, "collector: A, base: B, emitter: GND")
    return part(f"{{{kind}: {{{', '.join(f'{k}: {v}' for k, v in given.items())}}}, {ends}}}")


VALUE_ENDS = {"resistor": "between: [A, B]", "trimmer": "ends: [A, B], wiper: B", "fuse": "between: [A, B]",
              "relay": "coil: [A, GND], common: A, rest: B", "capacitor": "between: [A, B]",
              "inductor": "between: [A, B]"}
WHERE = {"power": "resistor: 1k, between: [A, B]", "resistance": "fuse: 1 A, between: [A, B]",
         "voltage": "cell: CR2032, plus: A, minus: B", "survives": "load: 1 mA, plus: A, minus: B",
         "works": "load: 1 mA, plus: A, minus: B", "runs": "load: 1 mA, plus: A, minus: B",
         "heatsink": "regulator: LM317, input: A, output: B, adjust: C"}


def of_part(key: str, value: str) -> str:
    if key in VALUE_ENDS:
        return part(f"{{{key}: {value}, {VALUE_ENDS[key]}}}")
    return part(f"{{{WHERE.get(key, 'capacitor: 1u, between: [A, B]')}, {key}: {value}}}")


def of_section(section: str, key: str, value: str) -> str:
    heads = {"rails": f"rails: {{+9V: {{volts: {value}}}}}", "conditions": f"conditions: {{{key}: {value}}}",
             "readings": f"readings: [{{of: X1, esr: 1, {key}: {value}}}]" if key != "esr" else
                         f"readings: [{{of: X1, esr: {value}}}]"}
    return f"title: t\n{heads[section]}\nparts:\n  X1: {{capacitor: 1u, between: [A, B]}}\n"


def files() -> Iterator[tuple[str, Field, Callable[[str], str]]]:
    for kind, table in tables.SPECS.items():
        for known in table.values():
            yield f"{kind}.{known.name}", known, lambda value, k=kind, n=known.name: inline(k, n, value)
    for known in tables.PART.values():
        yield f"part.{known.name}", known, lambda value, n=known.name: of_part(n, value)
    for section, table in (("rails", tables.RAIL), ("conditions", tables.CONDITIONS), ("readings", tables.TESTER)):
        for known in table.values():
            yield f"{section}.{known.name}", known, lambda value, s=section, n=known.name: of_section(s, n, value)


def plain(value: float) -> str:
    """A number as digits, without an exponent."""
    return f"{Decimal(repr(value)):f}".removesuffix(".0")


def reads(text: str) -> bool:
    try:
        netcheck.loads(text)
    except FragmentError as error:
        told = str(error)
    else:
        return True
    assert re.match(r"<text>:\d+:\d+: ", told)
    return False


def fits(text: str) -> bool:
    return SCHEMA.is_valid(yaml.load(text, yaml.BaseLoader)) and SCHEMA.is_valid(yaml.safe_load(text))


def test_the_least_reads_and_the_beyond_does_not_in_file_and_schema() -> None:
    tried, wrong = 0, []
    for name, known, write in files():
        if known.form not in (Form.NUMBER, Form.BAND, Form.RANGE):
            continue
        unit = {"°C": " °C", "%": " %"}.get(known.unit, "")
        scale = 100 if known.unit == "%" else 1
        span = known.form is Form.RANGE
        for bound, beyond in ((known.least, -1), (known.most, 1)):
            if math.isinf(bound):
                continue
            further = bound + beyond * (abs(bound) * 0.01 or 1e-3)
            good, bad = (plain(scale * value) + unit for value in (bound, further))
            if span:
                good, bad = (f"{end} to {end}" for end in (good, bad))
            for text, right in ((good, True), (bad, False)):
                found = reads(write(text)), fits(write(text))
                if found != (right, right):
                    wrong.append(f"{name}: {text} {'is refused' if right else 'is taken'} (read, marked {found})")
            tried += 1
    assert not wrong, "\n".join(wrong)
    assert tried > 100


def test_words_of_a_table_are_those_that_read() -> None:
    for name, known, write in files():
        for word in known.words:
            text = write(word)
            if name == "cell.chemistry" and word == "supercapacitor":
                text = text.replace("capacity: 220 mAh", "capacitance: 1 F")
            if name == "transistor.polarity" and "channel" in word:
                text = text.replace("collector", "drain").replace("base", "gate").replace("emitter", "source")
            if name == "regulator.between":
                continue  # it goes with a reference
            assert (reads(text), fits(text)) == (True, True), f"{name}: {word}"


@pytest.mark.parametrize(("text", "told"), [
    ("{diode: {points: [[1 mA, 600 V]]}, anode: A, cathode: B}", "forward drop"),
    ("{diode: {points: [[1 mA, 62 V], [2 mA, 0.7 V]]}, anode: A, cathode: B}", "forward drop"),
    ("{diode: {points: [[1 mA, 1e-30 V]]}, anode: A, cathode: B}", "forward drop"),
    ("{diode: {points: [[0 A, 0.6 V]]}, anode: A, cathode: B}", "forward current"),
    ("{diode: {points: [[1 mA, 0 V]]}, anode: A, cathode: B}", "forward drop"),
    ("{diode: {points: [[0 mA, 0 V], [10 mA, 0.7 V]]}, anode: A, cathode: B}", "forward"),
    ("{diode: {points: [[5 A, 1.1 kV]]}, anode: A, cathode: B}", "forward drop"),
    ("{diode: {points: []}, anode: A, cathode: B}", "at least one point"),
    ("{diode: {points: [[1 mA, 0.6 V], [2 mA, 0.5 V]]}, anode: A, cathode: B}", "rises with the current"),
    ("{diode: {zener: -5 V}, anode: A, cathode: B}", "breakdown voltage"),
    ("{diode: {zener: 5 V, leakage: -1 uA at 5 V}, anode: A, cathode: B}", "reverse current"),
    ("{diode: {IS: 0, N: 1}, anode: A, cathode: B}", "saturation current"),
    ("{transistor: {polarity: n-channel, threshold: 2 V, on: 0}, drain: A, gate: B, source: C}", "on-resistance"),
    ("{transistor: {polarity: npn, gain: 0}, collector: A, base: B, emitter: C}", "current gain"),
    ("{load: {works: 2 to 5 V}, plus: A, minus: B}", "draws"),
    ("{load: {draws: []}, plus: A, minus: B}", "at least one supply current"),
    ("{load: {draws: 1e300 A}, plus: A, minus: B}", "supply current"),
    ("{load: {draws: 1 uA at 0 V}, plus: A, minus: B}", "supply voltage"),
    ("{load: -2 uA, plus: A, minus: B}", ""),
    ("{resistor: 1e300, between: [A, B]}", "resistance"),
    ("{capacitor: 1e-30, between: [A, B]}", "capacitance"),
    ("{cell: {chemistry: alkaline, volts: 3, capacity: 1e-6 Ah, resistance: 1}, plus: A, minus: B}", "capacity"),
    ("{cell: {chemistry: alkaline, volts: 0, capacity: 1 Ah, resistance: 1}, plus: A, minus: B}", "volts of the"),
    ("{capacitor: 1u, hours: 2000 h at 900 °C, between: [A, B]}", "a temperature"),
])
def test_values_that_make_no_sense_are_refused_with_file_and_line(text: str, told: str, tmp_path: Path) -> None:
    file = tmp_path / "slip.yaml"
    file.write_text(part(text), "utf-8")
    for command in ("check", "draw", "document", "bench", "deck"):
        out = CliRunner().invoke(main, [command, str(file)])
        assert (out.exit_code, out.exception.__class__) == (2, SystemExit), f"{command}: {out.output}"
        assert re.search(r"slip\.yaml:4:\d+: ", out.output), out.output
        assert told in out.output


@pytest.mark.parametrize("condition", [
    "temperature: -300 to 20 °C", "temperature: 10 to 151 °C", "years: 0", "years: 1e300", "years: -1",
    "powered: 25 h/day", "temperature: below 50 °C",
])
def test_conditions_that_nothing_stands_are_refused(condition: str) -> None:
    assert not reads(f"title: t\nconditions: {{{condition}}}\n")


GOOD_LIBRARY = {
    "diodes": "diodes:\n  X: {family: silicon, forward: [{typical: {1 mA: 0.6 V}, source: S, sure: seen}]}\n",
    "cells": "cells:\n  X: {chemistry: alkaline, nominal: [3 V, S, seen], capacity: [1 Ah, S, seen], open_circuit: "
             "[{used: 0, volts: 3, source: S, sure: seen}, {used: 1, volts: 2, source: S, sure: seen}], resistance: "
             "[{used: 0, ohm: 1, source: S, sure: seen}, {used: 1, ohm: 1, source: S, sure: seen}]}\n",
    "loads": "loads:\n  X: {draws: [{typical: {3 V: 1 uA}, source: S, sure: seen}]}\n",
    "transistors": "transistors:\n  X: {polarity: npn, gain: [100, S, seen], saturation: [1e-14, S, seen]}\n",
    "regulators": "regulators:\n  X: {output: [5 V, S, seen], dropout: [1 V, S, seen]}\n",
    "connectors": "connectors:\n  X: {pins: {1: A}, source: S, sure: seen}\n",
}
SLIPS = {
    "diodes": (("0.6 V", "600 V"), ("1 mA", "0 mA"), ("0.6 V", "[1]"), ("{1 mA: 0.6 V}", "7"), ("silicon", "[a]"),
               ("sure: seen", "sure: [x]"), ("source: S", "source: {a: b}")),
    "cells": (("1 Ah", "1e-9 Ah"), ("nominal: [3 V", "nominal: [9 kV"), ("volts: 3", "volts: -1"),
              ("used: 0, v", "used: x, v"), ("ohm: 1,", "ohm: {},"), ("[3 V, S, seen]", "3 V")),
    "loads": (("1 uA", "5 kA"), ("3 V", "0 V"), ("1 uA", "none"), ("[{typical", "{typical")),
    "transistors": (("[100, S", "[0, S"), ("1e-14", "5"), ("npn", "npm")),
    "regulators": (("[5 V", "[5 MV"), ("[1 V, S, seen]", "[-1 V, S, seen]"), ("dropout", "dropuot")),
    "connectors": (("{1: A}", "{1: [A]}"), ("{1: A}", "A"), ("source: S, ", "")),
}
USE = {"diodes": "{diode: X, anode: A, cathode: GND}", "cells": "{cell: X, plus: A, minus: GND}",
       "loads": "{load: X, plus: A, minus: GND}", "connectors": "{connector: X, pins: {1: A}}",
       "transistors": "{transistor: X, collector: A, base: B, emitter: GND}",
       "regulators": "{regulator: X, input: +5V, output: A, ground: GND}"}


def test_every_faulty_entry_of_a_persons_library_is_told_with_its_line_in_every_command(tmp_path: Path) -> None:
    for shelf, good in GOOD_LIBRARY.items():
        folder = tmp_path / shelf / "library"
        folder.mkdir(parents=True)
        file = tmp_path / shelf / "board.yaml"
        file.write_text(part(USE[shelf]), "utf-8")
        entry = folder / f"{shelf}.yaml"
        head = "sources: {S: {title: bench}}\n"
        entry.write_text(head + good, "utf-8")
        assert Catalogue.standard([folder]).spec(shelf[:-1], "X").name == "X"
        for old, new in SLIPS[shelf]:
            assert old in good
            entry.write_text(head + good.replace(old, new, 1), "utf-8")
            netcheck.parts.library.book.cache_clear()
            for command in (["check"], ["draw"], ["document"], ["bench"], ["deck"], ["diodes"]):
                out = CliRunner().invoke(main, [*command, str(file)])
                assert isinstance(out.exception, SystemExit), f"{shelf}, {old} → {new}, {command}: {out.exception!r}"
                assert out.exit_code == 2, f"{shelf}, {old} → {new}, {command}: {out.output}"
                assert re.search(rf"{shelf}\.yaml:\d+", out.output), f"{shelf}, {old} → {new}: {out.output}"
            out = CliRunner().invoke(main, ["parts", "X", "--library", str(folder)])
            assert isinstance(out.exception, SystemExit), f"parts: {shelf}, {old} → {new}: {out.exception!r}"
            with pytest.raises(LibraryError):
                Catalogue.standard([folder]).spec(shelf[:-1], "X")
