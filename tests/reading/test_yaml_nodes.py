"""The traps of YAML, each shut. What YAML itself would make of these was measured with PyYAML 6.0."""

from __future__ import annotations

import contextlib
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from netcheck.reading.mistakes import FragmentError
from netcheck.reading.yaml_nodes import LARGEST_BYTES, Listing, Mapped, Scalar, decode, parse


def read(text: str) -> Any:
    node, faults = parse(text, "trap.yaml")
    faults.raise_if_any()
    return plain(node)


def plain(node: object) -> object:
    if isinstance(node, Mapped):
        return {key: plain(value) for key, value in node.entries.items()}
    if isinstance(node, Listing):
        return [plain(item) for item in node.items]
    assert isinstance(node, Scalar)
    return node.text


@pytest.fixture(params=["fast", "pure"])
def loader(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both parsers of PyYAML: the one built on libyaml, and the one in Python."""
    if request.param == "pure":
        monkeypatch.delattr(yaml, "CSafeLoader", raising=False)


@pytest.mark.usefixtures("loader")
@pytest.mark.parametrize("word", [
    "on", "On", "ON", "off", "yes", "no", "y", "n", "~", "null", "NaN", ".inf", "1:30", "12:1", "+5", "-5",
    "+5V", "-12V", "010", "0603", "0805", "0x1F", "1_000", "1.10", "1e3", "1.0e+400", "1992-04-27",
    "1992-13-40", "=", "<<", "4k7", "±5%", "RESET#", "~CS", "a#b", "5VSB", "000", "-a", "a:b",
])
def test_word_stays_what_was_written(word: str) -> None:
    assert read(f"a: {word}") == {"a": word}
    assert read(f"? {word}\n: [{word}]") == {word: [word]}


@pytest.mark.usefixtures("loader")
def test_keys_that_yaml_takes_for_one_stay_apart() -> None:
    assert list(read("1: a\n1.0: b\ntrue: c\n010: d\n8: e")) == ["1", "1.0", "true", "010", "8"]


@pytest.mark.usefixtures("loader")
@pytest.mark.parametrize(("text", "line", "column", "word"), [
    ("a: 1\nb: 2\na: 3\n", 3, 1, "a"),
    ("x: {a: 1, b: 2, a: 3}\n", 1, 17, "a"),
    ("\"a\": 1\na: 2\n", 2, 1, "a"),
    ("a: *b\n", 1, 4, "*b"),
    ("a: &x {b: *x}\n", 1, 11, "*x"),
    ("a: !!python/object:os.system x\n", 1, 4, "tag:yaml.org,2002:python/object:os.system"),
    ("a: !x y\n", 1, 4, "!x"),
    ("[a, b]: c\n", 1, 1, "[…]"),
    ("a: 1\n---\nb: 2\n", 2, 1, "---"),
    ("", 1, 1, ""), ("# nothing\n", 1, 1, ""),
    ("a: 1\n\tb: 2\n", 2, 1, "tab"),
    ("a: x\u2028y\n", 1, 5, "U+2028"),
    ("a: x\u200by\n", 1, 5, "U+200B"),
    ("a: \x00\n", 1, 4, "U+0000"),
])
def test_trap_is_told_with_its_place(text: str, line: int, column: int, word: str) -> None:
    with pytest.raises(FragmentError) as caught:
        read(text)
    fault = caught.value.faults[0]
    assert (fault.line, fault.column, fault.text) == (line, column, word)
    assert fault.expected
    assert f"trap.yaml:{line}:{column}:" in str(caught.value)


@pytest.mark.usefixtures("loader")
@pytest.mark.parametrize("text", [
    "a: [1, 2", "a: b: c", "a: *RESET, b", "a: @5V", "a: `x`", "a: %X", "a: 'x", "- a\nb: c", "{a: 1",
    "a: \"\\q\"", "a:\n  - b\n c: d", "%YAML 9.9\n---\na: 1\n", "a: ]",
])
def test_broken_yaml_has_a_place_and_an_expectation(text: str) -> None:
    with pytest.raises(FragmentError) as caught:
        read(text)
    (fault,) = caught.value.faults
    assert 1 <= fault.line <= text.count("\n") + 1
    assert fault.column >= 1
    assert fault.expected


def test_name_that_needs_quotes_is_told_so() -> None:
    with pytest.raises(FragmentError, match="goes in quotes"):
        read("a: *RESET\n")
    with pytest.raises(FragmentError, match="goes in quotes"):
        read("a: @5V\n")


def test_plain_alias_is_followed() -> None:
    assert read("a: &x [1, 2]\nb: *x\n") == {"a": ["1", "2"], "b": ["1", "2"]}


@pytest.mark.usefixtures("loader")
def test_alias_bomb_is_refused() -> None:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 10)]
    with pytest.raises(FragmentError, match="unfold"):
        read("\n".join(lines))


@pytest.mark.usefixtures("loader")
def test_merge_bomb_merges_nothing() -> None:
    text = "a: &a {x: 1}\nb: {<<: *a}\n"
    assert read(text) == {"a": {"x": "1"}, "b": {"<<": {"x": "1"}}}


@pytest.mark.usefixtures("loader")
@pytest.mark.parametrize("text", ["[" * 5000, "{a: " * 5000, "- " * 5000 + "x", "[" * 1000 + "]" * 1000])
def test_deep_nesting_is_refused(text: str) -> None:
    with pytest.raises(FragmentError, match="nest"):
        read(text)


@pytest.mark.usefixtures("loader")
def test_byte_order_mark_and_line_ends_of_other_systems() -> None:
    assert read("\ufeffa: 1\r\nb: 2\r\n") == {"a": "1", "b": "2"}
    assert decode(b"\xef\xbb\xbfa: 1", "x") == "a: 1"


@pytest.mark.usefixtures("loader")
def test_no_break_space_and_tab_are_spaces() -> None:
    assert read("a:\u00a0{b:\t1,\u00a0c: 2}\t# x\n\t\n") == {"a": {"b": "1", "c": "2"}}


def test_latin_1_micro_sign_is_recognised() -> None:
    with pytest.raises(FragmentError) as caught:
        decode(b"a: 1\nb: 10 \xb5F\n", "x.yaml")
    (fault,) = caught.value.faults
    assert (fault.line, fault.column, fault.text) == (2, 7, "byte 0xB5")
    assert "UTF-8" in fault.hint
    assert "µ" in fault.hint


def test_file_over_the_limit_is_refused() -> None:
    with pytest.raises(FragmentError, match="at most"):
        decode(b"#" * (LARGEST_BYTES + 1), "big.yaml")
    with pytest.raises(FragmentError, match="at most"):
        parse("#" * (LARGEST_BYTES + 1), "big.yaml")


def test_places_count_characters_from_one() -> None:
    node, _ = parse("µ: {ü: x}\n", "x")
    assert isinstance(node, Mapped)
    inner = node.entries["µ"]
    assert isinstance(inner, Mapped)
    assert (inner.keys["ü"].mark.line, inner.keys["ü"].mark.column) == (1, 5)


def test_all_duplicates_are_told_together() -> None:
    node, faults = parse("a: 1\na: 2\nb: {c: 1, c: 2}\n", "x")
    assert isinstance(node, Mapped)
    assert [(fault.line, fault.text) for fault in faults.found] == [(2, "a"), (3, "c")]


@given(st.text(alphabet=st.sampled_from("ab:{}[],-?&*!|>'\"%@` \n\t#~0é\u2028"), max_size=40))
def test_no_text_raises_anything_else(text: str) -> None:
    with contextlib.suppress(FragmentError):
        read(text)
