"""The Earth's orientation: the table's rows, its seams and its ends."""

from __future__ import annotations

import datetime as dt
import time
from itertools import pairwise
from pathlib import Path

import pytest
from astropy_iers_data import IERS_A_FILE

from optimizer.sky import orientation
from optimizer.sky.orientation import earth_orientation


def _utc(year: int, month: int, day: int, hour: int = 0, minute: int = 0, second: int = 0) -> dt.datetime:
    return dt.datetime(year, month, day, hour, minute, second, tzinfo=dt.UTC)


def test_a_day_of_the_table_is_read_as_printed() -> None:
    with open(IERS_A_FILE, encoding="ascii") as table:  # noqa: PTH123
        line = table.readlines()[1]
    found = earth_orientation(_utc(1973, 1, 3))
    printed = (float(line[58:68]), float(line[18:27]), float(line[37:46]))
    assert found == pytest.approx(printed, abs=1e-12)
    assert found == pytest.approx((0.80562, 0.11898, 0.13566), abs=0.005)  # as of 2026; revisions are small


def test_between_days_it_is_a_straight_line() -> None:
    before, after = earth_orientation(_utc(2020, 5, 1)), earth_orientation(_utc(2020, 5, 2))
    at = earth_orientation(_utc(2020, 5, 1, 6))
    for left, middle, right in zip(before, at, after, strict=True):
        assert middle == pytest.approx(0.75 * left + 0.25 * right, abs=1e-9)
        assert left != right


def test_a_leap_second_is_no_slope() -> None:
    # 2016-12-31 23:59:60: UT1 − UTC went from −0.409 to +0.591 s (memory).
    last_minute, first_minute = (
        earth_orientation(_utc(2016, 12, 31, 23, 59)),
        earth_orientation(_utc(2017, 1, 1)),
    )
    assert last_minute.ut1_utc_s == pytest.approx(-0.4085, abs=1e-3)
    assert first_minute.ut1_utc_s == pytest.approx(0.5915, abs=1e-3)


def test_it_stays_continuous_but_for_leap_seconds() -> None:
    start = _utc(2015, 6, 28)
    values = [earth_orientation(start + dt.timedelta(hours=h)).ut1_utc_s for h in range(24 * 6)]
    steps = [later - sooner for sooner, later in pairwise(values)]
    jumps = [h for h, step in enumerate(steps, start=1) if abs(step) > 0.001]
    assert jumps == [24 * 3]  # 2015-07-01 0h
    assert steps[jumps[0] - 1] == pytest.approx(1.0, abs=1e-3)


def test_the_ends_keep_their_values() -> None:
    assert earth_orientation(_utc(1972, 12, 31)) == earth_orientation(_utc(1973, 1, 2))
    far, farther = earth_orientation(_utc(2060, 1, 1)), earth_orientation(_utc(2101, 1, 1))
    assert far == farther
    # The last rows of the file carry a date and nothing else; the value kept is the last that is printed.
    with open(IERS_A_FILE, encoding="ascii") as table:  # noqa: PTH123
        last = [line for line in table if line[58:68].strip()][-1]
    assert far.ut1_utc_s == float(last[58:68])


def test_a_measured_value_takes_the_place_of_the_table() -> None:
    table, given = earth_orientation(_utc(2024, 1, 1)), earth_orientation(_utc(2024, 1, 1), 0.25)
    assert given == (0.25, table.xp_arcsec, table.yp_arcsec)


def test_a_damaged_table_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open(IERS_A_FILE, "rb") as table:  # noqa: PTH123
        lines = table.readlines()[:400]
    damaged = tmp_path / "table"
    damaged.write_bytes(b"".join(lines[:50] + lines[51:]))
    monkeypatch.setattr(orientation, "IERS_A_FILE", str(damaged))
    with pytest.raises(ValueError, match="reinstall astropy-iers-data"):
        earth_orientation(_utc(1973, 6, 1))


def test_it_takes_milliseconds() -> None:
    earth_orientation(_utc(2024, 1, 1))
    start = time.process_time()
    for day in range(1, 21):
        earth_orientation(_utc(2024, 3, day))
    assert (time.process_time() - start) / 20 < 0.005  # 0.1 ms measured; parsing the file takes half a second
