"""What a part of a given value has printed on it: the reverse of `markings`.

Sources: IEC 60062 (colours, RKM codes, picofarad code), the makers' marking
sheets for chip resistors (three and four digits, two-digit index and letter).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from netcheck.parts.series import series

_DIGITS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
_MULTIPLIERS: Mapping[int, str] = {-3: "pink", -2: "silver", -1: "gold", **dict(enumerate(_DIGITS))}
_TOLERANCES: Mapping[float, str] = {
    0.1: "violet", 0.25: "blue", 0.5: "green", 1: "brown", 2: "red", 5: "gold", 10: "silver",
}
_INDEX_LETTERS: Mapping[int, str] = {-2: "Y", -1: "X", 0: "A", 1: "B", 2: "C", 3: "D", 4: "E", 5: "F"}


def colour_bands(ohm: float, figures: int, percent: float) -> tuple[str, ...] | None:
    """The bands of a leaded resistor: `figures` digits (2 or 3), multiplier, tolerance.

    ohm: resistance [ohm], 0 for a link. percent: tolerance, one that has a
    colour: 0.1, 0.25, 0.5, 1, 2, 5 or 10. None where the value takes more
    figures or another multiplier than there are. Source: IEC 60062.

    >>> colour_bands(4700, 2, 5)
    ('yellow', 'violet', 'red', 'gold')
    >>> colour_bands(10, 3, 1)
    ('brown', 'black', 'black', 'gold', 'brown')
    """
    if ohm == 0:
        return ("black",)
    split = _figures(ohm, figures)
    if split is None or split[1] not in _MULTIPLIERS:
        return None
    digits, power = split
    return (*(_DIGITS[int(digit)] for digit in digits), _MULTIPLIERS[power], _TOLERANCES[percent])


def chip_codes(ohm: float) -> tuple[str, ...]:
    """The codes that a chip resistor of this value may carry: three digits, four digits, index and letter.

    ohm: resistance [ohm], 0 for a link. The smallest chips carry none.

    >>> chip_codes(4700), chip_codes(10200), chip_codes(2.2)
    (('472', '4701'), ('1022', '02C'), ('2R2', '2R20'))
    """
    if ohm == 0:
        return ("0",)
    codes = [code for figures in (2, 3) if (code := _chip_code(ohm, figures)) is not None]
    split = _figures(ohm, 3)
    if split is not None and int(split[0]) in series(96) and split[1] in _INDEX_LETTERS:
        codes.append(f"{series(96).index(int(split[0])) + 1:02d}{_INDEX_LETTERS[split[1]]}")
    return tuple(codes)


def picofarad_code(farad: float) -> str | None:
    """The code on a ceramic, film or tantalum capacitor: two figures of picofarads and a power of ten.

    None where the value has no such code. Source: IEC 60062.

    >>> picofarad_code(100e-9), picofarad_code(220e-6), picofarad_code(4.7e-12)
    ('104', '227', '4R7')
    """
    split = _figures(farad * 1e12, 2)
    if split is None:
        return None
    digits, power = split
    if power == -1:
        return f"{digits[0]}R{digits[1]}"
    return f"{digits}{power}" if 0 <= power <= 7 else None


def _chip_code(ohm: float, figures: int) -> str | None:
    split = _figures(ohm, figures)
    if split is None:
        return None
    digits, power = split
    if 0 <= power <= 7:
        return f"{digits}{power}"
    if -figures <= power < 0:
        point = figures + power
        return f"{digits[:point]}R{digits[point:]}"
    return None


def _figures(value: float, figures: int) -> tuple[str, int] | None:
    """A positive value as `figures` digits times a power of ten; None where that is not exact."""
    power = math.floor(math.log10(value) + 1e-9) - figures + 1
    digits = round(value / 10.0**power)
    if not math.isclose(float(f"{digits}e{power}"), value, rel_tol=1e-6):
        return None
    return f"{digits}", power
