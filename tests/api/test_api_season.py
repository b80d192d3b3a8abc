"""`from optimizer import season, Season`: planned, saved, read again, and asked for tonight."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest

from optimizer import InputError, Season, load, season
from optimizer.errors import OutputError
from optimizer.models.request import Request
from optimizer.models.season_asked import SeasonAsked
from optimizer.models.site import Night
from tests.support.rig_cases import TARGET, rig
from tests.support.season_view_cases import HIGH, a_season, changed_goal, season_request


def test_the_names_are_the_function_and_the_class() -> None:
    import optimizer.season.season  # the room has the function's name

    assert callable(optimizer.season)
    assert {"season", "Season"} <= set(dir(optimizer))
    assert isinstance(optimizer.Season, type)


def test_a_season_is_saved_and_read_again(tmp_path: Path) -> None:
    found = Season(a_season())
    written = found.save(tmp_path / "new" / "mine.season.json")
    assert [path.name for path in written] == ["mine.season.json", "mine.season.csv", "mine.season.ics"]
    again = Season.load(written[0])
    assert again.file == found.file
    assert (again.nights, again.values, again.proof, again.policy) == (
        found.nights,
        found.values,
        found.proof,
        found.policy,
    )
    assert repr(again) == "Season(2026-11-14 to 2026-11-17, 4 targets, value_s=1.0, gap=0.0000)"


def test_in_a_folder_the_first_evening_is_the_name_and_nothing_is_lost(tmp_path: Path) -> None:
    first = Season(a_season())
    (path, *_) = first.save(tmp_path)
    assert path.name == "2026-11-14.season.json"
    before = path.read_bytes()
    other = Season(a_season(season_request(balance=0.9)))
    other.save(tmp_path)
    assert (tmp_path / "2026-11-14.season.json.old").read_bytes() == before
    assert Season.load(path).file == other.file


def test_a_name_of_another_kind_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"the ending \.toml is not known"):
        Season(a_season()).save(tmp_path / "mine.toml")
    assert list(tmp_path.iterdir()) == []


def test_tonight_takes_what_is_in_hand_now() -> None:
    request = changed_goal(season_request(), HIGH, "Ha", done=24)
    shots = Season(a_season()).tonight(request, time_limit_s=2)
    assert {(each.target, each.filter) for each in shots.totals.goals if each.frames_planned} >= {(HIGH, "L")}
    assert all(step.filter != "Ha" for step in shots.steps if step.kind == "expose")
    assert Season(a_season()).doubts(request) == ()


def test_another_request_is_refused() -> None:
    with pytest.raises(InputError, match="planned for another request"):
        Season(a_season()).tonight(season_request(balance=0.9))


def _on_last_day_known() -> Request:
    """A request whose season, of so many nights as one has by default, goes beyond what is known of the sky."""
    night = Night(evening=dt.date(2100, 12, 31))
    return season_request().model_copy(update={"night": night, "season": None})


@pytest.mark.parametrize(
    ("call", "kind"),
    [
        (lambda: Season("mine.season.json"), TypeError),  # type: ignore[arg-type]
        (lambda: Season.load(7), TypeError),  # type: ignore[arg-type]
        (lambda: Season(a_season()).tonight("x"), TypeError),  # type: ignore[arg-type]
        (lambda: Season(a_season()).tonight(time_limit_s=0), InputError),
        (lambda: season("x"), TypeError),  # type: ignore[arg-type]
        (lambda: season([]), InputError),
        (lambda: season([season_request(), "x"]), TypeError),  # type: ignore[list-item]
        (lambda: season([season_request(), season_request()]), InputError),
        (lambda: Season(a_season()).tonight(rig="south"), ValueError),
        (lambda: season(season_request(), gap=7), InputError),
        (lambda: season(season_request(), rounds=-1), InputError),
        (lambda: season(season_request(), rounds=1.5), TypeError),  # type: ignore[arg-type]
        (lambda: season(season_request(), workers=-1), InputError),
        (lambda: season(season_request(), time_limit_s=0), InputError),
        (lambda: season(season_request(), engine="x"), ValueError),
        (lambda: season(_on_last_day_known()), InputError),
    ],
)
def test_wrong_arguments_are_refused(call: Any, kind: type[Exception]) -> None:
    with pytest.raises(kind):
        call()


def test_season_plans_the_nights_of_the_request(tmp_path: Path) -> None:
    request = season_request().model_copy(update={"season": SeasonAsked(nights=2, clear_odds=0.5)})
    phases: list[str] = []
    found = season(
        request,
        rounds=1,
        engine="threads",
        workers=1,
        cache=tmp_path / "cache",
        tell=lambda progress: phases.append(progress.phase),
    )
    assert [night.evening for night in found.nights] == ["2026-11-14", "2026-11-15"]
    assert found.proof.bound >= found.proof.value > 0
    assert [project.target for project in found.projects] == ["High", "Low", "Done", "South"]
    assert phases
    south = found.projects[3]
    assert (south.cannot, south.nights, south.open_s) == (True, 0, 0.0)
    assert found.tonight(time_limit_s=2).audit_report.violations == ()


def test_two_requests_are_two_rigs_with_what_both_have_in_hand(tmp_path: Path) -> None:
    """Each has subs in a tally of its own, and a target that the other has by another name is told."""
    head = "target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source\n"
    nights = ("[mount]\n", "[season]\nnights = 2\nclear_odds = 0.5\n[mount]\n")
    beside = TARGET.replace("Cradle", "Reflection").replace("= 300", "= 120")
    for name, subs in (("north", 10), ("wide", 25)):
        (tmp_path / f"{name}.csv").write_text(f"{head}Cradle,L,300,,,,,{subs},,\n", encoding="utf-8")
    paths = [
        rig(tmp_path, "north", nights, top='tally = "north.csv"'),
        rig(tmp_path, "wide", top='tally = "wide.csv"', more=TARGET),
        rig(tmp_path, "far", ("latitude_deg = 38.92", "latitude_deg = 40.1"), more=beside),
    ]
    told: list[str] = []
    options: dict[str, Any] = {"rounds": 0, "engine": "threads", "workers": 1, "cache": tmp_path / "cache"}
    found = season([load(path) for path in paths], say=told.append, **options)
    assert [each.name for each in found.rigs] == ["north", "wide", "far"]
    assert [each.elsewhere for each in found.rigs] == [(25,), (10,), ()]
    assert [(each.rig, each.evening) for each in found.nights] == [
        (name, evening) for evening in ("2026-11-14", "2026-11-15") for name in ("north", "wide", "far")
    ]
    assert [line.split(":")[2] for line in told] == [' targets[0].name = "Reflection" (1st target)']
    assert [project.goals[0].in_hand for project in found.projects] == [35, 0]
    assert all(frames.frames <= 15 for night in found.nights for frames in night.plan if night.rig != "far")
    again = Season.load(found.save(tmp_path)[0])
    assert again.file == found.file
    shots = again.tonight(load(paths[1]), time_limit_s=1)
    assert [goal.done for _, goal in shots.request.goals()] == [35]
    assert shots.audit_report.violations == ()
