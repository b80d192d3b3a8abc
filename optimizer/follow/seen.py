"""A list, an instant and the images by then -> how late the night runs, since when, and what that costs."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.follow.watch import Images
from optimizer.models.shots import ShotList, Step
from optimizer.pace.aligned import Aligned, Taken, aligned
from optimizer.pace.late import LateRun, Ran, late_run, slack_by_step

LATE_S = 30.0  # clocks differ by some seconds, and so do downloads: less is not called late
ACQUIRES = ("centre", "settle", "rotate")  # what is let end with an arrival
NEVER = dt.datetime.max.replace(tzinfo=dt.UTC)
GRACE_S = 30.0  # that an image may take beyond its download until the folder shows it whole


@dataclass(frozen=True)
class Overdue:
    """The image that should have come by now: of which sub, and when it was due, late as the list was.

    `since_utc` is when the exposure of the latest image ended, None where there is none.
    """

    step: Step
    due_utc: dt.datetime
    since_utc: dt.datetime | None


@dataclass(frozen=True)
class ComingFlip:
    """A flip, and when a list that is so late and skips nothing comes to it.

    `latest_utc` is its latest start, `NEVER` where it has none.
    """

    step: Step
    begins_utc: dt.datetime
    latest_utc: dt.datetime


@dataclass(frozen=True)
class Jump:
    """Seconds by which the list became later at once, before a sub that has an image, and still is."""

    step: Step
    seconds: float


@dataclass(frozen=True)
class Seen:
    """What the images say of a list at an instant.

    `taken` are the subs with an image, in the order of the list, `over` how many subs are over by the plan.
    `late_s` is how late the list runs: by the latest image, or at least so late where an image is `overdue`
    and was neither skipped nor its file lost; never below 0. `ahead_s` is by how much later than now the
    latest image ends by its header, None where it is no more than `LATE_S`: then clocks differ, or the header
    has local times, and all that is told of lateness is by that wrong clock. `since` is the first sub of the
    present lateness, None where it is below `LATE_S`, or begins with the sub that is overdue. `jump` is the
    greatest one in that lateness, None where it has none of `LATE_S` or more. `missing` are subs before the
    latest one taken that have no image. `running` is the sub that is taken to run, and `running_ends_utc`
    when it is expected to end, its download included.

    `lost` are the subs that the rest of the list loses by running so late, if it goes as planned from here
    on. `coming_flip` is the next flip that is still to come, None where the mount makes it by itself; `flip`
    is the next one if it comes too late unless subs before it are skipped. `may_s` is how much later the list
    may still run without breaking or losing anything more: 0 where it loses something already, None where no
    later step can be too late. `rest` are the steps after the latest sub seen, `done` are the numbers of the
    steps taken to be done, `running` included. `let_end` is what is best let end before another list begins:
    the step taken to run, unless it is a wait or a park, and what acquires the target with it.
    """

    now_utc: dt.datetime
    images: Images
    taken: tuple[Taken, ...]
    over: int
    late_s: float
    ahead_s: float | None
    since: Step | None
    jump: Jump | None
    overdue: Overdue | None
    missing: tuple[Step, ...]
    others: int
    running: Step | None
    running_ends_utc: dt.datetime | None
    lost: tuple[Step, ...]
    coming_flip: ComingFlip | None
    flip: ComingFlip | None
    may_s: int | None
    rest: tuple[Step, ...]
    done: tuple[int, ...]
    let_end: tuple[Ran, ...]

    @property
    def latest(self) -> Taken | None:
        """The latest sub of the list that has an image."""
        return self.taken[-1] if self.taken else None


def seen(shots: ShotList, now: dt.datetime, images: Images) -> Seen:
    """Hold the images that are whole by an instant beside the list."""
    now = now.astimezone(dt.UTC)
    found = aligned(shots, images.frames)
    known, at = _after_latest(shots.steps, found)
    place = known
    by_mount = shots.request.mount.flip_by == "mount"
    expected = late_run(shots.steps[known:], at, by_mount=by_mount).ran
    overdue = _overdue(shots, found, expected, now)
    streak = _late_streak(found.taken)
    running: Ran | None = None
    let_end: tuple[Ran, ...] = ()
    done: list[int] = []
    if overdue is None:
        late_s = max(0.0, found.taken[-1].late_s) if found.taken else 0.0
        if found.taken:  # else nothing shows that the list has begun
            let_end = _let_end(expected, now)
            running = let_end[0] if let_end and let_end[0].step.kind == "expose" else None
            done = [each.step.step for each in expected if each.end_utc <= now or each is running]
    else:
        # at its best the sub that is overdue ends right now
        late_s = (now - overdue.step.end_utc).total_seconds()
        place = _place(shots.steps, overdue.step)
        at = now - dt.timedelta(seconds=overdue.step.seconds)
    without = {step.step for step in found.missing}
    before = [step.step for step in shots.steps[:known]]
    rest = shots.steps[place:]
    lost = _lost(rest, at, by_mount=by_mount)
    coming_flip = _coming_flip(shots, rest, at)
    too_late = coming_flip is not None and coming_flip.begins_utc > coming_flip.latest_utc
    return Seen(
        now_utc=now,
        images=images,
        taken=found.taken,
        over=sum(step.kind == "expose" and step.end_utc <= now for step in shots.steps),
        late_s=late_s,
        ahead_s=_ahead_s(found.taken, now),
        since=streak[0].step if streak else None,
        jump=_jump(found.taken, streak),
        overdue=overdue,
        missing=found.missing,
        others=_others(shots.steps, found),
        running=None if running is None else running.step,
        running_ends_utc=None if running is None else running.end_utc,
        lost=lost,
        coming_flip=coming_flip if coming_flip is not None and coming_flip.begins_utc > now else None,
        flip=coming_flip if too_late else None,
        may_s=_may_s(shots, place, at, loses=bool(lost)),
        rest=tuple(shots.steps[known:]),
        done=tuple(number for number in (*before, *done) if number not in without),
        let_end=let_end,
    )


def _ahead_s(taken: Sequence[Taken], now: dt.datetime) -> float | None:
    """By how much the latest image ends after now, which no image can that is there already."""
    if not taken:
        return None
    frame = taken[-1].frame
    assert frame.taken_utc is not None
    ahead_s = (frame.taken_utc - now).total_seconds() + (frame.exposure_s or 0.0)
    return ahead_s if ahead_s > LATE_S else None


def _place(steps: Sequence[Step], step: Step) -> int:
    return next(index for index, each in enumerate(steps) if each.step == step.step)


def _after_latest(steps: Sequence[Step], found: Aligned) -> tuple[int, dt.datetime]:
    """The place of the step after the latest sub seen, and when that sub really ended."""
    if not found.taken:
        return 0, steps[0].start_utc if steps else dt.datetime.min.replace(tzinfo=dt.UTC)
    latest = found.taken[-1]
    late = dt.timedelta(seconds=max(0.0, latest.late_s))
    return _place(steps, latest.step) + 1, latest.step.end_utc + late


def _overdue(shots: ShotList, found: Aligned, expected: Sequence[Ran], now: dt.datetime) -> Overdue | None:
    """The next image, if it should have come by now."""
    coming = next((each for each in expected if each.step.kind == "expose"), None)
    grace = dt.timedelta(seconds=GRACE_S + shots.request.camera.download_s)
    if coming is None or now <= coming.end_utc + grace:
        return None
    since = None
    if found.taken:
        frame = found.taken[-1].frame
        assert frame.taken_utc is not None
        since = frame.taken_utc + dt.timedelta(seconds=frame.exposure_s or 0.0)
    return Overdue(coming.step, coming.end_utc, since)


def _others(steps: Sequence[Step], found: Aligned) -> int:
    """How many images begun since the list has are no sub of it; those before are an older list's."""
    begins = steps[0].start_utc if steps else NEVER
    return sum(frame.taken_utc is not None and frame.taken_utc >= begins for frame in found.others)


def _let_end(expected: Sequence[Ran], now: dt.datetime) -> tuple[Ran, ...]:
    """What is under way, with what belongs to it; nothing where the list waits or parks."""
    place = next((index for index, each in enumerate(expected) if each.start_utc <= now < each.end_utc), None)
    if place is None or expected[place].step.kind in ("wait", "park"):
        return ()
    let_end = [expected[place]]
    if let_end[0].step.kind in ("slew", "flip", *ACQUIRES):
        for each in expected[place + 1 :]:
            if each.step.kind not in ACQUIRES:
                break
            let_end.append(each)
    return tuple(let_end)


def _late_streak(taken: Sequence[Taken]) -> list[Taken]:
    """The subs up to the latest one that are all late."""
    on_time = [index for index, each in enumerate(taken) if each.late_s < LATE_S]
    return list(taken[on_time[-1] + 1 :] if on_time else taken)


def _jump(taken: Sequence[Taken], streak: Sequence[Taken]) -> Jump | None:
    """The greatest jump within the lateness of a streak, as far as it was not made up for since; the latest
    of equal ones.
    """
    jumps: list[Jump] = []
    left_s = math.inf
    for place in range(len(taken) - 1, len(taken) - len(streak) - 1, -1):
        left_s = min(left_s, taken[place].late_s)
        jumps.insert(
            0, Jump(taken[place].step, left_s - (max(0.0, taken[place - 1].late_s) if place else 0.0))
        )
    greatest = max(reversed(jumps), key=lambda jump: jump.seconds, default=None)
    return greatest if greatest is not None and greatest.seconds >= LATE_S else None


def _lost(rest: Sequence[Step], at: dt.datetime, *, by_mount: bool) -> tuple[Step, ...]:
    """The subs that a rest loses by beginning at an instant, beyond those lost on time."""
    if not rest:
        return ()
    on_time: LateRun = late_run(rest, rest[0].start_utc, by_mount=by_mount)
    anyway = {step.step for step in on_time.lost}
    late = late_run(rest, at, by_mount=by_mount)
    return tuple(step for step in late.lost if step.step not in anyway)


def _by_mount(shots: ShotList) -> bool:
    return shots.request.mount.flip_by == "mount"


def _coming_flip(shots: ShotList, rest: Sequence[Step], at: dt.datetime) -> ComingFlip | None:
    """When a rest comes to its first flip with nothing skipped; waits take up what is late."""
    if _by_mount(shots):
        return None
    now = at
    for step in rest:
        begins = max(now, step.start_utc)
        if step.kind == "flip":
            return ComingFlip(step, begins, step.latest_start_utc or NEVER)
        length = dt.timedelta(seconds=step.seconds)
        now = max(begins, step.end_utc) if step.kind == "wait" else begins + length
    return None


def _may_s(shots: ShotList, place: int, at: dt.datetime, *, loses: bool) -> int | None:
    """How much later the rest may still begin."""
    if loses:
        return 0
    if place == len(shots.steps):
        return None
    slack_s = slack_by_step(shots.steps, by_mount=_by_mount(shots))[place]
    if slack_s is None:
        return None
    late_s = max(0.0, (at - shots.steps[place].start_utc).total_seconds())
    return max(0, int(slack_s - late_s))
