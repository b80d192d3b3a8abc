"""What is said of a flip that comes too late: only what is known, and what to do."""

from __future__ import annotations

import datetime as dt
import io
from pathlib import Path

from optimizer.cli.following import Follower
from optimizer.report.follow_view import follow_view
from optimizer.report.tables import show
from tests.support.follow_clock import FIRST, FLIP, PATH, local, night

LATEST = FLIP.latest_start_utc
VISIT = [step for step in FIRST.steps if step.kind == "expose" and step.step < FLIP.step][-20:]
STALL_S = VISIT[0].seconds * 3.4


def flip_words(folder: Path, now: dt.datetime) -> str:
    """The line of the flip by the images, and all that follows."""
    follower = Follower(PATH, folder, by=now)
    follower.look()
    told, out = follower.told(now), io.StringIO()
    show(follow_view(told.shots, told.moment, told.followed), out)
    return " ".join(out.getvalue().partition("By the images")[2].split())


def test_late_list_is_told_to_skip_subs_before_the_flip(tmp_path: Path) -> None:
    now = VISIT[8].start_utc
    night(stalls={VISIT[0].step: STALL_S}).write_until(tmp_path, now)
    assert LATEST is not None
    begins = local(FLIP.start_utc + dt.timedelta(seconds=STALL_S))
    why = f"it would begin at {begins}, its latest start is {local(LATEST)}"
    assert f"FLIP TOO LATE unless subs before it are skipped: {why}" in flip_words(tmp_path, now)


def test_flip_that_only_a_missing_image_makes_late_is_perhaps_too_late(tmp_path: Path) -> None:
    happened = night()
    happened.write_until(tmp_path, VISIT[8].start_utc)
    words = flip_words(tmp_path, VISIT[14].start_utc)
    assert "FLIP perhaps TOO LATE: if the list is as late as told below it would begin at" in words
    assert LATEST is not None
    assert f"or later, its latest start is {local(LATEST)}" in words


def test_flip_whose_latest_start_has_passed_asks_for_a_look_at_the_mount(tmp_path: Path) -> None:
    """By then the subs before it may have been skipped and the flip made: no image can show it yet."""
    assert LATEST is not None
    now = LATEST + dt.timedelta(seconds=40)
    night(stalls={VISIT[0].step: STALL_S}).write_until(tmp_path, now)
    words = flip_words(tmp_path, now)
    assert (
        f"FLIP latest start was {local(LATEST)}, and no image shows yet that it was made: look at the mount"
    ) in words
    assert "TOO LATE" not in words


def test_folder_without_any_image_is_asked_about_once_one_is_due(tmp_path: Path) -> None:
    begins = FIRST.steps[0].start_utc
    assert "Seen no image of this list yet" in flip_words(tmp_path, begins)
    assert "does the camera" not in flip_words(tmp_path, begins)
    asked = "Seen no image of this list yet: does the camera write to this folder?"
    assert asked in flip_words(tmp_path, begins + dt.timedelta(hours=2))
