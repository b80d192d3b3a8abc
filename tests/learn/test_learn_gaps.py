"""Gaps between frames: which two follow each other, what kind of gap it is, what breaks it."""

from __future__ import annotations

import datetime as dt
import random

import pytest

from optimizer.learn.gaps import BACK, BEFORE_OVER, FOREIGN, TWO_CAMERAS, Gaps, gaps_between
from optimizer.tally.frames import Frame
from tests.support.learn_frames import Camera, rig_request

REQUEST = rig_request()


def found(frames: list[Frame]) -> Gaps:
    return gaps_between(REQUEST, frames)


def told(gaps: Gaps) -> list[tuple[str, float, str | None]]:
    return [(gap.kind, round(gap.seconds, 6), gap.broken) for gap in gaps.gaps]


def test_a_gap_lasts_from_the_closing_of_a_shutter_to_the_next_opening() -> None:
    frames = Camera().run(3, 15.5, 3).frames
    random.Random(1).shuffle(frames)  # a folder has no order
    gaps = found(frames)
    assert told(gaps) == [("run", 3.0, None), ("run", 15.5, None), ("run", 3.0, None)]
    assert len(gaps.subs) == 4


def test_filter_flip_other_goal_and_other_target_are_kinds_of_their_own() -> None:
    camera = Camera(side="west")
    camera.run(3).rest(20)
    camera.filter, camera.exposure_s = "Ha", 300.0
    camera.run(3).rest(130)
    camera.side = "east"
    camera.run(3).rest(30)
    camera.filter = "L"
    camera.run(3).rest(4)
    camera.exposure_s = 120.0
    camera.run(3).rest(200)
    camera.target = "Andromeda"
    camera.run(3)
    kinds = [gap.kind for gap in found(camera.frames).gaps if gap.seconds != 3]
    assert kinds == ["filter", "flip", "filter", "goal", "slew"]


def test_a_run_on_a_mount_without_pier_sides_goes_on_whatever_the_headers_say() -> None:
    camera = Camera(side="west").run(3)
    camera.rest(3).side = "east"
    camera.run(3)
    fork = rig_request(mount={"kind": "fork"})
    assert [gap.kind for gap in gaps_between(fork, camera.frames).gaps] == ["run", "run", "run"]
    assert [gap.kind for gap in found(camera.frames).gaps] == ["run", "flip", "run"]


def test_a_pier_side_that_changes_back_tells_nothing() -> None:
    camera = Camera(side="east").sub()
    camera.rest(200).side = "west"
    camera.sub()
    assert told(found(camera.frames)) == [("flip", 200.0, BACK)]


@pytest.mark.parametrize(
    "between",
    [
        {"kind": "dark"},
        {"object": "nobody"},
        {"filter": "none"},
        {"exposure_s": 77.0},
    ],
)
def test_a_frame_between_that_is_no_sub_breaks_the_pair(between: dict[str, object]) -> None:
    camera = Camera().sub().rest(3)
    camera.sub(**between)
    camera.rest(3).sub()
    assert told(found(camera.frames)) == [("run", 126.0, FOREIGN)]


def test_a_frame_begun_while_the_shutter_was_open_is_another_cameras() -> None:
    mine = Camera().run(3, 3)
    other = Camera("2026-11-14T20:00:50")
    other.sub(object="nobody").rest(3).sub(object="nobody")
    gaps = found([*mine.frames, *other.frames])
    assert told(gaps) == [("run", 3.0, None), ("run", 3.0, None)]
    assert sum(gaps.others.values()) == 2


def test_copies_count_once_and_a_stack_with_the_first_subs_instant_breaks_nothing() -> None:
    camera = Camera().run(3, 3)
    first, second, third = camera.frames
    stack = Camera().sub(kind="other").frames[0]
    assert told(found([first, stack, second, second, third, third])) == [
        ("run", 3.0, None),
        ("run", 3.0, None),
    ]


def test_two_shutters_open_at_once_are_no_gap() -> None:
    """A clock set back, or an exposure that is not in seconds, of a goal in hours that takes any length."""
    hours = rig_request(goals=[{"filter": "L", "exposure_s": 120, "hours": 30}])
    camera = Camera().run(3, 3)
    in_milliseconds = [
        Camera(each.date_obs or "").sub(exposure_s=12_000.0).frames[0] for each in camera.frames
    ]
    gaps = gaps_between(hours, in_milliseconds)
    assert [gap.broken for gap in gaps.gaps] == [BEFORE_OVER] * 2
    set_back = Camera().run(*[3] * 20).rest(3 - 1800).run(3, 3)
    gaps = found(set_back.frames)
    # each of the three shutters is opened while an older one is open by the clock, and closes in a later one;
    # the gap before the first of them and the one after the last are between subs that overlap others, too
    assert [gap.broken for gap in gaps.gaps].count(BEFORE_OVER) == 8
    assert len(gaps.gaps) == 23
    assert {round(gap.seconds, 6) for gap in gaps.gaps if not gap.broken} == {3.0}


def test_two_cameras_in_one_folder_tell_nothing_of_their_nights() -> None:
    """Where both take subs of the same goals, the gaps are from one's shutter to the other's."""
    mine, other = Camera().run(*[9.0] * 30), Camera("2026-11-14T20:00:07.25").run(*[4.0] * 30)
    gaps = found([*mine.frames, *other.frames])
    assert {gap.broken for gap in gaps.gaps} == {TWO_CAMERAS}
    assert {gap.seconds for gap in gaps.gaps if gap.seconds > 0}
    later = Camera("2026-11-15T20:00:00.25").run(*[9.0] * 30)
    gaps = found([*mine.frames, *other.frames, *later.frames])
    assert [round(gap.seconds, 6) for gap in gaps.gaps if not gap.broken] == [9.0] * 30


def test_what_follows_a_sub_that_overlaps_another_is_no_gap() -> None:
    """A short sub during a long one, and the next long one after it: from one camera to another."""
    mine, other = Camera().run(*[9.0] * 30), Camera("2026-11-14T20:30:20")
    other.exposure_s = 300.0
    other.sub()
    gaps = found([*mine.frames, *other.frames])
    assert {round(gap.seconds, 6) for gap in gaps.gaps if not gap.broken} == {9.0}


def test_exposures_in_milliseconds_are_told_with_the_keyword() -> None:
    gaps = found(Camera().sub(exposure_s=120_000.0).frames)
    assert not gaps.subs
    assert list(gaps.others) == ["EXPTIME = 120000 s is that of no sub"]


def test_nights_are_not_joined_and_whole_seconds_are_seen() -> None:
    one = Camera("2026-11-14T23:00:00").run(3)
    two = Camera("2026-11-15T23:00:00").run(3)
    gaps = found([*one.frames, *two.frames])
    assert told(gaps) == [("run", 3.0, None)] * 2
    assert gaps.whole_seconds
    assert {sub.evening for sub in gaps.subs} == {dt.date(2026, 11, 14), dt.date(2026, 11, 15)}
    assert not found(Camera("2026-11-14T23:00:00.5").run(3).frames).whole_seconds


def test_subs_of_any_length_count_with_their_own_exposure_for_a_goal_in_hours() -> None:
    hours = rig_request(goals=[{"filter": "L", "exposure_s": 120, "hours": 30}])
    camera = Camera().sub().rest(3)
    camera.exposure_s = 60.0
    camera.sub().rest(3).sub()
    assert [gap.seconds for gap in gaps_between(hours, camera.frames).gaps] == [3.0, 3.0]
