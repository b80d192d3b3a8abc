"""Brightening of the sky by moonlight.

Krisciunas & Schaefer 1991, PASP 103, 1033, equations 1, 2, 3, 15, 20, 21.

Stated accuracy 8 to 23 per cent. Written for the audit alone.
"""

from __future__ import annotations

import numpy as np

from optimizer.audit.types import Floats


def _airmass(zenith_deg: Floats) -> Floats:
    path: Floats = (1 - 0.96 * np.sin(np.radians(zenith_deg)) ** 2) ** -0.5
    return path


def moon_nanolamberts(
    phase_deg: Floats,
    separation_deg: Floats,
    moon_zenith_deg: Floats,
    zenith_deg: Floats,
    extinction_mag: float,
) -> Floats:
    """Surface brightness of scattered moonlight (nanolamberts); the Moon taken to be up.

    All angles in degrees and of one shape; `phase_deg` is 0 at full Moon; `extinction_mag` is V magnitudes
    per airmass.
    """
    illuminance = 10 ** (-0.4 * (3.84 + 0.026 * np.abs(phase_deg) + 4e-9 * phase_deg**4))
    scattering = 10**5.36 * (1.06 + np.cos(np.radians(separation_deg)) ** 2) + 10 ** (
        6.15 - separation_deg / 40
    )
    dimmed = 10 ** (-0.4 * extinction_mag * _airmass(moon_zenith_deg))
    scattered = 1 - 10 ** (-0.4 * extinction_mag * _airmass(zenith_deg))
    light: Floats = scattering * illuminance * dimmed * scattered
    return light


def dark_nanolamberts(zenith_deg: Floats, zenith_sky_mag: float, extinction_mag: float) -> Floats:
    """Nanolamberts of the moonless sky where it is `zenith_sky_mag` (V mag/arcsec2) overhead."""
    path = _airmass(zenith_deg)
    overhead = 34.08 * np.exp(20.7233 - 0.92104 * zenith_sky_mag)
    light: Floats = overhead * 10 ** (-0.4 * extinction_mag * (path - 1)) * path
    return light


def brightening_mag(
    phase_deg: Floats,
    separation_deg: Floats,
    moon_altitude_deg: Floats,
    altitude_deg: Floats,
    zenith_sky_mag: float,
    extinction_mag: float,
    factor: Floats | float = 1.0,
) -> Floats:
    """Magnitudes by which moonlight brightens the sky at the target, seen through a filter of that factor.

    The brightening is 0 while the Moon's centre is below 0 degrees.
    """
    zenith_deg = 90 - altitude_deg
    moon = moon_nanolamberts(phase_deg, separation_deg, 90 - moon_altitude_deg, zenith_deg, extinction_mag)
    dark = dark_nanolamberts(zenith_deg, zenith_sky_mag, extinction_mag)
    brighter: Floats = np.where(moon_altitude_deg < 0, 0.0, 2.5 * np.log10((factor * moon + dark) / dark))
    return brighter
