"""Sun, Moon and stars of one night, from ERFA's models (IAU 2006/2000A, VSOP2000 fit, ELP fit)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property
from typing import Any

import erfa
import numpy as np

from optimizer.models.request import Request
from optimizer.models.site import Site
from optimizer.sky.clock import SPAN_S, FloatArray, JulianDate, NightClock, night_clock
from optimizer.sky.frames import AU_KM, LIGHT_KM_S, LocalFrame
from optimizer.sky.orientation import EarthOrientation, earth_orientation
from optimizer.sky.tracks import HALF_S, MoonTrack, Track

# Nodes of the polynomials: the Chebyshev points of 26 h. What interpolation costs, measured: Moon 2e-2 arcsec
# on 5 nodes, 1e-5 on 7, 1e-7 on 9; Sun 7e-7 on 5; stars 2e-4 on 3.
_NODES = 9
_STAR_NODES = slice(None, None, 4)
_X = np.cos(math.pi * np.arange(_NODES) / (_NODES - 1))
NODES_S = SPAN_S / 2 + HALF_S * _X  # after the origin


def sun_km(astrometry: Any) -> FloatArray:
    """The Sun's centre on celestial axes in km, with aberration; parallax comes with the observer.

    `astrometry` holds ERFA's star-independent parameters, in any shape; the answer has three components
    behind that. Left out: the Sun's own 15 m/s during the light time, 0.01 arcsec.
    """
    distance = astrometry["em"]
    apparent = erfa.ab(-astrometry["eh"], astrometry["v"], distance, astrometry["bm1"])
    return np.asarray(apparent * distance[..., None] * AU_KM)


def moon_km(tt: JulianDate) -> FloatArray:
    """The Moon's centre on celestial axes in km at instants of any shape, three components behind that.

    Earth and Moon share the motion around the Sun, so that light time counts against the Earth alone and
    annual aberration not at all: their effects cancel.
    """
    first, second = tt
    now = erfa.moon98(first, second)["p"]
    light_s = np.linalg.norm(now, axis=-1) * AU_KM / LIGHT_KM_S
    return np.asarray(erfa.moon98(first, second - light_s / SPAN_S)["p"] * AU_KM)


def fitted(astrometry: Any, celestial: FloatArray) -> FloatArray:
    """Polynomials of `fraction_of_range` through vectors on celestial axes at the nodes of nights.

    `astrometry` has shape (..., nodes), the vectors (..., nodes, 3), and so have the coefficients, ascending,
    which are on intermediate axes of date.
    """
    of_date = np.einsum("...ij,...j->...i", astrometry["bpn"], celestial)
    return np.linalg.solve(np.vander(_X, increasing=True), of_date)


class NightSky:
    """The sky over one site through one night; everything on it is a `Track`."""

    def __init__(self, site: Site, clock: NightClock, orientation: EarthOrientation) -> None:
        """Nothing is computed before it is asked for."""
        self.site, self.clock, self.orientation = site, clock, orientation
        self.frame = LocalFrame(site, clock, orientation)

    @cached_property
    def _tt(self) -> tuple[float, FloatArray]:
        first, second = self.clock.tt_jd(0.0)
        return first, second + NODES_S / SPAN_S

    @cached_property
    def _astrometry(self) -> Any:
        """ERFA's star-independent parameters at the nodes; TT serves as TDB (0.002 s, 0.1 mas)."""
        return erfa.apci13(*self._tt)[0]

    @cached_property
    def sun(self) -> Track:
        """The track of the Sun's centre."""
        return Track(self.frame, self._polynomial(sun_km(self._astrometry)), finite=True)

    @cached_property
    def moon(self) -> MoonTrack:
        """The track of the Moon's centre."""
        return MoonTrack(self.frame, self._polynomial(moon_km(self._tt)), self.sun)

    def star(self, ra_deg: float, dec_deg: float) -> Track:
        """The track of a fixed direction in ICRS degrees, without proper motion or parallax."""
        return self.stars([(ra_deg, dec_deg)])[0]

    def stars(self, places: Sequence[tuple[float, float]]) -> tuple[Track, ...]:
        """The tracks of many fixed directions, pairs of ICRS right ascension and declination in degrees."""
        if not places:
            return ()
        radians = np.radians(np.asarray(places, dtype=np.float64))
        astrometry = self._astrometry[_STAR_NODES]
        ra, dec = erfa.atciqz(radians[:, None, 0], radians[:, None, 1], astrometry[None, :])
        vectors = erfa.s2c(ra, dec)
        powers = np.vander(_X[_STAR_NODES], increasing=True)
        return tuple(Track(self.frame, np.linalg.solve(powers, vector).T, finite=False) for vector in vectors)

    def _polynomial(self, celestial: FloatArray) -> FloatArray:
        """The polynomial through vectors of shape (nodes, 3) on celestial axes.

        Its coefficients have shape (3, nodes) and are on intermediate axes of date.
        """
        return fitted(self._astrometry, celestial).T


def night_sky(request: Request) -> NightSky:
    """The sky of a request, with the Earth's orientation at the middle of its night."""
    clock = night_clock(request.night, request.site)
    orientation = earth_orientation(clock.middle, request.night.ut1_utc_s)
    return NightSky(request.site, clock, orientation)
