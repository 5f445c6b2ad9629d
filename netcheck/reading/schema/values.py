"""Values of a fragment file as pieces of JSON Schema: a text, a word of a few, "4k7", "2.0 V to 5.5 V".

Patterns are ECMA-262 regular expressions made from the very tables of
`units`. They take everything that `values` takes (tests hold them to it) and
refuse nearly all that it refuses; the sense of a value stays with the reader.

An editor reads plain YAML scalars by its own YAML version: `470` reaches the
schema as a number, `on` perhaps as true. So numbers stand where a unit may be
left out, and a text is any scalar.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from msgspec import Struct
from typing_extensions import assert_never

from netcheck.parts.tables import Field, Form, Table
from netcheck.quantities.units import UNITS, suffixes
from netcheck.quantities.values import LETTER_PERCENT
from netcheck.quantities.words import one_of
from netcheck.reading.schema.bounds import within

Schema = dict[str, Any]

_NUMBER = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+\-−]?[0-9]+)?"
_SIGNED = r"[+\-−]?"
_POSITIVE = r"\+?"
_PERCENT = rf"{_SIGNED}{_NUMBER}\s*%"
_LETTERED = ("ohm", "F", "H")  # units whose values may carry a tolerance letter
_LIMIT = r"\s*(?:\b(?:typical|maximum)\b\s*)*"  # where a limit word may stand


def text(about: str, expected: str = "a text") -> Schema:
    """Any scalar that is not empty."""
    return {"description": about, "not": {"type": ["object", "array", "null"]}, "pattern": r"\S",
            "patternErrorMessage": f"expected {expected}"}


def written(about: str, pattern: str, expected: str, *, numbers: bool = False) -> Schema:
    """A text of a certain form; `numbers`: which may look like a number."""
    return {"description": about, "type": ["string", "number"] if numbers else "string", "pattern": pattern,
            "errorMessage": f"expected {expected}"}


def word(about: str, words: Iterable[str]) -> Schema:
    """One of a few words."""
    return {"description": about, "enum": list(words)}


def yes_or(other: str, about: str) -> Schema:
    """`yes` or another word; true and false are what an editor of YAML 1.1 makes of yes and no."""
    values = [True, False] if other == "no" else [True]
    return {"description": about, "anyOf": [
        {"enum": ["yes", other]},
        {"not": {"not": {"enum": values}}},  # twice, so that editors accept them but do not offer them
    ]}


def suggested(names: Mapping[str, str], about: str) -> Schema:
    """Any text, the names (each with what it is) offered."""
    return {"description": about, "anyOf": [
        *([{"enum": list(names), "enumDescriptions": list(names.values())}] if names else []),
        text(about),
    ]}


class Bounds(Struct, frozen=True):
    """Both included; infinite where there is none."""

    least: float = -math.inf
    most: float = math.inf

    @property
    def keywords(self) -> dict[str, float]:
        """What they are for a plain number."""
        return {name: bound for name, bound in (("minimum", self.least), ("maximum", self.most))
                if math.isfinite(bound)}


ANY = Bounds()


def of_field(known: Field) -> Schema:
    """What a field of a table of `parts.tables` may say; a table of its own is not described here."""
    bounds = Bounds(known.least, known.most)
    match known.form:
        case Form.NUMBER:
            return _value(known.unit, known.about, _one(known.unit, bounds), bounds)
        case Form.BAND:
            return _value(known.unit, known.about, _with_tolerance(known.unit, bounds), bounds)
        case Form.RANGE:
            return span(known.unit, known.about, bounds)
        case Form.WORD:
            return word(known.about, known.words)
        case Form.TEXT:
            return text(known.about)
        case Form.TABLE:
            return {"description": known.about}
        case _:
            assert_never(known.form)


def of_table(table: Table) -> dict[str, Schema]:
    """Every field of a table, old spellings too."""
    return {name: of_field(known) for known in table.values() for name in (known.name, *known.also)}


def number(unit: str, about: str, least: float | None = None, most: float | None = None) -> Schema:
    """A value without tolerance."""
    bounds = _bounds(least, most)
    return _value(unit, about, _one(unit, bounds), bounds)


def quantity(unit: str, about: str, least: float | None = None, most: float | None = None) -> Schema:
    """A value with or without tolerance."""
    bounds = _bounds(least, most)
    return _value(unit, about, _with_tolerance(unit, bounds), bounds)


def _bounds(least: float | None, most: float | None) -> Bounds:
    return Bounds(-math.inf if least is None else least, math.inf if most is None else most)


def span(unit: str, about: str, bounds: Bounds = ANY) -> Schema:
    """A range, an end of one, or a value with its band."""
    end = rf"(?:{_one(unit, bounds)}|{_plain(bounds)})"
    pattern = (
        rf"(?:below|under|up to|at most|less than|<=|≤|<|above|over|at least|more than|>=|≥|>)\s*{end}"
        rf"|(?:from\s+|between\s+)?{end}"
        rf"(?:\s+to\s+|\s+and\s+|\s*\.\.\.?\s*|\s*…\s*|\s*–\s*|\s+[\-−]\s+){end}"
        rf"|{_with_tolerance(unit, bounds)}"
    )
    return _value(unit, about, pattern, bounds)


def leakage(about: str) -> Schema:
    """A reverse current at a voltage: "25 nA at 20 V", "1 uA maximum at 20 V at 60 °C"."""
    r = _LIMIT
    pattern = (rf"{r}{_one('A')}{r}\s+at\s+{r}{_one('V')}{r}"
               rf"(?:\s+at\s+{r}{_one('°C')}{r})?")
    return written(about, _whole(pattern), 'a reverse current at a voltage, such as "25 nA at 20 V"')


def draw(about: str) -> Schema:
    """A supply current: "2 uA", "2 uA at 3 V", "2 uA / 5 uA at 3 V"."""
    r = _LIMIT
    pattern = (rf"{r}(?:{_with_tolerance('A', Bounds(0.0))}|{_one('A')}\s*/\s*{_one('A')}){r}"
               rf"(?:\s+at\s+{r}{_one('V')}{r})?")
    return written(about, _whole(pattern), 'a supply current such as "2 uA" or "2 uA at 3 V"', numbers=True)


def life(about: str) -> Schema:
    """Hours at a temperature: "2000 h at 105 °C"."""
    pattern = rf"{_one('h', Bounds(0.0))}\s+at\s+{_one('°C')}"
    return written(about, _whole(pattern), 'a life such as "2000 h at 105 °C"')


def one_or_list(item: Schema, least: int = 0) -> Schema:
    """A list of items, or a single item in place of one."""
    return {"anyOf": [item, listing(item, least)]}


def listing(item: Schema, least: int = 0, most: int | None = None) -> Schema:
    """A list of items."""
    bounds = {"minItems": least} if most is None else {"minItems": least, "maxItems": most}
    return {"type": "array", "items": item, **bounds}


def row(*items: Schema, least: int) -> Schema:
    """A short list whose places mean different things; the last ones may be left out."""
    return {"type": "array", "prefixItems": list(items), "items": False, "minItems": least}


def mapping(about: str, keys: Mapping[str, Schema], required: Iterable[str] = (), **more: Any) -> Schema:
    """A mapping with these keys and no others."""
    return {"description": about, "type": "object", "properties": dict(keys), "required": list(required),
            "additionalProperties": False, **more}


def named(about: str, value: Schema, least: int = 0, names: str | None = None) -> Schema:
    """A mapping of names of the person's own to values; where it may be empty, also nothing at all."""
    keys = {} if names is None else {"propertyNames": {"pattern": names}}
    return {"description": about, "type": "object" if least else ["object", "null"],
            "additionalProperties": value, "minProperties": least, **keys}


def exactly_one(words: Iterable[str]) -> list[Schema]:
    """For `oneOf`: a mapping with one of these keys."""
    known = list(words)
    return [{"required": [key], "errorMessage": f"expected exactly one of {one_of(known)}"} for key in known]


def _value(unit: str, about: str, pattern: str, bounds: Bounds) -> Schema:
    known = UNITS[unit]
    types = ["string", "number"] if known.bare else ["string"]
    value: Schema = {"type": types, "pattern": _whole(pattern), **bounds.keywords}
    if not known.bare and bounds.least <= 0 <= bounds.most:  # nought needs no unit
        value = {"anyOf": [value, {"const": 0}]}
    expected = f"{known.what} such as {known.examples}"
    return {"description": f"{about}: {expected}", "errorMessage": f"expected {expected}", **value}


def _whole(pattern: str) -> str:
    return rf"^\s*(?:{pattern})\s*$"


def _one(unit: str, bounds: Bounds = ANY, lettered: bool = False) -> str:
    """A single value: digits with a unit, or an RKM code; `lettered`: perhaps with a tolerance letter.

    Plain decimals are held to the bounds; exponents and codes only to their sign, the rest is the reader's.
    """
    known = UNITS[unit]
    sign = _SIGNED if bounds.least < 0 else _POSITIVE
    if unit == "":
        return _plain(bounds)
    names = _any([*(name for name in known.names if name),
                  *(name.replace("Ω", "\u2126") for name in known.names if "Ω" in name)])
    letter = rf"(?:\s*[{''.join(LETTER_PERCENT)}])?" if lettered and unit in _LETTERED else ""
    plain = _any(f"{_plain(bounds, factor)}{_suffix(spellings)}{letter if spellings != ('',) else ''}"
                 for factor, spellings in _suffixes(unit))
    if not known.bare:
        return rf"(?:{plain}|{sign}0+(?:\.0*)?)"
    if known.rkm is None:
        return plain
    letters = "".join(known.rkm) + ("\u2126" if "Ω" in known.rkm else "")
    return rf"(?:{plain}|{sign}[0-9]*[{letters}][0-9]+(?:\s*{names})?{letter})"


def _suffixes(unit: str) -> list[tuple[float, tuple[str, ...]]]:
    """Factor to all that may stand after a number for it, the empty one among them where a unit may be left out."""
    spelt: dict[float, list[str]] = {}
    for suffix, factor in suffixes(unit).items():
        spelt.setdefault(factor, []).extend([suffix, *([suffix.replace("Ω", "\u2126")] if "Ω" in suffix else [])])
    return [(factor, tuple(names)) for factor, names in spelt.items()]


def _suffix(spellings: tuple[str, ...]) -> str:
    said = [re.escape(name).replace("/", "/") for name in sorted(filter(None, spellings), key=len, reverse=True)]
    return rf"(?:\s*(?:{'|'.join(said)})){'?' if '' in spellings else ''}" if said else ""


def _plain(bounds: Bounds, factor: float = 1.0) -> str:
    """A number whose value times the factor lies within the bounds."""
    least, most = bounds.least, bounds.most
    if bounds == ANY:
        return _SIGNED + _NUMBER
    signs = []
    if most >= 0:
        signs.append(rf"\+?(?:{_held(max(0.0, least), most, factor)})")
    if least < 0:
        signs.append(rf"[\-−](?:{_held(max(0.0, -most), -least, factor)})")
    return _any(signs)


_DECIMAL = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)"


def _held(least: float, most: float, factor: float) -> str:
    scale = Decimal(repr(factor))
    bounds = (None if math.isinf(bound) else Decimal(repr(bound)) / scale for bound in (least, most))
    return rf"{within(*bounds)}{_DECIMAL}|{_DECIMAL}[eE][+\-−]?[0-9]+"


def _with_tolerance(unit: str, bounds: Bounds = ANY) -> str:
    band = rf"(?:±|\+/[\-−]|\+[\-−])\s*(?:{_PERCENT}|{_one(unit)})"
    lopsided = r"\+\s*[0-9.]+\s*%?\s*/?\s*[\-−]\s*[0-9.]+\s*%"
    return rf"{_one(unit, bounds, lettered=True)}(?:\s*{band}|\s*{lopsided}|\s+[0-9.]+\s*%)?"


def _any(words: Iterable[str]) -> str:
    return f"(?:{'|'.join(dict.fromkeys(words))})"
