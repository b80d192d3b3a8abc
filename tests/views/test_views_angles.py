"""Sexagesimal text: rounding carries over, signs stay, and the text reads back as the angle that it was."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.models.angles import degrees_from_text
from optimizer.views.telling import is_turned, place, within_turn
from optimizer.words import place_words, sexagesimal

EDGES = [
    (-0.0, "+00d00m00.0s"),
    (0.0, "+00d00m00.0s"),
    (-1e-9, "-00d00m00.0s"),
    (-0.25, "-00d15m00.0s"),
    (-0.004, "-00d00m14.4s"),
    (89.99999999, "+90d00m00.0s"),
    (-89.99999999, "-90d00m00.0s"),
    (-90.0, "-90d00m00.0s"),
    (29.9999999, "+30d00m00.0s"),
    (-29.9999999, "-30d00m00.0s"),
    (1 / 60 - 1e-9, "+00d01m00.0s"),
    (59.95 / 3600 - 1e-9, "+00d00m59.9s"),
    (59.95 / 3600 + 1e-9, "+00d01m00.0s"),
    (31.31, "+31d18m36.0s"),
]


@pytest.mark.parametrize(("degrees", "text"), EDGES)
def test_declinations_at_the_edges(degrees: float, text: str) -> None:
    assert place(0.0, degrees)["dec_dms"] == text


@pytest.mark.parametrize(
    ("degrees", "text"),
    [
        (0.0, "00h00m00.00s"),
        (359.9999999, "00h00m00.00s"),
        (359.99995, "23h59m59.99s"),
        (359.0, "23h56m00.00s"),
        (14.9999999, "01h00m00.00s"),
        (0.24999999, "00h01m00.00s"),
        (52.297, "03h29m11.28s"),
    ],
)
def test_right_ascensions_at_the_edges(degrees: float, text: str) -> None:
    assert place(degrees, 0.0)["ra_hms"] == text


def test_whole_seconds_carry_over_the_day_too() -> None:
    """It said 24h00m00s."""
    assert place_words(359.9999, -1e-6) == "00h00m00s -00d00m00s"


@given(st.floats(0, 360, exclude_max=True), st.floats(-90, 90))
def test_text_is_the_angle_rounded(ra_deg: float, dec_deg: float) -> None:
    told = place(ra_deg, dec_deg)
    ra, dec = told["ra_hms"], told["dec_dms"]
    assert re.fullmatch(r"([01]\d|2[0-3])h[0-5]\dm[0-5]\d\.\d\ds", ra)
    assert re.fullmatch(r"[+-][0-8]\dd[0-5]\dm[0-5]\d\.\ds|[+-]90d00m00\.0s", dec)
    assert (dec[0] == "-") == (dec_deg < 0)
    off = Fraction(degrees_from_text(ra, axis="ra")) - Fraction(ra_deg)
    assert min(abs(off), abs(off + 360)) <= Fraction(15, 3600) * Fraction("0.005") + Fraction(1, 10**12)
    assert abs(Fraction(degrees_from_text(dec, axis="dec")) - Fraction(dec_deg)) <= (
        Fraction("0.05") / 3600 + Fraction(1, 10**12)
    )


@given(st.floats(-720, 720), st.integers(0, 3))
def test_no_part_reaches_sixty_whatever_the_decimals(value: float, decimals: int) -> None:
    text = sexagesimal(value, "d", signed=True, decimals=decimals)
    assert "60" not in re.split(r"[dms]", text)[1:]
    assert len(text.partition("m")[2].rstrip("s")) == (2 if not decimals else 3 + decimals)


def test_what_is_not_known_has_no_text() -> None:
    assert place(None, None) == {
        "ra_deg": None,
        "dec_deg": None,
        "ra_hms": None,
        "dec_dms": None,
        "frame": "ICRS",
    }


@pytest.mark.parametrize(
    ("one", "other", "turned"),
    [
        (0.0, 180.0, True), (180.0, 0.0, True), (350.0, 170.0, True), (10.0, 189.9999, True),
        (0.0, 0.0, False), (0.0, 359.9999, False), (359.9999, 0.0, False), (77.0, 77.0, False),
        (0.0, 90.0, None), (0.0, 179.0, None), (None, 0.0, None), (0.0, None, None),
    ],
)  # fmt: skip
def test_turned_is_half_a_turn(one: float | None, other: float | None, turned: bool | None) -> None:
    assert is_turned(one, other) is turned


@pytest.mark.parametrize(
    ("angle", "same"), [(-90.0, 270.0), (360.0, 0.0), (-360.0, 0.0), (-1e-17, 0.0), (359.5, 359.5)]
)
def test_angles_are_within_one_turn(angle: float, same: float) -> None:
    assert within_turn(angle) == same
