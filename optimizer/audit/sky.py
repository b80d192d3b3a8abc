"""Where targets, Sun and Moon stand, by astropy's own transforms; nothing is shared with the planner's route.

Targets are transformed at each wanted (target, second) pair, all pairs in one broadcast call. Precession,
nutation and the Earth's place and speed astropy then interpolates between instants 900 s apart, the Earth's
rotation it does not: 5e-7 arcsec, in hour angle 36 arcsec from the pole 2e-4 (measured against all in full).
Sun and Moon move smoothly: they are transformed every 2400 s and interpolated as horizontal vectors by
ten-point Lagrange polynomials. With the Earth turning 0.175 rad between nodes the remainder is below
0.175^10 * 872 / 10! = 7e-12 rad, 2e-6 arcsec; the Moon's vectors themselves waver by 7e-6 arcsec.
"""

from __future__ import annotations

import datetime as dt
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from astropy import units as u
from astropy.coordinates import AltAz, EarthLocation, HADec, SkyCoord, get_body, get_sun
from astropy.coordinates.erfa_astrom import ErfaAstromInterpolator, erfa_astrom
from astropy.table import QTable
from astropy.time import Time
from astropy.utils import iers
from erfa import ErfaWarning

from optimizer.audit.clock import NIGHT_S, REACH_S
from optimizer.audit.types import Floats, Ints
from optimizer.models.request import Request
from optimizer.models.site import iso_utc
from optimizer.sky.orientation import earth_orientation

SLOW_S = 900  # what hardly changes meanwhile is interpolated
NODE_S = 2400
POINTS = 10
VISUAL_UM = 0.55  # wavelength for refraction: the middle of V, in which moonlight and extinction are given
FAR_YEARS = ".*(dubious year|outside ?the range 1900-2100)"
FAR_MJD = 200_000.0  # beyond every date that is asked for
MOON_RADIUS_KM = 1737.4  # IAU/IAG Working Group on Cartographic Coordinates 2015

_ALONE = threading.RLock()  # astropy's settings are those of all threads: one night's would be another's


@dataclass(frozen=True)
class Places:
    """Targets at instants; every array has the shape of the question, NaN where there was no target.

    `hour_angle_s` (seconds of hour angle, 240 to a degree, in (-43200, 43200]) and `declination_deg` are
    unrefracted, topocentric, of date; `true_altitude_deg` and `azimuth_deg` are geometric; `altitude_deg`
    is refracted where the site gives a pressure.
    """

    hour_angle_s: Floats
    declination_deg: Floats
    true_altitude_deg: Floats
    azimuth_deg: Floats
    altitude_deg: Floats


@dataclass(frozen=True)
class Bodies:
    """Topocentric Sun and Moon at instants, as horizontal vectors of shape (n, 3): north, east, up in km."""

    sun: Floats
    moon: Floats

    @property
    def sun_altitude_deg(self) -> Floats:
        """Geometric altitude of the Sun's centre in degrees."""
        return _altitude(self.sun)

    @property
    def moon_altitude_deg(self) -> Floats:
        """Geometric altitude of the Moon's centre in degrees."""
        return _altitude(self.moon)

    @property
    def moon_limb_deg(self) -> Floats:
        """Geometric altitude of the Moon's upper limb in degrees."""
        radius: Floats = np.degrees(np.arcsin(MOON_RADIUS_KM / np.linalg.norm(self.moon, axis=-1)))
        return self.moon_altitude_deg + radius

    @property
    def phase_angle_deg(self) -> Floats:
        """Angle in degrees at the Moon between the observer and the Sun: 0 is full, 180 new."""
        return angle_deg(-self.moon, self.sun - self.moon)

    def moon_separation_deg(self, places: Places) -> Floats:
        """Angle in degrees between the Moon and the targets, both without refraction."""
        altitude, azimuth = np.radians(places.true_altitude_deg), np.radians(places.azimuth_deg)
        across = np.cos(altitude)
        towards = np.stack([across * np.cos(azimuth), across * np.sin(azimuth), np.sin(altitude)], axis=-1)
        return angle_deg(self.moon, towards)


def angle_deg(one: Floats, other: Floats) -> Floats:
    """Angle between vectors along the last axis, good at 0 and 180 degrees."""
    apart = np.linalg.norm(np.cross(one, other), axis=-1)
    angle: Floats = np.degrees(np.arctan2(apart, np.sum(one * other, axis=-1)))
    return angle


def _altitude(vectors: Floats) -> Floats:
    altitude: Floats = np.degrees(np.arcsin(vectors[..., 2] / np.linalg.norm(vectors, axis=-1)))
    return altitude


@dataclass(frozen=True)
class Orientation:
    """UT1-UTC before and from the UTC day `leap_mjd` on, polar motion.

    A night without a leap second has its day far ahead.
    """

    before_s: float
    after_s: float
    leap_mjd: float
    xp_arcsec: float
    yp_arcsec: float

    @classmethod
    def of_night(cls, origin: dt.datetime, measured_ut1_utc_s: float | None) -> Orientation:
        """The installed table's value at the middle of the night, or the measured one.

        UT1-UTC stands still through the night but for a leap second, which moves it by a whole one at the
        midnight UTC that it is entered at.
        """
        middle = origin + dt.timedelta(seconds=NIGHT_S // 2)
        ut1_utc_s, xp_arcsec, yp_arcsec = earth_orientation(middle, measured_ut1_utc_s)
        today = dt.datetime.combine(origin.date(), dt.time())
        with quiet_astropy():
            midnights = Time([today, today + dt.timedelta(days=1)], scale="utc")
            jump = round(float(np.diff((midnights.tai.mjd - midnights.mjd) * NIGHT_S)[0]))
            midnight_mjd = float(midnights.mjd[1])
        passed = jump if middle.date() > origin.date() else 0
        return cls(
            before_s=ut1_utc_s - passed,
            after_s=ut1_utc_s - passed + jump,
            leap_mjd=midnight_mjd if jump else FAR_MJD,
            xp_arcsec=xp_arcsec,
            yp_arcsec=yp_arcsec,
        )

    def elapsed_s(self, second: Ints, origin: dt.datetime) -> Ints:
        """SI seconds since the origin of UTC labels: those after a leap second are one more."""
        jump = round(self.after_s - self.before_s)
        if not jump:
            return second
        midnight = dt.datetime.combine(origin.date(), dt.time(), tzinfo=dt.UTC) + dt.timedelta(days=1)
        return second + jump * (second >= (midnight - origin) // dt.timedelta(seconds=1))


@contextmanager
def quiet_astropy() -> Iterator[None]:
    """No network, no expiry, no words about years that are far ahead; for one thread at a time.

    Those are "dubious year" (no leap second is known there yet) and, from 2100 on, that the series of the
    Earth's path was fitted to 1900-2100; a year later it is no worse.
    """
    with (
        _ALONE,
        iers.conf.set_temp("auto_download", False),
        iers.conf.set_temp("auto_max_age", None),
        warnings.catch_warnings(),
    ):
        warnings.filterwarnings("ignore", message=FAR_YEARS, category=ErfaWarning)
        yield


@contextmanager
def oriented(orientation: Orientation) -> Iterator[None]:
    """astropy turned by this orientation for every date: no file is parsed and nothing expires."""
    before, after, leap = orientation.before_s, orientation.after_s, orientation.leap_mjd
    table = QTable(
        {
            "MJD": [0.0, leap - 1, leap, FAR_MJD + 1] * u.d,
            "UT1_UTC": [before, before, after, after] * u.s,
            "PM_x": [orientation.xp_arcsec] * 4 * u.arcsec,
            "PM_y": [orientation.yp_arcsec] * 4 * u.arcsec,
            "dX_2000A": [0.0] * 4 * u.arcsec,
            "dY_2000A": [0.0] * 4 * u.arcsec,
        }
    )
    # each transform puts its times in words for a docstring: few words take a tenth of the time
    with (
        _ALONE,
        np.printoptions(threshold=0),
        quiet_astropy(),
        iers.earth_orientation_table.set(iers.IERS(table)),
    ):
        yield


class SkyBook:
    """The places of targets, Sun and Moon; each (target, second) pair is computed once."""

    def __init__(
        self, request: Request, origin: dt.datetime, reach_s: int = REACH_S, node_s: int = NODE_S
    ) -> None:
        """Count the seconds of all questions from `origin` (UTC); those beyond the reach have no answer.

        Sun and Moon are transformed every `node_s` seconds.
        """
        site = request.site
        self._reach_s, self._node_s = reach_s, node_s
        self._key_span = 4 * reach_s  # seconds reserved for one target in the keys of (target, second) pairs
        self._origin = origin.astimezone(dt.UTC)
        self.orientation = Orientation.of_night(origin, request.night.ut1_utc_s)
        self._place = EarthLocation.from_geodetic(
            site.longitude_deg * u.deg, site.latitude_deg * u.deg, site.elevation_m * u.m
        )
        self._ra_deg = np.array([target.ra_deg for target in request.targets])
        self._dec_deg = np.array([target.dec_deg for target in request.targets])
        self._air = (
            {
                "pressure": site.pressure_hpa * u.hPa,
                "temperature": site.temperature_c * u.deg_C,
                "relative_humidity": site.humidity,
                "obswl": VISUAL_UM * u.um,
            }
            if site.pressure_hpa > 0
            else {}
        )
        self._keys: Ints = np.empty(0, dtype=np.int64)
        self._known: Floats = np.empty((5, 0))
        self._node_from, self._node_until = 0, -1
        self._nodes: Floats = np.empty((2, 0, 3))

    def places(self, target: Ints, second: Ints) -> Places:
        """Targets (index in the request; -1 for none) at seconds after the origin; same shapes in and out."""
        asked = (target >= 0) & (np.abs(second) <= self._reach_s)
        keys = np.where(asked, target * self._key_span + second + self._reach_s, -1)
        missing = np.setdiff1d(keys[asked], self._keys)
        if missing.size:
            merged = np.concatenate([self._keys, missing])
            order = np.argsort(merged)
            self._keys = merged[order]
            self._known = np.concatenate([self._known, self._transform(missing)], axis=1)[:, order]
        values = np.full((5, *keys.shape), np.nan)
        if asked.any():
            values[:, asked] = self._known[:, np.searchsorted(self._keys, keys[asked])]
        return Places(*values)

    def bodies(self, second: Ints) -> Bodies:
        """Sun and Moon at seconds after the origin, shape (n,); NaN beyond the reach."""
        asked = np.abs(second) <= self._reach_s
        result = np.full((2, *second.shape, 3), np.nan)
        if asked.any():
            wanted = self.orientation.elapsed_s(second[asked], self._origin)
            self._cover(int(wanted.min()), int(wanted.max()))
            position = (wanted - self._node_from) / self._node_s
            left = np.floor(position).astype(np.int64) - (POINTS // 2 - 1)
            result[:, asked] = _lagrange(self._nodes, left, position - left)
        return Bodies(*result)

    def _times(self, second: Ints) -> Time:
        """Instants, as astropy has them, that lie so many SI seconds after the origin."""
        return Time(iso_utc(self._origin)[:-1], format="isot", scale="utc") + second * u.s

    def _transform(self, keys: Ints) -> Floats:
        target, second = keys // self._key_span, keys % self._key_span - self._reach_s
        with oriented(self.orientation), erfa_astrom.set(ErfaAstromInterpolator(SLOW_S * u.s)):
            times = self._times(self.orientation.elapsed_s(second, self._origin))
            stars = SkyCoord(self._ra_deg[target] * u.deg, self._dec_deg[target] * u.deg, frame="icrs")
            equator = stars.transform_to(HADec(obstime=times, location=self._place))
            horizon = stars.transform_to(AltAz(obstime=times, location=self._place))
            seen = (
                stars.transform_to(AltAz(obstime=times, location=self._place, **self._air))
                if self._air
                else horizon
            )
        turn = equator.ha.to_value(u.deg) * 240
        return np.stack(
            [
                43200 - np.mod(43200 - turn, 86400),
                equator.dec.to_value(u.deg),
                horizon.alt.to_value(u.deg),
                np.mod(horizon.az.to_value(u.deg), 360),
                seen.alt.to_value(u.deg),
            ]
        )

    def _cover(self, first: int, last: int) -> None:
        step_s = self._node_s
        edge_s = POINTS // 2 * step_s  # of nodes before and after what is asked
        if self._nodes.shape[1] and self._node_from <= first - edge_s and last + edge_s <= self._node_until:
            return
        # the whole night at once, which one check or another asks for in the end
        start = min(first - edge_s, self._node_from, -edge_s) // step_s * step_s
        stop = max(last, NIGHT_S) + edge_s
        seconds = np.arange(start, max(stop, self._node_until) + step_s, step_s, dtype=np.int64)
        with oriented(self.orientation):
            times = self._times(seconds)
            frame = AltAz(obstime=times, location=self._place)
            # not get_body for the Sun: that would let the Sun bend its own light (0.07 arcsec)
            bodies = (get_sun(times), get_body("moon", times, self._place, ephemeris="builtin"))
            tracks = [body.transform_to(frame).cartesian.xyz.to_value(u.km).T for body in bodies]
        self._nodes = np.stack(tracks)
        self._node_from, self._node_until = int(seconds[0]), int(seconds[-1])


def _lagrange(nodes: Floats, left: Ints, offset: Floats) -> Floats:
    """Interpolate `nodes` (..., k, 3) at `left` + `offset` steps, through POINTS nodes from `left`."""
    result = np.zeros((*nodes.shape[:-2], left.size, 3))
    for point in range(POINTS):
        weight = np.ones_like(offset)
        for other in range(POINTS):
            if other != point:
                weight *= (offset - other) / (point - other)
        result += weight[:, None] * nodes[..., left + point, :]
    return result
