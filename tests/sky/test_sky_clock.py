"""The night's clock: the origin rule and the time scales."""

from __future__ import annotations

import datetime as dt
import zoneinfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.models.site import Night
from optimizer.sky.clock import NightClock, night_clock, tai_minus_utc_s
from optimizer.sky.orientation import EarthOrientation
from tests.support.sky_cases import a_site


def _origin(evening: str, longitude_deg: float, zone: str) -> str:
    night = Night(evening=dt.date.fromisoformat(evening))
    origin = night_clock(night, a_site(10.0, longitude_deg, time_zone=zone)).origin
    return f"{origin:%Y-%m-%dT%H:%M:%S}"


@pytest.mark.parametrize(
    ("evening", "longitude_deg", "zone", "origin"),
    [
        ("2026-11-14", 0.0, "UTC", "2026-11-14T12:00:00"),
        ("2026-11-14", -3.11, "Europe/Madrid", "2026-11-14T12:12:26"),  # 12.4 s after the minute, rounded
        ("2026-11-14", -70.0, "America/Santiago", "2026-11-14T16:40:00"),
        ("2026-11-14", 150.0, "Australia/Sydney", "2026-11-14T02:00:00"),
        # Zone and longitude on different sides of the date line: the noon nearest to local noon counts.
        ("2026-11-14", -157.4, "Pacific/Kiritimati", "2026-11-13T22:29:36"),
        ("2026-11-14", 180.0, "Pacific/Auckland", "2026-11-14T00:00:00"),
        ("2026-11-14", -180.0, "Pacific/Auckland", "2026-11-14T00:00:00"),
        # A site far from its zone's meridian, or whose zone was left at UTC.
        ("2026-11-14", 116.0, "UTC", "2026-11-14T04:16:00"),
        ("2026-11-14", 75.0, "Asia/Shanghai", "2026-11-14T07:00:00"),
    ],
)
def test_the_origin_is_the_solar_noon_nearest_to_local_noon(
    evening: str, longitude_deg: float, zone: str, origin: str
) -> None:
    assert _origin(evening, longitude_deg, zone) == origin


@settings(deadline=None)
@given(
    st.dates(dt.date(1973, 1, 1), dt.date(2100, 12, 31)),
    st.floats(-180, 180),
    st.sampled_from(["UTC", "Europe/Oslo", "Pacific/Kiritimati", "Pacific/Pago_Pago", "Asia/Kathmandu"]),
)
def test_the_origin_is_within_half_a_day_of_local_noon(
    date: dt.date, longitude_deg: float, zone: str
) -> None:
    clock = night_clock(Night(evening=date), a_site(0.0, longitude_deg, time_zone=zone))
    noon = dt.datetime.combine(date, dt.time(12), tzinfo=zoneinfo.ZoneInfo(zone))
    assert abs(clock.origin - noon) <= dt.timedelta(hours=12, seconds=1)
    solar_s = clock.origin.hour * 3600 + clock.origin.minute * 60 + clock.origin.second + longitude_deg * 240
    assert abs((solar_s - 43200 + 43200) % 86400 - 43200) <= 0.5
    assert clock.seconds(clock.utc(12345)) == 12345.0


def test_a_naive_or_fractional_origin_is_refused() -> None:
    with pytest.raises(ValueError, match="aware UTC"):
        NightClock(dt.datetime(2024, 1, 1))  # noqa: DTZ001
    with pytest.raises(ValueError, match="whole second"):
        NightClock(dt.datetime(2024, 1, 1, 0, 0, 0, 5, tzinfo=dt.UTC))


def test_leap_seconds_by_the_table() -> None:
    # TAI − UTC: 10 s from 1972-01-01, 19 s in 1980, 32 s in 1999, 37 s since 2017-01-01 (IERS Bulletin C).
    for date, seconds in (("1971-06-01", 10), ("1980-01-01", 19), ("1999-01-01", 32), ("2100-01-01", 37)):
        mjd = dt.date.fromisoformat(date).toordinal() - 678576
        assert tai_minus_utc_s(float(mjd)) == seconds
    assert list(tai_minus_utc_s(np.array([57753.9, 57754.0]))) == [36, 37]


def test_terrestrial_time_is_69_184_s_ahead_since_2017() -> None:
    clock = NightClock(dt.datetime(2026, 11, 14, 12, tzinfo=dt.UTC))
    (utc1, utc2), (tt1, tt2) = clock.utc_jd(3600.0), clock.tt_jd(3600.0)
    assert utc1 + float(utc2) == pytest.approx(2461359.0 + 1 / 24, abs=1e-9)
    assert ((tt1 - utc1) + float(tt2 - utc2)) * 86400 == pytest.approx(69.184, abs=1e-6)


@pytest.mark.parametrize(("hour", "leap_at_s"), [(12, 43200), (0, 86400), (23, 3600)])
def test_across_a_leap_second_the_scales_run_on(hour: int, leap_at_s: int) -> None:
    clock = NightClock(dt.datetime(2016, 12, 31, hour, tzinfo=dt.UTC))
    around = np.array([leap_at_s - 1.0, leap_at_s])
    assert list(np.diff(clock.elapsed_s(around))) == [2.0]  # 23:59:59 to 0:00:00 lasts two seconds
    middle_is_before = leap_at_s > 43200
    orientation = EarthOrientation(-0.4085 if middle_is_before else 0.5915, 0.0, 0.0)
    first, second = clock.ut1_jd(around, orientation)
    ahead_s = ((first - clock.utc_jd(around)[0]) + second - clock.utc_jd(around)[1]) * 86400
    assert list(ahead_s) == pytest.approx([-0.4085, 0.5915], abs=1e-6)


def test_the_night_after_a_leap_second_has_none() -> None:
    clock = NightClock(dt.datetime(2017, 1, 1, 0, 30, tzinfo=dt.UTC))
    assert list(clock.elapsed_s(np.array([0.0, 86400.0]))) == [0.0, 86400.0]
    first, second = clock.tt_jd(0.0)
    assert ((first - clock.utc_jd(0.0)[0]) + float(second - clock.utc_jd(0.0)[1])) * 86400 == pytest.approx(
        69.184, abs=1e-6
    )
