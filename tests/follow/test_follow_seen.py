"""What the images say of a night: how late, since when, at what cost, and the command that plans its rest anew."""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from optimizer.follow.replanning import plain_arguments, replan_arguments
from optimizer.follow.seen import GRACE_S, LATE_S, Seen, seen
from optimizer.follow.watch import Images
from optimizer.models.shots import ShotList, Step
from optimizer.pace.ranges import ranges_of
from optimizer.replan.asked import Asked, told_of
from optimizer.replan.standing import standing_of
from tests.support.follow_clock import BEFORE, FIRST, FLIP, local
from tests.support.replan_nights import DATA, laid_list, small_request
from tests.support.run_night import Happened, run_night

LIST = "nights/first night.shots.json"
SUBS = [each.step for each in BEFORE]  # numbers of the subs of a run in the middle of the night
STOPS = SUBS[10]
BUSY = BEFORE[-1].start_utc + dt.timedelta(seconds=60)
SUB_S = float(BEFORE[0].seconds)  # stalls below are no whole number of subs


def night(shots: ShotList = FIRST, seed: int = 1, **keys: Any) -> Happened:
    return run_night(shots, random.Random(seed), **keys)


def at(happened: Happened, now: dt.datetime, *, images_until: dt.datetime | None = None) -> Seen:
    """What is seen at an instant; `images_until`: the camera's last file is older than that."""
    return seen(happened.shots, now, Images(tuple(happened.frames(images_until or now))))


def step(number: int, shots: ShotList = FIRST) -> Step:
    return shots.steps[number - 1]


def seconds(amount: float) -> dt.timedelta:
    return dt.timedelta(seconds=amount)


def arguments(told: Seen, *, by_clock: bool = True) -> tuple[str, ...]:
    return replan_arguments(FIRST, told, LIST, "my images", by_clock=by_clock)


def test_night_on_time_costs_nothing() -> None:
    happened = night()
    for minutes in range(0, 630, 37):
        now = FIRST.steps[0].start_utc + dt.timedelta(minutes=minutes)
        told = at(happened, now)
        assert told.late_s < 1.0
        assert (told.overdue, told.since, told.jump, told.missing, told.lost, told.flip) == (
            None, None, None, (), (), None,
        )  # fmt: skip
        under_way = happened.under_way(now)
        if told.taken and under_way is not None and under_way.step.kind == "expose":
            assert told.running == under_way.step
            assert told.running_ends_utc == under_way.end_utc
            assert set(told.done) == {each.step.step for each in happened.over(now)} | {told.running.step}


def test_stall_makes_late_from_the_sub_after_it() -> None:
    happened = night(stalls={STOPS: 1.6 * SUB_S})
    told = at(happened, BUSY)
    assert told.late_s == pytest.approx(1.6 * SUB_S)
    assert told.since == BEFORE[11]
    assert told.jump is not None
    assert (told.jump.step, told.jump.seconds) == (BEFORE[11], told.late_s)
    assert told.running is not None
    under_way = happened.under_way(BUSY)
    assert under_way is not None
    assert (told.running, told.running_ends_utc) == (under_way.step, under_way.end_utc)


@pytest.mark.parametrize(("stall_s", "late"), [(LATE_S - 1, False), (LATE_S, True)])
def test_less_than_half_a_minute_is_not_called_late(stall_s: float, late: bool) -> None:
    told = at(night(stalls={STOPS: stall_s}), BUSY)
    assert told.late_s == stall_s
    assert (told.since is not None) is late


def test_drift_has_no_jump_and_begins_with_the_first_late_sub() -> None:
    happened = night(more={"expose": 1.5})
    told = at(happened, BUSY)
    assert told.since is not None
    late = [number for number, late_s in happened.lateness.items() if late_s >= LATE_S]
    assert (told.since.step, told.jump) == (late[0], None)


def after_stall(happened: Happened, number: int) -> Seen:
    """What is seen once the image of that sub is there, and the next one is not due."""
    (sub,) = [each for each in happened.executed.subs if each.step.step == number]
    told = at(happened, sub.end_utc + seconds(40))
    assert told.overdue is None
    assert told.latest is not None
    assert told.latest.step.step == number
    return told


def test_what_lateness_costs_is_what_the_night_then_loses() -> None:
    """The stall is over, and the night goes on exactly as planned: what was foretold comes true."""
    lost = 0
    for stall_s in (45.0, 1.4 * SUB_S, 4.7 * SUB_S, 10.6 * SUB_S, 21.6 * SUB_S):
        happened = night(stalls={STOPS: stall_s})
        told = after_stall(happened, SUBS[15])
        assert [each.step for each in told.lost] == list(happened.skipped_subs)
        assert (told.may_s == 0) is bool(told.lost)
        lost += len(told.lost)
    assert lost > 20


def test_how_much_later_it_may_be_is_right_to_the_second() -> None:
    told = after_stall(night(stalls={STOPS: 20.0}), SUBS[15])
    assert told.may_s is not None
    assert 0 < told.may_s < 60
    for more_s, loses in ((told.may_s, False), (told.may_s + 1, True)):
        later = night(stalls={STOPS: 20.0 + more_s})
        assert bool(later.skipped_subs) is loses


def test_flip_that_comes_too_late_is_foretold() -> None:
    assert FLIP.latest_start_utc is not None
    visit = [each.step for each in FIRST.steps if each.kind == "expose" and each.step < FLIP.step][-20:]
    room_s = (FLIP.latest_start_utc - FLIP.start_utc).total_seconds()
    for stall_s, in_danger in ((room_s, False), (room_s + 1, True)):
        told = after_stall(night(stalls={visit[0]: stall_s}), visit[6])
        assert told.coming_flip is not None
        assert told.coming_flip.begins_utc == FLIP.start_utc + seconds(stall_s)
        assert told.flip == (told.coming_flip if in_danger else None)
        assert told.coming_flip.latest_utc == FLIP.latest_start_utc


def test_flip_that_the_mount_makes_is_never_in_danger() -> None:
    by_mount = FIRST.model_copy(
        update={"request": FIRST.request.model_copy(
            update={"mount": FIRST.request.mount.model_copy(update={"flip_by": "mount"})})}
    )  # fmt: skip
    told = at(night(by_mount, stalls={STOPS: 1000.0}), BUSY)
    assert (told.flip, told.coming_flip) == (None, None)


def test_image_that_does_not_come_is_overdue_after_its_grace() -> None:
    """The camera stops after a sub; the next image is due as its download ends."""
    happened = night(stalls={STOPS: 40.0})
    runs = {each.step.step: each for each in happened.executed.subs}
    last, coming = runs[SUBS[11]], runs[SUBS[12]]
    stops = last.end_utc + seconds(5)
    due = coming.end_utc + seconds(GRACE_S + FIRST.request.camera.download_s)
    assert at(happened, due, images_until=stops).overdue is None
    told = at(happened, due + seconds(1), images_until=stops)
    assert told.overdue is not None
    assert told.overdue.step == coming.step
    assert told.overdue.due_utc == coming.end_utc
    assert told.overdue.since_utc == last.closes_utc
    assert told.late_s == (due + seconds(1) - coming.step.end_utc).total_seconds()
    assert (told.running, told.running_ends_utc) == (None, None)
    assert told.done == tuple(range(1, SUBS[11] + 1))
    later = at(happened, due + seconds(3600), images_until=stops)
    assert later.overdue == told.overdue
    assert len(later.lost) > len(told.lost)
    assert later.late_s == told.late_s + 3599
    assert later.flip is not None


def test_no_image_at_all() -> None:
    happened = night()
    first = happened.executed.subs[0]
    early = at(happened, first.start_utc + seconds(100))
    assert (early.taken, early.overdue, early.running, early.done) == ((), None, None, ())
    told = at(happened, first.end_utc + seconds(600), images_until=first.start_utc)
    assert told.overdue is not None
    assert (told.overdue.step, told.overdue.since_utc) == (first.step, None)
    assert told.late_s == 600.0
    assert arguments(told) == ("darkfill", "replan", LIST, "--images", "my images")


def test_lost_files_are_missing_once_a_later_image_is_there() -> None:
    lost = SUBS[11:13]
    told = at(night(lost=lost), BUSY)
    assert [each.step for each in told.missing] == lost
    assert told.late_s == 0.0
    assert not set(lost) & set(told.done)
    assert {SUBS[10], SUBS[13]} <= set(told.done)


def test_copies_and_frames_of_another_night_change_nothing() -> None:
    happened, plain = night(copies=(STOPS,)), at(night(), BUSY)
    told = at(happened, BUSY)
    assert [(each.step, each.late_s) for each in told.taken] == [
        (each.step, each.late_s) for each in plain.taken
    ]
    assert (told.others, told.done) == (1, plain.done)
    before = [
        replace(frame, taken_utc=frame.taken_utc and frame.taken_utc - seconds(86400))
        for frame in happened.frames()
    ]
    none = seen(FIRST, FIRST.steps[0].start_utc, Images(tuple(before)))
    assert (none.taken, none.others) == ((), 0)


def test_images_of_the_older_list_are_not_counted_as_strange() -> None:
    """A list that goes on with a night: what was taken before it begins is the older one's."""
    frames = night().frames(BUSY)
    goes_on = FIRST.model_copy(update={"steps": FIRST.steps[BEFORE[5].step - 1 :]})
    assert seen(FIRST, BUSY, Images(tuple(frames))).others == 0
    assert seen(goes_on, BUSY, Images(tuple(frames))).others == 0
    copied = night(copies=(SUBS[3], SUBS[7])).frames(BUSY)
    assert seen(FIRST, BUSY, Images(tuple(copied))).others == 2
    assert seen(goes_on, BUSY, Images(tuple(copied))).others == 1


# --- the command ---------------------------------------------------------------------------------------------


def option(words: tuple[str, ...], name: str) -> str | None:
    return words[words.index(name) + 1] if name in words else None


def asked(words: tuple[str, ...]) -> Asked:
    """What `replan` makes of the command."""
    return Asked(now=option(words, "--now"), done=option(words, "--done"))


def test_command_takes_over_when_the_running_sub_ends() -> None:
    happened = night(stalls={STOPS: 1.6 * SUB_S + 0.5}, lost=SUBS[12:14])
    words = arguments(at(happened, BUSY))
    under_way = happened.under_way(BUSY)
    assert under_way is not None
    done = ranges_of({*range(1, under_way.step.step + 1)} - {*SUBS[12:14]})
    rounded_up = under_way.end_utc + dt.timedelta(microseconds=999_999)
    assert words == (
        "darkfill", "replan", LIST, "--now", local(rounded_up), "--done", done,
    )  # fmt: skip
    assert option(words, "--done") == ranges_of(at(happened, BUSY).done)


@pytest.mark.parametrize("stall_s", [0.0, 40.0, 0.6 * SUB_S, 4.6 * SUB_S])
def test_replan_believes_the_command(stall_s: float) -> None:
    """Mount and camera stand where they really are when the new list takes over, and nothing else is let end."""
    happened = night(stalls={STOPS: stall_s}, lost=(SUBS[12],))
    tried = Counter[str]()
    for each in happened.done[SUBS[13] :]:
        kind = each.step.kind
        if kind in ("wait", "park") or (kind in ("expose", "dither") and each.step.step % 9):
            continue
        words = arguments(at(happened, each.start_utc + (each.end_utc - each.start_utc) / 2))
        told = told_of(FIRST, asked(words), "test")
        standing = standing_of(FIRST, told)
        over = [one for one in happened.done if one.end_utc <= told.now]
        assert 0 <= (told.now - over[-1].end_utc).total_seconds() < 1
        assert over[-1].end_utc >= each.end_utc
        begin = standing.begin
        assert (begin.utc, begin.acquired, standing.let_end) == (told.now, True, ())
        assert (begin.target, begin.pier_side) == (over[-1].step.target, over[-1].step.pier_side)
        filters = [one.step.filter for one in over if one.step.filter]
        assert begin.filter in (filters[-1], None)
        if over[-1].step.kind not in ("settle", "rotate"):  # to centre, another filter may have been put in
            assert begin.filter == filters[-1]
        assert SUBS[12] not in standing.done
        tried[kind] += 1
    assert tried.keys() == {"expose", "dither", "focus", "filter", "slew", "flip", "centre", "settle"}


def test_command_without_a_running_sub_takes_over_at_once() -> None:
    happened = night()
    stops = next(each for each in happened.executed.subs if each.step.step == STOPS).end_utc + seconds(5)
    told = at(happened, stops + seconds(1200), images_until=stops)
    assert arguments(told) == ("darkfill", "replan", LIST, "--done", f"1-{STOPS}")
    assert arguments(told, by_clock=False)[3:5] == ("--now", local(told.now_utc))
    assert plain_arguments(FIRST, LIST, None) == ("darkfill", "replan", LIST)
    assert plain_arguments(FIRST, "-odd.json", BUSY)[2:] in (
        ("./-odd.json", "--now", local(BUSY)),
        (".\\-odd.json", "--now", local(BUSY)),
    )


def test_time_that_comes_twice_is_given_in_utc() -> None:
    """On 25 October 2026 at 01:00 UTC the clocks of Madrid go back from 03:00 to 02:00."""
    request = small_request(night={**_night("2026-10-24"), "ut1_utc_s": 0.0})
    shots = laid_list(request=request)
    twice = dt.datetime(2026, 10, 25, 0, 30, tzinfo=dt.UTC)
    assert plain_arguments(shots, LIST, twice)[-1] == "2026-10-25T00:30:00Z"
    assert plain_arguments(shots, LIST, twice + dt.timedelta(hours=2))[-1] == "03:30:00"


def _night(evening: str) -> Mapping[str, Any]:
    return {**DATA["night"], "evening": evening, "clear": []}


def test_jump_that_was_made_up_for_is_no_part_of_what_is_late() -> None:
    """Ten minutes at once, for which skipped subs make up later: never more came at once than it is late."""
    happened = night(stalls={STOPS: 10 * SUB_S / 3}, more={"expose": 1.5})
    told_of_one = 0
    for number, late_s in happened.lateness.items():
        (sub,) = [each for each in happened.executed.subs if each.step.step == number]
        told = at(happened, sub.end_utc + seconds(40))
        if told.jump is not None:
            told_of_one += 1
            assert told.jump.seconds <= told.late_s, (number, late_s)
    assert told_of_one > 10
