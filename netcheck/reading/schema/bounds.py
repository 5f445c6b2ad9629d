"""Regular expressions for decimal numbers within bounds: what a pattern of JSON Schema can say of "1500 mV".

A number here has no sign and no exponent, and may have zeros before it. Bounds are taken exactly (as decimals).
"""

from __future__ import annotations

from decimal import Decimal

_DIGITS = r"[0-9]*"


def within(least: Decimal | None, most: Decimal | None) -> str:
    r"""Lookaheads that hold where a number of these bounds (None: no bound) stands next.

    >>> import re
    >>> [text for text in ("9.9", "10", "10.01", "0.049", ".05", "007") if re.match(within(
    ...     Decimal("0.05"), Decimal(10)), text)]
    ['9.9', '10', '.05', '007']
    """
    end = r"(?![0-9]|\.[0-9])"
    below = "" if most is None else rf"(?={_at_most(most)}{end})"
    above = "" if least is None or least <= 0 else rf"(?={_at_least(least)}{end})"
    return below + above


def _split(bound: Decimal) -> tuple[str, str]:
    whole, _, fraction = f"{bound:f}".partition(".")
    return whole.lstrip("0"), fraction.rstrip("0")


def _at_most(bound: Decimal) -> str:
    whole, fraction = _split(bound)
    equal = rf"{whole}(?:\.{_fraction_at_most(fraction)})?"
    smaller = _smaller(whole)
    return rf"0*(?:{equal}|(?:{smaller})(?:\.{_DIGITS})?)" if smaller is not None else rf"0*{equal}"


def _at_least(bound: Decimal) -> str:
    whole, fraction = _split(bound)
    equal = rf"{whole}(?:\.{_DIGITS})?" if not fraction else rf"{whole}\.{_fraction_at_least(fraction)}"
    return rf"0*(?:{equal}|(?:{_larger(whole)})(?:\.{_DIGITS})?)"


def _fraction_at_most(digits: str) -> str:
    if not digits:
        return "0*"
    first = int(digits[0])
    less = rf"[0-{first - 1}]{_DIGITS}|" if first else ""
    return rf"(?:{less}{first}{_fraction_at_most(digits[1:])})?"


def _fraction_at_least(digits: str) -> str:
    if not digits:
        return _DIGITS
    first = int(digits[0])
    more = rf"[{first + 1}-9]{_DIGITS}|" if first < 9 else ""
    return rf"(?:{more}{first}{_fraction_at_least(digits[1:])})"


def _smaller(whole: str) -> str | None:
    """Whole numbers below one, without zeros in front (nothing at all is 0); None where there are none."""
    if not whole:
        return None
    ways = [f"[1-9][0-9]{{0,{len(whole) - 2}}}"] if len(whole) > 1 else []
    ways.append("")
    for place, digit in enumerate(map(int, whole)):
        lowest = 0 if place else 1
        if digit > lowest:
            ways.append(f"{whole[:place]}[{lowest}-{digit - 1}][0-9]{{{len(whole) - place - 1}}}")
    return "|".join(ways)


def _larger(whole: str) -> str:
    """Whole numbers above one, without zeros in front."""
    ways = [f"[1-9][0-9]{{{len(whole)},}}"]
    for place, digit in enumerate(map(int, whole)):
        if digit < 9:
            ways.append(f"{whole[:place]}[{digit + 1}-9][0-9]{{{len(whole) - place - 1}}}")
    return "|".join(ways)
