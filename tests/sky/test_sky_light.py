"""Moonlight and airmass: shape of the formulas (their check values are among the outside checks)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.sky.airmass import airmass
from optimizer.sky.moonlight import brightening_mag, dark_nanolamberts, moonlight_mag, sky_mag
from tests.support.sky_cases import a_site, a_sky

T = np.arange(0.0, 86401.0, 300.0)


def test_airmass_falls_with_altitude_and_is_none_below_the_horizon() -> None:
    values = airmass(np.linspace(0.0, 90.0, 200))
    assert np.all(np.diff(values) < 0)
    assert np.all(np.isnan(airmass(np.array([-0.001, -6.1, -90.0]))))


@settings(deadline=None)
@given(st.floats(0, 179), st.floats(5, 180), st.floats(0, 90), st.floats(0, 80), st.floats(0.05, 1))
def test_moonlight_never_darkens_and_a_fuller_moon_is_brighter(
    alpha: float, rho: float, moon_zenith: float, zenith: float, k: float
) -> None:
    fuller, thinner = (
        float(brightening_mag(a, rho, moon_zenith, zenith, 21.5, k)) for a in (alpha, alpha + 1)
    )
    assert fuller >= thinner >= 0.0
    assert fuller == float(brightening_mag(-alpha, rho, moon_zenith, zenith, 21.5, k))


@settings(deadline=None)
@given(st.floats(14, 23))
def test_the_dark_zenith_has_the_brightness_it_was_given(zenith_mag: float) -> None:
    assert float(sky_mag(dark_nanolamberts(0.0, zenith_mag, 0.2))) == pytest.approx(zenith_mag, abs=1e-9)


def test_there_is_no_moonlight_while_the_moons_centre_is_down() -> None:
    sky = a_sky("2026-11-24", a_site())
    values = moonlight_mag(sky.star(60.0, 30.0), sky.moon, T)
    down = sky.moon.geometric_altitude_deg(T) < 0.0
    assert np.all(values[down] == 0.0)
    assert np.all(values[~down] > 0.2)  # full Moon
    assert 50 < down.sum() < 240


def test_moonlight_uses_the_places_of_both() -> None:
    sky = a_sky("2026-11-24", a_site(extinction_mag=0.172, zenith_sky_mag=21.587))
    star = sky.star(60.0, 30.0)
    t = 43200.0
    expected = brightening_mag(
        sky.moon.phase_angle_deg(t),
        star.separation_deg(sky.moon, t),
        90 - sky.moon.geometric_altitude_deg(t),
        90 - star.geometric_altitude_deg(t),
        21.587,
        0.172,
    )
    assert float(moonlight_mag(star, sky.moon, t)) == pytest.approx(float(expected), abs=1e-12)
