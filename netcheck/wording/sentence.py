"""A sentence with holes for figures and names, and how it is filled.

`{volts_V}` is a figure, said by the unit in its name (`{value}` is value_F as well as value_ohm), `{least_A..most_A}` a
band of two; `{subject}`, `{state}`, `{parts}`, `{nets}` and every entry of `words` are names, many as a list. What
stands in [brackets] is left out where one of its holes has nothing to hold; ⟦these⟧ are said, as [brackets].
A hole that has `choices` holds the text
that belongs to the word (`@_what`: of each item's word). A list of which each item has a phrase of its own has that
under `each`, where @ stands for the item: with `{"loads": "{@} {@_V}"}` the hole `{loads}` becomes "U1 0 V, U2 2.3 V"
of the words loads and the figures loads_0_V and loads_1_V. After a colon stands how it is said:

- a figure: a number of digits; `meter`, as one reads it off; `margin`; `about`; `capacity`, a share of a cell's,
  `alone` where that was just said, `whole` where what it is of follows; of a band
  `against`, a share beside the most that it may be;
- names: `or`, a list with "or"; `plain`, with commas alone; `s`, the ending of the verb ("R1 joins", "R1 and R2 join");
  `plural`, that of the noun; `an`, with its article; `it`, "it" or "them"; `runs`, U1-U3; `capital`; `either`, whole
  phrases ("Remove R1, or remove D3"); `semi` and `row`, phrases of `each` with semicolons or one after the other.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Protocol

from msgspec import Struct, field

from netcheck.quantities import digits
from netcheck.wording import figures
from netcheck.wording.lists import designators, listed

Word = str | tuple[str, ...]
"""A name, or several."""


class Facts(Protocol):
    """What a sentence is made of: which one, figures in SI units with the unit in their names, and names."""

    @property
    def subject(self) -> str: ...
    @property
    def state(self) -> str | None: ...
    @property
    def parts(self) -> tuple[str, ...]: ...
    @property
    def nets(self) -> tuple[str, ...]: ...
    @property
    def figures(self) -> Mapping[str, float]: ...
    @property
    def words(self) -> Mapping[str, Word]: ...


class Given(Struct, frozen=True):
    """Facts of a phrase that is no finding's."""

    subject: str = ""
    state: str | None = None
    parts: tuple[str, ...] = ()
    nets: tuple[str, ...] = ()
    figures: Mapping[str, float] = field(default_factory=dict)
    words: Mapping[str, Word] = field(default_factory=dict)


class Sentence(Struct, frozen=True):
    """What is said of one case, what cures it, and (of a part in a table) the same in a few words.

    choices: hole to the text for each word that it may have, "" where it has none. each: hole to the phrase of each
    item of a list.
    """

    message: str
    advice: str = ""
    short: str = ""
    choices: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    each: Mapping[str, str] = field(default_factory=dict)


Sentences = Mapping[tuple[str, str], Sentence]
"""(check, case) to its sentence."""

_HOLE = re.compile(r"\{(\w+)(?:\.\.(\w+))?(?::(\w+))?\}")
_PERHAPS = re.compile(r"\[([^\[\]]*)\]")


_NONE: Mapping[str, str] = {}


def filled(
    text: str, facts: Facts, choices: Mapping[str, Mapping[str, str]] | None = None, each: Mapping[str, str] = _NONE
) -> str:
    """A text with its holes filled."""
    before, chosen = "", text
    while before != chosen:
        before = chosen
        chosen = _HOLE.sub(lambda hole: _listed(hole, facts, each), chosen)
        chosen = _HOLE.sub(lambda hole: _chosen(hole, facts, choices or {}), chosen)
    before = ""
    while before != chosen:
        before, chosen = chosen, _PERHAPS.sub(lambda group: _kept(group, facts), chosen)
    return _HOLE.sub(lambda hole: _said(hole, facts), chosen).replace("⟦", "[").replace("⟧", "]")


def _chosen(hole: re.Match[str], facts: Facts, choices: Mapping[str, Mapping[str, str]]) -> str:
    item = _OF_AN_ITEM.match(hole[1])
    known = choices.get(hole[1]) or (choices.get(f"@_{item[2]}") if item else None)
    if known is None:
        return hole[0]
    word = facts.words.get(hole[1], "")
    assert isinstance(word, str)
    return known[word].replace("@", item[1]) if item else known[word]


_JOINTS = {"": ", ", "semi": "; ", "or": " or ", "and": " and ", "row": " "}
_OF_AN_ITEM = re.compile(r"^(\w+?_[0-9]+)_(\w+)$")


def _listed(hole: re.Match[str], facts: Facts, each: Mapping[str, str]) -> str:
    items = facts.words.get(hole[1], ())
    if hole[1] not in each or (hole[3] or "") not in _JOINTS or not items:
        return hole[0]
    phrases = (each[hole[1]].replace("@", f"{hole[1]}_{place}") for place, _ in enumerate(items))
    return _JOINTS[hole[3] or ""].join(phrases)


def _kept(group: re.Match[str], facts: Facts) -> str:
    holes = list(_HOLE.finditer(group[1]))
    if not holes:
        return group[0]
    return group[1] if all(_has(name, facts) for hole in holes for name in (hole[1], hole[2]) if name) else ""


def _has(name: str, facts: Facts) -> bool:
    return _key(name, facts) is not None or bool(_names(name, facts))


def _key(name: str, facts: Facts) -> str | None:
    """The figure of this name, or of this name and a unit."""
    if name in facts.figures:
        return name
    return next((key for key in facts.figures if key.rpartition("_")[0] == name), None)


def _names(name: str, facts: Facts) -> Word:
    if name in facts.words:
        return facts.words[name]
    match name:
        case "subject":
            return facts.subject
        case "state":
            return facts.state or ""
        case "parts":
            return facts.parts
        case "nets":
            return facts.nets
    items, _, place = name.rpartition("_")
    return facts.words[items][int(place)] if items in facts.words and place.isdigit() else ""


def _said(hole: re.Match[str], facts: Facts) -> str:
    name, end, how = hole[1], hole[2], hole[3] or ""
    found = _names(name, facts)
    if (name in facts.figures or not found) and (key := _key(name, facts)) is not None:
        value = facts.figures[key]
        top = _key(end, facts) if end else None
        if top is not None and how == "against":
            return digits.against(value, facts.figures[top], "share")
        return figures.figure(key, value, how) if top is None else figures.band(key, value, facts.figures[top], how)
    if not found:
        raise KeyError(f"nothing to say for {{{name}}} in a sentence on {facts.subject}")
    words = (found,) if isinstance(found, str) else found
    match how:
        case "s":
            return "s" if len(words) == 1 else ""
        case "it":
            return "it" if len(words) == 1 else "them"
        case "plural":
            return "" if len(words) == 1 else "s"
        case "an":
            return f"{'an' if words[0][0] in 'aeiou' else 'a'} {words[0]}"
        case "plain":
            return ", ".join(words)
        case "runs":
            return designators(words)
        case "capital":
            return capital(listed(words))
        case "either":
            return capital(", or ".join(words))
    return listed(words, how or "and")


def capital(text: str) -> str:
    """
    >>> capital("remove R1")
    'Remove R1'
    """
    return f"{text[:1].upper()}{text[1:]}"
