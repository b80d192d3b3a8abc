"""Sun and Moon over the nights to come, on a coarse grid of instants; all nights in one array.

Every night has its samples one step apart, each of which stands for a step of time. They begin a little later
from night to night, so that an edge which comes at the same hour every night, or 4 min sooner as the stars
do, is not missed by the same minutes each time: what a sample has too much, another has too little.
"""

from __future__ import annotations

from functools import cached_property
from typing import NamedTuple

import erfa
import numpy as np

from optimizer.sky.bodies import NODES_S, NightSky, fitted, moon_km, sun_km
from optimizer.sky.clock import SPAN_S, FloatArray, IndexArray
from optimizer.sky.frames import elevation_deg
from optimizer.sky.tracks import (
    MOON_RADIUS_KM,
    UPPER_LIMB_AT_HORIZON_DEG,
    fraction_of_range,
    phase_angle_between_deg,
)

STEP_S = 600
# Of a step, by which the samples of a night begin later than those of the night before: the square root of 2
# less 1, which no simple fraction comes near. Over 28 nights the hours of a goal were then off by 0.4 h at
# most and 0.16 h in the root mean square, against 1.5 h and 0.34 h with no shift (12 lists of 10 targets).
LATER = 0.41421356


class MoonAhead(NamedTuple):
    """The Moon at samples: topocentric unit vectors (3, samples), and degrees, one a sample."""

    unit: FloatArray
    zenith_deg: FloatArray
    limb_above_deg: FloatArray  # of the upper limb over its rising; up from 0 on
    phase_angle_deg: FloatArray


class NightsAhead:
    """The samples of so many nights on, tonight's first, at which the Sun stands at or below a limit.

    All nights are turned by tonight's orientation of the Earth, and a leap second after tonight is passed
    over: within a year that is a second of time or so, of a grid of minutes.
    """

    def __init__(self, sky: NightSky, nights: int, sun_limit_deg: float) -> None:
        """Find the Sun over all samples, and keep the dark ones."""
        self.sky = sky
        self._starts_s = np.arange(nights, dtype=np.float64)[:, None] * SPAN_S
        first_s = STEP_S * ((0.5 + LATER * np.arange(nights, dtype=np.float64)) % 1.0)
        within_s: FloatArray = first_s[:, None] + np.arange(0, SPAN_S, STEP_S, dtype=np.float64)
        sun = self._at(fitted(self._astrometry, sun_km(self._astrometry)), within_s)
        place = sky.frame.local(self._starts_s + within_s, sun, finite=True)
        altitude_deg = elevation_deg(sky.frame.horizontal(place[0]))
        self.night: IndexArray
        self.night, sample = np.nonzero(altitude_deg <= sun_limit_deg)
        self._kept = self.night, sample
        self._within_s = within_s
        self.sun_altitude_deg: FloatArray = altitude_deg[self._kept]
        self._sun_km: FloatArray = (place[0] * place[1])[:, *self._kept]
        self.times_s: FloatArray = (self._starts_s + within_s)[self._kept]

    @cached_property
    def _astrometry(self) -> np.ndarray:
        """ERFA's star-independent parameters at the nodes of each night; TT serves as TDB."""
        parameters: np.ndarray = erfa.apci13(*self.sky.clock.tt_jd(self._starts_s + NODES_S))[0]
        return parameters

    def _at(self, coefficients: FloatArray, within_s: FloatArray) -> FloatArray:
        """Vectors of shape (3, nights, samples) of the polynomials at seconds after each night's start."""
        x = fraction_of_range(within_s)
        powers = x[..., None] ** np.arange(coefficients.shape[-2])
        return np.asarray(np.einsum("nsp,npc->cns", powers, coefficients))

    @cached_property
    def moon(self) -> MoonAhead:
        """The Moon at the dark samples."""
        frame = self.sky.frame
        tt = self.sky.clock.tt_jd(self._starts_s + NODES_S)
        of_date = self._at(fitted(self._astrometry, moon_km(tt)), self._within_s)[:, *self._kept]
        unit, distance_km = frame.local(self.times_s, of_date, finite=True)
        altitude_deg = elevation_deg(frame.horizontal(unit))
        radius_deg = np.degrees(np.arcsin(MOON_RADIUS_KM / distance_km))
        return MoonAhead(
            unit,
            90.0 - altitude_deg,
            altitude_deg + radius_deg - UPPER_LIMB_AT_HORIZON_DEG,
            phase_angle_between_deg(unit * distance_km, self._sun_km),
        )

    def stars(self, ra_deg: FloatArray, dec_deg: FloatArray) -> FloatArray:
        """Topocentric unit vectors (3, stars, samples) of ICRS places in degrees, at the dark samples.

        The place of date is that of the middle of each night: it moves by half an arcsecond in a day.
        """
        middle = self._astrometry[:, len(NODES_S) // 2]
        ra, dec = erfa.atciqz(np.radians(ra_deg)[:, None], np.radians(dec_deg)[:, None], middle[None, :])
        of_date = np.moveaxis(erfa.s2c(ra, dec), -1, 0)[:, :, self.night]
        return self.sky.frame.local(self.times_s, of_date, finite=False)[0]
