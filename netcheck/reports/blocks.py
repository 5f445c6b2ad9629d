"""What a report is made of before it is a screen, a page or Markdown: a section yields blocks, each form shows them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from msgspec import Struct

from netcheck.checks.results import VariantResult
from netcheck.fragment.model import Fragment


class Words(Struct, frozen=True):
    """A paragraph; on the screen what follows its first line is set in by `hang` more blanks."""

    text: str
    hang: int = 0


class Heading(Struct, frozen=True):
    """A heading below the section's own."""

    text: str


class Bullets(Struct, frozen=True):
    """A list without order."""

    items: tuple[str, ...]


class Table(Struct, frozen=True):
    """Rows under heads. The first column tells what a row is of; the others are figures unless `worded`.

    Where the screen is too narrow for all the columns, they follow below each other.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    worded: bool = False


class Pairs(Struct, frozen=True):
    """What each figure is of, and the figure."""

    rows: tuple[tuple[str, str], ...]


class Pasted(Struct, frozen=True):
    """Text that is to be copied as it stands, such as the YAML of a mod; the page has a button for it."""

    title: str
    text: str


class Picture(Struct, frozen=True):
    """A picture as SVG with its title; the screen shows `words` in its place (nothing where they are empty)."""

    title: str
    svg: str
    words: str = ""


Block = Words | Heading | Bullets | Table | Pairs | Pasted | Picture


class Section(Struct, frozen=True):
    """One question answered for a variant. `key` is its anchor on the page; without blocks it is left out.

    once: told of the last variant only, not of each one. page: shown on the page and in Markdown too.
    """

    key: str
    title: str
    blocks: Callable[[VariantResult, Fragment], Iterable[Block]]
    once: bool = False
    page: bool = True


class Filled(Struct, frozen=True):
    """A section with what it says."""

    key: str
    title: str
    blocks: tuple[Block, ...]


def filled(
    sections: Sequence[Section], result: VariantResult, fragment: Fragment, *, last: bool = True, page: bool = False
) -> tuple[Filled, ...]:
    """The sections that have something to say of a variant. last: whether it is the one asked for."""
    told = (Filled(one.key, one.title, tuple(one.blocks(result, fragment)))
            for one in sections if (last or not one.once) and (one.page or not page))
    return tuple(one for one in told if one.blocks)
