"""`darkfill plan --season`: tonight in view of the season, or why the file cannot serve."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from optimizer.export.json_file import read_json
from optimizer.export.season_files import season_json
from optimizer.models.base import as_json_data
from optimizer.models.request import Request
from tests.support.checks import there
from tests.support.cli_cases import darkfill
from tests.support.season_view_cases import HIGH, LOW, a_season, changed_goal, season_of_two, season_request


def given(folder: Path, asked: Request | None = None, **season: object) -> tuple[Path, Path]:
    """A request's file and that of a season, which may be of another request."""
    path, other = folder / "mine.json", folder / "mine.season.json"
    path.write_text(json.dumps(as_json_data(asked or season_request())), encoding="utf-8")
    other.write_text(season_json(a_season(**season)), encoding="utf-8")  # type: ignore[arg-type]
    return path, other


@pytest.mark.parametrize("by", ["scarce hours", "season values"])
def test_tonight_is_planned_written_and_shown(by: str, tmp_path: Path) -> None:
    path, season = given(tmp_path, by=by)
    before = season.read_bytes()
    ran = darkfill("plan", path, "--season", season)
    assert ran.code == 0
    shots = read_json(tmp_path / "mine.2026-11-14.shots.json")
    assert shots.audit_report.violations == ()
    told = there(shots.season)
    assert f"\nHigh  {told.targets[0].sentence[:40]}" in ran.stdout
    assert "In view of the season" in ran.stdout
    (line,) = [line for line in ran.stdout.splitlines() if line.startswith("Season ")]
    assert line.startswith("Season tonight adds ")
    assert f"warning: {season}" not in ran.stderr
    assert season.read_bytes() == before


def test_json_has_what_the_file_has(tmp_path: Path) -> None:
    path, season = given(tmp_path)
    ran = darkfill("plan", path, "--season", season, "--json")
    assert ran.json["season"]["targets"][1]["target"] == LOW
    again = darkfill("check", tmp_path / "mine.2026-11-14.shots.json")
    assert again.code == 0


def test_another_requests_season_is_refused_and_nothing_written(tmp_path: Path) -> None:
    path, season = given(tmp_path, season_request(balance=0.9))
    ran = darkfill("plan", path, "--season", season)
    assert ran.code == 2
    assert (
        "this season was planned for another request: they differ in aim; plan the season anew" in ran.stderr
    )
    assert sorted(each.name for each in tmp_path.iterdir()) == ["mine.json", "mine.season.json"]


@pytest.mark.parametrize("content", ["", "{", '{"schema": "darkfill-season/1"}', "[[[["])
def test_a_damaged_season_is_refused(content: str, tmp_path: Path) -> None:
    path, season = given(tmp_path)
    season.write_text(content, encoding="utf-8")
    ran = darkfill("plan", path, "--season", season)
    assert ran.code == 2
    assert "Traceback" not in ran.stderr
    assert str(season) in ran.stderr


def test_counts_that_moved_far_are_a_warning(tmp_path: Path) -> None:
    planned = changed_goal(season_request(), HIGH, "Ha", frames=400)
    path, season = given(tmp_path, changed_goal(planned, HIGH, "Ha", done=300), request=planned)
    ran = darkfill("plan", path, "--season", season, "--time-limit", 2)
    assert ran.code == 0
    assert (
        f"warning: {season}: since the season was planned, what is in hand has changed by 25.0 h"
        in ran.stderr
    )


def test_an_evening_outside_the_season_is_refused(tmp_path: Path) -> None:
    path, season = given(tmp_path)
    ran = darkfill("plan", path, "--season", season, "--evening", "2027-01-01")
    assert ran.code == 2
    assert "the evening of 2027-01-01 is none of the season's" in ran.stderr


def test_the_rest_of_such_a_night_and_a_comparison_keep_the_seasons_values(tmp_path: Path) -> None:
    path, season = given(tmp_path, by="season values")
    assert darkfill("plan", path, "--season", season).code == 0
    older = tmp_path / "mine.2026-11-14.shots.json"
    assert darkfill("replan", older, "--now", "2026-11-14T21:00:00Z", "--parked").code == 0
    rest = read_json(tmp_path / "mine.2026-11-14.replan-2100.shots.json")
    assert rest.audit_report.violations == ()
    told = there(rest.season)
    assert [each.factor for each in told.goals] == [0.5, 1.5, 2.0, 0.001, 0.1]
    assert (told.with_s, told.targets) == (None, ())
    beside = darkfill("check", older, "--compare", "--time-limit", 2, "--json").json
    assert beside["comparison"]["value_share"] > 0.95


def test_a_night_of_one_of_two_rigs_is_planned(tmp_path: Path) -> None:
    """The rig is found by the name of its file; what only the other one's tally counts is in hand too."""
    path, season = tmp_path / "north.json", tmp_path / "both.season.json"
    path.write_text(json.dumps(as_json_data(season_request())), encoding="utf-8")
    season.write_text(season_json(season_of_two()), encoding="utf-8")
    ran = darkfill("plan", path, "--season", season, "--time-limit", 2)
    assert ran.code == 0
    shots = read_json(tmp_path / "north.2026-11-14.shots.json")
    assert shots.audit_report.violations == ()
    assert shots.request.targets[0].goals[0].done == 15
    assert "to the plans of the 7 other nights of 2 rigs as they stand" in " ".join(ran.stdout.split())
    other = tmp_path / "south.json"
    other.write_text(json.dumps(as_json_data(season_request(balance=0.9))), encoding="utf-8")
    ran = darkfill("plan", other, "--season", season)
    assert ran.code == 2
    assert (
        'this season is of the rigs "north" and "wide", and this request is of a rig named "south"'
        in ran.stderr
    )
