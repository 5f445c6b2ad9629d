"""Preferred numbers against published tables."""

from __future__ import annotations

import pytest

from netcheck.parts.series import SIZES, is_preferred, nearest, series

# "Component preferred values", G4USP, list of the IEC 60063 series.
PUBLISHED = {
    3: "10 22 47",
    6: "10 15 22 33 47 68",
    12: "10 12 15 18 22 27 33 39 47 56 68 82",
    24: "10 11 12 13 15 16 18 20 22 24 27 30 33 36 39 43 47 51 56 62 68 75 82 91",
    48: "100 105 110 115 121 127 133 140 147 154 162 169 178 187 196 205 215 226 237 249 261 274 287 301 316 "
        "332 348 365 383 402 422 442 464 487 511 536 562 590 619 649 681 715 750 787 825 866 909 953",
}


@pytest.mark.parametrize("size", PUBLISHED)
def test_series_is_the_published_one(size: int) -> None:
    assert series(size) == tuple(map(int, PUBLISHED[size].split()))


def test_one_value_of_e192_departs_from_the_rule() -> None:
    # "E series of preferred numbers", Wikipedia: 9.20 in E192, where the rule gives 9.19.
    assert 920 in series(192)
    assert 919 not in series(192)


@pytest.mark.parametrize("size", SIZES)
def test_series_has_its_size_and_rises(size: int) -> None:
    assert len(series(size)) == size
    assert sorted(set(series(size))) == list(series(size))


def test_finer_series_holds_the_coarser() -> None:
    # IEC 60063: E3 in E6 in E12 in E24; E48 in E96 in E192.
    for coarse, fine in ((3, 6), (6, 12), (12, 24), (48, 96), (96, 192)):
        assert set(series(coarse)) <= set(series(fine))


def test_e24_values_that_are_not_in_e96() -> None:
    # Makers of chip resistors list one-per-cent parts as "E24/E96" because of these (Yageo, RND Components).
    missing = [value for value in series(24) if not is_preferred(value, 96)]
    assert missing == [12, 16, 18, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 82, 91]


def test_nearest_crosses_decades() -> None:
    assert nearest(97.0, 24) == 100.0
    assert nearest(0.0998, 24) == 0.1
    assert nearest(1.02e6, 96) == 1.02e6


def test_unknown_series_is_refused() -> None:
    with pytest.raises(ValueError, match="no series"):
        series(7)
    with pytest.raises(ValueError, match="above 0"):
        nearest(0.0, 24)
