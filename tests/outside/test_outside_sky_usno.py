"""Tables by the US Naval Observatory, as the installed `ephem` package carries them (`ephem/tests/usno`).

Times there are whole minutes, so 30 s of every residual are theirs; tolerance 0.6 min. Nothing is copied: the
files are read where they are installed.
"""

from __future__ import annotations

import datetime as dt
import functools
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import ephem
import erfa
import numpy as np
import pytest

from optimizer.models.site import Site
from optimizer.sky.bodies import NightSky
from optimizer.sky.crossings import Sampled
from optimizer.sky.orientation import EarthOrientation
from optimizer.sky.tracks import Track
from optimizer.sky.transits import lower_transits, upper_transits
from tests.support.outside.sky import (
    a_site,
    a_sky,
    arcsec,
    dms,
    ecliptic_of_date,
    equinox_place,
    hms,
    sky_from,
    within,
)
from tests.support.speeds import outside

pytestmark = outside

TABLES = Path(ephem.__file__).parent / "tests" / "usno"
MINUTES = 0.6
Events = list[tuple[str, dt.datetime]]


def _lines(name: str) -> list[str]:
    return (TABLES / name).read_text(encoding="utf-8").splitlines()


def _nights(site: Site, first: dt.date, last: dt.date) -> Iterator[NightSky]:
    """Nights that follow each other without a gap from the day before to the day after."""
    for day in range((last - first).days + 3):
        yield a_sky(first + dt.timedelta(days=day - 1), site)


def _events(
    site: Site, first: dt.date, last: dt.date, signals: Callable[[NightSky], dict[str, list[float]]]
) -> Events:
    """All events of the days in zone-free UTC."""
    found = [
        (kind, sky.clock.origin + dt.timedelta(seconds=t))
        for sky in _nights(site, first, last)
        for kind, times in signals(sky).items()
        for t in times
    ]
    return sorted(found, key=lambda event: event[1])


def _rises_and_sets(signal: Callable[[np.ndarray], np.ndarray], level: float) -> dict[str, list[float]]:
    spans = Sampled(signal).at_least(level)
    return {
        "rise": [start for start, _ in spans if start > 0.0],
        "set": [end for _, end in spans if end < 86400.0],
    }


def _compare(ours: Events, theirs: Events, zone_h: float, what: str) -> int:
    """Each printed event has one of ours within the tolerance, and the other way round on the same days."""
    zone = dt.timedelta(hours=zone_h)
    days = {printed.date() for _, printed in theirs}
    worst = 0.0
    for kind in {kind for kind, _ in theirs}:
        mine = [(at + zone).replace(tzinfo=None) for name, at in ours if name == kind]
        printed = sorted(at for name, at in theirs if name == kind)
        # Half a minute around midnight an event may be printed on either day.
        near = dt.timedelta(minutes=MINUTES)
        inside = [at for at in mine if {(at - near).date(), (at + near).date()} & days]
        for at in printed:
            off = min(abs((at - other).total_seconds()) for other in inside) / 60
            worst = max(worst, off)
            assert off <= MINUTES, f"{what}: {kind} at {at} is missing, {off:.2f} min to the nearest"
        for other in inside:
            off = min(abs((at - other).total_seconds()) for at in printed) / 60
            assert off <= MINUTES, f"{what}: {kind} at {other} is not printed"
    within(f"{what}, {len(theirs)} events", worst, MINUTES, "min")
    return len(theirs)


def _year_table(name: str, year: int) -> Events:
    """The two columns a month of a yearly table."""
    found: Events = []
    for line in _lines(name):
        if not re.match(r"\d\d  ", line):
            continue
        for month in range(12):
            for kind, at in (("rise", 4 + 11 * month), ("set", 9 + 11 * month)):
                cell = line[at : at + 4].strip()
                if cell:
                    day = dt.datetime(year, month + 1, int(line[:2]))  # noqa: DTZ001 - zone time
                    found.append((kind, day + dt.timedelta(hours=int(cell[:2]), minutes=int(cell[2:]))))
    return found


def test_the_sun_at_atlanta_in_2007() -> None:
    # 730 events. Largest residual seen: 0.553 min.
    site = a_site(33 + 46 / 60, -(84 + 25 / 60))
    ours = _events(
        site,
        dt.date(2007, 1, 1),
        dt.date(2007, 12, 31),
        lambda sky: _rises_and_sets(sky.sun.geometric_altitude_deg, -50 / 60),
    )
    assert _compare(ours, _year_table("riset_sun.txt", 2007), -5, "Sun, Atlanta") == 730


def test_the_moon_at_boston_in_1984() -> None:
    # 707 events. Largest residual seen: 0.564 min.
    site = a_site(42 + 19 / 60, -(71 + 5 / 60))
    ours = _events(
        site,
        dt.date(1984, 1, 1),
        dt.date(1984, 12, 31),
        lambda sky: _rises_and_sets(sky.moon.limb_above_deg, 0.0),
    )
    assert _compare(ours, _year_table("riset_moon.txt", 1984), -5, "Moon, Boston") == 707


DAY = re.compile(r"^(\d{4} \w{3} \d\d) \(\w{3}\)")


def _day_table(name: str, columns: dict[str, int]) -> tuple[Events, list[tuple[str, dt.datetime, int]]]:
    """Events of a daily table, and the azimuth or altitude that stands beside each."""
    found: Events = []
    beside: list[tuple[str, dt.datetime, int]] = []
    for line in _lines(name):
        if not (match := DAY.match(line)):
            continue
        day = dt.datetime.strptime(match[1], "%Y %b %d")  # noqa: DTZ007 - zone time
        for kind, at in columns.items():
            cell = re.match(r"\s*(\d\d):(\d\d)\s+(\d+)", line[at : at + 14])
            if cell:
                when = day + dt.timedelta(hours=int(cell[1]), minutes=int(cell[2]))
                found.append((kind, when))
                beside.append((kind, when, int(cell[3])))
    return found, beside


def _check_beside(
    site: Site, beside: list[tuple[str, dt.datetime, int]], zone_h: float, body: Callable[[NightSky], Track]
) -> float:
    """Largest difference of azimuths at rise and set, altitudes at transits, degrees."""
    worst = 0.0
    for kind, when, printed in beside:
        at = when.replace(tzinfo=dt.UTC) - dt.timedelta(hours=zone_h)
        sky = sky_from(at - dt.timedelta(hours=12), site)
        track = body(sky)
        if kind in ("rise", "set"):
            worst = max(worst, abs((float(track.azimuth_deg(43200.0)) - printed + 180) % 360 - 180))
        else:
            worst = max(worst, abs(abs(float(track.altitude_deg(43200.0))) - printed))
    return worst


def test_the_moon_at_fairbanks() -> None:
    # 2006-06-15 to 07-05, among them days on which it neither rises nor sets, and lower transits above the
    # horizon. 59 events; largest residuals seen: 0.557 min, 0.56 degrees of what is printed beside them.
    site = a_site(64 + 48.6 / 60, -147.75)
    columns = {"rise": 25, "transit": 40, "set": 55, "lower": 72}
    printed, beside = _day_table("risettran_moon.txt", columns)
    first, last = (at.date() for at in (printed[0][1], printed[-1][1]))

    def signals(sky: NightSky) -> dict[str, list[float]]:
        found = _rises_and_sets(sky.moon.limb_above_deg, 0.0)
        lower = [t for t in lower_transits(sky.moon) if sky.moon.is_up(t)]  # printed only where it is up
        return found | {"transit": list(upper_transits(sky.moon)), "lower": lower}

    assert _compare(_events(site, first, last, signals), printed, -8, "Moon, Fairbanks") > 55
    rates = [item for item in beside if item[0] != "lower"]
    within("Moon, Fairbanks, beside", _check_beside(site, rates, -8, lambda sky: sky.moon), 1.0, "deg")


def test_rigel_at_philadelphia() -> None:
    # 2006-04-29 to 05-28: rise and set of a point at -34'. 90 events; largest residuals seen: 0.508 min,
    # 0.32 degrees.
    site = a_site(40.0, -75.15)
    printed, beside = _day_table("risettran_rigel.txt", {"rise": 25, "transit": 40, "set": 55})
    rigel = ephem.star("Rigel")
    place = (float(np.degrees(rigel._ra)), float(np.degrees(rigel._dec)))  # J2000; proper motion 2 mas a year

    def signals(sky: NightSky) -> dict[str, list[float]]:
        star = sky.star(*place)
        found = _rises_and_sets(star.geometric_altitude_deg, -34 / 60)
        return found | {"transit": list(upper_transits(star))}

    first, last = (at.date() for at in (printed[0][1], printed[-1][1]))
    assert _compare(_events(site, first, last, signals), printed, -4, "Rigel, Philadelphia") > 80
    worst = _check_beside(site, beside, -4, lambda sky: sky.star(*place))
    within("Rigel, Philadelphia, beside", worst, 0.6, "deg")


PLACE = re.compile(
    r"^(\d{4} \w{3} \d\d) 00:00:00\.0 +(\d+ +\d+ +[\d.]+) +([+-] *\d+ +\d+ +[\d.]+)(?: +([\d.]+))?"
)


def _place_table(name: str) -> list[tuple[dt.datetime, tuple[float, float], float]]:
    rows = []
    for line in _lines(name):
        if match := PLACE.match(line):
            at = dt.datetime.strptime(match[1], "%Y %b %d").replace(tzinfo=dt.UTC)
            rows.append((at, (hms(match[2]), dms(match[3])), float(match[4] or 0)))
    assert len(rows) == 12
    return rows


def _deneb(at: dt.datetime) -> tuple[float, float]:
    """J2000 place from ephem's catalogue, moved to the date."""
    star = ephem.star("Deneb")
    years = (at - dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)).days / 365.25
    milliarcsec = 1 / 3.6e6
    dec = float(np.degrees(star._dec)) + years * star._pmdec * milliarcsec
    ra = float(np.degrees(star._ra)) + years * star._pmra * milliarcsec / np.cos(np.radians(dec))
    return ra, dec


BODIES: dict[str, tuple[Callable[[NightSky, dt.datetime], Track], float]] = {
    "deneb": (lambda sky, at: sky.star(*_deneb(at)), 0.15),
    "sun": (lambda sky, _: sky.sun, 0.1),
    "moon": (lambda sky, _: sky.moon, 10.0),
}


@pytest.mark.parametrize("name", list(BODIES))
def test_apparent_geocentric_places(name: str) -> None:
    # Largest residuals seen: Deneb 0.022", Sun 0.043" and 2 km, Moon 7.4" and 4 km (ERFA's is good to 10").
    # The tables run in UT1: 0h UT1 = 0h UTC - (UT1 - UTC).
    body, tolerance = BODIES[name]
    worst, range_km = 0.0, 0.0
    for at, printed, distance in _place_table(f"appgeo_{name}.txt"):
        sky = sky_from(at, a_site(0.0, 0.0))
        t_s = -sky.orientation.ut1_utc_s
        track = body(sky, at)
        worst = max(worst, arcsec(equinox_place(track, t_s), printed))
        if distance:
            scale = 149597870.7 if name == "sun" else 1.0
            range_km = max(range_km, abs(float(np.linalg.norm(track.geocentric(t_s))) - distance * scale))
    within(f"{name}, geocentric", worst, tolerance, "arcsec")
    if range_km:
        within(f"{name}, distance", range_km, 10.0 if name == "moon" else 20.0, "km")


@pytest.mark.parametrize("name", list(BODIES))
def test_apparent_topocentric_places(name: str) -> None:
    # Atlanta. Largest residuals seen: Deneb 0.022", Sun 0.040", Moon 7.5".
    body, tolerance = BODIES[name]
    site = a_site(33.76, -84.41, 322.0)
    worst = 0.0
    for at, printed, _ in _place_table(f"apptopo_{name}.txt"):
        sky = sky_from(at, site)
        # The tables leave the pole where it is; with polar motion they differ by its 0.3".
        sky = NightSky(site, sky.clock, EarthOrientation(sky.orientation.ut1_utc_s, 0.0, 0.0))
        t_s = -sky.orientation.ut1_utc_s
        track = body(sky, at)
        # Right ascension by way of our hour angle and ERFA's sidereal time.
        sidereal = _sidereal_deg(sky, t_s)
        ra = (sidereal + site.longitude_deg - float(track.hour_angle_s(t_s)) / 240) % 360
        worst = max(worst, arcsec((ra, float(track.declination_deg(t_s))), printed))
    within(f"{name}, topocentric", worst, tolerance, "arcsec")


def _sidereal_deg(sky: NightSky, t_s: float) -> float:
    ut1 = (float(part) for part in sky.clock.ut1_jd(t_s, sky.orientation))
    tt = (float(part) for part in sky.clock.tt_jd(t_s))
    return float(np.degrees(erfa.gst06a(*ut1, *tt)))


@functools.cache
def _phases() -> list[tuple[dt.datetime, int]]:
    months = {dt.date(1980, n, 1).strftime("%b"): n for n in range(1, 13)}
    found = []
    for line in _lines("moon_phases.txt"):
        for match in re.finditer(r"(\w{3}) +(\d+) +(\d+) +(\d+)", line):
            if match[1] in months:
                day, hour, minute = (int(group) for group in match.groups()[1:])
                at = dt.datetime(1980, months[match[1]], day, hour, minute, tzinfo=dt.UTC)
                found.append((at, (match.start() + 2) // 16))
    return found


def test_phases_of_the_moon_in_1980() -> None:
    # Apparent longitudes of Moon and Sun differ by quarters of a turn. Largest residual: 0.73 min, of which
    # 0.5 are the table's; the rest is 7" of the Moon at half an arcsecond a second. Tolerance 0.8 min.
    worst = 0.0
    for at, quarter in _phases():
        sky = sky_from(at, a_site(0.0, 0.0))
        gap = ecliptic_of_date(sky.moon, 0.0)[0] - ecliptic_of_date(sky.sun, 0.0)[0] - 90 * quarter
        later = ecliptic_of_date(sky.moon, 60.0)[0] - ecliptic_of_date(sky.sun, 60.0)[0] - 90 * quarter
        gap, later = ((value + 180) % 360 - 180 for value in (gap, later))
        worst = max(worst, abs(gap / (later - gap)))
    assert len(_phases()) > 45
    within("phases", worst, 0.8, "min")
