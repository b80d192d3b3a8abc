"""What a frame is said to be, by headers as programs and observatories write them."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest

from optimizer.tally.fields import frame_of
from optimizer.tally.fits_header import Header
from optimizer.tally.frames import Frame

PATH = Path("night") / "sub.fits"


def frame(**cards: Any) -> Frame:
    """The frame of a header with these cards; `_` in a name stands for the hyphen of its keyword."""
    return frame_of(
        PATH, 5760, Header({key.replace("_", "-"): value for key, value in cards.items()}, (), 5760)
    )


def utc(year: int, month: int, day: int, *clock: int) -> dt.datetime:
    hour, minute, second, microsecond = (*clock, 0, 0, 0, 0)[:4]
    return dt.datetime(year, month, day, hour, minute, second, microsecond, tzinfo=dt.UTC)


def test_a_header_without_anything_is_a_frame_without_anything() -> None:
    assert frame() == Frame(PATH, "sub.fits", 5760)


NAMES = [
    ({"OBJECT": "Cradle Nebula "}, "Cradle Nebula", "OBJECT"),
    ({"OBJECT": "Unknown "}, None, None),
    ({"OBJECT": "Unknown ", "TARGNAME": "HD101998"}, "HD101998", "TARGNAME"),
    ({"OBJECT": "", "OBJNAME": "n/a", "TARGET": "IC 1805"}, "IC 1805", "TARGET"),
    ({"OBJECT": 1805}, "1805", "OBJECT"),
    ({"OBJECT": True}, None, None),
]


@pytest.mark.parametrize(("cards", "name", "used"), NAMES)
def test_names_of_objects(cards: dict[str, Any], name: str | None, used: str | None) -> None:
    found = frame(**cards)
    assert (found.object, found.used.get("object")) == (name, used)
    assert found.odd == (("OBJECT = true is no name",) if cards == {"OBJECT": True} else ())


KINDS = [
    ({"IMAGETYP": "LIGHT"}, "light"),
    ({"IMAGETYP": "Light Frame"}, "light"),
    ({"IMAGETYP": "object"}, "light"),
    ({"OBSTYPE": "SCIENCE"}, "light"),
    ({"FRAME": "Light"}, "light"),
    ({"IMAGETYP": "Dark Frame"}, "dark"),
    ({"IMAGETYP": "DARKFLAT"}, "dark"),
    ({"IMAGETYP": "Flat Field"}, "flat"),
    ({"OBSTYPE": "skyflat"}, "flat"),
    ({"IMAGETYP": "Bias Frame"}, "bias"),
    ({"OBSTYPE": "zero"}, "bias"),
    ({"IMAGETYP": "Master Light"}, "other"),
    ({"IMAGETYP": "focus"}, "other"),
    ({"IMAGETYP": "Light Frame", "NCOMBINE": 20}, "other"),
    ({"IMAGETYP": "Light Frame", "NCOMBINE": 1}, "light"),
    ({"FRAME": "FK5"}, "unknown"),
    ({"FRAME": 17}, "unknown"),
    ({"IMAGETYP": "", "OBSTYPE": "dark"}, "dark"),
    ({"IMAGETYP": "none"}, "unknown"),
]


@pytest.mark.parametrize(("cards", "kind"), KINDS)
def test_kinds_of_frames(cards: dict[str, Any], kind: str) -> None:
    found = frame(**cards)
    assert found.kind == kind
    assert ("kind" in found.used) == (kind != "unknown")


FILTERS = [
    ({"FILTER": " Ha "}, "Ha", "FILTER"),
    ({"FILTER": 3}, "3", "FILTER"),
    ({"FILTER": "3"}, "3", "FILTER"),
    ({"FILTER": 3.0}, "3", "FILTER"),
    ({"FILTERS": "OIII"}, "OIII", "FILTERS"),
    ({"FILTER1": "Open", "FILTER2": "Ha"}, "Ha", "FILTER2"),
    ({"FILTER1": "F606W", "FILTER2": "CLEAR"}, "F606W", "FILTER1"),
    ({"FILTER": "Clear"}, "Clear", "FILTER"),
    ({"FILTER1": "Clear", "FILTER2": "Open"}, "Clear", "FILTER1"),
    ({"FILTER": "None"}, None, None),
]


@pytest.mark.parametrize(("cards", "name", "used"), FILTERS)
def test_filters(cards: dict[str, Any], name: str | None, used: str | None) -> None:
    found = frame(**cards)
    assert (found.filter, found.used.get("filter")) == (name, used)


EXPOSURES = [
    ({"EXPTIME": 300}, 300.0, "EXPTIME"),
    ({"EXPOSURE": 299.98, "XPOSURE": 1.0}, 299.98, "EXPOSURE"),
    ({"XPOSURE": 0.23}, 0.23, "XPOSURE"),
    ({"EXPTIME": "300.0 s"}, 300.0, "EXPTIME"),
    ({"EXPTIME": "3.0D+02"}, 300.0, "EXPTIME"),
    ({"EXPTIME": "", "EXPOSURE": 60}, 60.0, "EXPOSURE"),
    ({"EXPTIME": "five", "EXPOSURE": 60}, 60.0, "EXPOSURE"),
    ({"EXPTIME": -1.0}, None, None),
    ({"EXPTIME": True}, None, None),
    ({"EXPTIME": 1j}, None, None),
    ({"EXPTIME": 10**400}, None, None),
    ({"EXPTIME": "1e999"}, None, None),
]


@pytest.mark.parametrize(("cards", "seconds", "used"), EXPOSURES)
def test_exposures(cards: dict[str, Any], seconds: float | None, used: str | None) -> None:
    found = frame(**cards)
    assert (found.exposure_s, found.used.get("exposure_s")) == (seconds, used)
    assert bool(found.odd) == (used != "EXPTIME" and cards.get("EXPTIME", "") != "")


INSTANTS = [
    # FITS Standard 4.0, 9.1.1: ISO-8601 without a zone, UTC; and 4.4.2.1: DD/MM/YY for 1900 to 1999
    ({"DATE_OBS": "2026-11-14T20:31:05.123456789"}, utc(2026, 11, 14, 20, 31, 5, 123456), "DATE-OBS"),
    ({"DATE_OBS": "2026-11-14T20:31:05"}, utc(2026, 11, 14, 20, 31, 5), "DATE-OBS"),
    ({"DATE_OBS": "2026-11-14 20:31:05."}, utc(2026, 11, 14, 20, 31, 5), "DATE-OBS"),
    ({"DATE_OBS": "2026-11-14T20:31:05Z"}, utc(2026, 11, 14, 20, 31, 5), "DATE-OBS"),
    ({"DATE_OBS": "2026-11-14T20:31:05+01:00"}, utc(2026, 11, 14, 19, 31, 5), "DATE-OBS"),
    ({"DATE_OBS": "2016-12-31T23:59:60.5"}, utc(2017, 1, 1, 0, 0, 0, 500000), "DATE-OBS"),
    (
        {"DATE_OBS": "19/05/94", "TIME_OBS": "15:41:16"},
        utc(1994, 5, 19, 15, 41, 16),
        "DATE-OBS with TIME-OBS",
    ),
    (
        {"DATE_OBS": "1998-04-20", "TIME_OBS": "18:38:15.2"},
        utc(1998, 4, 20, 18, 38, 15, 200000),
        "DATE-OBS with TIME-OBS",
    ),
    ({"DATE_OBS": "1998-04-20", "UT": "8:38:15"}, utc(1998, 4, 20, 8, 38, 15), "DATE-OBS with UT"),
    ({"DATE_OBS": "1998-04-20", "DATE_BEG": "1998-04-20T18:38:15"}, utc(1998, 4, 20, 18, 38, 15), "DATE-BEG"),
    ({"DATE_OBS": "", "DATE_BEG": "2026-11-14T20:31:05"}, utc(2026, 11, 14, 20, 31, 5), "DATE-BEG"),
    ({"MJD_OBS": 61358.5}, utc(2026, 11, 14, 12), "MJD-OBS"),
    ({"DATE_OBS": "2026-11-14T20:31:05", "TIMESYS": "TAI"}, utc(2026, 11, 14, 20, 31, 5), "DATE-OBS"),
]


@pytest.mark.parametrize(("cards", "instant", "used"), INSTANTS)
def test_instants(cards: dict[str, Any], instant: dt.datetime, used: str) -> None:
    found = frame(**cards)
    assert (found.taken_utc, found.used["taken_utc"]) == (instant, used)
    assert found.taken_utc is not None
    assert found.taken_utc.utcoffset() == dt.timedelta(0)


def test_the_text_of_a_date_is_the_files_own() -> None:
    assert frame(DATE_OBS=" 2026-11-14T20:31:05.1230 ").date_obs == "2026-11-14T20:31:05.1230"
    assert frame(DATE_OBS="19/05/94", TIME_OBS="15:41:16").date_obs == "19/05/94 15:41:16"
    assert frame(MJD_OBS=61358.855).date_obs == "61358.855"
    assert frame().date_obs is None


NO_INSTANTS = [
    ({"DATE_OBS": "2026-11-14"}, 'DATE-OBS = "2026-11-14" has no time of day'),
    ({"DATE_OBS": "2026-11-14", "TIME_OBS": 5.0}, 'DATE-OBS = "2026-11-14" has no time of day'),
    (
        {"DATE_OBS": "2026-02-30T00:00:00"},
        'DATE-OBS = "2026-02-30T00:00:00" is no date and time of the calendar',
    ),
    (
        {"DATE_OBS": "2026-11-14T24:00:00"},
        'DATE-OBS = "2026-11-14T24:00:00" is no date and time of the calendar',
    ),
    (
        {"DATE_OBS": "9999-12-31T23:59:60"},
        'DATE-OBS = "9999-12-31T23:59:60" is no date and time of the calendar',
    ),
    (
        {"DATE_OBS": "0001-01-01T00:00:00+10:00"},
        'DATE-OBS = "0001-01-01T00:00:00+10:00" is no date and time of the calendar',
    ),
    ({"DATE_OBS": "yesterday"}, 'DATE-OBS = "yesterday" is no date'),
    ({"DATE_OBS": 20261114}, "DATE-OBS = 20261114 is no date"),
    ({"DATE_OBS": True}, "DATE-OBS = true is no date"),
    ({"MJD_OBS": 1e300}, "MJD-OBS = 1e+300 is no date"),
    (
        {"DATE_OBS": "2026-11-14T20:31:05", "TIMESYS": "local"},
        "TIMESYS says that its times are those of a local clock",
    ),
]


@pytest.mark.parametrize(("cards", "odd"), NO_INSTANTS)
def test_what_is_no_instant_is_told(cards: dict[str, Any], odd: str) -> None:
    found = frame(**cards)
    assert (found.taken_utc, found.odd) == (None, (odd,))
    assert found.date_obs == str(cards.get("DATE_OBS", cards.get("MJD_OBS"))).replace("True", "true")


PLACES = [
    ({"RA": 52.297, "DEC": 31.31}, (52.297, 31.31), ("RA", "DEC")),
    ({"RA": "03:29:11", "DEC": "-31:18:36"}, (52.295833, -31.31), ("RA", "DEC")),
    ({"RA": "3h29m11s", "DEC": "+31d18m36s"}, (52.295833, 31.31), ("RA", "DEC")),
    ({"OBJCTRA": "2 26 59.04", "OBJCTDEC": "+62 04 00"}, (36.746, 62.066667), ("OBJCTRA", "OBJCTDEC")),
    ({"OBJCTRA": "2 26 59.04", "OBJCTDEC": "-00 30 00"}, (36.746, -0.5), ("OBJCTRA", "OBJCTDEC")),
    (
        {"RA": 52.297, "DEC": 31.31, "OBJCTRA": "2 26 59.04", "OBJCTDEC": "+62 04 00"},
        (52.297, 31.31),
        ("RA", "DEC"),
    ),
    (
        {"RA": "", "DEC": "", "OBJCTRA": "2 26 59.04", "OBJCTDEC": "62 04 00"},
        (36.746, 62.066667),
        ("OBJCTRA", "OBJCTDEC"),
    ),
    ({"RA": -10.0, "DEC": 0}, (350.0, 0.0), ("RA", "DEC")),
    ({"RA": 360.0, "DEC": 90}, (0.0, 90.0), ("RA", "DEC")),
]


@pytest.mark.parametrize(("cards", "place", "used"), PLACES)
def test_places(cards: dict[str, Any], place: tuple[float, float], used: tuple[str, str]) -> None:
    found = frame(**cards)
    assert (found.ra_deg, found.dec_deg) == pytest.approx(place, abs=1e-6)
    assert (found.used["ra_deg"], found.used["dec_deg"]) == used
    assert found.odd == ()


NO_PLACES: list[tuple[dict[str, Any], tuple[str, ...]]] = [
    ({"RA": 52.3}, ()),
    ({"RA": "unknown", "DEC": "unknown"}, ()),
    (
        {"RA": "52.3", "DEC": 31.3},
        ('RA = "52.3" cannot be used: it does not say whether it counts hours or degrees',),
    ),
    ({"RA": "north", "DEC": 31.3}, ('RA = "north" cannot be used: this is not an angle',)),
    ({"RA": 52.3, "DEC": 131.3}, ("DEC = 131.3 is no place in the sky",)),
    ({"RA": "27:00:00", "DEC": 31.3}, ('RA = "27:00:00" is no place in the sky',)),
    ({"RA": True, "DEC": 1j}, ("RA = true is no place in the sky", "DEC = 1j is no place in the sky")),
    ({"RA": 10**400, "DEC": 31.3}, ("RA = about 10^400 cannot be used: int too large to convert to float",)),
]


@pytest.mark.parametrize(("cards", "odd"), NO_PLACES)
def test_what_is_no_place_is_told(cards: dict[str, Any], odd: tuple[str, ...]) -> None:
    found = frame(**cards)
    assert (found.ra_deg, found.dec_deg, found.odd) == (None, None, odd)


SYSTEMS = [
    ({"EQUINOX": 2000}, 2000.0, None),
    ({"EQUINOX": "J2000.0", "RADESYS": "fk5"}, 2000.0, "FK5"),
    ({"EPOCH": 1950.0, "RADECSYS": "FK4"}, 1950.0, "FK4"),
    ({"EQUINOX": "B1950"}, 1950.0, None),
    ({"EQUINOX": "JNOW", "RADESYS": "FK5"}, None, "GAPPT"),
    ({"RADESYS": "ICRS"}, None, "ICRS"),
    ({"EQUINOX": 2026.87}, 2026.87, None),
    ({"EQUINOX": "soon"}, None, None),
    ({"EQUINOX": 5}, None, None),
]


@pytest.mark.parametrize(("cards", "equinox", "radesys"), SYSTEMS)
def test_systems_of_places(cards: dict[str, Any], equinox: float | None, radesys: str | None) -> None:
    found = frame(**cards)
    assert (found.equinox, found.radesys) == (equinox, radesys)
    assert bool(found.odd) == (cards["EQUINOX"] in ("soon", 5) if "EQUINOX" in cards else False)


BINNINGS = [
    ({"XBINNING": 2, "YBINNING": 2}, 2, "XBINNING"),
    ({"XBINNING": 2}, 2, "XBINNING"),
    ({"XBINNING": 2.0, "YBINNING": 2}, 2, "XBINNING"),
    ({"BINNING": "2x2"}, 2, "BINNING"),
    ({"BINNING": 3}, 3, "BINNING"),
    ({"CCDSUM": "1 1"}, 1, "CCDSUM"),
    ({"XBINNING": 1, "YBINNING": 2}, None, None),
    ({"BINNING": "0"}, None, None),
    ({"BINNING": "auto"}, None, None),
]


@pytest.mark.parametrize(("cards", "binning", "used"), BINNINGS)
def test_binnings(cards: dict[str, Any], binning: int | None, used: str | None) -> None:
    found = frame(**cards)
    assert (found.binning, found.used.get("binning")) == (binning, used)
    assert bool(found.odd) == (binning is None)


@pytest.mark.parametrize(
    ("text", "side"),
    [("WEST", "west"), ("East ", "east"), ("w", "west"), ("pierEast", "east"), ("unknown", None), (1, None)],
)
def test_pier_sides(text: Any, side: str | None) -> None:
    found = frame(PIERSIDE=text)
    assert found.pier_side == side
    assert ("pier_side" in found.used) == (side is not None)


def test_gain_and_offset_are_the_cameras_numbers() -> None:
    found = frame(GAIN=100, OFFSET="30")
    assert (found.gain, found.offset) == (100.0, 30.0)
    assert found.used == {"gain": "GAIN", "offset": "OFFSET"}
