"""How much a second of open shutter counts under the sky that it looks through.

For a faint object the sky is the noise, so squared signal-to-noise gained in a second goes as transmission
squared over sky brightness. A second at the zenith on a moonless night counts 1: weight = 10^(-0.8 k (X - 1))
times the brightness of that zenith over that of the sky at the target, moonlight through the filter included,
with X the airmass (Kasten & Young 1989) and k the extinction. The scaling is that of signal and background
noise in any handbook of photometry; brightnesses are those of `moonlight`.

The weight is computed every `DEPTH_STEP_S` seconds and interpolated linearly between: it changes by parts in
a thousand in a minute, but for the Moon's rising, whose step is smeared over one.
"""

from __future__ import annotations

import numpy as np

from optimizer.sky.airmass import airmass
from optimizer.sky.clock import SPAN_S
from optimizer.sky.frames import elevation_deg
from optimizer.sky.gathered import GatheredCurve
from optimizer.sky.moonlight import dark_nanolamberts, moonlight_mag
from optimizer.sky.tracks import MoonTrack, Track

DEPTH_STEP_S = 60
_GRID_S = np.arange(0, SPAN_S + DEPTH_STEP_S, DEPTH_STEP_S, dtype=np.float64)


class SkyAt:
    """Transmission and brightness of the sky at one target through the night."""

    def __init__(self, track: Track, moon: MoonTrack) -> None:
        """Sample the night every `DEPTH_STEP_S` seconds."""
        site = track.frame.site
        masses = airmass(track.altitude_deg(_GRID_S))
        zenith_deg = 90.0 - elevation_deg(track.frame.horizontal(track.unit(_GRID_S)))
        dark = dark_nanolamberts(zenith_deg, site.zenith_sky_mag, site.extinction_mag)
        overhead = dark_nanolamberts(0.0, site.zenith_sky_mag, site.extinction_mag)
        passed = 10 ** (-0.8 * site.extinction_mag * (masses - 1.0))
        self._dark_weight = np.nan_to_num(passed * overhead / dark)  # nothing counts below the horizon
        self._moon_over_dark = 10 ** (0.4 * moonlight_mag(track, moon, _GRID_S)) - 1.0

    def curve(self, moonlight_factor: float) -> GatheredCurve:
        """The depth gathered through a filter that passes this factor of the Moon's light.

        It is counted in seconds at the zenith on a moonless night.
        """
        weight = self._dark_weight / (1.0 + moonlight_factor * self._moon_over_dark)
        seconds = np.arange(SPAN_S + 1, dtype=np.float64)
        return GatheredCurve.of_weights(np.interp(seconds, _GRID_S, weight))
