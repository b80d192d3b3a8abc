"""`check --late`: what is lost and in danger if a list runs late, and how late it may run."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from optimizer.export.shot_files import read_shots
from optimizer.models.shots import ShotList
from optimizer.pace.late_by import LateBy, late_by
from optimizer.report.late_view import late_sentences
from tests.support.cli_cases import darkfill
from tests.support.typed_cases import FEW, PLANS

NIGHT = PLANS / "first-night"
JSON = NIGHT / "stored" / "request.2026-10-10.shots.json"
CSV = JSON.with_suffix(".csv")
REQUEST = NIGHT / "request.toml"


@pytest.fixture(scope="module")
def shots() -> ShotList:
    read = read_shots(JSON).shots
    assert read is not None
    return read


def late(shots: ShotList, seconds: int, since: dt.datetime | None = None) -> LateBy:
    answer = late_by(shots.steps, seconds, by_mount=False, from_utc=since)
    assert answer is not None
    return answer


def test_a_list_late_by_its_slack_loses_nothing_and_by_a_second_more_it_does(shots: ShotList) -> None:
    slack_s = late(shots, 1).most_late_s
    assert slack_s is not None
    kept, lost = late(shots, slack_s), late(shots, slack_s + 1)
    assert (kept.subs_lost, kept.in_danger) == (0, ())
    assert lost.subs_lost or lost.in_danger
    assert kept.subs == sum(step.kind == "expose" for step in shots.steps)


def test_a_flip_that_comes_too_late_is_in_danger(shots: ShotList) -> None:
    """The first flip is planned at 19:35:18 and safe until 19:48:26, which is 788 s later."""
    assert [each.target for each in late(shots, 788).in_danger] == [
        "Hyades dust"
    ]  # its flip is soon too late
    flip, _ = late(shots, 789).in_danger
    assert (flip.kind, flip.target, flip.beyond_s) == ("flip", "Pelican at the shore", 1)
    assert flip.begins_utc == dt.datetime(2026, 10, 10, 19, 48, 27, tzinfo=dt.UTC)


def test_a_flip_of_the_mounts_own_is_in_time_however_late_the_list_is(shots: ShotList) -> None:
    answer = late_by(shots.steps, 3000, by_mount=True)
    assert answer is not None
    assert not [each for each in answer.in_danger if each.kind == "flip"]


def test_a_wait_takes_up_what_is_late(shots: ShotList) -> None:
    """From 23:44:51 local on there are 27 s of wait before all that follows."""
    since = dt.datetime(2026, 10, 10, 21, 44, 51, tzinfo=dt.UTC)
    behind = since + dt.timedelta(seconds=27)
    before, after = late(shots, 60, since).most_late_s, late(shots, 60, behind).most_late_s
    assert (before or 0) == (after or 0) + 27


def test_a_time_after_the_last_step_has_no_answer(shots: ShotList) -> None:
    after = shots.steps[-1].end_utc + dt.timedelta(seconds=1)
    assert late_by(shots.steps, 60, by_mount=False, from_utc=after) is None


def test_what_is_said_of_a_list_that_runs_late(shots: ShotList) -> None:
    since = dt.datetime(2026, 10, 10, 19, 30, tzinfo=dt.UTC)
    assert late_sentences(late(shots, 15 * 60, since), "Europe/Paris") == (
        "15 min late from 21:30 on, the flip of Pelican at the shore would begin at 21:50:18, 112 s after its "
        "last safe start (21:48:26) and the flip of Hyades dust would begin at 04:38:58, 779 s after its last "
        "safe start (04:25:59).",
        "15 min late from 21:30 on, 6 of 184 subs come too late and must be skipped: 1 of Pelican at the shore "
        "in Ha and 5 of Hyades dust in L.",
        "Up to 87 s late there, nothing is broken or lost by that.",
    )


@pytest.mark.parametrize("path", [JSON, CSV], ids=["json", "csv"])
def test_check_answers_for_our_lists(path: Path) -> None:
    request = () if path is JSON else (REQUEST,)
    ran = darkfill("check", path, *request, "--late", "15@21:30", "--json")
    assert ran.code == 0
    assert (ran.json["late"]["late_s"], ran.json["late"]["subs_lost"]) == (900, 6)
    assert ran.json["late"]["from_utc"] == "2026-10-10T19:30:15Z"
    told = " ".join(darkfill("check", path, *request, "--late", "15@21:30").stdout.split())
    assert "If it runs late 15 min late from 21:30 on, the flip of Pelican at the shore would begin" in told


def test_check_answers_for_a_list_without_latest_starts(tmp_path: Path, shots: ShotList) -> None:
    """They are worked out: a plan typed by hand gets the answer that the whole list gets."""
    subs = [step for step in shots.steps if step.kind == "expose"]
    rows = (
        f"{sub.start_utc:%Y-%m-%dT%H:%M:%SZ},{sub.target},{sub.filter},{sub.exposure_s:g}\n" for sub in subs
    )
    path = tmp_path / "typed.csv"
    path.write_text("start,target,filter,exposure_s\n" + "".join(rows), encoding="utf-8")
    typed = darkfill("check", path, REQUEST, "--late", "15", "--json").json["late"]
    assert typed == darkfill("check", JSON, "--late", "15", "--json").json["late"]


@pytest.mark.parametrize(
    ("option", "told"),
    [
        ("soon", '--late = soon: this is no number of minutes; write minutes like 12, or 12@01:20'),
        ("0", "--late = 0: the minutes are out of range; give above 0, at most 720"),
        ("12@25:00", "--late = 12@25:00: there is no such time of day; write it like 20:30, 2026-11-14T20:30 or "
         "2026-11-14T19:30:00Z"),
        ("12@11:00", "--late = 12@11:00: no step of the list begins then or later; name an earlier time"),
    ],
)  # fmt: skip
def test_an_option_that_cannot_be_meant_is_refused(option: str, told: str) -> None:
    ran = darkfill("check", JSON, "--late", option)
    assert (ran.code, ran.stdout) == (2, "")
    assert ran.stderr.splitlines() == [f"command line: {told}"]


def test_a_typed_plan_is_answered_whole(tmp_path: Path) -> None:
    """The verdict first, by lines of the file; then how it was read, what was inferred, what is lacking."""
    path = tmp_path / "plan.csv"
    rows = "20:20,Pelican at the shore,ha,300,30\n23:30,Whirl in Triangulum,L,180,5\n"
    path.write_text(FEW + rows + "23:46,Hyades dust,L,120,5\n", encoding="utf-8")
    ran = darkfill("check", path, REQUEST)
    assert ran.code == 4
    told = " ".join(ran.stdout.split())
    assert told.startswith(
        "Not safe. From 21:48 the tube is up to 67.3 min past its limit, past contact itself "
    )
    assert "contact, line 2" in told
    assert told.endswith(
        'Read 3 rows, commas between the columns and UTF-8. "ha" is taken as "Ha". Inferred: 3 slews, 3 filter '
        "changes, 4 autofocus, 10 dithers, 1 wait and park at the end; the pier side by the transit. Line 2: no "
        "gap has room for the flip of Pelican at the shore, so none was inferred; leave one in which it can begin "
        "between 21:26 and 21:48. Line 4: "
        "before 23:46:00 203 s are lacking for slew, plate solve, settling, filter change and autofocus."
    )
    data = darkfill("check", path, REQUEST, "--json").json
    assert data["safe"] is False
    assert data["typed"]["counts"]["slew"] == 3
    assert [(each["line"], each["lacking_s"]) for each in data["typed"]["time_lacking"]] == [(4, 203)]


def test_a_safe_list_that_is_not_safe_late_says_so_at_its_head() -> None:
    told = darkfill("check", JSON, "--late", "12").stdout.splitlines()
    assert told[0].startswith("Safe and within the rules")
    assert "Not safe if it runs 12 min late: below." in told[:3]
    assert "Not safe" not in darkfill("check", JSON, "--late", "1").stdout
