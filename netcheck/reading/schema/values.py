"""Values of a fragment file as pieces of JSON Schema: a text, a word of a few, "4k7", "2.0 V to 5.5 V".

Patterns are ECMA-262 regular expressions made from the very tables of
`units`. They take everything that `values` takes (tests hold them to it) and
refuse nearly all that it refuses; the sense of a value stays with the reader.

An editor reads plain YAML scalars by its own YAML version: `470` reaches the
schema as a number, `on` perhaps as true. So numbers stand where a unit may be
left out, and a text is any scalar.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from netcheck.quantities.units import PREFIXES, UNITS
from netcheck.quantities.values import LETTER_PERCENT
from netcheck.quantities.words import one_of

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


def number(unit: str, about: str, least: float | None = None) -> Schema:
    """A value without tolerance; with `least` of 0 or more, one without a minus sign."""
    bounds = {} if least is None else {"minimum": least}
    return _value(unit, about, _one(unit, least is None or least < 0), bounds)


def quantity(unit: str, about: str, above: float | None = None, least: float | None = None) -> Schema:
    """A value with or without tolerance."""
    bounds = {name: bound for name, bound in (("exclusiveMinimum", above), ("minimum", least))
              if bound is not None}
    return _value(unit, about, _with_tolerance(unit, not bounds), bounds)


def span(unit: str, about: str) -> Schema:
    """A range, an end of one, or a value with its band."""
    end = rf"(?:{_one(unit)}|{_SIGNED}{_NUMBER})"
    pattern = (
        rf"(?:below|under|up to|at most|less than|<=|≤|<)\s*{end}"
        rf"|(?:above|over|at least|more than|>=|≥|>)\s*{end}"
        rf"|between\s+{end}\s+and\s+{end}"
        rf"|(?:from\s+)?{end}(?:\s+to\s+|\s*\.\.\.?\s*|\s*…\s*|\s*–\s*|\s+[\-−]\s+){end}"
        rf"|{_with_tolerance(unit)}"
    )
    return _value(unit, about, pattern, {})


def leakage(about: str) -> Schema:
    """A reverse current at a voltage: "25 nA at 20 V", "1 uA maximum at 20 V at 60 °C"."""
    r = _LIMIT
    pattern = (rf"{r}{_one('A')}{r}\s+at\s+{r}{_one('V')}{r}"
               rf"(?:\s+at\s+{r}{_one('°C')}{r})?")
    return written(about, _whole(pattern), 'a reverse current at a voltage, such as "25 nA at 20 V"')


def draw(about: str) -> Schema:
    """A supply current: "2 uA", "2 uA at 3 V", "2 uA / 5 uA at 3 V"."""
    r = _LIMIT
    pattern = (rf"{r}(?:{_with_tolerance('A', False)}|{_one('A')}\s*/\s*{_one('A')}){r}"
               rf"(?:\s+at\s+{r}{_one('V')}{r})?")
    return written(about, _whole(pattern), 'a supply current such as "2 uA" or "2 uA at 3 V"', numbers=True)


def life(about: str) -> Schema:
    """Hours at a temperature: "2000 h at 105 °C"."""
    pattern = rf"{_one('h', False)}\s+at\s+{_one('°C')}"
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


def _value(unit: str, about: str, pattern: str, bounds: Mapping[str, float]) -> Schema:
    known = UNITS[unit]
    types = ["string", "number"] if known.bare else ["string"]
    value: Schema = {"type": types, "pattern": _whole(pattern), **bounds}
    if not known.bare:  # nought needs no unit
        value = {"anyOf": [value, {"const": 0}]}
    expected = f"{known.what} such as {known.examples}"
    return {"description": f"{about}: {expected}", "errorMessage": f"expected {expected}", **value}


def _whole(pattern: str) -> str:
    return rf"^\s*(?:{pattern})\s*$"


def _one(unit: str, signed: bool = True, lettered: bool = False) -> str:
    """A single value: digits with a unit, or an RKM code; `lettered`: perhaps with a tolerance letter."""
    known = UNITS[unit]
    sign = _SIGNED if signed else _POSITIVE
    names = _any([*(name for name in known.names if name),
                  *(name.replace("Ω", "\u2126") for name in known.names if "Ω" in name)])
    suffix = rf"(?:{_any(PREFIXES)}{names}?|{names})" if known.prefixes else names
    letter = rf"(?:\s*[{''.join(LETTER_PERCENT)}])?" if lettered and unit in _LETTERED else ""
    if unit == "":
        return sign + _NUMBER
    if not known.bare:
        return rf"{sign}(?:{_NUMBER}\s*{suffix}|0+(?:\.0*)?)"
    plain = rf"{sign}{_NUMBER}(?:\s*{suffix}{letter})?"
    if known.rkm is None:
        return plain
    letters = "".join(known.rkm) + ("\u2126" if "Ω" in known.rkm else "")
    return rf"(?:{plain}|{sign}[0-9]*[{letters}][0-9]+(?:\s*{names})?{letter})"


def _with_tolerance(unit: str, signed: bool = True) -> str:
    band = rf"(?:±|\+/[\-−]|\+[\-−])\s*(?:{_PERCENT}|{_one(unit)})"
    lopsided = r"\+\s*[0-9.]+\s*%?\s*/?\s*[\-−]\s*[0-9.]+\s*%"
    return rf"{_one(unit, signed, lettered=True)}(?:\s*{band}|\s*{lopsided}|\s+[0-9.]+\s*%)?"


def _any(words: Iterable[str]) -> str:
    return f"(?:{'|'.join(dict.fromkeys(words))})"
