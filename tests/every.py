"""One test for many cases: it runs all of them and names those that fail."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import product
from typing import Any

MOST_TOLD = 20


def every(**columns: Iterable[Any]) -> Callable[[Callable[..., None]], Callable[[], None]]:
    """Run a test for every combination of these arguments; a name such as kind_name with tuples gives kind and name.

    Where a file's tests would be a few hundred of the same few assertions over library entries, this is one test
    that goes on after a failure and tells each entry that fails, with what failed.
    """
    names = [column.split("__") for column in columns]
    cases = list(product(*(list(values) for values in columns.values())))
    assert cases, "no cases: such a test cannot fail"

    def looped(test: Callable[..., None]) -> Callable[[], None]:
        def run() -> None:
            wrong = []
            for case in cases:
                given = {name: value for group, values in zip(names, case, strict=True) for name, value in
                         (zip(group, values, strict=True) if len(group) > 1 else [(group[0], values)])}
                try:
                    test(**given)
                except Exception as error:
                    said = ", ".join(str(getattr(value, "name", value)) for value in given.values())
                    wrong.append(f"{said}: {type(error).__name__}: {' '.join(str(error).split())[:200]}")
            told = "\n".join(wrong[:MOST_TOLD])
            assert not wrong, f"{len(wrong)} of {len(cases)} fail:\n{told}"

        run.__name__, run.__doc__, run.__module__ = test.__name__, test.__doc__, test.__module__
        return run

    return looped
