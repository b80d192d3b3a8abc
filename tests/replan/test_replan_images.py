"""Subs counted by the images of a folder: which were taken, and what says nothing of the list."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.models.shots import Step
from optimizer.replan.asked import Asked, told_of
from optimizer.replan.standing import standing_of
from optimizer.replan.told import Told
from tests.support.fits_files import write_frame
from tests.support.replan_nights import laid_list


def image(folder: Path, step: int, late_s: float = 2.5, name: str = "", **cards: object) -> Path:
    """A frame of one of the laid list's subs, begun so many seconds after it was planned."""
    sub: Step = laid_list().steps[step - 1]
    begun = sub.start_utc + dt.timedelta(seconds=late_s)
    told = {
        "OBJECT": sub.target,
        "IMAGETYP": "Light Frame",
        "FILTER": sub.filter,
        "EXPTIME": sub.exposure_s,
        "DATE-OBS": begun.isoformat(timespec="milliseconds").removesuffix("+00:00"),
        **cards,
    }
    return write_frame(folder / f"{name or step}.fits", told)


def told(folder: Path, now: str = "21:56") -> Told:
    return told_of(laid_list(), Asked(now=now, images=folder), "x")


def test_only_subs_with_an_image_were_taken(tmp_path: Path) -> None:
    for step in (6, 8, 10):
        image(tmp_path, step)
    found = told(tmp_path)
    assert found.missing == {7}
    assert found.not_counted is None
    standing = standing_of(laid_list(), found)
    assert standing.done == (1, 2, 3, 4, 5, 6, 8, 9, 10, 11, 12, 13)  # the last one runs
    assert [step.step for step in standing.lost] == [7]
    assert standing.begin.open_s == 480.0


def test_late_list_has_the_images_of_its_first_subs_later(tmp_path: Path) -> None:
    """Late by just a sub, they are the first ones: the last one is still to come."""
    for step in (6, 7, 8):
        image(tmp_path, step, late_s=123)
    found = told(tmp_path)
    assert found.missing == {10}
    standing = standing_of(laid_list(), found)
    assert set(range(1, 10)) <= set(standing.done)
    assert not {10, 11, 12, 13} & set(standing.done)


def test_list_that_runs_late_has_not_come_to_the_steps_after_its_latest_image(tmp_path: Path) -> None:
    """At 22:09 the plan has flipped; ten minutes late, the mount is on pier side west, and an autofocus runs."""
    for step in (6, 7, 8, 10, 13):
        image(tmp_path, step, late_s=600)
    found = told(tmp_path, now="22:09:05")
    assert found.missing == {17}
    assert found.not_yet == {16, 17, 18, 19}
    standing = standing_of(laid_list(), found)
    assert standing.running is None
    assert standing.begin.utc == found.now
    assert (standing.begin.pier_side, standing.begin.filter) == ("west", "Ha")
    assert (standing.begin.open_s, standing.begin.focus_due) == (600.0, True)
    assert [step.step for step in standing.lost] == [17]


def test_list_late_by_less_than_its_running_step_has_that_one_let_end(tmp_path: Path) -> None:
    for step in (6, 7, 8, 10):
        image(tmp_path, step, late_s=40)
    found = told(tmp_path, now="21:54:30")
    assert not found.missing
    assert not found.not_yet
    running = standing_of(laid_list(), found).running
    assert running is not None
    assert running.kind == "focus"
    assert told(tmp_path, now="21:53:30").not_yet == {11}


def test_image_of_the_goal_of_another_night_or_list_is_no_sub(tmp_path: Path) -> None:
    """Images of an older list of this night, of the same goal, were taken until a minute before this one."""
    for number in range(3):
        image(tmp_path, 6, late_s=-123.0 * (number + 1), name=f"older {number}")
    image(tmp_path, 6)
    found = told(tmp_path)
    assert found.missing == {7, 8, 10}
    assert found.not_counted == "Images not counted: 3 of this night are no sub of this list."


def test_other_images_are_told_and_not_counted(tmp_path: Path) -> None:
    image(tmp_path, 6)
    image(tmp_path, 6, name="copy")
    image(tmp_path, 7, late_s=-86400, name="of last night")
    image(tmp_path, 8, name="dark", IMAGETYP="Dark Frame")
    image(tmp_path, 10, name="nobody's", OBJECT="Nobody")
    image(tmp_path, 6, late_s=-600, name="before the list")
    (tmp_path / "broken.fits").write_bytes(b"no FITS at all")
    found = told(tmp_path)
    assert found.missing == {7, 8, 10}
    assert found.not_counted == (
        "Images not counted: 1 of this night are no sub of this list, 2 cannot be used (darkfill tally says why)."
    )


def test_folder_that_is_none_and_two_ways_to_say_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="nowhere"):
        told(tmp_path / "nowhere")
    with pytest.raises(InputError, match=r"images = .*: does not go with done; keep one of the two"):
        told_of(laid_list(), Asked(now="21:56", images=tmp_path, done=[1]), "x")
