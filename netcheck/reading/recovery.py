"""A file with a slip in its YAML is read all the same, so that one tab or missing colon does not hide other mistakes.

The slip is noted, the entry that holds it is left out (or its tab made blanks), and the rest is read. Nothing is ever
accepted this way: the slip stays a mistake, and the file is refused with all its mistakes at once.
"""

from __future__ import annotations

import re

from msgspec import Struct
from msgspec.structs import replace

from netcheck.reading.mistakes import Fault, Faults, FragmentError
from netcheck.reading.yaml_nodes import Node, parse

MOST_SLIPS = 20

_NO_COLON = re.compile(r"\s*(?:- )?(?P<name>[^\s:{}\[\],#\"']+)\s+[{\[]")
_KEY = re.compile(r"\s*(?:- )?(?P<name>[^\s:{}\[\],#\"']+)")
_QUOTED = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'(?:[^']|'')*'|(?<!\S)#.*")


def parse_all(text: str, file: str) -> tuple[Node, Faults]:
    """The tree of a document as far as it can be read, and the mistakes found so far, slips of YAML among them.

    Raises FragmentError where nothing can be read.
    """
    lines = text.split("\n")
    slips: list[Fault] = []
    unread: set[str] = set()
    while True:
        try:
            node, faults = parse("\n".join(lines), file)
        except FragmentError as error:
            mended = [_mend(lines, fault) for fault in error.faults]
            slips += [one.fault for one in mended]
            if len(slips) > MOST_SLIPS or any(one.hopeless for one in mended):
                raise FragmentError(slips) from error
            unread |= {one.left_out for one in mended if one.left_out}
        else:
            faults.found[:0] = slips
            faults.unread = frozenset(unread)
            return node, faults


class _Mended(Struct, frozen=True):
    """A slip, told as well as it can be; left_out: the name of the entry that is not read; hopeless: nothing is."""

    fault: Fault
    left_out: str = ""
    hopeless: bool = False


def _mend(lines: list[str], fault: Fault) -> _Mended:
    """Make `lines` readable where this slip stood."""
    number = fault.line - 1
    if not 0 <= number < len(lines):
        return _Mended(fault, hopeless=True)
    if fault.text == "tab":
        lines[number] = _indent_above(lines, number) + lines[number].lstrip()
        return _Mended(fault)
    if fault.expected == "visible characters":
        lines[number] = lines[number][:fault.column - 1] + " " + lines[number][fault.column:]
        return _Mended(fault)
    if fault.expected != "valid YAML":
        return _Mended(fault, hopeless=True)
    told = _culprit(lines, fault)
    line = lines[told.line - 1]
    name = _KEY.match(line)
    if not line.strip() or not line[:1].isspace() or name is None:
        return _Mended(told, hopeless=True)  # a whole section would be missing
    _leave_out(lines, told.line - 1)
    return _Mended(told, left_out=name["name"])


def _indent_above(lines: list[str], number: int) -> str:
    above = next((line for line in reversed(lines[:number]) if line.strip()), "")
    deeper = "  " if above.rstrip().endswith(":") else ""
    return above[:len(above) - len(above.lstrip())].replace("\t", "  ") + deeper


def _culprit(lines: list[str], fault: Fault) -> Fault:
    """The same slip told at the line that holds it: an open bracket above, a colon that is missing."""
    number = fault.line - 1
    for at in range(number, max(-1, number - _REACH), -1):
        if sign := _open_bracket(lines[at]):
            return replace(fault, line=at + 1, column=len(lines[at].rstrip()) + 1, text=lines[at].strip()[-12:],
                           expected=f"the closing {sign}", hint="", source=lines[at])
        if at < number and lines[at].strip():
            break
    above = _above(lines, number)
    for one in (number, above):
        if one is not None and (found := _NO_COLON.match(lines[one])):
            return _without_colon(fault, lines, one, found, "{…}")
    if above is not None and ":" not in lines[above] and (found := _KEY.match(lines[above])):
        return _without_colon(fault, lines, above, found, "…")
    return fault


def _without_colon(fault: Fault, lines: list[str], number: int, found: re.Match[str], value: str) -> Fault:
    name = found["name"]
    return replace(fault, line=number + 1, column=found.end("name") + 1, text=name,
                   expected=f'a colon after {name}, as in "{name}: {value}"', hint="", source=lines[number])


_REACH = 30


def _above(lines: list[str], number: int) -> int | None:
    return next((at for at in range(number - 1, -1, -1) if lines[at].strip()), None)


def _open_bracket(line: str) -> str:
    """The bracket that a line leaves open, as the sign that would close it; empty where it leaves none.

    >>> _open_bracket("R1: {resistor: 1k, between: [A, B]"), _open_bracket('T: "{"')
    ('}', '')
    """
    waiting: list[str] = []
    for sign in _QUOTED.sub("", line):
        if sign in "{[":
            waiting.append({"{": "}", "[": "]"}[sign])
        elif waiting and sign == waiting[-1]:
            waiting.pop()
    return waiting[-1] if waiting else ""


def _leave_out(lines: list[str], number: int) -> None:
    """Empty a line and what hangs below it, so that all others keep their numbers."""
    depth = len(lines[number]) - len(lines[number].lstrip())
    lines[number] = ""
    for at in range(number + 1, len(lines)):
        if lines[at].strip() and len(lines[at]) - len(lines[at].lstrip()) <= depth:
            break
        lines[at] = ""
