"""From celestial to local directions: the turning Earth, the observer on it, refraction.

The chain is that of ERFA's `apio`/`atioq` (SOFA, IAU 2006/2000A), rewritten so that the trigonometry of a
whole night is a few array operations. Measured against the library itself, refracted too: within 8e-7 arcsec.
"""

from __future__ import annotations

import math

import erfa
import numpy as np

from optimizer.models.site import Site
from optimizer.sky.clock import FloatArray, NightClock, Times
from optimizer.sky.orientation import EarthOrientation

TURN_RAD_S = 2 * math.pi * 1.00273781191135448 / 86400  # Earth rotation angle, IAU 2000 Resolution B1.8
AU_KM = 149597870.7  # IAU 2012 Resolution B2
LIGHT_KM_S = 299792.458
VISIBLE_UM = 0.55  # wavelength for refraction
_ARCSEC = math.radians(1 / 3600)
# Precautions of `atioq`: no division by nothing at the zenith, no divergence below 3 degrees.
_LEAST_HORIZONTAL, _LEAST_VERTICAL = 1e-6, 0.05


class LocalFrame:
    """One site through one night.

    Vectors have their three components first: shape (3,) + the shape of the times. `local` axes: x towards
    the meridian on the equator, y east, z the celestial pole of the site's geodetic latitude.
    """

    def __init__(self, site: Site, clock: NightClock, orientation: EarthOrientation) -> None:
        """Prepare the constant parts of the chain."""
        self.site, self.clock, self.orientation = site, clock, orientation
        longitude, latitude = math.radians(site.longitude_deg), math.radians(site.latitude_deg)
        self._sin_lat, self._cos_lat = math.sin(latitude), math.cos(latitude)
        tt1, tt2 = clock.tt_jd(0.0)
        pole = erfa.pom00(
            orientation.xp_arcsec * _ARCSEC, orientation.yp_arcsec * _ARCSEC, erfa.sp00(tt1, float(tt2))
        )
        turn = np.array(
            [
                [math.cos(longitude), math.sin(longitude), 0.0],
                [-math.sin(longitude), math.cos(longitude), 0.0],
                [0.0, 0.0, 1.0],
            ]
        )
        self._turn = np.asarray(turn @ pole)
        self._observer_km = turn @ erfa.gd2gc(1, longitude, latitude, site.elevation_m) / 1000
        self._aberration = TURN_RAD_S * float(np.hypot(*self._observer_km[:2])) / LIGHT_KM_S
        ut1, ut2 = clock.ut1_jd(0.0, orientation)
        self._angle = float(erfa.era00(ut1, float(ut2)))
        self.refracts = site.pressure_hpa > 0
        self._refraction = (
            erfa.refco(site.pressure_hpa, site.temperature_c, site.humidity, VISIBLE_UM)
            if self.refracts
            else (0.0, 0.0)
        )

    def local(self, t_s: Times, celestial: FloatArray, *, finite: bool) -> tuple[FloatArray, FloatArray]:
        """Local topocentric direction (unit vectors) and distance in km.

        `celestial` is geocentric in the intermediate system of date: directions, or kilometres if `finite`.
        """
        angle = self._angle + TURN_RAD_S * self.clock.elapsed_s(t_s)
        cos, sin = np.cos(angle), np.sin(angle)
        x, y, z = celestial
        turned = np.stack([cos * x + sin * y, cos * y - sin * x, z + 0.0 * cos])
        vector = np.tensordot(self._turn, turned, axes=1)
        if finite:
            vector -= self._observer_km.reshape((3,) + (1,) * (vector.ndim - 1))
        distance = np.sqrt(np.einsum("i...,i...->...", vector, vector))
        x, y, z = vector / distance
        shrink = 1.0 - self._aberration * y
        return np.stack([shrink * x, shrink * (y + self._aberration), shrink * z]), distance

    def horizontal(self, local: FloatArray) -> FloatArray:
        """The components of a local direction towards north, east and up."""
        x, y, z = local
        north = self._cos_lat * z - self._sin_lat * x
        return np.stack([north, y, self._cos_lat * x + self._sin_lat * z])

    def refracted(self, horizontal: FloatArray) -> FloatArray:
        """The direction lifted by refraction, A tan z + B tan³ z inverted by one step as ERFA does it."""
        north, east, up = horizontal
        level = np.maximum(np.hypot(north, east), _LEAST_HORIZONTAL)
        height = np.maximum(up, _LEAST_VERTICAL)
        tangent = level / height
        a, b = self._refraction
        cubic = b * tangent * tangent
        lift = (a + cubic) * tangent / (1.0 + (a + 3.0 * cubic) / (height * height))
        cos_lift = 1.0 - lift * lift / 2.0
        shrink = cos_lift - lift * height / level
        return np.stack([north * shrink, east * shrink, cos_lift * up + lift * level])


def elevation_deg(vector: FloatArray) -> FloatArray:
    """Angle in degrees of vectors above their xy plane; exact near the pole, where an arc sine is not."""
    return np.asarray(np.degrees(np.arctan2(vector[2], np.hypot(vector[0], vector[1]))))


def angle_deg(one: FloatArray, other: FloatArray) -> FloatArray:
    """Angle in degrees, 0..180, between vectors of any length; exact when small."""
    cross = np.cross(one, other, axis=0)
    dot = np.einsum("i...,i...->...", one, other)
    return np.asarray(np.degrees(np.arctan2(np.sqrt(np.einsum("i...,i...->...", cross, cross)), dot)))
