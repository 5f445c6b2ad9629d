"""Whole files by chance: fragments with mods and readings, sheets of readings, library entries, mutants and noise.

Every maker takes a `random.Random`, so that a case can be shrunk (hypothesis gives one) or repeated by its number.
What is made is mostly right, as only a file without a mistake reaches what lies behind the reader; a share of the
values are slips, odd numbers or another kind of node altogether.
"""

from __future__ import annotations

import io
import json
import math
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import yaml

import netcheck
from netcheck.api import variants
from netcheck.cli import main
from netcheck.commands.ending import guarded
from netcheck.fragment.kinds import PIN_ROLES, ROWS, STEPS, Form
from netcheck.fragment.model import Kind
from netcheck.parts import tables
from netcheck.parts.library import FILES, LibraryError, standard_folder
from netcheck.quantities.values import engineering
from netcheck.reading.mistakes import FragmentError
from netcheck.reading.readings_file import COLUMNS, load_readings
from netcheck.reports.text import report_text

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.yaml"))
NETS = ("GND", "+5V", "CELL", "VRAM", "CHG", "N1", "-12V")
DEADLINE_S = 5.0
SLIP = 0.007


class Raw(str):
    """Text that stands in the file as it is."""


SLIPS = tuple(map(Raw, (
    "", "~", "off", "yes", "1e400", "nan", "inf", "-inf", "-0", "0", "-1", "1e-320", "5 V ±0%", "5 V ±100%", "5 to 1 V",
    "below 5 V", "above 1 V", "±5%", "١٢", "½", "[]", "{}", "[[]]", "[{}]", "{a: b}", "4k7", "0x10", "!!int 3", "&a x",
    "*a", '"\\0"', '"\\ud800"', "100 %", "5%%", "1_000", "1:30", "2020-01-01", "unknown", "maybe", "µ", "1 kΩΩ", "GND",
    "R1", "R1.1", "R1.", ".", "open", "as found", "1-2", "1-2-3", "2-1", "9999-1", "1 mA at 3 V", "at", "5 V at 5 V",
    '""', "CЕLL", '"a\\u200bb"', "[GND, GND]", "[R1, R1]", "9" * 400, "1e309 V", "1e308 to 1e308 V", "<x>", "? a",
    "- a", "|",
)))


@dataclass(frozen=True)
class Case:
    """One file by chance. what: fragment, readings, library or noise."""

    what: str
    name: str
    data: bytes

    def __str__(self) -> str:
        return f"{self.what} {self.name}:\n{self.data.decode('utf-8', 'backslashreplace')}"


def written(value: Any) -> str:
    """A value as flow YAML."""
    if isinstance(value, Raw):
        return value
    if isinstance(value, dict):
        return "{" + ", ".join(f"{written(key)}: {written(one)}" for key, one in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(written, value)) + "]"
    text = str(value)
    return json.dumps(text, ensure_ascii=False) if not text.strip() or set(text) & set(",{}[]:#\"'\n&*!|>%@`") else text


def figure(rng: Random, field: tables.Field) -> Any:
    """What a field of a table may hold."""
    if field.form is tables.Form.WORD:
        return rng.choice(field.words)
    if field.form is tables.Form.TEXT:
        return rng.choice(("a note", "Ω", "<b>x</b>", "=1+1"))
    if field.form is tables.Form.TABLE:
        return special(rng, field.name)
    unit = {"year": "", "": ""}.get(field.unit, field.unit)

    def number() -> str:
        low = math.log10(max(abs(field.least) if field.least > 0 else 0, 1e-12))
        high = math.log10(min(field.most, 1e12) or 1)
        value = 10 ** rng.uniform(low, max(low, high))
        usual = rng.choice((1.0, 2.2, 3.0, 4.7, 5.0, 10.0))
        value = usual if rng.random() < 0.6 and field.least <= usual <= field.most else value
        if unit in ("%",):
            return f"{100 * value:.3g} %"
        return engineering(value, unit) if unit not in ("°C", "") else f"{value:.4g} {unit}".strip()

    if field.form is tables.Form.RANGE:
        return rng.choice((f"{number()} to {number()}", f"below {number()}", f"above {number()}"))
    return number() + (rng.choice(("", " ±5%", " ±1%", " ±20%")) if field.form is tables.Form.BAND else "")


def special(rng: Random, name: str) -> Any:
    volts = f"{rng.uniform(0.1, 6):.2f} V"
    many = range(rng.randint(1, 3))
    rows: dict[str, Callable[[], Any]] = {
        "points": lambda: [[f"{10 ** (step - 1):g} mA", f"{rng.uniform(0.2, 0.3) + step / 5:.2f} V"] for step in many],
        "leakage": lambda: [f"{rng.choice((1, 25, 900))} nA at {volts}" for _ in many],
        "knee": lambda: [[f"{10 ** step} mA", f"{90 / (step + 1):.0f}"] for step in many],
        "curve": lambda: [[f"{40 * step} %", f"{3 - step / 2} V"] for step in many],
        "trickle": lambda: ["0.1 mA", "1 mA", "10 mA"],
        "draws": lambda: [f"{rng.choice((0, 1, 40))} uA at {volts}" for _ in many],
        "pinout": lambda: {str(pin + 1): rng.choice(NETS) for pin in many},
    }
    return rows[name]() if name in rows else rng.choice(SLIPS)


def some(rng: Random, table: tables.Table, least: int = 0, share: float = 0.3) -> dict[str, Any]:
    """Some fields of a table."""
    names = [name for name in table if rng.random() < share] or rng.sample(list(table), min(least, len(table)))
    return {name: slip(rng, figure(rng, table[name])) for name in names}


def slip(rng: Random, value: Any) -> Any:
    """The value, or now and then what nobody meant."""
    return rng.choice(SLIPS) if rng.random() < SLIP else value


@cache
def library() -> dict[str, tuple[str, ...]]:
    return {kind: tuple(yaml.safe_load((standard_folder() / name).read_text(encoding="utf-8"))[kind + "s"])
            for kind, name in FILES.items() if kind != "capacitor"}


NEEDED: dict[str, tuple[dict[str, Any], ...]] = {
    "diode": ({"zener": "5.1 V"}, {"IS": "2.5n", "N": "1.75", "RS": "0.57"}, {"points": [["1 mA", "0.62 V"]]}),
    "cell": ({"chemistry": "lithium-primary", "volts": "3 V", "capacity": "220 mAh", "resistance": "15"},),
    "load": ({"draws": "2 uA at 3 V"},), "transistor": ({"polarity": "npn"}, {"polarity": "p-channel"}),
    "regulator": ({"output": "5 V ±5%", "dropout": "2 V", "limit": "1 A"},
                  {"reference": "1.25 V ±2%", "between": "output-adjust", "dropout": "2 V", "limit": "1 A"}),
    "relay": ({"coil": "100"},), "connector": ({"pinout": {"1": "+5V", "2": "GND"}},),
}


def value_of(rng: Random, kind: Kind) -> Any:
    """What stands after the word of a kind."""
    word = kind.value
    named = library().get(word, ())
    if word in tables.SPECS and (not named or rng.random() < 0.4):
        table = tables.SPECS[word]
        return {**some(rng, table, share=0.08), **rng.choice(NEEDED[word])}
    if named:
        return rng.choice(named)
    if word in tables.PART:
        return figure(rng, tables.PART[word])
    return rng.choice(("unknown", "555", "gate array"))


def part(rng: Random, nets: Sequence[str]) -> dict[str, Any]:
    kind = rng.choice(list(Kind))
    row = ROWS[kind]
    net = lambda: slip(rng, rng.choice(nets))  # noqa: E731
    made: dict[str, Any] = {kind.value: slip(rng, value_of(rng, kind))}
    if row.form is Form.LISTED:
        count = rng.choice((2, 2, 3, 4))
        made[kind.value] = [net() for _ in range(count)]
        if count > 2 or rng.random() < 0.2:
            made["positions"] = {f"p{pin}": f"{pin}-{pin + 1}" for pin in range(1, count)}
            made |= rng.choice(({}, {"set": "p1"}))
    elif row.form is Form.MANY:
        made["pins"] = {str(pin): net() for pin in range(1, rng.randint(2, 9))}
        if "paths" in row.keys and rng.random() < 0.2:
            made["paths"] = [{"from": "1", "to": "2", "by": slip(rng, rng.choice(("switch", "diode", "charger"))),
                              **rng.choice(({}, {"when": {"main": "off"}}, {"when": {"1": "below 2.9 V"}}))}]
        if "clamps" in row.keys and rng.random() < 0.2:
            made["clamps"] = {"to": net(), "from": [net()]}
        if kind is Kind.CHIP and rng.random() < 0.2:
            made["pins"]["1"] = {"net": net(), "role": rng.choice(PIN_ROLES)}
    else:
        made |= {key: [net(), net()] for key in row.lists}
        pins: Sequence[str] = row.pins
        if kind is Kind.TRANSISTOR:
            word = str(made[kind.value])
            pins = row.pins[3:] if "channel" in word or word in ("2N7000", "BS170", "BS250") else row.pins[:3]
        elif kind is Kind.REGULATOR:
            pins = rng.choice((("input", "output", "ground"), ("input", "output", "adjust"), row.pins))
        elif kind is Kind.CAPACITOR and rng.random() < 0.5:
            pins = ()
        elif kind is Kind.CAPACITOR:
            del made["between"]
        made |= {pin: net() for pin in pins}
    for key in row.keys:
        if rng.random() < 0.2 and key in tables.PART:
            made[key] = slip(rng, figure(rng, tables.PART[key]))
    rare = {"fitted": "no", "plugged": "maybe", "note": "a note", "at": "B3", "marked": "103",
            "selected": "yes", "kept": "no", "size": "1206", "hours": "2000 h at 105 °C", "role": "timing",
            "pulled": "+5V", "bogus": "x"}
    if rng.random() < 0.3:
        key = rng.choice([key for key in rare if key in (*row.keys, "fitted", "note", "at", "marked")] + ["note"])
        made[key] = slip(rng, rare[key])
    if rng.random() < SLIP:
        made.pop(rng.choice(list(made)))
    return made


def reading(rng: Random, nets: Sequence[str], names: Sequence[str], mods: Sequence[str]) -> dict[str, Any]:
    entry: dict[str, Any] = {"mod": rng.choice(("as found", *mods)), "state": rng.choice(("running", "stored"))}
    entry |= rng.choice(({"at": rng.choice(nets)}, {"through": rng.choice(names)},
                         {"at": rng.choice(nets), "against": rng.choice(nets)}))
    entry |= {"amps": "2 mA"} if "through" in entry else rng.choice(
        ({"volts": "2.71"}, {"ohms": "4.7k"}, {"diode": "0.6"}))
    if rng.random() < 0.2:
        entry |= rng.choice(({"meter": "10M"}, {"without": [rng.choice(names)]}))
    return {key: slip(rng, value) for key, value in entry.items()}


def step(rng: Random, nets: Sequence[str], names: Sequence[str], fresh: str) -> dict[str, Any]:
    action = rng.choice(STEPS)
    name = rng.choice(names)
    pin = "1" if name[0] in "RFLJSU" else "anode" if name[0] == "D" else "plus"
    made = {
        "remove": lambda: rng.choice((name, [name])),
        "replace": lambda: {name: rng.choice(({"cell": "CR2032"}, {"diode": "BAT85"}, {"resistor": "1k"}))},
        "fit": lambda: {fresh: part(rng, nets)},
        "move": lambda: {f"{name}.{pin}": rng.choice(nets)},
        "join": lambda: [rng.choice(nets), rng.choice(nets)],
        "set": lambda: {name: rng.choice(("p1", "open", "closed"))},
    }[action]()
    return {action: slip(rng, made), **({"because": "so"} if rng.random() < 0.2 else {})}


def fragment(rng: Random, most_parts: int = 12) -> str:
    """A whole fragment file, mostly without a mistake."""
    nets = (*NETS, *(f"M{number}" for number in range(rng.randint(0, 4))))
    parts: dict[str, Any] = {}
    for _ in range(rng.randint(1, most_parts)):
        made = part(rng, nets)
        word = next(iter(made), "")
        letters = ROWS[Kind(word)].designators if word in list(Kind) else ("X",)
        parts[f"{letters[0]}{len(parts) + 1}"] = made
    nets = tuple(net for net in nets if any(net in written(made) for made in parts.values())) or NETS
    names, mods = list(parts), [f"mod{number}" for number in range(rng.choice((0, 0, 1, 2)))]
    lines = ["title: by chance", "rails:"]
    lines += [f"  {net}: {written(slip(rng, how))}" for net, how in (
        ("+5V", "5 V ±5%"), ("-12V", {"volts": "-12 V", "supply": "main", "when_off": rng.choice(("low", "open"))}))]
    if rng.random() < 0.3:
        conditions = {name: slip(rng, figure(rng, field)) for name, field in tables.CONDITIONS.items()
                      if name != "temperature"} | {"temperature": slip(rng, "10 to 50 °C")}
        lines.append(f"conditions: {written(conditions)}")
    lines += ["parts:", *(f"  {name}: {written(made)}" for name, made in parts.items())]
    if rng.random() < 0.1:
        lines += ["nets:", f"  N1: [{rng.choice(names)}.{rng.choice(('1', 'plus', 'anode'))}]"]
    lines += ["states:", "  running: {main: on}", f"  stored: {written({'main': slip(rng, Raw('off'))})}"]
    if rng.random() < 0.3:
        wish = rng.choice((
            {"at": rng.choice(nets), "state": "stored", "volts": "2.0 to 5.5"}, {"apart": [rng.choice(nets), "GND"]},
            {"joined": [rng.choice(nets), rng.choice(nets)]},
            {"through": rng.choice(names), "state": "running", "amps": "below 10 mA"}))
        lines += ["expect:", f"  - {written({key: slip(rng, value) for key, value in wish.items()})}"]
    if mods:
        lines.append("mods:")
        lines += [f"  {mod}: " + written({
            **({"after": mods[0]} if mod != mods[0] and rng.random() < 0.5 else {}),
            "steps": [step(rng, nets, names, f"R9{number}") for number in range(rng.randint(1, 3))],
        }) for mod in mods]
    if rng.random() < 0.3:
        lines += ["readings:", *(f"  - {written(reading(rng, nets, names, mods))}" for _ in range(rng.randint(1, 3)))]
    if rng.random() < 0.1:
        want = {"of": rng.choice(names), "want": ["3.3 V"], "within": "2%"}
        lines += ["settings:", f"  - {written({key: slip(rng, value) for key, value in want.items()})}"]
        feature = {"joined": [[rng.choice(nets), rng.choice(nets)]], "volts": {"at": "N1", "from": "1 V to 2 V"}}
        lines += ["features:", f"  a: {written({key: slip(rng, value) for key, value in feature.items()})}"]
    return "\n".join(lines) + "\n"


def mutated(rng: Random, text: str) -> str:
    """Text with a few pieces struck out, doubled, swapped, or put in the place of others."""
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        lines = text.split("\n")
        at = rng.randrange(len(lines))
        spot, other = rng.randrange(len(text) + 1), rng.randrange(len(text) + 1)
        words = lines[at].split(" ")
        word = rng.randrange(len(words))
        kind = rng.randrange(8)
        if kind == 0:
            lines.pop(at)
        elif kind == 1:
            lines.insert(at, rng.choice(lines))
        elif kind == 2:
            lines[at] = rng.choice((" ", "\t", "- ", "  ")) + lines[at]
        elif kind == 3:
            lines[at] = " ".join([*words[:word], str(rng.choice(SLIPS)), *words[word + 1:]])
        elif kind == 4:
            lines[at] = " ".join([*words[:word], rng.choice(rng.choice(lines).split(" ")), *words[word + 1:]])
        text = "\n".join(lines)
        if kind == 5:
            text = text[:spot] + text[spot + rng.choice((1, 1, 5)):]
        elif kind == 6:
            text = text[:spot] + rng.choice("{}[]:,#&*!|>'\"%@`\\\t\0\u200b\ufeff\ud7ff-?=~ é٣") + text[spot:]
        elif kind == 7:
            text = text[:spot] + text[other:other + rng.randint(1, 30)] + text[spot:]
    return text


@cache
def shipped() -> dict[str, dict[str, Any]]:
    return {name: yaml.safe_load((standard_folder() / name).read_text(encoding="utf-8")) for name in FILES.values()}


def entry_of_library(rng: Random) -> Case:
    """A person's own file of the library: one entry of the shipped ones, a value of it changed or gone."""
    kind, name = rng.choice(list(FILES.items()))
    content = shipped()[name]
    entries = content[kind + "s"]
    chosen = rng.choice(list(entries))
    entry = entries[chosen]
    kept: dict[str, Any] = {"sources": content["sources"], kind + "s": {"MINE": entry}}
    if isinstance(entry, dict) and entry.get("like") in entries:
        kept[kind + "s"][entry["like"]] = entries[entry["like"]]
    for key in content:
        if key not in kept:
            kept[key] = content[key]
    kept = json.loads(json.dumps(kept, default=str))
    entry = kept[kind + "s"]["MINE"]
    for _ in range(rng.choice((0, 1, 1, 1, 2))):
        spoil(rng, kept if rng.random() < 0.2 else entry)
    text = yaml.safe_dump(kept, allow_unicode=True, sort_keys=False)
    if rng.random() < 0.2:
        text = mutated(rng, text)
    return Case("library", name, text.encode("utf-8", "surrogatepass"))


def spoil(rng: Random, node: Any) -> None:
    """Change one value somewhere below a node."""
    while isinstance(node, (dict, list)) and node:
        keys = list(node) if isinstance(node, dict) else list(range(len(node)))
        key = rng.choice(keys)
        if isinstance(node[key], (dict, list)) and node[key] and rng.random() < 0.8:
            node = node[key]
            continue
        if rng.random() < 0.3:
            del node[key]
        else:
            node[key] = rng.choice((None, True, 0, -1, 1e300, 1e-300, "", "x", [], {}, [[]], {"x": "y"},
                                    str(rng.choice(SLIPS)), "5 V", "memory", "1 mA", ["5 V", "ME", "seen"]))
        return


def sheet(rng: Random) -> Case:
    """Readings in a file of their own, taken on the first example."""
    nets, names = ("CELL", "VRAM", "GND", "+5V", "N1"), ("R1", "D1", "BT1", "U1")
    if rng.random() < 0.5:
        rows = [",".join(COLUMNS)] + [",".join(
            str(slip(rng, {"at": rng.choice(nets), "test": "volts", "unit": "V", "reading": f"{rng.uniform(0, 6):.2f}",
                           "mod": "as found", "state": "running", "meter": "10M"}.get(column, "")))
            for column in COLUMNS) for _ in range(rng.randint(1, 4))]
        text, name = "\n".join(rows) + "\n", "sheet.csv"
    else:
        text = "readings:\n" + "".join(f"  - {written(reading(rng, nets, names, []))}\n" for _ in range(3))
        name = "sheet.yaml"
    return Case("readings", name, (mutated(rng, text) if rng.random() < 0.3 else text).encode("utf-8"))


@cache
def texts() -> tuple[str, ...]:
    return tuple(path.read_text(encoding="utf-8") for path in EXAMPLES)


def case(rng: Random) -> Case:
    """A case of any kind."""
    kind = rng.choices(range(6), (50, 20, 8, 8, 10, 4))[0]
    if kind == 0:
        return Case("fragment", "chance.yaml", fragment(rng).encode())
    if kind == 1:
        return Case("fragment", "mutant.yaml", mutated(rng, rng.choice(texts())).encode())
    if kind == 2:
        return Case("fragment", "mutant.yaml", mutated(rng, fragment(rng)).encode())
    if kind == 3:
        return sheet(rng)
    if kind == 4:
        return entry_of_library(rng)
    return Case("noise", "noise.yaml", bytes(rng.randrange(256) for _ in range(rng.randint(0, 60))))


def read(one: Case, folder: Path) -> netcheck.Fragment | None:
    """Read a case from a file; None where it is refused.

    Raises AssertionError where a refusal lacks its file or line, and whatever else the program raises.
    """
    try:
        if one.what == "library":
            return _with_library(one, folder)
        path = folder / one.name
        path.write_bytes(one.data)
        if one.what == "readings":
            _with_readings(path)
            return None
        return netcheck.load(path)
    except FragmentError as error:
        unplaced = [fault for fault in error.faults
                    if not (fault.file and fault.line > 0 and fault.column > 0 and fault.expected and str(fault))]
        if unplaced or not error.faults:
            raise AssertionError(f"a refusal without its place: {unplaced}") from error
    except LibraryError as error:
        if not (error.file and error.line > 0 and error.expected and f":{error.line}:" in str(error)):
            raise AssertionError(f"a refusal without its place: {error}") from error
    return None


@cache
def _example() -> netcheck.Fragment:
    return netcheck.load(next(path for path in EXAMPLES if path.stem == "clock-card"))


def _with_readings(path: Path) -> None:
    load_readings(path, _example())


_USES = {
    "diode": "diode: MINE, anode: CELL, cathode: GND", "cell": "cell: MINE, plus: CELL, minus: GND",
    "load": "load: MINE, plus: CELL, minus: GND", "connector": "connector: MINE, pins: {1: CELL}",
    "transistor": "transistor: MINE, collector: CELL, base: +5V, emitter: GND",
    "regulator": "regulator: MINE, input: +5V, output: CELL, ground: GND",
    "capacitor": "capacitor: 47u, type: wet, plus: CELL, minus: GND",
    "chip": "chip: MINE, pins: {1: CELL, 2: +5V}",
}


def _with_library(one: Case, folder: Path) -> netcheck.Fragment:
    """A board with the entry, read with the folder that holds it: each a folder of its own, as books are kept."""
    own = folder / f"library-{len(list(folder.iterdir()))}"
    own.mkdir()
    (own / one.name).write_bytes(one.data)
    kind = next(kind for kind, name in FILES.items() if name == one.name)
    return netcheck.loads(f"title: t\nrails: {{+5V: 5 V}}\nparts:\n  X1: {{{_USES[kind]}}}\n", library=[own])


def check(found: netcheck.Fragment) -> str:
    """Judge what was read, and write every report of it; the verdict."""
    report = netcheck.check(found, every=True, deadline_s=DEADLINE_S)
    json.dumps(report.to_dict(), allow_nan=False)
    assert report_text(report, variants(found, None, True), 80, full=True)
    return str(report.verdict)


COMMANDS = ("check", "caps", "draw", "bench", "explain", "settings", "choose", "diodes", "deck", "changes", "impedance",
            "document")


def by_command(one: Case, folder: Path, command: str) -> int:
    """The exit status of a command on a case; raises AssertionError with what it said where that is none of 0, 1, 2."""
    path = folder / one.name
    path.write_bytes(one.data)
    more = {"document": ["-o", str(folder / "page.html"), "--force"],
            "draw": ["-o", str(folder / "drawing.svg"), "--force"],
            "impedance": ["--at", "CELL"], "changes": ["--against", "as found"]}.get(command, [])
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        status = guarded(lambda: main([command, str(path), "--deadline", f"{DEADLINE_S:g}", *more],
                                      standalone_mode=False))
    assert status in (0, 1, 2), f"{command}: exit {status}\n{err.getvalue()[-3000:]}"
    assert status != 2 or err.getvalue().strip(), f"{command} refuses without a word"
    return status
