"""Families of capacitors, and what may stand in a place: the figures of `library/capacitors.yaml`, read.

Volts in V, currents in A, capacitance in F, times in h where the name says so, temperatures in °C, shares of 1.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from msgspec import Struct

from netcheck.parts.library import FILES, Book, Entry, Place, book, standard_folder
from netcheck.parts.specs import Figure

_CITED = ("source", "sure", "note")


class ReverseLimit(Struct, frozen=True):
    """Volts backwards for a short while: a share of the rated volts, at most `most_V`, at a temperature."""

    temperature_C: float
    share: float
    most_V: float
    figure: Figure


class EsrPoint(Struct, frozen=True):
    """A published series resistance at 100 kHz and room temperature, and the rated ripple where it is published."""

    farad: float
    rated_V: float
    least_ohm: float
    most_ohm: float
    ripple_A: float | None
    figure: Figure


class LossPoint(Struct, frozen=True):
    """The limit of tan δ at 120 Hz for a rating."""

    rated_V: float
    most: float
    figure: Figure


class EslPoint(Struct, frozen=True):
    """Series inductance of a kind of body: radial, axial or chip."""

    body: str
    least_H: float
    most_H: float
    figure: Figure


class BiasPoint(Struct, frozen=True):
    """Share of its capacitance that a ceramic of a case keeps at some direct volts."""

    farad: float
    size: str
    volts_V: float
    left: float
    figure: Figure


class Wear(Struct, frozen=True):
    """Life L = hours · factor^((at_C - T)/step_K), no estimate beyond most_years."""

    hours: float
    at_C: float
    step_K: float
    factor: float
    most_years: float


class Family(Struct, frozen=True, kw_only=True):
    """One family: the head of the library's file says what each figure means. wear: None where hours do not count."""

    name: str
    about: str
    polarised: bool
    burns: bool
    use: float
    use_stiff: float
    stiff_below_ohm_per_V: float
    reverse: tuple[ReverseLimit, ...]
    leakage_per_s: float
    leakage_least_A: float
    leakage_typical: float
    leakage_doubling_K: float
    wear: Wear | None
    ends_capacitance: float
    ends_esr: float
    ripple_rise_K: float | None
    esr: tuple[EsrPoint, ...]
    loss: tuple[LossPoint, ...]
    esr_cold: float
    esl: tuple[EslPoint, ...]
    bias: tuple[BiasPoint, ...]
    temperature_least: float
    temperature_most: float
    figures: tuple[Figure, ...]

    def __hash__(self) -> int:
        return hash(self.name)


class Role(Struct, frozen=True, kw_only=True):
    """What may stand in a place: the new value as a share of the old one, and the families, each refusal with why.

    kept: the value stays, both ways within kept_within. leak_share: error of the final volts that leakage through
    the resistor may make. biggest_F: up to which value one that is not ceramic counts as this role.
    """

    name: str
    about: str
    kept: bool
    kept_within: float
    least: float
    most: float
    may: tuple[str, ...]
    may_not: Mapping[str, str]
    leak_share: float | None
    biggest_F: float | None
    figures: tuple[Figure, ...]


class Start(Struct, frozen=True):
    """The most capacitance that a supply's rail of these volts is made to start."""

    volts_V: float
    most_F: float
    figure: Figure


class Usual(Struct, frozen=True, kw_only=True):
    """What is assumed where nothing is stated."""

    rise_s: float
    threshold: float
    tester_Hz: float
    slow_tester_Hz: float
    tolerance: float
    tester_leads_ohm: float
    charged_V: float
    reservoir_F: float
    backwards_V: float
    stray_F: float
    ratings_V: tuple[float, ...]
    figures: tuple[Figure, ...]


def family_of(name: str, entry: Entry) -> Family:
    """One entry of the library's capacitors."""
    entry.only(
        "about", "aliases", "like", "polarised", "burns", "use", "use_stiff", "stiff_below", "reverse", "leakage",
        "leakage_least", "leakage_typical", "leakage_doubling", "life", "life_at", "life_step", "life_factor",
        "life_most", "ends_capacitance", "ends_esr", "ripple_rise", "esr", "esr_least", "loss", "esr_cold", "esl",
        "bias", "temperature_least", "temperature_most")
    use = entry.value("use", "%")
    return Family(
        name=name, about=entry.text("about"), polarised=_yes(entry, "polarised"), burns=_yes(entry, "burns"),
        use=use, use_stiff=_or(entry.maybe("use_stiff", "%"), use),
        stiff_below_ohm_per_V=entry.maybe("stiff_below", "ohm") or 0.0,
        reverse=_reverse(entry),
        leakage_per_s=entry.value("leakage", ""), leakage_least_A=entry.maybe("leakage_least", "A") or 0.0,
        leakage_typical=entry.value("leakage_typical", "%"),
        leakage_doubling_K=_kelvin(entry, "leakage_doubling"), wear=_wear(entry),
        ends_capacitance=entry.value("ends_capacitance", "%"), ends_esr=entry.value("ends_esr", ""),
        ripple_rise_K=_kelvin(entry, "ripple_rise") if "ripple_rise" in entry.fields else None,
        esr=_esr(entry), loss=_loss(entry), esr_cold=_or(entry.maybe("esr_cold", ""), 1.0),
        esl=_esl(entry), bias=_bias(entry),
        temperature_least=entry.maybe("temperature_least", "%") or 0.0,
        temperature_most=entry.maybe("temperature_most", "%") or 0.0, figures=tuple(entry.figures))


def _or(found: float | None, otherwise: float) -> float:
    return otherwise if found is None else found


def _yes(entry: Entry, key: str) -> bool:
    return entry.text(key, "no", ("yes", "no")) == "yes"


def _kelvin(entry: Entry, key: str) -> float:
    """A difference in kelvin, written "10 K"."""
    text = entry.cited(key)
    number, _, unit = text.partition(" ")
    if unit != "K":
        entry.owner.fault(entry.places[key], text, 'a difference such as "10 K"')
    return entry.read_quantity(number, "", entry.places[key]).value


def _wear(entry: Entry) -> Wear | None:
    if "life_step" not in entry.fields:
        return None
    return Wear(entry.value("life", "h"), entry.value("life_at", "°C"), _kelvin(entry, "life_step"),
                entry.value("life_factor", ""), entry.value("life_most", "year"))


class _Row:
    """One row of a table: its figures by unit, and where they come from."""

    def __init__(self, entry: Entry, place: Place, row: Mapping[str, Any], of: str) -> None:
        self._entry, self._place, self._row = entry, place, row
        self.figure = entry.owner.figure(row.get("source"), row.get("sure"), place, row.get("note", ""), of)
        entry.figures.append(self.figure)

    def value(self, key: str, unit: str) -> float:
        return self._entry.read_quantity(self._row.get(key), unit, (*self._place, key)).value

    def maybe(self, key: str, unit: str) -> float | None:
        return self.value(key, unit) if key in self._row else None

    def text(self, key: str) -> str:
        return str(self._row.get(key, ""))


def _rows(entry: Entry, key: str, fields: tuple[str, ...]) -> list[_Row]:
    return [_Row(entry, place, row, key) for place, row in entry.rows(key, (*fields, *_CITED))]


def _reverse(entry: Entry) -> tuple[ReverseLimit, ...]:
    return tuple(ReverseLimit(row.value("temperature", "°C"), row.value("share", "%"), row.value("most", "V"),
                              row.figure)
                 for row in _rows(entry, "reverse", ("share", "most", "temperature")))


def _esr(entry: Entry) -> tuple[EsrPoint, ...]:
    least = entry.maybe("esr_least", "%") or 1.0
    found = []
    for row in _rows(entry, "esr", ("value", "rated", "least", "most", "ripple")):
        most = row.value("most", "ohm")
        found.append(EsrPoint(row.value("value", "F"), row.value("rated", "V"),
                              _or(row.maybe("least", "ohm"), least * most), most, row.maybe("ripple", "A"), row.figure))
    return tuple(sorted(found, key=lambda point: point.farad * point.rated_V))


def _loss(entry: Entry) -> tuple[LossPoint, ...]:
    return tuple(LossPoint(row.value("rated", "V"), row.value("most", ""), row.figure)
                 for row in _rows(entry, "loss", ("rated", "most")))


def _esl(entry: Entry) -> tuple[EslPoint, ...]:
    return tuple(EslPoint(row.text("size"), row.value("least", "H"), row.value("most", "H"), row.figure)
                 for row in _rows(entry, "esl", ("size", "least", "most")))


def _bias(entry: Entry) -> tuple[BiasPoint, ...]:
    return tuple(BiasPoint(row.value("value", "F"), row.text("size"), row.value("volts", "V"), row.value("left", "%"),
                           row.figure)
                 for row in _rows(entry, "bias", ("value", "size", "volts", "left")))


def _book() -> Book:
    return book(standard_folder() / FILES["capacitor"])


@lru_cache(maxsize=64)
def family(name: str) -> Family | None:
    """A family of the library by name or alias; None for a type that it does not hold, such as "unknown"."""
    shelf = _book()
    entry = shelf.aliases.get(name.casefold())
    return None if entry is None else family_of(entry, shelf.entry(entry))


@lru_cache(maxsize=1)
def family_names() -> tuple[str, ...]:
    return _book().names


def _section(name: str) -> Mapping[str, Any]:
    found = _book().top.get(name)
    if not isinstance(found, dict):
        _book().fault((name,), name, "a mapping")
    return found


def _taken(section: str, name: str) -> Entry:
    """One entry of a section, what it takes over from another (`like`) filled in."""
    shelf, every = _book(), _section(section)
    own = dict(every[name])
    places: dict[str, Place] = {key: (section, name, key) for key in own}
    like = own.pop("like", None)
    if like is not None:
        for key, value in every[like].items():
            if key not in own:
                own[key], places[key] = value, (section, like, key)
    return Entry(shelf, own, places, (section, name))


@lru_cache(maxsize=32)
def role(name: str) -> Role:
    """What may stand in a place of this name."""
    entry = _taken("roles", name)
    entry.only("about", "least", "most", "kept", "kept_within", "may", "may_not", "leak_share", "biggest")
    kept = _yes(entry, "kept")
    may = entry.fields.get("may", [])
    may_not = entry.fields.get("may_not", {})
    for named in (*may, *may_not):
        if family(named) is None:
            entry.owner.fault(entry.path, named, "a family of this file", family_names())
    return Role(
        name=name, about=entry.text("about"), kept=kept,
        kept_within=entry.value("kept_within", "%") if kept else 0.0,
        least=1.0 if kept else entry.value("least", "%"), most=1.0 if kept else entry.value("most", "%"),
        may=tuple(may), may_not=dict(may_not), leak_share=entry.maybe("leak_share", "%"),
        biggest_F=entry.maybe("biggest", "F"), figures=tuple(entry.figures))


@lru_cache(maxsize=1)
def role_names() -> tuple[str, ...]:
    return tuple(_section("roles"))


@lru_cache(maxsize=1)
def starts() -> tuple[Start, ...]:
    """What supplies are made to start, by the volts of the rail."""
    shelf = _book()
    entry = Entry(shelf, {"starts": shelf.top.get("starts", [])}, {"starts": ("starts",)}, ("starts",))
    return tuple(Start(row.value("volts", "V"), row.value("most", "F"), row.figure)
                 for row in _rows(entry, "starts", ("volts", "most")))


@lru_cache(maxsize=1)
def usual() -> Usual:
    own = dict(_section("usual"))
    entry = Entry(_book(), own, {key: ("usual", key) for key in own}, ("usual",))
    entry.only("rise", "threshold", "tester", "slow_tester", "tester_leads", "charged", "reservoir", "stray",
               "tolerance", "backwards", "standard")
    return Usual(
        rise_s=entry.value("rise", "s"), threshold=entry.value("threshold", "%"),
        tester_Hz=entry.value("tester", "Hz"), slow_tester_Hz=entry.value("slow_tester", "Hz"),
        tolerance=entry.value("tolerance", "%"), tester_leads_ohm=entry.value("tester_leads", "ohm"),
        charged_V=entry.value("charged", "V"), reservoir_F=entry.value("reservoir", "F"),
        backwards_V=entry.value("backwards", "V"), stray_F=entry.value("stray", "F"),
        ratings_V=tuple(float(word) for word in entry.cited("standard").split()), figures=tuple(entry.figures))


@lru_cache(maxsize=8)
def cautions(subject: str) -> tuple[tuple[str, Figure], ...]:
    """What whoever works on capacitors has to know: wet, tantalum, charged, mains; each with its source."""
    lines = _section("cautions").get(subject, [])
    entry = Entry(_book(), {subject: lines}, {subject: ("cautions", subject)}, ("cautions",))
    return tuple((row.text("text"), row.figure) for row in _rows(entry, subject, ("text",)))
