"""Cures as YAML that can be pasted as it stands under `mods:`, with a name, the mod it follows, free designators."""

from __future__ import annotations

from netcheck.checks.cures import remedy_words
from netcheck.conduction.remedies import Remedy
from netcheck.fragment.model import Fragment
from netcheck.fragment.written import mod_text
from netcheck.reports.blocks import Pasted
from netcheck.reports.vocabulary import sentence


def pasted(remedy: Remedy, fragment: Fragment) -> Pasted:
    """A cure of a variant as a mod of its own, which comes after that variant."""
    words = remedy_words(remedy)
    return Pasted(sentence(words), mod_text(_slug(words), remedy.steps, fragment))


def _slug(words: str) -> str:
    """
    >>> _slug("put a blocking diode in BT1's plus lead")
    'blocking-diode-in-BT1-plus'
    """
    plain = words.replace("Ω", "ohm").replace("µ", "u").split()
    kept = [word.removesuffix("'s").strip(",.;:") for word in plain if word not in _SMALL]
    return "-".join(kept)[:40]


_SMALL = ("a", "an", "the", "of", "and", "put", "lead")
