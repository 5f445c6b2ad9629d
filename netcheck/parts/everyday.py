"""Parts by the words that people use for them: "glass diode", "barrel pack", "electrolytic", "battery"."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from netcheck.parts.builders import Known
from netcheck.parts.catalogue import KINDS, Catalogue

_MEANS: Mapping[str, tuple[str, ...]] = {
    "battery": ("cell",), "batteries": ("cell",), "accumulator": ("rechargeable",), "accu": ("rechargeable",),
    "barrel": ("nickel",), "pack": ("nickel", "pack"), "coin": ("coin", "cr2", "cr1", "br2", "br1"),
    "button": ("coin", "cr2", "cr1", "br2", "br1"), "ram": ("ram", "memory"),
    "memory": ("memory", "ram"), "clock": ("clock",), "rtc": ("clock", "rtc"), "fet": ("channel",),
    "mosfet": ("channel",), "electrolytic": ("electrolytic", "wet"), "ceramic": ("ceramic", "x7r", "c0g"),
    "supercap": ("supercapacitor",), "goldcap": ("supercapacitor",), "led": ("led",),
    "nicad": ("nickel cadmium",), "nicd": ("nickel cadmium", "nicd"), "nimh": ("nickel metal", "nimh"),
    "smd": ("sot 23", "sot 323", "sod ", "melf", "dfn"), "leaded": ("axial", "to 92", "to 18", "to 220"),
}
"""What an everyday word may stand as in an entry. Words that are not here stand for themselves."""

_KINDS: Mapping[str, str] = {
    "battery": "cell: CR2032", "pack": "cell: NiCd-3x60", "barrel pack": "cell: NiCd-3x60",
    "battery pack": "cell: NiCd-3x60", "accumulator": "cell: NiCd-3x60", "coin cell": "cell: CR2032",
    "lithium": "cell: CR2032", "supercap": "cell: {chemistry: supercapacitor, …}",
    "glass diode": "diode: 1N4148", "schottky": "diode: BAT85", "zener": "diode: {zener: 5.1 V}",
    "led": "diode: {family: led, …}", "rectifier": "diode: 1N4001", "electrolytic": "capacitor: 10u, type: wet",
    "elko": "capacitor: 10u, type: wet", "tantalum": "capacitor: 10u, type: tantalum",
    "ceramic": "capacitor: 100n, type: X7R", "cap": "capacitor: 100n", "ferrite": "inductor: bead",
    "bead": "inductor: bead", "coil": "inductor: 10u", "choke": "inductor: 10u", "link": "resistor: 0",
    "wire": "resistor: 0", "header": "jumper: [A, B]", "plug": "connector: unknown", "socket": "connector: unknown",
    "pot": "trimmer: 10k", "potentiometer": "trimmer: 10k", "mosfet": "transistor: 2N7000",
    "fet": "transistor: 2N7000", "npn": "transistor: npn", "pnp": "transistor: pnp", "memory": "load: SRAM-62256",
    "ram": "load: SRAM-62256", "sram": "load: SRAM-62256", "clock": "load: 2 uA", "ic": "chip: name",
    "supply": "rails: {+5V: 5 V ±5%}",
}
"""How a part is written in a fragment whose kind somebody gave by an everyday word."""

_TYPES: Mapping[str, str] = {
    "electrolytic": "wet", "aluminium": "wet", "aluminum": "wet", "elko": "wet", "ceramic": "X7R", "mlcc": "X7R",
    "npo": "C0G", "np0": "C0G", "tant": "tantalum", "foil": "film", "poly": "polymer", "solid": "polymer",
}


def answer(word: str) -> str:
    """How the kind that an everyday word means is written; empty where the word is not known.

    >>> answer("Electrolytic")
    'Electrolytic is written "capacitor: 10u, type: wet"'
    """
    clean = " ".join(word.casefold().split())
    meant = _KINDS.get(clean) or _KINDS.get(clean.removesuffix("s"))
    return f'{word} is written "{meant}"' if meant else ""


def meant(word: str, words: Iterable[str]) -> str:
    """That of the words (types of a capacitor, say) which an everyday word means; empty where none is.

    >>> meant("electrolytic", ["wet", "film"])
    'wet'
    """
    found = _TYPES.get(word.casefold(), "")
    return found if found in words else ""


def find(catalogue: Catalogue, text: str, kinds: Iterable[str] = KINDS) -> Iterator[tuple[str, Known]]:
    """The entries that all the words of a text fit, each with its kind."""
    wanted = [_MEANS.get(word, _MEANS.get(word.removesuffix("s"), (word, word.removesuffix("s"))))
              for word in text.casefold().replace("-", " ").split()]
    for kind in kinds:
        for spec in catalogue.entries(kind):
            said = _said(catalogue, kind, spec)
            if all(any(one in said for one in word) for word in wanted):
                yield kind, spec


def _said(catalogue: Catalogue, kind: str, spec: Known) -> str:
    """All that an entry is called, in small letters."""
    primary = getattr(spec, "primary", None)
    words = [kind, spec.name, spec.about, *catalogue.aliases(kind, spec.name),
             *(str(getattr(spec, field, None) or "") for field in ("family", "chemistry", "body", "polarity"))]
    if primary is not None:
        words.append("primary" if primary else "rechargeable")
    return " ".join(words).casefold().replace("-", " ") + " " + spec.name.casefold()
