"""`darkfill season`: what it writes, what it prints where, what its options ask for, what its exit code says."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest

from optimizer import ctrl_c
from optimizer.cli import season as command
from optimizer.cli.progress import SeasonLine
from optimizer.models.request import Request
from optimizer.models.season import SeasonFile
from optimizer.reading.load import LoadedRequest
from optimizer.season.progress import SeasonProgress
from tests.support.cli_cases import CLEAR, Ran, content, darkfill, request
from tests.support.rig_cases import TARGET, rig, two_targets
from tests.support.season_cases import NOTHING, night, season

WRITTEN = ["request.season.csv", "request.season.ics", "request.season.json"]


class Planner:
    """Stands where a season is planned: keeps what was asked for and gives a season at once."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, answer: SeasonFile | BaseException) -> None:
        self.answer = answer
        self.asked: Request | None = None
        self.rigs: list[LoadedRequest] = []
        self.options: dict[str, Any] = {}
        monkeypatch.setattr(command, "_planned", self)

    def __call__(self, rigs: list[LoadedRequest], **options: Any) -> SeasonFile:
        self.rigs, self.asked, self.options = rigs, rigs[0].request, options
        if isinstance(self.answer, BaseException):
            raise self.answer
        return self.answer


@pytest.fixture
def planner(monkeypatch: pytest.MonkeyPatch) -> Planner:
    return Planner(monkeypatch, season())


def ran(folder: Path, *args: object) -> Ran:
    return darkfill("season", request(folder), *args)


def test_small_season_is_planned_written_and_shown(tmp_path: Path) -> None:
    """Two nights, truly planned."""
    path = request(tmp_path, (CLEAR, ""))
    args = (
        "--nights",
        2,
        "--rounds",
        1,
        "--engine",
        "threads",
        "--workers",
        1,
        "--cache",
        tmp_path / "cache",
    )
    done = darkfill("season", path, *args, "--page")
    assert (done.code, done.stdout.splitlines()[0]) == (0, "Season of 2 nights at Heron Flat")
    names = [*WRITTEN[2:], *WRITTEN[:2], "request.season.html"]
    assert done.stderr.splitlines() == [f"wrote {tmp_path / name}" for name in names]
    told = SeasonFile.model_validate_json((tmp_path / "request.season.json").read_text(encoding="utf-8"))
    assert [each.evening for each in told.nights] == ["2026-11-14", "2026-11-15"]
    assert 0 < told.proof.value <= told.proof.bound
    assert any(each.plan for each in told.nights)
    assert all(sum(goal.frames for goal in each.plan) <= 50 for each in told.nights)


# --- files --------------------------------------------------------------------------------------------------


def test_json_is_the_one_thing_on_stdout_and_the_same_as_the_file(tmp_path: Path, planner: Planner) -> None:
    done = ran(tmp_path, "--json")
    assert done.code == 0
    assert done.json == json.loads((tmp_path / "request.season.json").read_text(encoding="utf-8"))
    assert all(line.startswith("wrote ") for line in done.stderr.splitlines())


def test_folder_for_the_files_is_made(tmp_path: Path, planner: Planner) -> None:
    assert ran(tmp_path, "--out", tmp_path / "seasons" / "autumn").code == 0
    assert sorted(content(tmp_path)) == ["request.toml", *(f"seasons/autumn/{name}" for name in WRITTEN)]


def test_older_season_is_kept_and_told(tmp_path: Path, planner: Planner) -> None:
    ran(tmp_path, "--page")
    first = content(tmp_path)
    second = ran(tmp_path)
    assert "renamed older files of this season: request.season.json.old" in second.stderr
    after = content(tmp_path)
    assert "request.season.html" not in after
    for name in (*WRITTEN, "request.season.html"):
        assert after[f"{name}.old"] == first[name]


def test_files_that_cannot_be_written_lose_nobody_the_answer(tmp_path: Path, planner: Planner) -> None:
    (tmp_path / "request.season.ics").mkdir()
    done = ran(tmp_path)
    assert done.code == 2
    assert "this is a folder" in done.stderr
    assert planner.asked is None  # said before the search, not after it


def test_disk_that_fills_meanwhile_loses_nobody_the_answer(
    tmp_path: Path, planner: Planner, monkeypatch: pytest.MonkeyPatch
) -> None:
    from optimizer.export import season_files

    def full(*args: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(season_files, "save_new_season", full)
    done = ran(tmp_path)
    assert done.code == 5
    assert done.stdout.startswith("Season of 4 nights")


# --- exit codes ---------------------------------------------------------------------------------------------


def test_season_without_a_plan_is_not_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    good = season()
    Planner(monkeypatch, good)
    ran(tmp_path)
    proof = good.proof.model_copy(update={"value": 0.0, "bound": 0.0})
    Planner(monkeypatch, season(nights=(night(0, **NOTHING),), proof=proof))
    done = ran(tmp_path)
    assert done.code == 3
    assert "nothing can be scheduled in any of these nights; no season was written" in done.stderr
    assert sorted(content(tmp_path)) == [*(f"{name}.old" for name in WRITTEN), "request.toml"]


def test_without_odds_of_clear_sky_it_is_not_the_sky_that_is_blamed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Planner(monkeypatch, season(nights=(night(0, **NOTHING, odds=0.0),)))
    done = ran(tmp_path, "--clear-odds", 0)
    assert done.code == 3
    assert "none of these nights has any odds of clear sky; no season was written" in done.stderr
    assert "can be scheduled" not in done.stderr


def test_nothing_is_called_impossible_that_is_only_not_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Planner(monkeypatch, season(nights=(night(0, **NOTHING),)))
    done = ran(tmp_path)
    assert done.code == 3
    assert "no plan was found, though one may exist, in any of these nights" in done.stderr


def test_plan_that_broke_a_rule_is_told_and_the_season_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Planner(monkeypatch, season(nights=(night(0), night(1, **NOTHING, broken_rules=("darkness", "floor")))))
    done = ran(tmp_path)
    assert done.code == 4
    assert "the plans of 1 night failed their audit (darkness and floor) and were left out" in done.stderr
    assert (tmp_path / "request.season.json").exists()


def test_ctrl_c_before_there_is_a_season(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Planner(monkeypatch, KeyboardInterrupt())
    done = ran(tmp_path)
    assert (done.code, done.stderr) == (130, "stopped; nothing was written\n")


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--nights", 0), "--nights = 0: is out of range; give 1 to 400"),
        (("--nights", 401), "--nights = 401: is out of range; give 1 to 400"),
        (("--clear-odds", 1.5), "--clear-odds = 1.5: is out of range; give a share from 0 to 1, like 0.4"),
        (("--clear-odds", "nan"), "--clear-odds = nan: is out of range"),
        (("--gap", -0.1), "--gap = -0.1: is out of range; give a share from 0 to below 1, like 0.01"),
        (("--gap", 1), "--gap = 1: is out of range"),
        (("--rounds", -1), "--rounds = -1: is out of range; give 0 or more"),
        (("--workers", -1), "--workers = -1: is out of range; give 0 (one for each core) or more"),
        (("--time-limit", 0), "--time-limit = 0: is out of range; give seconds above 0, at most 86400"),
        (("--first", "14.11."), "--first = 14.11.: is no date; write it like 2026-11-14, or tonight"),
        (("--first", "2200-01-01"), "--first"),
        (
            ("--first", "2100-12-31", "--nights", 5),
            "--nights = 5: the last of the 5 nights from 2100-12-31 on",
        ),
        (
            ("--engine", "clouds"),
            "--engine = clouds: is no engine; give processes, threads, dask or tcp://HOST:PORT",
        ),
        (("--out", "request.toml/x"), "--out"),
    ],
)
def test_options_out_of_range_are_refused(
    args: tuple[object, ...], words: str, tmp_path: Path, planner: Planner, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    done = ran(tmp_path, *args)
    assert done.code == 2
    assert words in done.stderr
    assert planner.asked is None
    assert list(content(tmp_path)) == ["request.toml"]


# --- what is asked for --------------------------------------------------------------------------------------


def test_options_ask_for_the_season(tmp_path: Path, planner: Planner) -> None:
    args = ("--first", "2026-12-01", "--nights", 7, "--clear-odds", 0.3, "--gap", 0.02, "--rounds", 4)
    assert ran(tmp_path, *args, "--engine", "threads", "--workers", 3, "--cache", tmp_path / "c").code == 0
    assert planner.asked is not None
    asked = planner.asked.season
    assert asked is not None
    assert (asked.first or planner.asked.night.evening, asked.nights) == (dt.date(2026, 12, 1), 7)
    assert (asked.clear_odds, asked.clear_odds_by_evening) == (0.3, ())
    told = {
        key: planner.options[key] for key in ("gap", "rounds", "engine", "workers", "cache", "time_limit_s")
    }
    assert told == {
        "gap": 0.02,
        "rounds": 4,
        "engine": "threads",
        "workers": 3,
        "cache": tmp_path / "c",
        "time_limit_s": None,  # the same rounds on a slow machine, too
    }


def test_time_limit_holds_unless_rounds_are_asked_for(tmp_path: Path, planner: Planner) -> None:
    ran(tmp_path)
    assert planner.options["time_limit_s"] == command.TIME_LIMIT_S
    ran(tmp_path, "--rounds", 2, "--time-limit", 9)
    assert (planner.options["rounds"], planner.options["time_limit_s"]) == (2, 9)


def test_season_of_the_request_holds_where_no_option_says_otherwise(tmp_path: Path, planner: Planner) -> None:
    wanted = "[season]\nfirst = 2026-11-20\nnights = 12\nclear_odds = 0.7\n\n[mount]\n"
    assert darkfill("season", request(tmp_path, ("[mount]\n", wanted)), "--nights", 5).code == 0
    assert planner.asked is not None
    asked = planner.asked.season
    assert asked is not None
    assert (asked.first, asked.nights, asked.clear_odds) == (dt.date(2026, 11, 20), 5, 0.7)


# --- several rigs -------------------------------------------------------------------------------------------


def test_files_are_named_after_the_first_rig_and_options_hold_for_all(
    tmp_path: Path, planner: Planner
) -> None:
    own = ("[mount]\n", "[season]\nnights = 9\nclear_odds = 0.4\n[mount]\n")
    north, wide, small = (
        rig(tmp_path, "north", own),
        rig(tmp_path, "wide", own),
        rig(tmp_path / "c", "small"),
    )
    done = darkfill("season", north, wide, small, "--nights", 5, "--clear-odds", 0.2, "--first", "2026-12-01")
    assert done.code == 0
    assert sorted(content(tmp_path)) == [
        "c/small.toml",
        *(f"north.season.{ending}" for ending in ("csv", "ics", "json")),
        "north.toml",
        "wide.toml",
    ]
    assert [each.rig for each in planner.rigs] == ["north", "wide", "small"]
    assert [each.request.season and each.request.season.nights for each in planner.rigs] == [5, 5, None]
    assert {each.request.night.evening for each in planner.rigs} == {dt.date(2026, 12, 1)}


def test_requests_that_do_not_agree_are_refused_before_any_work(tmp_path: Path, planner: Planner) -> None:
    wide = rig(tmp_path, "wide", ("frames = 50", "frames = 60"))
    done = darkfill("season", rig(tmp_path, "north"), wide)
    assert done.code == 2
    assert "targets[0].goals[0].frames = 60" in done.stderr
    assert planner.asked is None
    assert sorted(content(tmp_path)) == ["north.toml", "wide.toml"]


def test_problems_of_all_requests_are_told_at_once(tmp_path: Path, planner: Planner) -> None:
    north = rig(tmp_path, "north", ("exposure_s = 300", "exposure_s = 0"))
    wide = rig(tmp_path, "wide", ("frames = 50", "frames = 0"))
    done = darkfill("season", north, wide)
    assert done.code == 2
    assert [line.split(":")[0] for line in done.stderr.splitlines()] == [str(north), str(wide)]


def test_what_is_worth_a_second_look_is_told_once(
    tmp_path: Path, planner: Planner, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    top = 'include = ["shared.toml"]\ntally = "in-hand.csv"'
    Path("shared.toml").write_text(two_targets('rigs = ["wide"]'), encoding="utf-8")
    Path("in-hand.csv").write_text(
        "target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source\n"
        "Reflection,L,300,,,,,5,,\nHeart,L,300,,,,,5,,\n",
        encoding="utf-8",
    )
    near = TARGET.replace("Cradle", "Reflection").replace("frames = 50", "frames = 20")
    north, wide, far = (
        rig(Path(), "north", top=top, more=""),
        rig(Path(), "wide", top=top, more=""),
        rig(Path(), "far", top='tally = "in-hand.csv"', more=near),
    )
    done = darkfill("season", north, wide, far)
    assert done.code == 0
    lines = done.stderr.splitlines()
    assert lines[0] == "north.toml: 1 target is for other rigs than north and left out: Heart"
    assert [line for line in lines if "warning" in line] == [
        'warning: far.toml:20: targets[0].name = "Reflection" (1st target): "Cradle" of shared.toml:2 is within '
        "0.1 degrees of it: two projects; give both the same name if they are one"
    ]


# --- the progress line --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("progress", "words"),
    [
        (None, "7 s: making ready"),
        (
            SeasonProgress("nights", 9, 90, seconds_left=174.4),
            "7 s: ##.................. 9 of 90 nights",
        ),
        (SeasonProgress("bound", 90, 90), "7 s: how much can be had"),
        (
            SeasonProgress("rounds", 90, 90, 540_000.0, 545_000.0, 60.0, 3),
            "7 s, up to 60 s of search left: round 3; 150 h of at most 151 h, gap 0.9 %",
        ),
        (
            SeasonProgress("audit", 90, 90, 540_000.0),
            "7 s: audit of all plans, then simulated weathers; 150 h",
        ),
    ],
)
def test_line_tells_nights_then_value_bound_gap_and_time_left(
    progress: SeasonProgress | None, words: str
) -> None:
    line = SeasonLine()
    if progress is not None:
        line.tell(progress)
    assert line.text(7.2) == words
    assert len(line.text(7.2)) < 78


def test_ctrl_c_is_answered_on_the_line(monkeypatch: pytest.MonkeyPatch) -> None:
    line = SeasonLine()
    monkeypatch.setattr(ctrl_c, "presses", lambda: 1)
    line.tell(SeasonProgress("bound", 90, 90))
    assert line.text(7.2) == "7 s: Ctrl-C ends the search"
    line.tell(SeasonProgress("rounds", 90, 90, 540_000.0, 545_000.0))
    assert line.text(7.2) == "7 s: Ctrl-C ends the search; the season found so far is kept"


def test_season_once_found_is_lost_to_no_ctrl_c(monkeypatch: pytest.MonkeyPatch) -> None:
    kept: list[bool] = []
    monkeypatch.setattr(ctrl_c, "keep", lambda: kept.append(True))
    line = SeasonLine()
    for value_s in (None, 0.0):
        line.tell(SeasonProgress("plans", 90, 90, value_s))
    assert not kept
    line.tell(SeasonProgress("plans", 90, 90, 10.0))
    assert kept


def test_page_of_a_cluster_is_told_once(capsys: pytest.CaptureFixture[str]) -> None:
    line = SeasonLine()
    line.tell(SeasonProgress("nights", 0, 3))
    for done in (1, 2):
        line.tell(SeasonProgress("nights", done, 3, dashboard="http://127.0.0.1:8787/status"))
    assert capsys.readouterr().err == "what the workers do is shown at http://127.0.0.1:8787/status\n"
