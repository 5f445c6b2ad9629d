"""The rooms that decide return figures and names: none of them makes a figure into text."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

HOME = Path(__file__).resolve().parents[2] / "netcheck"
ROOMS = ("checks", "supply", "capacitors", "explain", "bench", "diodes", "solving", "conduction")


def formatting(text: str) -> Iterator[str]:
    """Where Python text makes a number into text: the formatters imported, a number's format in an f-string.

    One that is made into a number again at once (float(f"{x:.3g}")) only rounds.
    """
    tree = ast.parse(text)
    rounded = {id(part) for call in ast.walk(tree) if isinstance(call, ast.Call) and ast.unparse(call.func) == "float"
               for part in ast.walk(call)}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("netcheck.quantities"):
            names = {alias.name for alias in node.names}
            if "digits" in names | set((node.module or "").split(".")) or "engineering" in names:
                yield f"line {node.lineno}: {ast.unparse(node)}"
        elif isinstance(node, ast.FormattedValue) and node.format_spec is not None and id(node) not in rounded:
            yield f"line {node.lineno}: {ast.unparse(node)}"


@pytest.mark.parametrize("text", [
    "from netcheck.quantities.values import engineering", "from netcheck.quantities import digits",
    "from netcheck.quantities.digits import volts", "said = f'{value:.2g} V'", "said = f'{share:.1%}'",
])
def test_a_room_that_formats_would_be_seen(text):
    assert list(formatting(text))


def test_rounding_and_names_are_no_text():
    assert not list(formatting("from netcheck.quantities.values import Quantity\nkey = float(f'{value:.3g}')\n"
                               "said = f'{name} open'"))


def test_no_deciding_room_makes_a_figure_into_text():
    found = [f"{file.relative_to(HOME)}, {what}" for room in ROOMS for file in sorted((HOME / room).rglob("*.py"))
             for what in formatting(file.read_text("utf-8"))]
    assert found == [], "give the figures to netcheck/wording/"
