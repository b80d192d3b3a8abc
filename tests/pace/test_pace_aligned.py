"""Frames beside the subs of a list: on nights run by a fake clock, and in the cases that decide between two ways."""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from benchmarks.interrupted_nights import NIGHTS, stored
from optimizer.models.shots import ShotList, Step
from optimizer.pace.aligned import Aligned, aligned
from optimizer.tally.frames import Frame
from tests.support.executing import Cloud
from tests.support.night_files import Camera
from tests.support.replan_nights import DATA, at, laid_list, small_request
from tests.support.run_night import Happened, run_night
from tests.support.speeds import sampled

SUBS = (6, 7, 8, 10, 13, 17, 20, 22, 29)


def frame_of(sub: Step, late_s: float = 0.0, name: str = "", **changes: Any) -> Frame:
    """A frame of a sub that began so much later than planned."""
    frame = Frame(
        path=Path("images") / (name or f"{sub.step:03}.fits"),
        name=name or f"{sub.step:03}.fits",
        size_bytes=8640,
        kind="light",
        object=sub.target,
        filter=sub.filter,
        exposure_s=sub.exposure_s,
        taken_utc=sub.start_utc + dt.timedelta(seconds=late_s),
    )
    return replace(frame, **changes)


def run_of(count: int, exposure_s: int = 120, dither_every: int = 0) -> ShotList:
    """A list with one run of subs, whose downloads take 3 s."""
    now, rows = at("20:44:38"), ["slew 20:43:00 20:44:38 Cradle west"]
    for number in range(count):
        ends = now + dt.timedelta(seconds=exposure_s + 3)
        rows.append(f"expose {now:%H:%M:%S} {ends:%H:%M:%S} Cradle west L {exposure_s}")
        now = ends
        if dither_every and (number + 1) % dither_every == 0 and number + 1 < count:
            ends = now + dt.timedelta(seconds=12)
            rows.append(f"dither {now:%H:%M:%S} {ends:%H:%M:%S} Cradle west L")
            now = ends
    rows.append(f"park {now:%H:%M:%S} {now + dt.timedelta(minutes=1):%H:%M:%S}")
    goal = {"filter": "L", "exposure_s": exposure_s, "frames": 100}
    request = small_request(targets=[{**DATA["targets"][0], "goals": [goal]}])
    return laid_list("\n".join(rows), request=request)


def taken_at(shots: ShotList, starts: Iterable[float]) -> Aligned:
    """Frames of a run that began so many seconds after the list's first sub."""
    first = shots.steps[1]
    return aligned(shots, [frame_of(first, start, f"{start:07.1f}.fits") for start in starts])


def numbers(found: Aligned) -> list[int]:
    return [each.step.step - 1 for each in found.taken]


def missing(found: Aligned) -> list[int]:
    return [step.step - 1 for step in found.missing]


# --- one night after the other ------------------------------------------------------------------------------


def test_night_that_went_as_planned_has_every_sub_on_time() -> None:
    for night in NIGHTS:
        shots = stored(night)
        happened = run_night(shots, random.Random(night))
        found = aligned(shots, happened.frames())
        assert [each.step for each in found.taken] == [step for step in shots.steps if step.kind == "expose"]
        assert {each.late_s for each in found.taken} == {0.0}
        assert (found.missing, found.others) == ((), ())


def night_of(seed: int) -> tuple[ShotList, Happened, float]:
    """A night that goes wrong in several ways at once, and by how much the camera's clock is ahead."""
    rng = random.Random(f"aligned {seed}")
    shots = stored(NIGHTS[seed % len(NIGHTS)])
    subs = [step.step for step in shots.steps if step.kind == "expose"]
    start = shots.steps[0].start_utc + dt.timedelta(seconds=rng.uniform(0, 30000))
    cloud = Cloud(start, start + dt.timedelta(seconds=rng.uniform(300, 6000)), "passed")
    first = rng.randrange(len(subs))
    ahead_s = rng.choice((0.0, 0.0, -8.0, 5.0, 20.0))
    happened = run_night(
        shots,
        rng,
        more={"expose": rng.choice((0, 1, 5, 8)), "dither": 3, "focus": 40, "centre": 30, "flip": 60},
        jitter=rng.choice((0.0, 0.02, 0.1)),
        begins_late_s=rng.choice((0, 0, 20, 1200)),
        clouds=[cloud] if rng.random() < 0.3 else [],
        stalls={rng.choice(subs): rng.uniform(20, 2500) for _ in range(rng.randrange(3))},
        lost={*rng.sample(subs, rng.randrange(5)), *subs[first : first + rng.choice((0, 0, 6))]},
        copies=rng.sample(subs, 4),
        camera=Camera(clock_off_s=ahead_s, whole_seconds=rng.random() < 0.3),
    )
    return shots, happened, ahead_s


@pytest.mark.parametrize("chunk", sampled(range(10), quick=1))
def test_nights_that_go_wrong_in_many_ways_are_read_rightly(chunk: int) -> None:
    """A stall of just so many subs cannot be told from lost files: hence not all of them."""
    counts: Counter[str] = Counter()
    for seed in range(chunk * 30, chunk * 30 + 30):
        shots, happened, ahead_s = night_of(seed)
        frames = happened.frames()
        found = aligned(shots, frames)
        truth = {file.name: file.step.step for file in happened.files}
        of_path = [truth[each.frame.path.relative_to("images").as_posix()] for each in found.taken]
        right = [each.step.step == number for each, number in zip(found.taken, of_path, strict=True)]
        counts.update(taken=len(right), right=sum(right), nights=1, flawless=all(right))
        assert len({each.step.step for each in found.taken}) == len(found.taken)
        assert len(found.taken) + len(found.others) == len(frames)
        for each, is_right in zip(found.taken, right, strict=True):
            if is_right:
                assert each.late_s == pytest.approx(happened.lateness[each.step.step] + ahead_s, abs=1.1)
    assert counts["right"] >= 0.98 * counts["taken"]  # measured: 0.986 in the worst chunk
    assert counts["flawless"] >= 0.7 * counts["nights"]  # and 23 of 30


# --- what decides -------------------------------------------------------------------------------------------


def test_lost_files_leave_those_after_them_on_time() -> None:
    found = taken_at(run_of(8), [0, 123, 492, 615])
    assert (numbers(found), missing(found)) == ([1, 2, 5, 6], [3, 4])
    assert {each.late_s for each in found.taken} == {0.0}


@pytest.mark.parametrize("stall_s", [40, 60, 80, 150, 190, 300, 1045])
def test_stall_of_any_other_length_makes_the_next_sub_late(stall_s: int) -> None:
    found = taken_at(run_of(20), [0, 123, 246 + stall_s, 369 + stall_s])
    assert (numbers(found), missing(found)) == ([1, 2, 3, 4], [])
    assert [each.late_s for each in found.taken] == [0, 0, stall_s, stall_s]


@pytest.mark.parametrize("stall_s", [123, 246, 615])
def test_jump_of_whole_subs_means_that_some_are_missing_until_there_are_too_many(stall_s: int) -> None:
    """While the run goes on it cannot be told; as it ends, there are frames for all of its subs."""
    shots, late = run_of(12), [0, 123] + [each * 123 + stall_s for each in range(2, 12)]
    soon = taken_at(shots, late[:3])
    assert len(missing(soon)) == stall_s // 123
    assert soon.taken[-1].late_s == 0
    assert numbers(taken_at(shots, late)) == list(range(1, 13))


def test_list_begun_late_is_late_and_misses_nothing() -> None:
    for late_s in (31, 300, 1200, 5000):
        found = taken_at(run_of(60), [late_s + 123 * each for each in range(5)])
        assert (numbers(found), missing(found)) == ([1, 2, 3, 4, 5], []), late_s


def test_overhead_that_nobody_planned_adds_up_and_lost_files_are_still_told() -> None:
    """A sub takes 9 s longer than planned, so that after 14 of them the list is late by one."""
    starts = [each * 132.0 for each in range(40)]
    found = taken_at(run_of(40), starts)
    assert numbers(found) == list(range(1, 41))
    assert found.taken[-1].late_s == 351
    lost = {4, 11, 12, 30}
    found = taken_at(run_of(40), [start for each, start in enumerate(starts, start=1) if each not in lost])
    assert set(missing(found)) == lost


def test_skipped_subs_make_up_for_what_is_late() -> None:
    """Subs whose latest start has passed are not taken; the next run goes on less late."""
    shots, rng = stored("long-winter-night"), random.Random(0)
    happened = run_night(shots, rng, begins_late_s=1443)
    assert len(happened.skipped_subs) > 6
    found = aligned(shots, happened.frames())
    assert {each.step.step: each.late_s for each in found.taken} == happened.lateness
    last = found.taken[-1].step.step
    assert [step.step for step in found.missing] == [n for n in happened.skipped_subs if n < last]


def test_waits_make_up_for_what_is_late() -> None:
    """The laid list waits twice: 133 s in a visit, then until 21:30."""
    late = {6: 50, 7: 50, 8: 50, 10: 50, 13: 50, 17: 0, 22: 0, 29: 0}
    steps = laid_list().steps
    found = aligned(laid_list(), [frame_of(steps[number - 1], late_s) for number, late_s in late.items()])
    assert {each.step.step: each.late_s for each in found.taken} == late
    assert found.missing == ()


@pytest.mark.parametrize("ahead_s", [-40.0, -3.0, 2.0, 15.0, 25.0])
def test_clocks_apart_by_some_seconds_change_nothing(ahead_s: float) -> None:
    subs = [step for step in laid_list().steps if step.kind == "expose"]
    found = aligned(laid_list(), [frame_of(sub, ahead_s) for sub in subs])
    assert [each.step for each in found.taken] == subs
    assert {each.late_s for each in found.taken} == {ahead_s}
    assert found.others == ()


def test_frames_of_an_older_list_before_this_one_are_no_subs_of_it() -> None:
    """An older list of the same goal took subs of a minute until half a minute before this one begins."""
    shots = run_of(8, exposure_s=60)
    before = [-30.0 - 63 * each for each in range(6)]
    found = taken_at(shots, [*before, *(63.0 * each for each in range(8))])
    assert numbers(found) == list(range(1, 9))
    assert {each.late_s for each in found.taken} == {0.0}
    assert len(found.others) == 6


def test_copies_count_once_and_two_shutters_are_never_open_at_once() -> None:
    shots = run_of(4)
    first = shots.steps[1]
    frames = [
        frame_of(first, name="light.fits"),
        frame_of(first, name="calibrated.fits"),
        frame_of(first, 0.6, name="by a program that rounds.fits"),
        frame_of(first, 50.0, name="impossible.fits"),
        frame_of(first, 123.0, name="second.fits"),
    ]
    found = aligned(shots, frames)
    assert [each.frame.name for each in found.taken] == ["calibrated.fits", "second.fits"]
    assert {frame.name for frame in found.others} == {
        "light.fits", "by a program that rounds.fits", "impossible.fits",
    }  # fmt: skip


def test_frames_that_say_nothing_of_the_list_are_left_out() -> None:
    sub = laid_list().steps[5]
    frames = [
        frame_of(sub, kind="dark"),
        frame_of(sub, kind="other"),
        frame_of(sub, taken_utc=None),
        frame_of(sub, object="Nobody"),
        frame_of(sub, -86400.0),
        frame_of(sub, 86400.0),
    ]
    assert aligned(laid_list(), frames) == Aligned((), (), ())


def test_frames_beyond_a_goal_are_others() -> None:
    """Three more of a goal than the list has."""
    found = taken_at(run_of(3), [each * 123.0 for each in range(6)])
    assert (numbers(found), len(found.others)) == ([1, 2, 3], 3)


def test_order_of_the_frames_makes_no_difference() -> None:
    shots, happened, _ = night_of(3)
    frames = happened.frames()
    mixed = random.Random(1).sample(frames, len(frames))
    assert aligned(shots, mixed) == aligned(shots, frames)


def test_list_without_subs_and_night_without_frames_give_nothing() -> None:
    assert aligned(laid_list(), []) == Aligned((), (), ())
    empty = laid_list().model_copy(update={"steps": ()})
    frame = frame_of(laid_list().steps[5])
    assert aligned(empty, [frame]) == Aligned((), (), (frame,))


def test_camera_that_writes_no_place_and_other_names_is_matched_like_a_tally() -> None:
    """Names that differ in case and blanks are those of the request, as everywhere."""
    sub = laid_list().steps[5]
    found = aligned(laid_list(), [frame_of(sub, object=" cradle", filter="l")])
    assert [each.step for each in found.taken] == [sub]


def test_dithers_that_last_longer_than_planned_are_no_lost_subs() -> None:
    shots = run_of(16, dither_every=1)
    found = taken_at(shots, [each * (123.0 + 30.0) for each in range(16)])
    assert [each.step for each in found.taken] == subs_of(shots)


def subs_of(shots: ShotList) -> Sequence[Step]:
    return [step for step in shots.steps if step.kind == "expose"]
