"""Brightening of the sky by moonlight, from the paper: Krisciunas & Schaefer 1991, PASP 103, 1033.

Its equations by number: 3 (airmass of scattering), 9 (the Moon's brightness), 16 and 21 (what is scattered),
2 and 1 (dark sky, nanolamberts).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def brightening_mag(
    star_alt_deg: Floats,
    moon_alt_deg: Floats,
    gap_deg: Floats,
    phase_deg: Floats,
    zenith_sky_mag: float,
    extinction_mag: float,
    factor: float,
) -> Floats:
    """Magnitudes by which the sky at the star is brighter for the Moon; 0 while its centre is down."""
    path = _path(star_alt_deg)
    dark_zenith = 34.08 * np.exp(20.7233 - 0.92104 * zenith_sky_mag)
    dark = dark_zenith * path * 10 ** (-0.4 * extinction_mag * (path - 1))
    light = 10 ** (-0.4 * (3.84 + 0.026 * np.abs(phase_deg) + 4e-9 * phase_deg**4))
    rayleigh = 10**5.36 * (1.06 + np.cos(np.radians(gap_deg)) ** 2)
    near = 6.2e7 / np.maximum(gap_deg, 0.25) ** 2
    mie = np.where(gap_deg < 10, near, 10 ** (6.15 - gap_deg / 40))
    reaches = 10 ** (-0.4 * extinction_mag * _path(moon_alt_deg))
    scattered = 1 - 10 ** (-0.4 * extinction_mag * path)
    moon = factor * (rayleigh + mie) * light * reaches * scattered
    return np.where(moon_alt_deg < 0, 0.0, 2.5 * np.log10(1 + moon / dark))


def _path(altitude_deg: Floats) -> Floats:
    zenith = np.radians(90 - np.asarray(altitude_deg))
    return (1 - 0.96 * np.sin(zenith) ** 2) ** -0.5
