"""How much the Moon brightens the sky at a target.

Krisciunas & Schaefer 1991, PASP 103, 1033; V band; stated accuracy 8 to 23 %. Angles in degrees, brightness
in nanolamberts, extinction in magnitudes per airmass. All functions are vectorised.
"""

from __future__ import annotations

import numpy as np

from optimizer.sky.clock import FloatArray, Times
from optimizer.sky.frames import angle_deg, elevation_deg
from optimizer.sky.tracks import MoonTrack, Track, phase_angle_between_deg


def _airmass(zenith_deg: Times) -> FloatArray:
    """Airmass as Krisciunas and Schaefer have it: finite at the horizon, and for their formula alone."""
    return np.asarray((1.0 - 0.96 * np.sin(np.radians(zenith_deg)) ** 2) ** -0.5)


def moon_nanolamberts(
    phase_angle_deg: Times,
    separation_deg: Times,
    moon_zenith_deg: Times,
    target_zenith_deg: Times,
    extinction_mag: float,
) -> FloatArray:
    """Brightness of the sky by a Moon above the horizon (their equations 3, 15, 20, 21)."""
    alpha = np.abs(phase_angle_deg)
    rho = np.asarray(separation_deg, dtype=np.float64)
    illuminance = 10 ** (-0.4 * (3.84 + 0.026 * alpha + 4e-9 * alpha**4))
    scattering = 10**5.36 * (1.06 + np.cos(np.radians(rho)) ** 2) + 10 ** (6.15 - rho / 40.0)
    through = 10 ** (-0.4 * extinction_mag * _airmass(moon_zenith_deg))
    scattered = 1.0 - 10 ** (-0.4 * extinction_mag * _airmass(target_zenith_deg))
    return np.asarray(scattering * illuminance * through * scattered)


def dark_nanolamberts(target_zenith_deg: Times, zenith_sky_mag: float, extinction_mag: float) -> FloatArray:
    """Brightness of the moonless sky (their equations 1 and 2)."""
    depth = _airmass(target_zenith_deg)
    at_zenith = 34.08 * np.exp(20.7233 - 0.92104 * zenith_sky_mag)
    return np.asarray(at_zenith * 10 ** (-0.4 * extinction_mag * (depth - 1.0)) * depth)


def sky_mag(nanolamberts: Times) -> FloatArray:
    """V magnitudes per square arcsecond of a sky brightness (their equation 1 turned round)."""
    return (20.7233 - np.log(np.asarray(nanolamberts) / 34.08)) / 0.92104


def brightening_mag(
    phase_angle_deg: Times,
    separation_deg: Times,
    moon_zenith_deg: Times,
    target_zenith_deg: Times,
    zenith_sky_mag: float,
    extinction_mag: float,
) -> FloatArray:
    """Magnitudes by which a Moon above the horizon brightens the sky at the target (their equation 22)."""
    moon = moon_nanolamberts(
        phase_angle_deg, separation_deg, moon_zenith_deg, target_zenith_deg, extinction_mag
    )
    dark = dark_nanolamberts(target_zenith_deg, zenith_sky_mag, extinction_mag)
    return 2.5 * np.log10((moon + dark) / dark)


def brightening_if_up_mag(track: Track, moon: MoonTrack, t_s: Times) -> FloatArray:
    """The brightening in magnitudes as if the Moon were up, so that it is smooth through its rising."""
    unit, distance = moon.place(t_s)
    sun_unit, sun_distance = moon.sun.place(t_s)
    target = track.unit(t_s)
    site = track.frame.site
    return brightening_mag(
        phase_angle_between_deg(unit * distance, sun_unit * sun_distance),
        angle_deg(unit, target),
        90.0 - elevation_deg(track.frame.horizontal(unit)),
        90.0 - elevation_deg(track.frame.horizontal(target)),
        site.zenith_sky_mag,
        site.extinction_mag,
    )


def moonlight_mag(track: Track, moon: MoonTrack, t_s: Times) -> FloatArray:
    """The brightening in magnitudes at a track; 0 while the Moon's centre is below 0° geometric altitude."""
    up = moon.geometric_altitude_deg(t_s) >= 0.0
    return np.where(up, brightening_if_up_mag(track, moon, t_s), 0.0)


def through_filter_mag(brightening: FloatArray, factor: float) -> FloatArray:
    """The brightening seen through a filter that passes `factor` of the Moon's light against the dark sky's.

    An assumption, not a measurement: the filter is taken to change the ratio of moonlight to dark sky alone.
    """
    return np.asarray(2.5 * np.log10(1.0 + factor * (10.0 ** (0.4 * brightening) - 1.0)), dtype=np.float64)


def full_brightening_mag(limit_mag: float, factor: float) -> float:
    """The brightening in V at which that seen through a filter of this factor reaches the limit."""
    return float(2.5 * np.log10(1.0 + (10.0 ** (0.4 * limit_mag) - 1.0) / factor))
