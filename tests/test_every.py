"""The loop over cases fails where a case fails, names it, and refuses to run over nothing."""

from __future__ import annotations

import pytest
from every import every


def test_a_failing_case_is_named_and_the_others_still_run() -> None:
    seen = []

    @every(number=[1, 2, 3], first__second=[("a", "b")])
    def odd(number: int, first: str, second: str) -> None:
        seen.append((number, first + second))
        assert number % 2, "even"

    with pytest.raises(AssertionError, match=r"1 of 3 fail:\n2, a, b: AssertionError: even"):
        odd()
    assert seen == [(1, "ab"), (2, "ab"), (3, "ab")]


def test_no_cases_are_a_mistake() -> None:
    with pytest.raises(AssertionError, match="cannot fail"):
        every(number=[])
