"""The write-up as one self-contained HTML page: nothing is fetched, and the one script only copies what is shown."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Mapping

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from netcheck.reports.document import Document, flat, form

_SEVERITY_WORDS: Mapping[str, str] = {
    "danger": "Danger", "unknown": "Unknown", "fails": "Fails", "caution": "Caution", "note": "Note", "ok": "OK",
}


def page(document: Document) -> str:
    """The page. All text is escaped; drawings are inline SVG, plots and photographs data URIs."""
    environment = Environment(
        loader=PackageLoader("netcheck.reports"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )
    environment.filters.update(inline=_inline, picture=_picture, severity=_SEVERITY_WORDS.__getitem__, form=form,
                               flat=flat)
    script = Markup(environment.loader.get_source(environment, "copy.js")[0]) if environment.loader else Markup()
    return environment.get_template("page.html.j2").render(
        doc=document, script=script, script_hash=_hashed(script)).lstrip() + "\n"


def _hashed(script: str) -> str:
    """What the page's policy lets run: this script and nothing else (Content Security Policy Level 3, W3C, 8.3)."""
    return "sha256-" + base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii")


def _inline(svg: str) -> Markup:
    """A drawing of our own making, whose user text is escaped already, without its XML prologue."""
    return Markup(svg[svg.index("<svg"):])


def _picture(svg: str) -> Markup:
    """A plot as an image of its own, so that its style and names stay apart from the page's."""
    title, words = (re.search(f"<{tag}[^>]*>(.*?)</{tag}>", svg, re.DOTALL) for tag in ("title", "desc"))
    said = ". ".join(found[1] for found in (title, words) if found is not None)
    data = base64.b64encode(svg.encode()).decode("ascii")
    return Markup(f'<img class="plot" alt="{said}" src="data:image/svg+xml;base64,{data}">')
