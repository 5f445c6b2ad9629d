"""The screens that a person sees first: every example and mod at three widths, and one in colour, as text files.

`python tests/screens/screens.py` writes them anew. Read the difference (`git diff tests/screens`) before it is
committed: these files are there to be read by a person, and the test beside them only says that they are so.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

from msgspec.structs import replace

from netcheck import api
from netcheck.checks.results import Report
from netcheck.fragment.model import Fragment
from netcheck.reports.screen import coloured
from netcheck.reports.text import report_text, reports_text

HERE = Path(__file__).parent
EXAMPLES = sorted((HERE.parents[1] / "examples").glob("*.yaml"))
WIDTHS = (80, 60, 120)

Checked = tuple[Report, list[Fragment]]


def screens() -> Iterator[tuple[str, str]]:
    """The name of each file, and what it should hold."""
    for path in EXAMPLES:
        for report, variants in checked(path):
            name = f"check-{path.stem}-{variants[-1].variant.replace(' ', '-')}.txt"
            yield name, "\n".join(
                f"{'=' * 10} {width} columns\n{report_text(report, variants, width)}" for width in WIDTHS)
    swap = next(one for one in checked(HERE.parents[1] / "examples" / "rack-sampler.yaml")
                if one[1][-1].variant == "plain-swap")
    yield "check-rack-sampler-plain-swap-in-colour.txt", coloured(report_text(*swap)).replace("\x1b", "<ESC>")
    yield "check-all-examples.txt", "\n".join(
        f"{'=' * 10} {width} columns\n{reports_text([checked(path)[-1] for path in EXAMPLES], 0, width)}"
        for width in WIDTHS)


@cache
def checked(path: Path) -> list[Checked]:
    """The report on each variant of a file, as `check --mod` makes it: beside the circuit as found."""
    fragment = api.load(path)
    report, variants = api.check(fragment, every=True), api.variants(fragment, every=True)
    alone: list[Checked] = [(replace(report, variants=report.variants[:1]), variants[:1])]
    return alone + [(replace(report, variants=(report.variants[0], result)), [variants[0], variant])
                    for result, variant in zip(report.variants[1:], variants[1:], strict=True)]


if __name__ == "__main__":
    wanted = dict(screens())
    for old in HERE.glob("*.txt"):
        if old.name not in wanted:
            old.unlink()
    for name, text in wanted.items():
        (HERE / name).write_text(text, encoding="utf-8")
    print(f"Written: {len(wanted)} screens in tests/screens. Read `git diff tests/screens` before you commit them.")
