"""The write-up as Markdown, for a wiki or a forum."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Sequence
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined

from netcheck.reports.document import Document, flat, form

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~])")
_LIST = re.compile(r"^([0-9]*)([-+=.)])(?=\s|[-=]*$)")  # what would begin a list or underline a heading


def markdown(document: Document, drawings: Sequence[str] = (), folder: str = "") -> str:
    """The write-up. drawings: the file of each drawing; without them each is given in words.

    Photographs are linked, by the way from the write-up to the `folder` of the
    fragment; plots are left out. All text is escaped.
    """
    environment = Environment(
        loader=PackageLoader("netcheck.reports"), autoescape=False, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True, finalize=_finalized,
    )
    environment.filters.update(target=_target, done=_Done, verbatim=_Done, form=form, flat=flat)
    text = environment.get_template("page.md.j2").render(
        doc=document, drawings=drawings, photos=[posixpath.join(folder, photo.file) for photo in document.photos])
    return re.sub(r"\n{3,}", "\n\n", text).strip() + "\n"


def escaped(text: str) -> str:
    """Text that a Markdown reader shows as it is, on one line.

    >>> escaped("R1 | *hot*")
    'R1 \\\\| \\\\*hot\\\\*'
    """
    line = _SPECIAL.sub(r"\\\1", " ".join(text.split())).replace("&", "&amp;")
    return _LIST.sub(r"\1\\\2", line)


class _Done(str):
    """Text that is written for its place already: the target of a link, a table, what is to be pasted."""


def _target(name: str) -> _Done:
    return _Done(quote(name))


def _finalized(value: object) -> str:
    return value if isinstance(value, _Done) else escaped(str(value))
