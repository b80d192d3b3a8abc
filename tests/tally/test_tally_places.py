"""Places of headers turned into ICRS, held against astropy's own coordinates."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from optimizer.tally.frames import Frame
from optimizer.tally.places import icrs_of, icrs_of_frame

WHEN = dt.datetime(2027, 1, 14, 20, 31, tzinfo=dt.UTC)
SKY = [(0.0, 0.0), (52.297, 31.31), (359.99, -60.0), (180.0, 89.5), (266.4, -29.0)]
ARCSECOND = 1 / 3600


def apart_deg(one: tuple[float, float] | None, other: tuple[float, float]) -> float:
    import erfa
    import numpy as np

    assert one is not None
    return float(np.degrees(erfa.seps(*np.radians([*one, *other]))))


@pytest.mark.parametrize(("ra", "dec"), SKY)
def test_of_date_and_of_2000_lie_a_third_of_a_degree_apart(ra: float, dec: float) -> None:
    """By FK5 of that equinox, as astropy precesses it."""
    from astropy.coordinates import FK5, SkyCoord

    reference = SkyCoord(ra, dec, unit="deg", frame=FK5(equinox="J2027.04")).icrs
    found = icrs_of(ra, dec, equinox=2027.04)
    assert apart_deg(found, (reference.ra.deg, reference.dec.deg)) < 0.1 * ARCSECOND
    assert 0.14 < apart_deg(found, (ra, dec)) < 0.39


@pytest.mark.parametrize(("ra", "dec"), SKY)
@pytest.mark.parametrize("named", [True, False])
def test_of_1950_is_the_older_system(ra: float, dec: float, named: bool) -> None:
    from astropy.coordinates import FK4, SkyCoord

    reference = SkyCoord(ra, dec, unit="deg", frame=FK4(equinox="B1950", obstime="B1950")).icrs
    found = icrs_of(ra, dec, radesys="FK4") if named else icrs_of(ra, dec, equinox=1950.0)
    assert apart_deg(found, (reference.ra.deg, reference.dec.deg)) < 3 * ARCSECOND


@pytest.mark.parametrize(("ra", "dec"), SKY)
def test_apparent_places_are_of_the_date(ra: float, dec: float) -> None:
    """By ERFA's own way from ICRS to the apparent place: nutation and aberration are what is left."""
    import erfa
    import numpy as np

    jd_tt = erfa.dtf2d("TT", 2027, 1, 14, 20, 32, 9.2)
    apparent, declination, origins = erfa.atci13(*np.radians([ra, dec]), 0, 0, 0, 0, *jd_tt)
    place = np.degrees([erfa.anp(apparent - origins), declination])
    found = icrs_of(float(place[0]), float(place[1]), radesys="GAPPT", taken_utc=WHEN)
    assert (
        apart_deg(found, (ra, dec))
        < 40 * ARCSECOND
        < apart_deg((float(place[0]), float(place[1])), (ra, dec))
    )


def test_places_that_need_nothing_stay_as_they_are() -> None:
    assert icrs_of(52.297, 31.31) == (52.297, 31.31)
    assert icrs_of(360.0, 31.31) == (0.0, 31.31)
    assert icrs_of(52.297, 31.31, equinox=2027.0, radesys="ICRS") == (52.297, 31.31)
    assert apart_deg(icrs_of(52.297, 31.31, equinox=2000.0), (52.297, 31.31)) < 0.03 * ARCSECOND


def test_a_place_of_date_without_a_date_is_none() -> None:
    assert icrs_of(52.297, 31.31, radesys="GAPPT") is None
    there = Frame(
        Path("a.fits"), "a.fits", 5760, ra_deg=52.297, dec_deg=31.31, radesys="GAPPT", taken_utc=WHEN
    )
    assert icrs_of_frame(there) == icrs_of(52.297, 31.31, radesys="GAPPT", taken_utc=WHEN)
    assert icrs_of_frame(Frame(Path("a.fits"), "a.fits", 5760)) is None
