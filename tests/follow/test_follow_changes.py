"""Folders and lists that come and go while a night is followed."""

from __future__ import annotations

import datetime as dt
import io
import re
import shutil
from pathlib import Path

import pytest

from optimizer.cli.following import Follower
from optimizer.export.json_file import write_json
from optimizer.follow.newest import NewestList
from optimizer.models.continues import Begin, Continues
from optimizer.reading.shots_file import sha256_of_file
from optimizer.report.follow_view import follow_view, log_line
from optimizer.report.tables import show
from tests.support.follow_clock import AFTER, BEFORE, BUSY, FIRST, NOW, PATH, follow, local, night, view
from tests.support.night_files import Camera

NAME = "heron.2026-10-10.shots.json"


def test_folder_that_vanishes_is_said_and_then_gone_on_with(tmp_path: Path) -> None:
    folder = tmp_path / "images"
    happened = night()
    over = sum(step.kind == "expose" and step.end_utc <= BUSY for step in FIRST.steps)
    follower = Follower(PATH, folder)
    follower.look()
    assert "Folder not readable just now" in view(follower, BUSY)
    happened.write_until(folder, BUSY)
    for _ in range(2):
        follower.look()
    before = view(follower, BUSY)
    assert f"{over} subs have an image" in before
    folder.rename(tmp_path / "away")
    follower.look()
    gone = view(follower, BUSY)
    assert "Folder not readable just now" in gone
    assert f"{over} subs have an image" in gone
    (tmp_path / "away").rename(folder)
    follower.look()
    assert view(follower, BUSY) == before


def test_look_that_fails_unforeseen_ends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    follower = Follower(PATH, None)
    follower.look()
    before = view(follower, BUSY)
    with monkeypatch.context() as patched:
        patched.setattr(NewestList, "poll", lambda self: 1 / 0)
        follower.look_again()
    assert "List   not readable just now: ZeroDivisionError: division by zero" in view(follower, BUSY)
    follower.look_again()
    assert view(follower, BUSY) == before


def newer_list(folder: Path, older: Path, begins: dt.datetime) -> Path:
    """A list beside an older one that goes on with it from an instant on."""
    steps = tuple(step for step in FIRST.steps if step.start_utc >= begins)
    numbered = tuple(step.model_copy(update={"step": number}) for number, step in enumerate(steps, start=1))
    begin = Begin(utc=begins, target=steps[0].target, pier_side=steps[0].pier_side)
    goes_on = Continues(sha256=sha256_of_file(older), now_utc=begins, steps_done=(1, 2), begin=begin)
    path = folder / "heron.2026-10-10.replan-2320.shots.json"
    write_json(path, FIRST.model_copy(update={"steps": numbered, "continues": goes_on}))
    return path


def test_newer_list_is_gone_over_to(tmp_path: Path) -> None:
    older = tmp_path / NAME
    shutil.copy(PATH, older)
    follower = Follower(older, None)
    follower.look()
    assert f"List: {NAME}." in view(follower, BUSY)
    newer = newer_list(tmp_path, older, AFTER[4].start_utc)
    follower.look()
    shown = view(follower, BUSY)
    assert f"List: {newer.name}." in shown
    assert f"This newer list goes on with {NAME}." in shown
    assert "Now    the list begins at" in shown
    assert follower.told(BUSY).followed.replan == ("darkfill", "replan", str(newer))
    assert "Passed over" not in shown
    (tmp_path / "torn.shots.json").write_text('{"continues"', encoding="utf-8")
    follower.look()
    assert "Passed over, not readable: torn.shots.json: it is not whole" in view(follower, BUSY)
    older.unlink()
    follower.look()
    assert "List   not readable just now" in view(follower, BUSY)


def test_instant_before_a_newer_list_is_told_by_the_one_that_was_named(tmp_path: Path) -> None:
    older = tmp_path / NAME
    shutil.copy(PATH, older)
    newer = newer_list(tmp_path, older, AFTER[4].start_utc)
    assert f"List: {NAME}." in follow(older, "--now", NOW).stdout
    assert f"List: {newer.name}." in follow(older, "--now", local(AFTER[4].end_utc)).stdout


def test_in_a_night_on_which_the_clocks_change_it_says_which_time_it_is_now() -> None:
    """Summer time ends at 01:00 UTC: a flip at 02:29 may be one hour later than it seems."""
    follower = Follower(PATH, None)
    follower.look()
    told = follower.told(BUSY)
    begins, change = dt.datetime(2026, 10, 24, 18, tzinfo=dt.UTC), dt.datetime(2026, 10, 25, 1, tzinfo=dt.UTC)
    plan = told.followed.plan.model_copy(
        update={"begins_utc": begins, "ends_utc": change + dt.timedelta(hours=3)}
    )
    for minutes, offset in ((-10, "+02"), (10, "+01")):
        now = {"now_utc": change + dt.timedelta(minutes=minutes), "plan": plan}
        out = io.StringIO()
        show(follow_view(told.shots, told.moment, told.followed.model_copy(update=now)), out)
        words = f"Europe/Paris, UTC+02, later UTC+01: the clocks change; now it is UTC{offset}."
        assert words in re.sub(r"\s+", " ", out.getvalue())


@pytest.mark.parametrize(("off_s", "ahead"), [(3600.0, "57 min"), (7200.0, "1 h 57 min")])
def test_images_of_times_to_come_do_not_make_a_night_late(off_s: float, ahead: str, tmp_path: Path) -> None:
    """A camera's computer whose clock is an hour ahead, or that writes local times, while all goes as planned."""
    happened = night(camera=Camera(clock_off_s=off_s))
    ends = BEFORE[-1].start_utc + dt.timedelta(seconds=BEFORE[-1].exposure_s or 0.0)
    now = ends + dt.timedelta(seconds=150)
    happened.write_until(tmp_path, now)
    follower = Follower(PATH, tmp_path)
    follower.look_twice()
    shown, told = re.sub(r"\s+", " ", view(follower, now)), follower.told(now)
    assert f"by its header, {ahead} from now: the clocks of camera and computer differ" in shown
    assert not re.search("Late |Cost |FLIP |TOO LATE|This plans the rest anew", shown)
    assert told.followed.images is not None
    assert told.followed.images.clock_ahead_s == off_s - 150
    assert log_line(told.shots, told.moment, told.followed).endswith("; the images' clock is ahead")


def test_a_folder_of_other_images_is_told_and_a_flip_is_in_danger_only_if_they_tell_all(
    tmp_path: Path,
) -> None:
    """A camera that writes no names of targets: the list may well go as planned."""
    night(camera=Camera(clock_off_s=-5 * 3600.0)).write_until(tmp_path, BUSY)
    follower = Follower(PATH, tmp_path)
    follower.look_twice()
    shown, told = re.sub(r"\s+", " ", view(follower, BUSY)), follower.told(BUSY)
    assert told.followed.images is not None
    number = told.followed.images.frames
    assert number > 0
    assert (
        f"no image of this list yet; {number} other images in the folder: darkfill tally tells what they are of"
        in shown
    )
    assert "and no image shows yet that it was made: look at the mount" in shown


def test_a_list_that_is_no_longer_one_is_told_with_the_key(tmp_path: Path) -> None:
    path = tmp_path / NAME
    shutil.copy(PATH, path)
    chain = NewestList(path)
    chain.poll()
    path.write_text("{}")
    assert chain.poll().trouble == f"{path}: schema: missing"
