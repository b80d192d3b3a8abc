"""The track of one body through the night, as functions of seconds after the origin."""

from __future__ import annotations

import math

import numpy as np

from optimizer.sky.clock import SPAN_S, BoolArray, FloatArray, Times
from optimizer.sky.frames import LocalFrame, angle_deg, elevation_deg

MOON_RADIUS_KM = 1737.4  # IAU Working Group on Cartographic Coordinates and Rotational Elements 2015
UPPER_LIMB_AT_HORIZON_DEG = -34 / 60  # refraction at the horizon; Explanatory Supplement, 3rd ed., ch. 12
MARGIN_S = 3600.0  # tracks hold this far beyond the night at both ends
HALF_S = SPAN_S / 2 + MARGIN_S


def fraction_of_range(elapsed_s: FloatArray) -> FloatArray:
    """SI seconds after the origin as −1..1 over the range in which tracks hold."""
    return (elapsed_s - SPAN_S / 2) / HALF_S


def phase_angle_between_deg(moon_km: FloatArray, sun_km: FloatArray) -> FloatArray:
    """Angle in degrees, 0..180, at the Moon between Sun and origin; vectors of shape (3, ...)."""
    return angle_deg(-moon_km, sun_km - moon_km)


class Track:
    """The place of one body; every method takes seconds after the origin, a number or an array.

    The geocentric place in the intermediate system of date is a polynomial in time, so that only the
    Earth's turning is left to compute. Directions are topocentric, with diurnal aberration and polar motion.
    """

    def __init__(self, frame: LocalFrame, coefficients: FloatArray, *, finite: bool) -> None:
        """`coefficients`: shape (3, degree + 1), ascending powers; in km if `finite`, else of length 1."""
        self.frame = frame
        self._coefficients = coefficients
        self._finite = finite

    def geocentric(self, t_s: Times) -> FloatArray:
        """Geocentric apparent place, intermediate axes of date: km for Sun and Moon, else about 1 long."""
        x = fraction_of_range(self.frame.clock.elapsed_s(t_s))
        total = self._coefficients[:, -1].reshape((3,) + (1,) * x.ndim) + 0.0 * x
        for power in range(self._coefficients.shape[1] - 2, -1, -1):
            total = total * x + self._coefficients[:, power].reshape((3,) + (1,) * x.ndim)
        return total

    def place(self, t_s: Times) -> tuple[FloatArray, FloatArray]:
        """Topocentric direction as in `unit`, and distance in km (without meaning for stars)."""
        return self.frame.local(t_s, self.geocentric(t_s), finite=self._finite)

    def unit(self, t_s: Times) -> FloatArray:
        """Topocentric unit vectors, shape (3, ...), towards meridian, east and pole."""
        return self.place(t_s)[0]

    def horizontal(self, t_s: Times) -> FloatArray:
        """Geometric unit vectors, shape (3, ...), towards north, east and up."""
        return self.frame.horizontal(self.unit(t_s))

    def geometric_altitude_deg(self, t_s: Times) -> FloatArray:
        """Altitude in degrees without refraction."""
        return elevation_deg(self.horizontal(t_s))

    def altitude_deg(self, t_s: Times) -> FloatArray:
        """Altitude in degrees, refracted where the site gives a pressure."""
        vector = self.horizontal(t_s)
        return elevation_deg(self.frame.refracted(vector) if self.frame.refracts else vector)

    def azimuth_deg(self, t_s: Times) -> FloatArray:
        """Azimuth in degrees from north through east, 0 to below 360."""
        vector = self.horizontal(t_s)
        turned = np.degrees(np.arctan2(vector[1], vector[0])) % 360.0
        return np.where(turned >= 360.0, 0.0, turned)  # −1e-17 % 360 is 360

    def hour_angle_s(self, t_s: Times) -> FloatArray:
        """Hour angle in seconds (240 to a degree), in (−43200, 43200], never refracted."""
        x, y, _ = self.unit(t_s)
        turned = np.arctan2(-y, x) * (43200 / math.pi)
        return np.where(turned <= -43200.0, 43200.0, turned)

    def declination_deg(self, t_s: Times) -> FloatArray:
        """Apparent topocentric declination of date in degrees."""
        return elevation_deg(self.unit(t_s))

    def separation_deg(self, other: Track, t_s: Times) -> FloatArray:
        """Topocentric angle in degrees, 0..180, between two bodies."""
        return angle_deg(self.unit(t_s), other.unit(t_s))


class MoonTrack(Track):
    """The Moon: a disc, lit by the Sun."""

    def __init__(self, frame: LocalFrame, coefficients: FloatArray, sun: Track) -> None:
        """Keep the Sun beside it, for the phase."""
        super().__init__(frame, coefficients, finite=True)
        self.sun = sun

    def distance_km(self, t_s: Times) -> FloatArray:
        """Distance in km from the observer to the Moon's centre."""
        return self.place(t_s)[1]

    def semidiameter_deg(self, t_s: Times) -> FloatArray:
        """Apparent radius of the Moon's disc in degrees."""
        return np.degrees(np.arcsin(MOON_RADIUS_KM / self.distance_km(t_s)))

    def phase_angle_deg(self, t_s: Times) -> FloatArray:
        """Angle in degrees at the Moon between observer and Sun: 0 is full, 180 new."""
        unit, distance = self.place(t_s)
        sun_unit, sun_distance = self.sun.place(t_s)
        return phase_angle_between_deg(unit * distance, sun_unit * sun_distance)

    def illuminated(self, t_s: Times) -> FloatArray:
        """Lit share of the disc, 0..1 (Meeus, Astronomical Algorithms, 48.1)."""
        return (1.0 + np.cos(np.radians(self.phase_angle_deg(t_s)))) / 2.0

    def limb_above_deg(self, t_s: Times) -> FloatArray:
        """Degrees by which the upper limb stands above −34′ geometric; the Moon is up from 0 on."""
        unit, distance = self.place(t_s)
        altitude = elevation_deg(self.frame.horizontal(unit))
        return altitude + np.degrees(np.arcsin(MOON_RADIUS_KM / distance)) - UPPER_LIMB_AT_HORIZON_DEG

    def is_up(self, t_s: Times) -> BoolArray:
        """Whether the upper limb is at or above −34′ geometric."""
        return np.asarray(self.limb_above_deg(t_s) >= 0.0)
