"""How the Earth is turned: UT1 − UTC and polar motion, from the table that is installed."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from pathlib import Path
from typing import BinaryIO, NamedTuple

from astropy_iers_data import IERS_A_FILE

_MJD_EPOCH = dt.datetime(1858, 11, 17, tzinfo=dt.UTC)
# Columns of the fixed-width table, from its own description (`ReadMe.finals2000A`), counted from 0.
_MJD = slice(7, 15)
# Bulletin A: UT1-UTC, x, y, measured or predicted. Bulletin B stands in the same lines, up to the last month;
# against the long series of the same service it is the worse of the two (0.48 ms and 0.17 ms since 2005).
_COLUMNS = (slice(58, 68), slice(18, 27), slice(37, 46))


class EarthOrientation(NamedTuple):
    """UT1 − UTC in seconds, and the pole's x and y in arcseconds."""

    ut1_utc_s: float
    xp_arcsec: float
    yp_arcsec: float


def modified_julian_day(instant: dt.datetime) -> float:
    """Days since 1858-11-17 0h of an aware datetime (a leap second counts as nothing)."""
    return (instant - _MJD_EPOCH) / dt.timedelta(days=1)


def earth_orientation(instant: dt.datetime, measured_ut1_utc_s: float | None = None) -> EarthOrientation:
    """Orientation at an aware instant; a measured UT1 − UTC takes the place of the table's.

    The table is interpolated linearly between days; its last value holds beyond its end, its first before
    1973. Raises ValueError if the installed table is not laid out as described.
    """
    day = modified_julian_day(instant)
    with Path(IERS_A_FILE).open("rb") as table:
        first_mjd, last_row, width = _extent(IERS_A_FILE)
        place = min(max(day - first_mjd, 0.0), float(last_row))
        row = min(int(place), max(last_row - 1, 0))
        before, after = (_row(table, width, first_mjd, number) for number in (row, min(row + 1, last_row)))
    share = place - row
    # A leap second falls between two lines, never within a day: before it the jump is not there yet,
    # on the very day of the second line it is.
    jump = round(after.ut1_utc_s - before.ut1_utc_s) if share < 1.0 else 0
    ut1_utc_s, xp_arcsec, yp_arcsec = (
        (1 - share) * left + share * right for left, right in zip(before, after, strict=True)
    )
    ut1_utc_s -= share * jump
    return EarthOrientation(
        ut1_utc_s if measured_ut1_utc_s is None else measured_ut1_utc_s, xp_arcsec, yp_arcsec
    )


@lru_cache(maxsize=4)
def _extent(file: str) -> tuple[int, int, int]:
    """First day of the table, number of the last row that has values (from 0), bytes to a row."""
    with Path(file).open("rb") as table:
        width = len(table.readline())
        first_mjd = int(float(_field(table, width, 0, _MJD)))
        # The file ends in lines with a date and nothing else: halve down to the last full one.
        low, high = 0, table.seek(0, 2) // width
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if _field(table, width, middle, _COLUMNS[0]) else (low, middle)
    return first_mjd, low, width


def _field(table: BinaryIO, width: int, row: int, columns: slice) -> bytes:
    table.seek(row * width)
    return table.read(width)[columns].strip()


def _row(table: BinaryIO, width: int, first_mjd: int, row: int) -> EarthOrientation:
    table.seek(row * width)
    line = table.read(width)
    if float(line[_MJD]) != first_mjd + row:
        raise ValueError("the installed Earth orientation table is damaged; reinstall astropy-iers-data")
    return EarthOrientation(*(float(line[column]) for column in _COLUMNS))
