"""The words that all reports use, each idea one word: verdicts, variants, checks, and what a beginner may not know."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from netcheck.checks.results import Proposal
from netcheck.fragment.model import AS_FOUND

VERDICTS: Mapping[str, str] = {
    "danger": "do not power it like this",
    "unknown": "not everything could be worked out, so nothing is promised",
    "fails": "harmless, but it does not do its job",
    "caution": "it works; read the cautions",
    "ok": "nothing against it was found",
}
"""What each verdict means, in a phrase, the worst first."""

MARKS: Mapping[str, str] = {
    "danger": "DANGER", "unknown": "UNKNOWN", "fails": "FAILS", "caution": "CAUTION", "note": "note", "ok": "OK",
}
"""Severities and verdicts as they stand at the head of a line."""

NEVER_CHARGED = "must never be charged"

CAUTIONS = (
    "Lithium primary cells can burst or burn when charged, shorted or soldered on the can.",
    "Leaked electrolyte of nickel and alkaline cells is caustic: gloves and eye cover; rinse, then dry.",
    "The figures rest on typical data and on your trace. Data sheets, local codes and licensed practice "
    "come first; prove each change on the bench with the cell out of its holder.",
)


def variant(name: str) -> str:
    """How a variant is named in a sentence.

    >>> variant("as found"), variant("coin-cell")
    ('as found', 'mod "coin-cell"')
    """
    return name if name == AS_FOUND else f'mod "{name}"'


def variant_title(name: str) -> str:
    """How a variant is named at the head of a line.

    >>> variant_title("as found"), variant_title("coin-cell")
    ('As found', 'Mod "coin-cell"')
    """
    words = variant(name)
    return f"{words[0].upper()}{words[1:]}"


_CHEMISTRIES: Mapping[str, str] = {
    "lithium-thionyl": "a lithium thionyl cell", "alkaline": "an alkaline cell",
}


def primary_cell(chemistry: str) -> str:
    """A cell that is not rechargeable, by its chemistry.

    >>> primary_cell("lithium-primary"), primary_cell("another")
    ('a lithium cell', 'a cell that is not rechargeable')
    """
    if chemistry.startswith("lithium") and chemistry not in _CHEMISTRIES:
        return "a lithium cell"
    return _CHEMISTRIES.get(chemistry, "a cell that is not rechargeable")


GLOSSARY: Mapping[str, str] = {
    "primary cell": "a cell that is not rechargeable, such as a lithium coin cell: " + NEVER_CHARGED,
    "charge route": "a way for current into a cell, through parts that conduct in that direction",
    "leakage": "the little that a diode lets through backwards, more the hotter it is",
    "leaks": "the little that a diode lets through backwards, more the hotter it is",
    "fail short": "the part conducts as a wire would, the way diodes usually die",
    "fail open": "the part conducts no more",
    "hand-over": "the change between supply and cell as what feeds the memory, when the power comes or goes",
    "back-feed": "the cell feeding parts that it is not meant for, such as a rail that is off",
    "floats": "nothing holds the net at a voltage: a meter shows anything there",
    "self-discharge": "what a cell loses by itself, lying in a drawer",
    "end of its curve": "the cell is empty",
    "dropout": "the volts that a regulator needs between input and output to work",
}
"""What a beginner may not know, told once where a text uses it."""


def explained(text: str, known: Collection[str] = ()) -> Iterator[tuple[str, str]]:
    """The words of the glossary that a text uses, in the glossary's order, each explanation once."""
    lower = text.casefold()
    told: set[str] = set(known)
    for word, meaning in GLOSSARY.items():
        if word in lower and meaning not in told:
            told.add(meaning)
            yield word, meaning


def sentence(text: str) -> str:
    """Text that begins with a capital and ends with a stop.

    >>> sentence("remove R1")
    'Remove R1.'
    """
    said = text.strip()
    return said and stopped(f"{said[0].upper()}{said[1:]}")


def stopped(text: str) -> str:
    """Text with a stop at its end."""
    return text if not text or text[-1] in ".?!" else f"{text}."


def counted(number: int, word: str) -> str:
    """
    >>> counted(1, "caution"), counted(3, "note"), counted(2, "fails")
    ('1 caution', '3 notes', '2 fails')
    """
    return f"{number} {word}{'' if number == 1 or word.endswith('s') else 's'}"



def leads_to(proposal: Proposal, before: str) -> str:
    """What a proposed mod leads to, and the gravest of what it leaves where that is more than a caution.

    >>> leads_to(Proposal("", "ok", (), ()), "danger"), leads_to(Proposal("", "danger", (), ()), "danger")
    ('With it the verdict is OK.', 'With it the verdict is still DANGER: it cures a part of it.')
    """
    verdict = f"With it the verdict is {MARKS[proposal.verdict]}."
    if proposal.verdict == before:
        verdict = f"With it the verdict is still {MARKS[before]}: it cures a part of it."
    if proposal.left is None or proposal.verdict == "caution":
        return verdict
    said = proposal.left.message.partition(". ")[0].rstrip(".")
    return f"{verdict} What is left: {said[0].lower() if said[1:2].islower() else said[0]}{said[1:]}."
