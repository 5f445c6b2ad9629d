"""A SPICE deck, as drawing programs export it, to the text of a fragment that the person then completes.

PySpice's parser takes each line apart. Resistors, capacitors, inductors, diodes, transistors and supplies against
ground are taken over; what cannot be is listed with its line. Numbers are read as SPICE reads them (ngspice user's
manual, "Some naming conventions": a scale factor behind the number, letters behind that ignored), which is not how
the bench writes them: 4k7 is 4000 there and 1M a thousandth.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from msgspec import Struct, field

from netcheck.parts.catalogue import Catalogue, UnknownEntry
from netcheck.quantities.values import engineering, number

if TYPE_CHECKING:
    from PySpice.Spice.Parser import Element

GROUND = "GND"
MOST_LINES = 20_000

_SCALE = {"t": 1e12, "g": 1e9, "meg": 1e6, "k": 1e3, "mil": 25.4e-6, "m": 1e-3, "u": 1e-6, "µ": 1e-6, "n": 1e-9,
          "p": 1e-12, "f": 1e-15}
_NUMBER = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?)(meg|mil|[tgkmuµnpf])?([a-z]*)(.*)", re.IGNORECASE)
_PLAIN_NAME = re.compile(r"[A-Za-z_+-][A-Za-z0-9_+./-]*")


class LeftOut(Struct, frozen=True):
    """What was not taken over of a deck: its line, the text, and why."""

    line: int
    text: str
    why: str


class DeckRead(Struct, frozen=True):
    """The text of a fragment, and what of the deck is not in it."""

    text: str
    left_out: tuple[LeftOut, ...]


class NoDeck(ValueError):
    """A text that is no deck, or one too large; the message says why."""


def spice_number(text: str) -> float:
    """A number as SPICE reads it. Raises ValueError.

    >>> spice_number("4.7k"), spice_number("10mF"), spice_number("1MEG"), spice_number("1M"), spice_number("4k7")
    (4700.0, 0.01, 1000000.0, 0.001, 4000.0)
    """
    found = _NUMBER.fullmatch(text.strip())
    if found is None or (found[4] and not (found[2] and found[4].isalnum())):
        raise ValueError(f'"{text}" is no number of a deck')
    return float(found[1]) * _SCALE.get((found[2] or "").lower(), 1.0)


def read_deck(text: str, name: str, catalogue: Catalogue) -> DeckRead:
    """The fragment that a deck describes, as far as it can be taken over.

    name: of the file, for the head of the fragment. Raises NoDeck where nothing can be.
    """
    lines = _lines(text)
    if not lines:
        raise NoDeck("expected a deck: a title line, then a line for each element")
    reader = _Deck(catalogue)
    for line, content in lines[1:]:
        reader.take(line, content)
    if not reader.parts and not reader.rails:
        raise NoDeck("no element of it could be taken over (resistors, capacitors, inductors, diodes, transistors, "
                     "supplies); is it a SPICE deck?")
    return DeckRead(_written(lines[0][1].lstrip("* ").strip() or name, name, reader), tuple(reader.left_out))


def _lines(text: str) -> list[tuple[int, str]]:
    """The lines of a deck with their numbers, those that a + continues joined."""
    found: list[tuple[int, str]] = []
    for place, line in enumerate(text.splitlines(), 1):
        if place > MOST_LINES:
            raise NoDeck(f"expected at most {MOST_LINES} lines")
        if line.lstrip().startswith("+") and len(found) > 1:
            found[-1] = (found[-1][0], f"{found[-1][1]} {line.lstrip()[1:].strip()}")
        elif place == 1 or line.strip():
            found.append((place, line.rstrip()))
    return found


class _Deck(Struct):
    """What has been taken over so far, as lines of YAML by designator and by net."""

    catalogue: Catalogue
    parts: dict[str, str] = field(default_factory=dict)
    rails: dict[str, str] = field(default_factory=dict)
    models: dict[str, tuple[str, Mapping[str, str]]] = field(default_factory=dict)
    waiting: list[tuple[int, str, Any]] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    nets: dict[str, str] = field(default_factory=dict)
    inside: bool = False

    def take(self, line: int, content: str) -> None:
        word = content.split()[0].lower()
        if self.inside or word == ".subckt":
            self._leave(line, content, "a subcircuit: put its parts into the section themselves")
            self.inside = word != ".ends"
        elif word.startswith(("*", "$", ";", "//")) or word in (".end", ".title"):
            return
        elif word.startswith(".") and word != ".model":
            if word not in (".op", ".tran", ".dc", ".ac", ".tf", ".print", ".plot", ".probe", ".save", ".options",
                            ".option", ".control", ".endc", ".backanno"):
                self._leave(line, content, "a control line that a fragment has no word for")
        else:
            self._statement(line, content)

    def finish(self) -> None:
        """Diodes and transistors, once every model is known."""
        for line, content, element in self.waiting:
            self._semiconductor(line, content, element)
        self.waiting.clear()

    def _statement(self, line: int, content: str) -> None:
        try:
            statement = _parsed(content)
        except Exception:  # the parser raises whatever it stumbles over
            self._leave(line, content, "a line that the parser of decks cannot take apart")
            return
        if statement is None:
            self._leave(line, content, "no element")
        elif hasattr(statement, "_model_type"):
            self.models[str(statement.name).lower()] = (str(statement._model_type).upper(), statement._parameters)
        else:
            self._element(line, content, statement)

    def _element(self, line: int, content: str, element: Element) -> None:
        kind = str(element._prefix).upper()
        takers: Mapping[str, Callable[[int, str, Any], None]] = {
            "R": self._passive, "C": self._passive, "L": self._passive, "V": self._supply, "I": self._current}
        if kind in "DQM":
            self.waiting.append((line, content, element))
        elif kind in takers:
            try:
                takers[kind](line, content, element)
            except (ValueError, IndexError):
                self._leave(line, content, "no plain value")
        else:
            self._leave(line, content, "an element that a fragment has no kind for")

    def _passive(self, line: int, content: str, element: Any) -> None:
        kind, unit = {"R": ("resistor", ""), "C": ("capacitor", "F"), "L": ("inductor", "H")}[element._prefix.upper()]
        a, b = map(self._net, element._nodes[:2])
        given = [*map(str, element._parameters), *(str(v) for k, v in element._dict_parameters.items()
                                                   if k.lower() in ("r", "c", "l", "value"))]
        value = spice_number(given[0])
        if re.fullmatch(r"\d+[a-zA-Z]\d+", given[0]):
            self.notes.append(f"line {line}: {given[0]} is read as SPICE reads it: {_value(value, unit)}")
        within = str(element._dict_parameters.get("tol", ""))
        tolerance = f" ±{within}" if re.fullmatch(r"\d+(\.\d+)?%", within) else ""
        self._part(line, content, element, f"{kind}: {_value(value, unit)}{tolerance}, between: [{a}, {b}]")

    def _supply(self, line: int, content: str, element: Any) -> None:
        plus, minus = map(self._net, element._nodes[:2])
        value = _direct(element)
        if value == 0 and GROUND not in (plus, minus):
            self._part(line, content, element, f"resistor: 0, between: [{plus}, {minus}]")
            return
        net, volts = (plus, value) if minus == GROUND else (minus, -value)
        if GROUND not in (plus, minus) or net == GROUND:
            self._leave(line, content, "a supply that does not stand on ground: a cell, perhaps? Write it as one")
        elif net in self.rails:
            self._leave(line, content, f"a second supply at {net}")
        else:
            self.rails[net] = f"{{volts: {volts:.12g} V, supply: {_name(self._designator(element))}}}"

    def _current(self, line: int, content: str, element: Any) -> None:
        plus, minus = map(self._net, element._nodes[:2])
        amps = _direct(element)
        if amps < 0:
            plus, minus, amps = minus, plus, -amps
        self._part(line, content, element, f"load: {_value(amps, 'A')}, plus: {plus}, minus: {minus}")

    def _semiconductor(self, line: int, content: str, element: Any) -> None:
        model = str(element._dict_parameters.get("model") or (element._parameters or [""])[-1])
        nets = [self._net(node) for node in element._nodes]
        kind = element._prefix.upper()
        if kind == "D":
            what = self._diode(model)
            pins = f"anode: {nets[0]}, cathode: {nets[1]}"
        elif kind == "Q":
            what = self._bipolar(line, model)
            pins = f"collector: {nets[0]}, base: {nets[1]}, emitter: {nets[2]}"
        else:
            what = self._known("transistor", model)
            pins = f"drain: {nets[0]}, gate: {nets[1]}, source: {nets[2]}"
            if len(nets) > 3 and nets[3] != nets[2]:
                self._leave(line, content, "a MOSFET whose body is not joined to its source")
                return
        if what is None:
            self._leave(line, content, f"the model {model or 'it needs'} is neither in the deck nor in the library, "
                                       "or holds too little")
        else:
            self._part(line, content, element, f"{'diode' if kind == 'D' else 'transistor'}: {what}, {pins}")

    def _diode(self, model: str) -> str | None:
        kind, parameters = self.models.get(model.lower(), ("", {}))
        if kind != "D":
            return self._known("diode", model)
        keys = {key.upper(): str(value) for key, value in parameters.items()}
        taken = {"IS": "1e-14", **{key: keys[key] for key in ("IS", "N", "RS", "EG", "XTI", "BV") if key in keys}}
        try:
            return "{" + ", ".join(f"{key}: {spice_number(value):.6g}" for key, value in taken.items()) + "}"
        except ValueError:
            return None

    def _bipolar(self, line: int, model: str) -> str | None:
        kind, parameters = self.models.get(model.lower(), ("", {}))
        if kind not in ("NPN", "PNP"):
            return self._known("transistor", model)
        keys = {key.upper(): str(value) for key, value in parameters.items()}
        others = sorted(set(keys) - {"IS", "BF", "CJE", "CJC", "TF", "TR", "CJS", "MJE", "MJC"})
        if others:
            self.notes.append(f"line {line}: of the model {model} IS and BF are taken over, not {', '.join(others)}")
        try:
            return (f"{{polarity: {kind.lower()}, gain: {spice_number(keys.get('BF', '100')):.6g}, "
                    f"IS: {spice_number(keys.get('IS', '1e-16')):.6g}}}")
        except ValueError:
            return None

    def _known(self, kind: str, model: str) -> str | None:
        """The library's name for a model: as it stands, or without the letter that some programs put before it."""
        for name in (model, model[1:]):
            try:
                return str(self.catalogue.spec(kind, name).name) if name else None
            except UnknownEntry:
                continue
        return None

    def _part(self, line: int, content: str, element: Any, text: str) -> None:
        name = self._designator(element)
        if name in self.parts:
            self._leave(line, content, f"a second {name}")
        else:
            self.parts[name] = f"{{{text}}}"

    def _designator(self, element: Any) -> str:
        return f"{element._prefix}{element.name}".upper().replace(".", "_")

    def _net(self, node: object) -> str:
        """SPICE does not tell capitals from small letters; a net is written as it stood first."""
        name = str(node)
        if name.lower() in ("0", "gnd"):
            return GROUND
        return _name(self.nets.setdefault(name.lower(), f"N{name}" if name.isdigit() else name))

    def _leave(self, line: int, content: str, why: str) -> None:
        self.left_out.append(LeftOut(line, content.strip()[:80], why))


def _parsed(content: str) -> Any:
    """The first statement of one line by PySpice's parser, None for none."""
    from PySpice.Spice.Parser import SpiceParser

    return next(iter(SpiceParser(source=f"title\n{content}\n")._statements), None)


def _direct(element: Any) -> float:
    """The direct part of a source: what an operating point has it at (for a pulse or a sine its first value)."""
    words = " ".join(map(str, element._parameters))
    keyed = element._dict_parameters.get("dc") or element._dict_parameters.get("DC")
    text = str(keyed) if keyed else re.sub(r"^\s*dc\s*=?\s*", "", words, flags=re.IGNORECASE)
    return spice_number(re.sub(r"^(pulse|sin|sine|pwl|exp|sffm)\W*", "", text, flags=re.IGNORECASE).split()[0])


def _value(value: float, unit: str) -> str:
    """As the bench writes it, unless that would round it."""
    short = engineering(value, unit) if value and unit else ""
    return short if short and number(short, unit) == value else f"{value:.12g} {unit}".strip()


def _name(text: str) -> str:
    """A name as YAML may have it: in quotes where it does not look like one."""
    return text if _PLAIN_NAME.fullmatch(text) else '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _written(title: str, name: str, deck: _Deck) -> str:
    deck.finish()
    return "\n".join(_written_lines(title, name, deck)) + "\n"


def _written_lines(title: str, name: str, deck: _Deck) -> Iterator[str]:
    yield f"# Taken over from {name}. Complete it: the cells, the loads' needs, the rails' tolerances, the states."
    yield f"title: {_name(title)}"
    if deck.rails:
        yield "\nrails:                        # is one of them a cell? Then move it below as {cell: CR2032, plus: …}"
        yield from (f"  {_name(net)}: {text}" for net, text in deck.rails.items())
    yield "\nparts:" if deck.parts else "\nparts: {}"
    yield from (f"  {_name(part)}: {text}" for part, text in deck.parts.items())
    if deck.notes:
        yield "\n# To be checked:"
        yield from (f"#   {note}" for note in deck.notes)
    if deck.left_out:
        yield "\n# Not taken over:"
        yield from (f"#   line {one.line}: {one.text}   ({one.why})" for one in deck.left_out)
