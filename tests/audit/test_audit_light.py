"""Moonlight and airmass against values computed from the printed formulas elsewhere."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.audit.moonlight import brightening_mag, dark_nanolamberts, moon_nanolamberts
from optimizer.audit.rules.columns import airmass


@pytest.mark.parametrize(
    ("phase", "moon_zenith", "zenith", "nanolamberts", "magnitudes"),
    [(0, 30, 30, 1390, 3.17), (45, 45, 45, 533, 2.22), (90, 45, 45, 145, 1.13), (120, 45, 45, 41.8, 0.46)],
)
def test_check_values(
    phase: float, moon_zenith: float, zenith: float, nanolamberts: float, magnitudes: float
) -> None:
    """k = 0.172, separation 60 degrees, magnitudes over a dark sky of 21.587 (from the formula)."""
    moon = moon_nanolamberts(np.array(phase), np.array(60.0), np.array(moon_zenith), np.array(zenith), 0.172)
    assert float(moon) == pytest.approx(nanolamberts, rel=5e-3)
    overhead = float(dark_nanolamberts(np.array(0.0), 21.587, 0.172))
    assert 2.5 * np.log10(float(moon) / overhead + 1) == pytest.approx(magnitudes, abs=5e-3)


def test_brightening_is_told_against_the_dark_sky_at_the_target() -> None:
    """That sky is brighter than the one overhead, so the same moonlight adds less to it."""
    moon = float(moon_nanolamberts(np.array(45.0), np.array(60.0), np.array(45.0), np.array(45.0), 0.172))
    there = float(dark_nanolamberts(np.array(45.0), 21.587, 0.172))
    brighter = brightening_mag(np.array(45.0), np.array(60.0), np.array(45.0), np.array(45.0), 21.587, 0.172)
    assert float(brighter) == pytest.approx(2.5 * np.log10(1 + moon / there), abs=1e-12)
    assert float(brighter) < 2.2


def test_printed_sky_of_another_library() -> None:
    """Z 20, Zm 70, rho 50, alpha 45, k 0.15: 19.855 mag, in the documentation of a sky-simulation library."""
    moon = moon_nanolamberts(np.array(45.0), np.array(50.0), np.array(70.0), np.array(20.0), 0.15)
    sky = moon + dark_nanolamberts(np.array(20.0), 22.0, 0.15)
    magnitude = (20.7233 - np.log(sky / 34.08)) / 0.92104
    assert float(magnitude) == pytest.approx(19.855, abs=0.15)


def test_moon_below_the_horizon_gives_no_light() -> None:
    args = np.array([45.0] * 2), np.array([50.0] * 2), np.array([-1e-9, 1e-9]), np.array([60.0] * 2)
    below, above = brightening_mag(*args, 21.3, 0.2)
    assert below == 0
    assert above > 0.01


@pytest.mark.parametrize(("altitude", "path"), [(90, 1.0), (30, 1.994), (10, 5.59), (5, 10.31), (0, 37.92)])
def test_airmass_of_kasten_and_young(altitude: float, path: float) -> None:
    """Their table II, to the third digit."""
    assert float(airmass(np.array(float(altitude)))) == pytest.approx(path, rel=2e-3)


def test_airmass_below_the_formula_is_nan() -> None:
    assert np.isnan(airmass(np.array([-6.0, -90.0]))).all()
