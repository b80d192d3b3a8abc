"""The night's clock: whole seconds after its origin, and the time scales that the sky runs on."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path

import numpy as np
from astropy_iers_data import IERS_LEAP_SECOND_FILE
from numpy.typing import NDArray

from optimizer.models.site import Night, Site, night_span
from optimizer.sky.orientation import EarthOrientation, modified_julian_day

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]
Times = float | FloatArray
JulianDate = tuple[float, FloatArray]

SPAN_S = 86400
MIDDLE_S = SPAN_S // 2
TT_MINUS_TAI_S = 32.184
_MJD_ZERO = 2400000.5


@lru_cache(maxsize=1)
def _leap_steps() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Modified Julian days since 1972 at which TAI − UTC changes, and its values in seconds from there."""
    lines = Path(IERS_LEAP_SECOND_FILE).read_text(encoding="ascii").splitlines()
    rows = [line.split() for line in lines if line.strip() and not line.startswith("#")]
    return tuple(float(row[0]) for row in rows), tuple(float(row[-1]) for row in rows)


def tai_minus_utc_s(mjd_utc: Times) -> FloatArray:
    """TAI − UTC in seconds by the table of leap seconds, whose first and last values hold beyond it."""
    days, values = _leap_steps()
    index = np.searchsorted(np.asarray(days), mjd_utc, side="right") - 1
    return np.asarray(np.asarray(values)[np.maximum(index, 0)], dtype=np.float64)


@dataclass(frozen=True)
class NightClock:
    """Seconds after `origin`, an aware UTC datetime on a whole second; the night is 0..86400.

    Labels count, as in all of the planner: across a leap second (none since 2016) the sky jumps by a second.
    """

    origin: dt.datetime

    SPAN_S = SPAN_S

    def __post_init__(self) -> None:
        """Refuse a naive or fractional origin."""
        if self.origin.utcoffset() != dt.timedelta(0) or self.origin.microsecond:
            raise ValueError("the origin must be an aware UTC datetime on a whole second")

    def utc(self, t_s: int) -> dt.datetime:
        """The UTC instant `t_s` seconds after the origin."""
        return self.origin + dt.timedelta(seconds=t_s)

    def seconds(self, instant: dt.datetime) -> float:
        """Seconds from the origin to an aware instant; negative before it."""
        return (instant - self.origin).total_seconds()

    @property
    def middle(self) -> dt.datetime:
        """The middle of the night, near mean solar midnight, for which the Earth's orientation is taken."""
        return self.utc(MIDDLE_S)

    @cached_property
    def _mjd(self) -> float:
        return modified_julian_day(self.origin)

    @cached_property
    def _leap(self) -> tuple[float, float]:
        """Seconds after the origin at which a leap second falls, and its size; (inf, 0) without one."""
        midnight = np.floor(self._mjd) + 1.0  # the one midnight of the night, or its very end
        size_s = float(tai_minus_utc_s(midnight) - tai_minus_utc_s(self._mjd))
        return (round((midnight - self._mjd) * SPAN_S), size_s) if size_s else (np.inf, 0.0)

    def elapsed_s(self, t_s: Times) -> FloatArray:
        """SI seconds since the origin: `t_s` itself, and one more after a leap second."""
        at_s, size_s = self._leap
        t = np.asarray(t_s, dtype=np.float64)
        return t if size_s == 0.0 else t + size_s * (t >= at_s)

    def utc_jd(self, t_s: Times) -> JulianDate:
        """UTC as a two-part Julian date (each day 86400 s)."""
        return _MJD_ZERO + self._mjd, np.asarray(t_s, dtype=np.float64) / SPAN_S

    def tt_jd(self, t_s: Times) -> JulianDate:
        """Terrestrial Time as a two-part Julian date."""
        ahead_s = float(tai_minus_utc_s(self._mjd)) + TT_MINUS_TAI_S
        return _MJD_ZERO + self._mjd, (self.elapsed_s(t_s) + ahead_s) / SPAN_S

    def ut1_jd(self, t_s: Times, orientation: EarthOrientation) -> JulianDate:
        """UT1 as a two-part Julian date; UT1 − TAI is taken as constant over the night (about 1 ms a day)."""
        leap_at_middle_s = float(self.elapsed_s(float(MIDDLE_S))) - MIDDLE_S
        ahead_s = orientation.ut1_utc_s - leap_at_middle_s
        return _MJD_ZERO + self._mjd, (self.elapsed_s(t_s) + ahead_s) / SPAN_S


def night_clock(night: Night, site: Site) -> NightClock:
    """The clock of a night: origin at the mean solar noon nearest to 12:00 in the site's zone that day."""
    return NightClock(night_span(night, site.longitude_deg, site.time_zone)[0])
