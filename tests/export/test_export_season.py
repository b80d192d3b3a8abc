"""The files of a season: read back they say the same, two other libraries read the calendar, all or none is written."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from pathlib import Path
from typing import Any

import pytest

from optimizer.errors import OutputError
from optimizer.export.season_calendar import season_calendar
from optimizer.export.season_files import COLUMNS, save_new_season, season_csv, season_json, season_paths
from optimizer.models.season import SeasonFile
from tests.support.checks import there
from tests.support.schema_cases import faults
from tests.support.season_cases import NAMES, PROJECTS, evening, night, season
from tests.support.season_rigs_cases import NORTH, WIDE, dense_rigs, two_rigs


def test_json_reads_back_the_same_and_is_as_the_schema_has_it() -> None:
    text = season_json(season())
    assert SeasonFile.model_validate_json(text) == season()
    assert faults("season", json.loads(text)) == []
    assert text.endswith("}\n")


@pytest.mark.parametrize(
    ("path", "wrong"),
    [
        (("nights", 0, "odds"), 1.5), (("projects", 0, "finish_50"), "14 Nov"), (("proof", "ended"), "bored"),
        (("extra",), 1), (("schema",), "darkfill-season/2"), (("nights", 0, "plan", 0, "frames"), 0),
    ],
)  # fmt: skip
def test_schema_refuses_what_no_season_has(path: tuple[str | int, ...], wrong: Any) -> None:
    from tests.support.schema_cases import put, taken

    data = json.loads(season_json(season()))
    assert taken("season", data)
    assert not taken("season", put(data, path, wrong))


# --- the table ----------------------------------------------------------------------------------------------


def rows() -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(season_csv(season()))))


def test_table_has_a_row_for_each_night_and_goal() -> None:
    told = season()
    wanted = [
        (each.evening, goal.target, goal.filter, goal.frames) for each in told.nights for goal in each.plan
    ]
    found = [
        (r["evening"], r["target"].lstrip("'"), r["filter"], int(r["frames"])) for r in rows() if r["target"]
    ]
    assert found == wanted
    assert len(wanted) == 9
    assert tuple(rows()[0]) == COLUMNS


def test_night_without_a_plan_keeps_a_row() -> None:
    (empty,) = (row for row in rows() if not row["target"])
    assert (empty["evening"], empty["frames"], empty["filter"], empty["exposure_s"]) == (
        evening(3),
        "0",
        "",
        "",
    )
    assert (empty["odds"], empty["dark_s"], empty["moon_illuminated"]) == ("0.45", "40123", "0.27")


def test_name_that_a_spreadsheet_would_run_is_neutralised() -> None:
    assert NAMES[1].startswith("=")
    assert {row["target"] for row in rows()} == {NAMES[0], f"'{NAMES[1]}", ""}


def test_rows_of_several_rigs_tell_whose_they_are() -> None:
    told = two_rigs()
    rows = list(csv.DictReader(io.StringIO(season_csv(told))))
    wanted = [(each.evening, each.rig, goal.frames) for each in told.nights for goal in each.plan]
    found = [(r["evening"], r["rig"].lstrip("'"), int(r["frames"])) for r in rows if r["target"]]
    assert found == wanted
    assert {rig for _, rig, _ in found} == {NORTH, WIDE}
    empty = [(row["evening"], row["rig"]) for row in rows if not row["target"]]
    assert empty == [(evening(3), NORTH), (evening(3), f"'{WIDE}")]  # no spreadsheet runs it


# --- the calendar -------------------------------------------------------------------------------------------


def test_ical_reads_nights_and_days() -> None:
    from ical.calendar_stream import IcsCalendarStream

    told = season()
    events = IcsCalendarStream.calendar_from_ics(season_calendar(told)).events
    nights = [each for each in events if isinstance(each.dtstart, dt.datetime)]
    days = [each for each in events if not isinstance(each.dtstart, dt.datetime)]
    planned = [each for each in told.nights if each.visits]
    assert [(each.dtstart, each.dtend) for each in nights] == [
        (each.visits[0].start_utc, each.visits[-1].end_utc) for each in planned
    ]
    assert {each.summary for each in nights} == {f"If clear: {NAMES[0]} and {NAMES[1]}"}
    assert [(each.dtstart.isoformat(), each.summary) for each in days] == [
        (evening(1), f"{NAMES[0]}: finished by tonight in 50 % of simulated seasons"),
        (evening(2), f"{NAMES[0]}: finished by tonight in 90 % of simulated seasons"),
        (evening(2), f"{NAMES[0]}: last useful night"),
    ]
    assert len({each.uid for each in events}) == len(events)
    assert {each.dtstamp for each in events} == {told.created_utc}


def test_vobject_finds_the_calendar_valid() -> None:
    import vobject

    calendar: Any = vobject.readOne(season_calendar(season()))
    assert calendar.validate(raiseException=True)
    assert all(each.validate(raiseException=True) for each in calendar.vevent_list)
    assert len(calendar.vevent_list) == 6
    first = calendar.vevent_list[0].description.value.splitlines()
    assert first[0] == "45 % likely clear; Moon 27 % lit"
    # local time with its offset, by the clock of the site
    assert first[1] == f"19:30 to 20:28 (UTC+01:00) {NAMES[0]}: L 24×120s, pier side west"
    assert first[2] == f"20:28 to 23:01 (UTC+01:00) {NAMES[1]}: Ha 20×300s, OIII 6×300s, pier side east"


def test_each_rig_and_night_is_an_event_at_its_site_by_its_clock() -> None:
    from ical.calendar_stream import IcsCalendarStream

    told = two_rigs()
    events = IcsCalendarStream.calendar_from_ics(season_calendar(told)).events
    nights = [each for each in events if isinstance(each.dtstart, dt.datetime)]
    assert [(each.dtstart.date().isoformat(), each.summary) for each in nights] == [
        (evening(number), words)
        for number in range(3)
        for words in (f"If clear, {NORTH}: {NAMES[0]} and {NAMES[1]}", f"If clear, {WIDE}: {NAMES[1]}")
    ]
    assert len({each.uid for each in events}) == len(events)
    days = [each.description for each in events if each.summary == f"{NAMES[0]}: last useful night"]
    assert days[0].startswith("It can be shot on 3 nights of the season, and on none after this one")
    near, far = IcsCalendarStream.calendar_from_ics(season_calendar(dense_rigs(1, 7, 2))).events[:2]
    assert (near.location, far.location) == ("Heron Flat", "Far Ridge")
    assert "19:30 to 21:25 (UTC+01:00)" in str(near.description)
    assert "12:30 to 14:25 (UTC-06:00)" in str(far.description)


def test_nights_on_which_a_project_can_be_shot_are_those_of_all_its_rigs() -> None:
    heart = two_rigs().projects[1].model_copy(update={"last_useful_evening": evening(2)})
    text = season_calendar(two_rigs(projects=(heart,))).replace("\r\n ", "")
    assert "It can be shot on 3 nights of 2 rigs\\, and on none after this one" in text


def test_calendar_of_a_season_without_weather_tells_no_dates_of_finishing() -> None:
    bare = tuple(
        each.model_copy(update={"finish_50": None, "finish_90": None, "finish_share": None})
        for each in PROJECTS
    )
    text = season_calendar(season(policy=None, projects=bare))
    assert "simulated" not in text
    assert text.count("last useful night") == 1


def test_calendar_is_the_same_each_time_and_as_the_standard_has_it() -> None:
    content = season_calendar(season(), "projects.season.json").encode()
    assert content == season_calendar(season(), "projects.season.json").encode()
    lines = content.split(b"\r\n")
    assert all(len(line) <= 75 and b"\n" not in line for line in lines)
    assert b"--season projects.season.json" in content.replace(b"\r\n ", b"")


def test_hostile_names_stay_text() -> None:
    import vobject

    name = "A\\, B; \u202e\x1b[2J"[:8] + "\nEND:VEVENT"
    visit = night(0).visits[0].model_copy(update={"target": name})
    told = season(nights=(night(0, visits=(visit,)),), projects=())
    calendar: Any = vobject.readOne(season_calendar(told))
    assert len(calendar.vevent_list) == 1


# --- written whole or not at all ----------------------------------------------------------------------------


def test_files_are_named_after_the_request(tmp_path: Path) -> None:
    paths = season_paths(tmp_path, Path("elsewhere/projects.toml"))
    assert [path.name for path in paths.values()] == [
        "projects.season.json",
        "projects.season.csv",
        "projects.season.ics",
        "projects.season.html",
    ]
    assert {path.parent for path in paths.values()} == {tmp_path}


def test_second_season_keeps_the_first_one(tmp_path: Path) -> None:
    paths = season_paths(tmp_path, Path("projects.toml"))
    assert save_new_season(season(), paths, b"page") == {}
    older = save_new_season(season(policy=None), paths, None)
    assert sorted(path.name for path in older.values()) == [
        "projects.season.csv.old",
        "projects.season.html.old",
        "projects.season.ics.old",
        "projects.season.json.old",
    ]
    assert not paths["html"].exists()  # it would show the older season
    assert json.loads(there(older[paths["json"]]).read_text(encoding="utf-8"))["policy"] is not None
    assert json.loads(paths["json"].read_text(encoding="utf-8"))["policy"] is None


def test_where_one_file_cannot_be_written_none_is(tmp_path: Path) -> None:
    paths = season_paths(tmp_path, Path("projects.toml"))
    paths["ics"].mkdir()
    with pytest.raises(OutputError, match="this is a folder"):
        save_new_season(season(), paths, None)
    assert [path.name for path in tmp_path.iterdir()] == ["projects.season.ics"]
