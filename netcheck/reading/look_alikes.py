"""Names that look alike and are not the same: a Cyrillic С in CELL would make another net of it, in silence.

Two names are compared by their skeleton (Unicode Technical Standard 39, "Unicode Security Mechanisms", section 4,
with compatibility normalisation and without characters that nobody sees), so that what the eye takes for one name
is told where the text holds two.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable, Mapping
from functools import cache

from netcheck.fragment.model import Mark
from netcheck.reading.mistakes import MOST_TOLD, Faults

# Unicode Character Database, DerivedCoreProperties.txt, Default_Ignorable_Code_Point; U+2800, a Braille cell without a
# dot, looks like a space.
_IGNORABLE = (
    (0x00AD, 0x00AD), (0x034F, 0x034F), (0x061C, 0x061C), (0x115F, 0x1160), (0x17B4, 0x17B5), (0x180B, 0x180F),
    (0x200B, 0x200F), (0x202A, 0x202E), (0x2060, 0x206F), (0x2800, 0x2800), (0x3164, 0x3164), (0xFE00, 0xFE0F),
    (0xFEFF, 0xFEFF), (0xFFA0, 0xFFA0), (0xFFF0, 0xFFF8), (0x1BCA0, 0x1BCA3), (0x1D173, 0x1D17A),
    (0xE0000, 0xE0FFF),
)
# The prototypes of letters and digits of ASCII (UTS 39, confusables.txt); a test holds them to the library's table.
_ASCII = str.maketrans({"0": "O", "1": "l", "I": "l", "|": "l", "m": "rn", "`": "'"})


def invisible(text: str) -> str | None:
    """The first character of a text that nobody sees (ignorable, a format or a control character), or None.

    >>> invisible("CE\\u00adLL")
    '\\xad'
    """
    if text.isascii():
        return next((one for one in text if not (one.isprintable() or one in "\n\t")), None)
    return next((one for one in text if _unseen(one)), None)


def skeletons(name: str) -> frozenset[str]:
    """What a name looks like: two names that share a skeleton are told apart by no eye.

    With compatibility normalisation and without, which makes a sigma of a lunate one before its shape is looked up.

    >>> skeletons("\u0421ELL") == skeletons("CELL"), skeletons("VCC1") == skeletons("VCCl")
    (True, True)
    >>> skeletons("\u03f9ELL") & skeletons("CELL") == skeletons("CELL")
    True
    """
    if name.isascii():
        return frozenset((name.translate(_ASCII),))
    return frozenset(_shaped(unicodedata.normalize(form, name)) for form in ("NFD", "NFKC"))


def _shaped(name: str) -> str:
    seen = "".join(one for one in name if not _unseen(one))
    prototypes = _prototypes()
    told = "".join(prototypes.get(one, one) for one in unicodedata.normalize("NFD", seen))
    return unicodedata.normalize("NFD", told).translate(_ASCII)


def refuse_look_alikes(names: Iterable[str], what: str, place: Callable[[str], Mark], faults: Faults) -> None:
    """Every name that looks like an earlier one is a mistake; place: where a name stands first."""
    first: dict[str, str] = {}
    told = 0
    for name in names:
        others = [first.setdefault(shape, name) for shape in sorted(skeletons(name))]
        other = next((one for one in others if one != name), name)
        if other != name and told < MOST_TOLD:
            told += 1
            faults.add(place(name), name,
                       f"{what} that cannot be taken for another: {other} in line {place(other).line}",
                       hint=f"{_told_apart(name, other)}; write one of them the same, or otherwise")


def _unseen(one: str) -> bool:
    point = ord(one)
    return (any(low <= point <= high for low, high in _IGNORABLE)
            or (unicodedata.category(one) in ("Cc", "Cf", "Co", "Cs", "Zl", "Zp") and one not in "\n\t"))


def _told_apart(name: str, other: str) -> str:
    """The characters in which two names differ, with their code points."""
    pairs = [(a, b) for a, b in zip(name, other, strict=False) if a != b] if len(name) == len(other) else []
    if not pairs:
        return f"{_points(name)} is not {_points(other)}"
    a, b = pairs[0]
    return f"{_named(a)} is not {_named(b)}"


def _named(one: str) -> str:
    return f"{one} (U+{ord(one):04X} {unicodedata.name(one, 'without a name')})"


def _points(name: Iterable[str]) -> str:
    return " ".join(f"U+{ord(one):04X}" for one in name)


@cache
def _prototypes() -> Mapping[str, str]:
    """Character to prototype, from the library's table, which pairs each character with every look-alike."""
    from confusable_homoglyphs.confusables import confusables_data

    pairs = {one: [_bare(entry["c"]) for entry in entries]
             for one, entries in confusables_data.items() if len(one) == 1}
    found = {}
    for one, others in pairs.items():
        if len(others) != 1:  # a prototype is paired with all that look like it
            continue
        (other,) = others
        symmetric = len(other) == 1 and len(pairs.get(other, ())) == 1
        if not symmetric or other < one:
            found[one] = other
    return found


def _bare(text: str) -> str:
    return text.strip("\u200e")
