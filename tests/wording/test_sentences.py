"""Every case that a check names has its sentence, and no sentence is left over."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import pytest

from netcheck.findings import Finding, Severity
from netcheck.wording.sentence import Sentence
from netcheck.wording.sentences import _PAGES, SENTENCES, _joined

HOME = Path(__file__).resolve().parents[2] / "netcheck"
ROOMS = ("checks", "supply", "capacitors", "bench", "judging.py")


def test_each_case_has_one_sentence():
    assert sum(len(page.SENTENCES) for page in _PAGES) == len(SENTENCES)
    with pytest.raises(ValueError, match="two sentences"):
        _joined({("a", "b"): Sentence("x")}, {("a", "b"): Sentence("y")})


def test_a_case_without_a_sentence_is_no_silent_finding():
    with pytest.raises(KeyError):
        _ = Finding("charge-route", Severity.DANGER, "BT1", "no such case").message


def strings(place: Path) -> set[str]:
    files = [place] if place.suffix else place.rglob("*.py")
    return {node.value for file in files for node in ast.walk(ast.parse(file.read_text("utf-8")))
            if isinstance(node, ast.Constant) and isinstance(node.value, str)}


def test_each_sentence_belongs_to_a_check_and_a_case_that_the_code_names():
    written = set().union(*(strings(HOME / room) for room in ROOMS))
    made = {"too-low", "too-high", "improbable", "milli", "rail-improbable", "rail-milli",
            *(f"{case}-by-cell" for case in written), *(f"counted-{how}" for how in written),
            *(f"marking-{how}" for how in strings(HOME / "parts" / "markings.py"))}
    assert [key for key in SENTENCES if key[0] not in written or key[1] not in written | made] == []


Scope = Mapping[str, Sequence[ast.expr]]


def literals(node: ast.expr | None, scope: Scope) -> set[str | None]:
    """The strings that an expression may be, by what its names are set to nearby; None among them: others, too."""
    match node:
        case ast.Constant(value=str() as text):
            return {text}
        case ast.IfExp(body=one, orelse=other):
            return literals(one, scope) | literals(other, scope)
        case ast.JoinedStr(values=parts):
            found: set[str | None] = {""}
            for part in parts:
                ends = literals(part.value if isinstance(part, ast.FormattedValue) else part, scope)
                found = {None if head is None or end is None else head + end for head in found for end in ends}
            return found
        case ast.Name(id=name) if name in scope:
            return set().union(*(literals(value, scope) for value in scope[name]))
    return {None}


def set_in(body: Iterable[ast.AST]) -> dict[str, list[ast.expr]]:
    """What names are set to, one by one or several at once."""
    found: dict[str, list[ast.expr]] = {}

    def note(target: ast.expr, value: ast.expr) -> None:
        if isinstance(target, ast.Name):
            found.setdefault(target.id, []).append(value)
        elif isinstance(target, ast.Tuple) and isinstance(value, ast.IfExp):
            note(target, value.body)
            note(target, value.orelse)
        elif isinstance(target, ast.Tuple):
            values = value.elts if isinstance(value, ast.Tuple) else [ast.Constant(None)] * len(target.elts)
            for one, other in zip(target.elts, values, strict=True):
                note(one, other)

    for node in body:
        if isinstance(node, ast.Assign):
            for target in node.targets:
                note(target, node.value)
    return found


def cases_named(text: str) -> set[tuple[str, str]]:
    """Check and case of every Finding that a file makes, as far as they are written there."""
    tree = ast.parse(text)
    everywhere, found = set_in(tree.body), set()
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef):
            continue
        scope = {**everywhere, **set_in(ast.walk(function))}
        for call in ast.walk(function):
            if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "Finding":
                given = {word.arg: word.value for word in call.keywords}
                checks = literals(call.args[0] if call.args else given.get("check"), scope)
                cases = literals(given.get("case") or next(iter(call.args[3:4]), None), scope)
                found |= {(check, case) for check in checks for case in cases if check and case}
    return found


def test_what_a_finding_may_be_is_read_from_its_code():
    text = ("CHECK = 'leak'\ndef one(bad):\n    grave, case = (1, 'a') if bad else (2, 'b')\n"
            "    return Finding(CHECK if bad else 'life', grave, 'U1', case=case), Finding('x', 1, 's', f'a-{why}')\n")
    assert cases_named(text) == {("leak", "a"), ("leak", "b"), ("life", "a"), ("life", "b")}


def test_every_case_that_a_finding_names_has_its_sentence():
    """A case that is given in another place (`harm.case`) is not seen here; the tests of its file say it."""
    named = set().union(*(cases_named(file.read_text("utf-8")) for file in HOME.rglob("*.py")))
    assert len(named & SENTENCES.keys()) > len(SENTENCES) / 2
    assert named - SENTENCES.keys() == {("over-current", "cell-drained")}  # through a load it is no drain


def test_no_sentence_holds_a_figure_of_its_own():
    """Digits in a sentence are examples of what to write (after a colon or "for example"), or part of a name."""
    loose = []
    for key, said in SENTENCES.items():
        texts = [said.message, said.short, *said.each.values(), *(t for c in said.choices.values() for t in c.values())]
        loose += [(key, text) for text in texts if re.search(r"[0-9]", re.sub(r"\{[^}]*\}", "", text))]
    assert [key for key, _ in loose] == [("back-feed", "made-rail")]  # "pulls it near 0 V": no figure of the board
