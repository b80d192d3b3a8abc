"""Local times in a request: by the site's clock, of that night, whatever the clocks do."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.models.request import Request
from optimizer.models.site import night_span
from optimizer.reading.load import load_request, request_from_data
from tests.support.bad_input.table import GOOD, add, changed

ZONES = {  # with a longitude that goes with each
    "UTC": 0.0,
    "Europe/Madrid": -3.11,
    "America/St_Johns": -52.7,
    "Australia/Lord_Howe": 159.1,  # the clocks change by half an hour
    "Pacific/Kiritimati": -157.4,  # 14 h ahead of UTC
    "America/Santiago": -70.6,  # the clocks change at midnight
}


def requested(night: str, zone: str = 'time_zone = "Europe/Madrid"') -> str:
    return changed(GOOD, ("evening = 2026-11-14", night), add("site", zone))


def read(folder: Path, text: str, **options: Any) -> Request:
    path = folder / "request.toml"
    path.write_text(text, encoding="utf-8")
    return load_request(path, **options).request


def utc(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("typed", "instant"),
    [
        ('"20:30"', "2026-11-14T19:30"),
        ('"20:30:15"', "2026-11-14T19:30:15"),
        ('"1:30"', "2026-11-15T00:30"),
        ('"13:12"', "2026-11-15T12:12"),  # the night begins and ends at 13:12:26, the site's mean noon
        ('"13:13"', "2026-11-14T12:13"),
        ("20:30:00", "2026-11-14T19:30"),
        ('"2026-11-14T20:30"', "2026-11-14T19:30"),
        ('"2026-11-14 20:30:00"', "2026-11-14T19:30"),
        ("2026-11-14T20:30:00", "2026-11-14T19:30"),
        ("2026-11-14 20:30:00", "2026-11-14T19:30"),
        ('"20:30Z"', "2026-11-14T20:30"),
        ('"20:30+02:00"', "2026-11-14T18:30"),
        ('"2026-11-14T20:30Z"', "2026-11-14T20:30"),
        ("2026-11-14T20:30:00-01:00", "2026-11-14T21:30"),
    ],
)
def test_ways_to_write_a_time(typed: str, instant: str, tmp_path: Path) -> None:
    """Each alone in the pairs of odds, and as an end of a span."""
    night = f"""evening = 2026-11-14
clear_odds = [[{typed}, 70]]
clear = [["2026-11-14T08:00:00Z", {typed}]]
blocked = [[{typed}, 2026-11-15T18:00:00]]"""
    found = read(tmp_path, requested(night)).night
    assert found.clear_odds == ((utc(instant), 70),)
    assert found.clear == ((utc("2026-11-14T08:00"), utc(instant)),)
    assert found.blocked == ((utc(instant), utc("2026-11-15T17:00")),)


def test_times_of_day_are_those_of_the_evening_asked_for(tmp_path: Path) -> None:
    text = requested('evening = 2026-11-14\nclear = [["20:30", "01:00"], ["2026-11-14T22:00", "23:59"]]')
    night = read(tmp_path, text, evening=dt.date(2026, 11, 15)).night
    assert night.clear[0] == (utc("2026-11-15T19:30"), utc("2026-11-16T00:00"))
    assert night.clear[1] == (utc("2026-11-14T21:00"), utc("2026-11-15T22:59"))  # a date is taken at its word
    summer = text.replace('["2026-11-14T22:00"', '["22:00"')
    assert read(tmp_path, summer, evening=dt.date(2026, 7, 1)).night.clear == (
        (utc("2026-07-01T18:30"), utc("2026-07-01T23:00")),
        (utc("2026-07-01T20:00"), utc("2026-07-01T21:59")),
    )


def test_request_from_python_has_local_times_too() -> None:
    data = {
        "schema": "darkfill-request/1",
        "night": {"evening": "2026-11-14", "clear": [["20:30", "2026-11-15T01:00"]]},
        "site": {"latitude_deg": 38.9, "longitude_deg": -3, "floor_deg": 25, "time_zone": "Europe/Madrid"},
        "filters": [{"name": "L", "exposure_s": 60, "frames": 9}],
        "targets": [{"name": "Cradle", "ra_deg": 52.3, "dec_deg": 31.3, "goals": ["L"]}],
    }
    night = request_from_data(data, "data").night
    assert night.clear == ((utc("2026-11-14T19:30"), utc("2026-11-15T00:00")),)
    assert data["night"] == {"evening": "2026-11-14", "clear": [["20:30", "2026-11-15T01:00"]]}


def test_without_a_time_zone_the_clock_is_utc_and_that_is_said_once(tmp_path: Path) -> None:
    path = tmp_path / "request.toml"
    night = 'evening = 2026-11-14\nblocked = [["2026-11-14T19:00:00Z", "20:30"], ["22:00", "23:00"]]'
    path.write_text(changed(GOOD, ("evening = 2026-11-14", night)), encoding="utf-8")
    loaded = load_request(path)
    assert loaded.request.night.blocked[0][1] == utc("2026-11-14T20:30")
    assert [line.removeprefix(str(path)) for line in loaded.warnings if "time_zone" in line] == [
        ':5: night.blocked[0][1] = "20:30" (1st span): site.time_zone is not given, so this time is read as '
        'UTC; add time_zone = "Europe/Madrid" or yours to the site, or write it as text with Z, like "20:30Z"'
    ]
    path.write_text(requested(night, 'time_zone = "UTC"'), encoding="utf-8")
    assert not [line for line in load_request(path).warnings if "time_zone" in line]
    instants = night.replace('"20:30"', '"20:30Z"').replace('["22:00", "23:00"]', '["22:00Z", "23:00Z"]')
    path.write_text(changed(GOOD, ("evening = 2026-11-14", instants)), encoding="utf-8")
    assert not [line for line in load_request(path).warnings if "time_zone" in line]


@pytest.mark.parametrize(
    ("evening", "before", "after"),
    [
        ("2026-03-28", "2026-03-28T19:30", "2026-03-29T01:15"),  # UTC+1 in the evening, UTC+2 from 2:00 on
        ("2026-10-24", "2026-10-24T18:30", "2026-10-25T02:15"),
    ],
)
def test_on_both_sides_of_a_change_of_the_clocks(
    evening: str, before: str, after: str, tmp_path: Path
) -> None:
    night = f'evening = {evening}\nclear = [["20:30", "03:15"]]'
    assert read(tmp_path, requested(night)).night.clear == ((utc(before), utc(after)),)


def told(folder: Path, night: str) -> str:
    with pytest.raises(InputError) as caught:
        read(folder, requested(night))
    (problem,) = caught.value.problems
    assert problem.line == 5
    return f"{problem.message}; {problem.remedy}"


def test_a_time_that_the_clocks_leave_out_names_both_offsets(tmp_path: Path) -> None:
    for typed in ('"02:30"', "02:30:00", '"2026-03-29T02:30"', "2026-03-29T02:30:00"):
        assert told(tmp_path, f'evening = 2026-03-28\nclear = [["20:30", {typed}]]') == (
            "there is no 02:30:00 on 2026-03-29 in Europe/Madrid, where the clocks go from UTC+01:00 to "
            "UTC+02:00; write the instant in UTC, like 2026-03-29T01:30:00Z"
        )


def test_a_time_that_comes_twice_names_both_offsets_and_either_may_be_written(tmp_path: Path) -> None:
    for typed in ('"02:30"', "02:30:00", '"2026-10-25T02:30"', "2026-10-25T02:30:00"):
        assert told(tmp_path, f'evening = 2026-10-24\nclear = [["20:30", {typed}]]') == (
            "02:30:00 comes twice on 2026-10-25 in Europe/Madrid, where the clocks go from UTC+02:00 to "
            "UTC+01:00; say which: 2026-10-25T02:30:00+02:00 or 2026-10-25T02:30:00+01:00"
        )
    for offset, instant in (("+02:00", "2026-10-25T00:30"), ("+01:00", "2026-10-25T01:30")):
        night = f'evening = 2026-10-24\nclear = [["20:30", "2026-10-25T02:30:00{offset}"]]'
        assert read(tmp_path, requested(night)).night.clear[0][1] == utc(instant)


@settings(max_examples=200, deadline=None)
@given(
    zone=st.sampled_from(sorted(ZONES)),
    evening=st.dates(dt.date(2000, 1, 1), dt.date(2060, 12, 31)),
    minutes=st.integers(0, 1439),
)
def test_a_time_of_day_lies_in_the_night_and_is_what_the_clock_shows(
    zone: str, evening: dt.date, minutes: int
) -> None:
    typed = f"{minutes // 60:02d}:{minutes % 60:02d}"
    data = {
        "schema": "darkfill-request/1",
        "night": {"evening": evening.isoformat(), "clear_odds": [[typed, 50]]},
        "site": {"latitude_deg": 30, "longitude_deg": ZONES[zone], "floor_deg": 25, "time_zone": zone},
        "filters": [{"name": "L", "exposure_s": 60, "frames": 9}],
        "targets": [{"name": "Cradle", "ra_deg": 52.3, "dec_deg": 31.3, "goals": ["L"]}],
    }
    clock = zoneinfo.ZoneInfo(zone)
    try:
        request = request_from_data(data, "data")
    except InputError as error:
        (problem,) = error.problems
        assert problem.key == "night.clear_odds[0][0]"
        days = [dt.datetime.combine(evening + dt.timedelta(days=days), dt.time(), clock) for days in (-1, 3)]
        assert days[0].utcoffset() != days[1].utcoffset()  # the clocks change about then
        assert problem.message.startswith(("there is no ", f"{typed}:00 comes twice"))
        return
    ((instant, _),) = request.night.clear_odds
    begin, end = night_span(request.night, request.site.longitude_deg, zone)
    assert f"{instant.astimezone(clock):%H:%M}" == typed
    # a night of 24 h lacks an hour of the clock where the clocks go back by day, or begins an hour later
    assert begin - dt.timedelta(hours=1) <= instant <= end + dt.timedelta(hours=1)


def test_a_night_that_cannot_be_told_is_the_only_complaint(tmp_path: Path) -> None:
    text = requested('evening = 2026-11-14\nclear = [["20:30", "01:00"]]', 'time_zone = "Europe/Madird"')
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    assert [problem.key for problem in caught.value.problems] == ["site.time_zone"]
