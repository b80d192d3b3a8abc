"""`darkfill replan` as somebody new to it finds it: what it says first, what it writes, what it refuses."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import shutil
from pathlib import Path

import pytest

from optimizer.audit import audit_joined
from optimizer.export.json_file import read_json, write_json
from optimizer.models.shots import ShotList, Step, Violation
from optimizer.replan import replanned as replanned_module
from tests.support.cli_cases import Ran, content, darkfill
from tests.support.replan_nights import small_list

NAME = "heron.2026-11-14.shots.json"


@pytest.fixture
def older(tmp_path: Path) -> Path:
    """The small night's list in a folder of its own."""
    path = tmp_path / NAME
    write_json(path, small_list())
    return path


def running(kind: str, nth: int = 0) -> Step:
    return [step for step in small_list().steps if step.kind == kind][nth]


def local(instant: dt.datetime, seconds: int = 0) -> str:
    """What the site's clock shows: an hour more than UTC."""
    return f"{instant + dt.timedelta(hours=1, seconds=seconds):%H:%M:%S}"


def replan(older: Path, now: str, *options: object) -> Ran:
    return darkfill("replan", older, "--now", now, "--time-limit", 0.3, *options, env={"COLUMNS": "120"})


def test_first_lines_say_what_is_assumed_and_what_to_do(older: Path) -> None:
    sub = running("expose", 2)
    ran = replan(older, local(sub.start_utc, 20))
    assert ran.code == 0
    lines = ran.stdout.splitlines()
    assert lines[0] == (
        f"Assumed: tube on pier side {sub.pier_side}, on {sub.target}, tracking. "
        "Check that before you start this list."
    )
    closes = local(sub.start_utc, round(sub.exposure_s or 0))
    assert lines[1] == (
        f"Now: let the running sub end ({closes}), then stop the old list and start this one at {local(sub.end_utc)}."
    )
    assert lines[2].startswith(f"Also assumed: filter {sub.filter}, latest autofocus ")
    assert lines[4] == "What changes, in minutes of open shutter"
    assert f"Night of 2026-11-14 at Heron Flat, from {local(sub.end_utc)[:5]} on" in lines
    assert "stays" in ran.stdout
    assert "none broken" in ran.stdout
    assert "watch the first one" in ran.stdout


@pytest.mark.parametrize(
    ("options", "assumed", "first"),
    [
        (["--drop-current"], "Assumed: tube on pier side ", "Now: stop the running sub and the old list, and start "),
        (["--block", "00:00Z", "-", "--parked"], "Assumed: mount parked at its home, tracking off. ",
         "Now: stop the old list if it still runs, and start "),
        (["--pier-side", "west", "--at", "Iris"], "Assumed: tube on pier side west, on Iris, tracking. ", "Now: stop "),
    ],
)  # fmt: skip
def test_what_is_told_changes_the_first_lines(
    options: list[str], assumed: str, first: str, older: Path
) -> None:
    sub = running("expose", 2)
    ran = replan(older, local(sub.start_utc, 20), *options)
    assert ran.code == 0, ran.stderr
    lines = ran.stdout.splitlines()
    assert lines[0].startswith(assumed)
    assert lines[0].endswith("Check that before you start this list.")
    assert lines[1].startswith(first)


def test_both_files_are_written_and_the_older_list_is_untouched(older: Path) -> None:
    before = older.read_bytes()
    now = running("expose", 2).start_utc + dt.timedelta(seconds=20)
    ran = replan(older, local(now))
    stem = f"heron.2026-11-14.replan-{now:%H%M}"
    assert sorted(content(older.parent)) == sorted([NAME, f"{stem}.shots.csv", f"{stem}.shots.json"])
    assert ran.stderr.splitlines() == [
        f"wrote {older.parent / stem}.shots.{ending}" for ending in ("json", "csv")
    ]
    assert older.read_bytes() == before
    newer = read_json(older.parent / f"{stem}.shots.json")
    assert newer.continues is not None
    assert newer.continues.sha256 == hashlib.sha256(before).hexdigest()
    assert newer.continues.now_utc == now
    assert newer.values_carried == bool(newer.values)
    assert darkfill("check", older.parent / f"{stem}.shots.json").code == 0


def test_second_replan_of_the_minute_keeps_the_first_as_old(older: Path) -> None:
    now = running("expose", 2).start_utc + dt.timedelta(seconds=20)
    assert replan(older, local(now)).code == 0
    ran = replan(older, local(now), "--drop-current")
    assert ran.code == 0
    assert ran.stderr.startswith(
        f"renamed older files of the same evening: heron.2026-11-14.replan-{now:%H%M}.shots."
    )
    assert (older.parent / f"heron.2026-11-14.replan-{now:%H%M}.shots.json.old").exists()


def test_replan_of_a_replan_goes_on_with_it_and_never_over_it(older: Path) -> None:
    now = running("expose", 2).start_utc + dt.timedelta(seconds=20)
    assert replan(older, local(now)).code == 0
    first = older.parent / f"heron.2026-11-14.replan-{now:%H%M}.shots.json"
    assert replan(first, local(now, 1)).code == 0
    assert (older.parent / f"heron.2026-11-14.replan-{now:%H%M}-2.shots.json").exists()
    later = now + dt.timedelta(minutes=47)
    assert replan(first, local(later)).code == 0
    second = read_json(older.parent / f"heron.2026-11-14.replan-{later:%H%M}.shots.json")
    assert not audit_joined(read_json(first), second).violations
    done = {(t.name, g.filter): g.done for t, g in second.request.goals()}
    begun = {(t.name, g.filter): g.done for t, g in read_json(first).request.goals()}
    assert all(done[key] >= begun[key] for key in done)
    assert sum(done.values()) > sum(begun.values())


@pytest.mark.parametrize("ending", [".shots.json", ".shots.csv"])
def test_name_that_leads_to_the_older_list_is_not_taken(ending: str, older: Path) -> None:
    now = running("expose", 3).start_utc
    link = older.with_name(f"heron.2026-11-14.replan-{now:%H%M}{ending}")
    link.symlink_to(older.name)
    before = older.read_bytes()
    ran = replan(older, local(now))
    assert ran.code == 0
    assert (older.read_bytes(), link.is_symlink()) == (before, True)
    assert f"replan-{now:%H%M}-2.shots.json" in ran.stderr


def test_json_is_the_list_and_the_two_lines_go_to_stderr(older: Path) -> None:
    ran = replan(older, local(running("expose", 2).start_utc, 20), "--json")
    assert ran.json["continues"]["begin"]["acquired"]
    assert [line.split(":")[0] for line in ran.stderr.splitlines()[:2]] == ["Assumed", "Now"]


def test_other_folder_takes_the_files(older: Path, tmp_path: Path) -> None:
    ran = replan(older, local(running("expose", 2).start_utc, 20), "--out", tmp_path / "new" / "night")
    assert ran.code == 0
    assert len(list((tmp_path / "new" / "night").iterdir())) == 2
    assert sorted(path.name for path in tmp_path.iterdir()) == [NAME, "new"]


def test_nothing_more_to_schedule_has_its_own_code_and_writes_nothing(older: Path) -> None:
    sub = running("expose", 2)
    ran = replan(older, local(sub.start_utc, 20), "--block", local(sub.start_utc), "-")
    assert ran.code == 3
    assert ran.stdout.splitlines()[1] == (
        "Now: stop the running sub and the old list, and park the mount: nothing more can be scheduled tonight."
    )
    assert ran.stderr == "nothing more can be scheduled on this night; no shot list was written\n"
    assert sorted(content(older.parent)) == [NAME]


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--now", "soon"], "command line: --now = soon: this is no time"),
        (
            ["--block", "01:00"],
            "command line: --block = 01:00: has no second time; write --block 01:20 03:00",
        ),
        (["--block", "01:00", "--parked"], "command line: --block = 01:00: has no second time"),
        (["--time-limit", "0"], "--time-limit = 0"),
        (["--pier-side", "up"], "--pier-side"),
        (["--done", "nothing.csv"], "nothing.csv: there is no such file"),
        (["--done", "9-1"], "command line: --done = 9-1: 9-1 ends before it begins; write 1-9"),
        (["--frobnicate"], "--frobnicate"),
    ],
)
def test_bad_options_are_told_and_nothing_is_written(
    options: list[str], told: str, older: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(older.parent)
    ran = darkfill("replan", older, *(options if "--now" in options else ["--now", "23:00", *options]))
    assert ran.code == 2
    assert ran.stdout == ""
    assert told in ran.stderr
    assert sorted(content(older.parent)) == [NAME]


def test_csv_list_is_refused_for_it_lacks_the_night(older: Path) -> None:
    other = older.with_suffix(".csv")
    shutil.copy(older, other)
    ran = darkfill("replan", other, "--now", "23:00")
    assert ran.code == 2


def test_list_that_fails_its_audit_is_not_written(older: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    violation = Violation(rule="contact", step=1, amount=1, unit="s", message="one second too long")

    def found(older_list: ShotList, newer: ShotList) -> object:
        del older_list
        return newer.audit_report.model_copy(update={"violations": (violation,)})

    monkeypatch.setattr(replanned_module, "audit_joined", found)
    ran = replan(older, local(running("expose", 2).start_utc, 20))
    assert ran.code == 4
    assert ran.stdout == ""
    assert "one second too long" in ran.stderr
    assert "was not written; this is a defect of darkfill" in ran.stderr
    assert sorted(content(older.parent)) == [NAME]


def test_older_list_that_breaks_rules_itself_is_told_of(older: Path) -> None:
    """Edited by hand: its subs so far are of another exposure, which no new list can mend."""
    steps = [
        step.model_copy(update={"exposure_s": 77.0} if step.kind == "expose" else {})
        for step in small_list().steps
    ]
    write_json(older, small_list().model_copy(update={"steps": tuple(steps)}))
    ran = replan(older, local(running("expose", 2).start_utc, 20))
    assert ran.code == 4
    assert "was not written; the older list breaks rules by itself" in " ".join(ran.stderr.split())
    assert "defect" not in ran.stderr


def test_ranges_of_steps_done_begin_the_list_where_it_is_told(older: Path) -> None:
    """Twenty seconds late, a sub ends while the plan has the next step under way."""
    sub = running("expose", 2)
    now = sub.end_utc + dt.timedelta(seconds=20)
    ran = darkfill("replan", older, "--now", f"{now:%H:%M:%S}Z", "--done", f"1-{sub.step}", "--json")
    assert ran.code == 0
    continues = json.loads(ran.stdout)["continues"]
    assert continues["steps_done"] == list(range(1, sub.step + 1))
    assert dt.datetime.fromisoformat(continues["begin"]["utc"]) == now


def test_json_tells_what_was_done_and_leaves_out_what_is_told(older: Path) -> None:
    sub = running("expose", 2)
    now = sub.start_utc + dt.timedelta(seconds=20)
    (other,) = {target.name for target in small_list().request.targets} - {sub.target}
    replan(older, local(now), "--without", other)
    data = json.loads((older.parent / f"heron.2026-11-14.replan-{now:%H%M}.shots.json").read_text())
    assert data["continues"]["steps_done"] == list(range(1, sub.step + 1))
    assert all(step["target"] != other for step in data["steps"])
    assert [target["name"] for target in data["request"]["targets"]] == [sub.target]
