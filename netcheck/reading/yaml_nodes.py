"""YAML text to a tree of nodes in which every scalar is a string and everything knows its place.

PyYAML parses; the tree is ours, so that `on`, `0603`, `1:30`, dates and `=`
stay what was written, a key given twice is a mistake, and tags, cyclic
aliases, alias bombs and bottomless nesting are refused.
"""

from __future__ import annotations

import errno
import os
import re
import stat
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Any

import yaml
from msgspec import Struct, field

from netcheck.fragment.model import Mark
from netcheck.reading.look_alikes import invisible
from netcheck.reading.mistakes import MOST_TOLD, Faults, FragmentError

LARGEST_BYTES = 16_000_000
DEEPEST = 24
MOST_ALIASED = 10_000
FREE_TEXT = ("title", "board", "about", "caption", "because", "note")
"""Keys whose text is for people alone; in all others a character that nobody sees is a mistake."""


class Scalar(Struct):
    """A piece of text; `plain` when it was written without quotes."""

    text: str
    mark: Mark
    plain: bool = True


class Listing(Struct):
    items: list[Node]
    mark: Mark


class Mapped(Struct):
    """A mapping: key to value in the order of the file, and the key nodes for their places."""

    entries: dict[str, Node]
    keys: dict[str, Scalar]
    mark: Mark


Node = Scalar | Listing | Mapped


def read_regular(path: str | Path) -> bytes:
    """The bytes of a regular file, up to just over the limit. Raises OSError: a pipe or a device is not waited for."""
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with open(handle, "rb") as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise OSError(errno.EINVAL, "expected an ordinary file, not a folder, pipe or device")
        return file.read(LARGEST_BYTES + 1)


def decode(data: bytes, file: str) -> str:
    """Bytes of a fragment file as text. Raises FragmentError for a file too large or not UTF-8."""
    if len(data) > LARGEST_BYTES:
        faults = Faults(file)
        faults.add(Mark(1, 1), f"{len(data)} bytes", f"a file of at most {LARGEST_BYTES} bytes")
        raise FragmentError(faults.found)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[:error.start].decode("utf-8-sig")
        line = before.count("\n") + 1
        column = len(before) - (before.rfind("\n") + 1) + 1
        byte = data[error.start]
        faults = Faults(file, data.decode("latin-1"))
        hint = "byte 0xB5 is the µ of Latin-1: " if byte == 0xB5 else ""
        faults.add(Mark(line, column), f"byte 0x{byte:02X}", "text in UTF-8",
                   hint=f"{hint}save the file as UTF-8, or write u for µ")
        raise FragmentError(faults.found) from error


def parse(text: str, file: str) -> tuple[Node, Faults]:
    """The tree of one document, and the mistakes found so far (keys given twice).

    Raises FragmentError where the text is no YAML, or holds what a fragment may not hold.
    """
    text = text.removeprefix("\ufeff")
    faults = Faults(file, text)
    if len(text) > LARGEST_BYTES:
        faults.add(Mark(1, 1), f"{len(text)} characters", f"a file of at most {LARGEST_BYTES} bytes")
    else:
        _refuse_invisible(text, faults)
    faults.raise_if_any()
    return _Composer(text.translate(_SPACES), faults).document(), faults


_SPACES = str.maketrans({"\u00a0": " ", "\u2009": " ", "\u202f": " ", "\t": " "})
_INVISIBLE = re.compile(
    "[\u2028\u2029\u0085\u200b-\u200f\u2060\ufeff\u202a-\u202e\u2066-\u2069"  # line separators, zero width, direction
    "\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]"  # control characters, halves of pairs
)
_TABBED = re.compile(r"^ *(\t)[ \t]*[^\s#]", re.MULTILINE)


def _refuse_invisible(text: str, faults: Faults) -> None:
    for found in islice(_INVISIBLE.finditer(text), MOST_TOLD):
        faults.add(_place(text, found.start()), f"U+{ord(found[0]):04X}",
                   "visible characters", hint="delete the invisible character here")
    for found in islice(_TABBED.finditer(text), MOST_TOLD):
        faults.add(_place(text, found.start(1)), "tab", "indentation by spaces")


def _place(text: str, index: int) -> Mark:
    return Mark(text.count("\n", 0, index) + 1, index - (text.rfind("\n", 0, index) + 1) + 1)


class _Anchor(Struct):
    node: Node | None = None  # None while it is still being read
    size: int = 0


class _Composer(Struct):
    text: str
    faults: Faults
    anchors: dict[str, _Anchor] = field(default_factory=dict)
    read: int = 0
    aliased: int = 0

    def document(self) -> Node:
        loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
        try:
            return self._document(yaml.parse(self.text, Loader=loader))
        except yaml.MarkedYAMLError as error:
            at = error.problem_mark or error.context_mark
            mark = Mark(at.line + 1, at.column + 1) if at else Mark(1, 1)
            self._syntax(mark, str(error.problem or error.context))
        except yaml.YAMLError as error:
            self._syntax(Mark(1, 1), str(error))
        except RecursionError:
            self._syntax(Mark(1, 1), "it is nested too deep")
        raise FragmentError(self.faults.found)

    def _document(self, events: Iterator[Any]) -> Node:
        node: Node | None = None
        for event in events:
            if isinstance(event, yaml.DocumentStartEvent):
                if node is not None:
                    self._refuse(event, "---", "a single document", "one file holds one fragment")
                node = self._node(next(events), events, 0)
        if node is None or (isinstance(node, Scalar) and node.text == "" and node.plain):
            self.faults.add(Mark(1, 1), "", "a fragment", hint="the file is empty")
            raise FragmentError(self.faults.found)
        return node

    def _node(self, event: Any, events: Iterator[Any], depth: int) -> Node:
        self.read += 1
        mark = Mark(event.start_mark.line + 1, event.start_mark.column + 1)
        if isinstance(event, yaml.AliasEvent):
            return self._alias(event)
        if event.tag is not None:
            self._refuse(event, event.tag, "no tag", "a text that begins with ! goes in quotes")
        if depth > DEEPEST:
            self._refuse(event, "nesting", f"at most {DEEPEST} levels of nesting")
        anchor = None
        if event.anchor is not None:
            anchor = self.anchors[event.anchor] = _Anchor()
            start = self.read
        node: Node
        if isinstance(event, yaml.ScalarEvent):
            node = Scalar(event.value, mark, event.implicit[0])
        elif isinstance(event, yaml.SequenceStartEvent):
            items: list[Node] = []
            while not isinstance(event := next(events), yaml.SequenceEndEvent):
                items.append(self._node(event, events, depth + 1))
                self._seen(items[-1])
            node = Listing(items, mark)
        else:
            node = self._mapping(mark, events, depth)
        if anchor is not None:
            anchor.node, anchor.size = node, self.read - start + 1
        return node

    def _mapping(self, mark: Mark, events: Iterator[Any], depth: int) -> Mapped:
        entries: dict[str, Node] = {}
        keys: dict[str, Scalar] = {}
        while not isinstance(event := next(events), yaml.MappingEndEvent):
            key = self._node(event, events, depth + 1)
            value = self._node(next(events), events, depth + 1)
            self._seen(key)
            self._seen(value, isinstance(key, Scalar) and key.text in FREE_TEXT)
            if not isinstance(key, Scalar):
                self.faults.add(key.mark, "[…]" if isinstance(key, Listing) else "{…}", "a word as the key")
            elif key.text in entries:
                first = keys[key.text].mark
                self.faults.add(key.mark, key.text, "each key once",
                                hint=f"it is given already in line {first.line}, column {first.column}")
            else:
                entries[key.text], keys[key.text] = value, key
        return Mapped(entries, keys, mark)

    def _seen(self, node: Node, free: bool = False) -> None:
        """A word that names something holds nothing that the eye cannot see, and no text what steers a terminal."""
        if not isinstance(node, Scalar):
            return
        unseen = next(iter(_INVISIBLE.findall(node.text)), None) if free else invisible(node.text)
        if unseen is not None:
            self.faults.add(node.mark, node.text.replace(unseen, "?"), "visible characters",
                            hint=f"U+{ord(unseen):04X} stands where the ? is, and nobody sees it: delete it")

    def _alias(self, event: Any) -> Node:
        name = "*" + event.anchor
        anchor = self.anchors.get(event.anchor)
        if anchor is None:
            self._refuse(event, name, "an alias of something above",
                         f'a name that begins with * goes in quotes: "{name}"')
        elif anchor.node is None:
            self._refuse(event, name, "an alias of something complete", "it would contain itself")
        else:
            self.aliased += anchor.size
            self.read += anchor.size - 1
            if self.aliased > MOST_ALIASED:
                self._refuse(event, name, f"aliases that unfold to at most {MOST_ALIASED} values")
            return anchor.node
        raise FragmentError(self.faults.found)

    def _refuse(self, event: Any, text: str, expected: str, hint: str = "") -> None:
        mark = Mark(event.start_mark.line + 1, event.start_mark.column + 1)
        self.faults.add(mark, text, expected, hint=hint)
        raise FragmentError(self.faults.found)

    def _syntax(self, mark: Mark, problem: str) -> None:
        lines = self.text.splitlines() or [""]
        line = min(mark.line, len(lines))  # the end of the text may lie past its last line
        column = mark.column if line == mark.line else len(lines[line - 1]) + 1
        rest = lines[line - 1][column - 1:].strip()
        hint = problem
        before = lines[line - 1][:column - 1]
        if rest[:1] == ":" and problem.startswith("did not find expected ','") and " " in before.strip():
            word = before.split()[-1]
            hint = f"a comma is missing, it seems, before {word}"
            column = len(before[:before.rindex(word)].rstrip()) + 1  # where the comma goes, and not where YAML gave up
            rest = word
        if rest[:1] in tuple("*&!@`%|>"):
            hint += f'; a text that begins with {rest[0]} goes in quotes'
        self.faults.add(Mark(line, column), rest.split(" ")[0], "valid YAML", hint=hint)
