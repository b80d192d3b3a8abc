"""A plain executor of shot lists with a fake clock: what it does with each step, and when.

It knows the law of a list that runs late as `plans/SHOTS.md` tells it, and nothing of the code that foretells such
a list. No step begins before its time. A sub whose latest start has passed is skipped. The mount leaves what it
tracks by the latest start of the step that leaves it, or by the latest end of a shutter directly before that step,
if sooner: whatever then runs with a closed shutter is broken off, and a download is let end while the mount stands.
A visit whose slew or flip comes too late is skipped as a whole, but for a flip that waited for such a download, no
longer than the sub's row lasts. A flip that the mount makes by itself is never too late.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from optimizer.models.shots import Step

Lasts = Callable[[Step], float]  # seconds that a step really lasts, downloads included
NEEDS_SKY = ("centre", "settle", "focus", "expose")


@dataclass(frozen=True)
class Cloud:
    """A span without clear sky, and what the executor makes of it.

    `spoilt`: it notices nothing, and takes its subs. `passed`: a sub that would begin in it is not taken, and its
    time goes by. `paused`: whatever needs the sky waits until the cloud has gone.
    """

    start_utc: dt.datetime
    end_utc: dt.datetime
    does: Literal["spoilt", "passed", "paused"] = "spoilt"

    def holds(self, at: dt.datetime) -> bool:
        return self.start_utc <= at < self.end_utc


@dataclass(frozen=True)
class Done:
    """A step as it went: from when to when; a sub's shutter was open for the first `exposure_s` of it."""

    step: Step
    start_utc: dt.datetime
    end_utc: dt.datetime

    @property
    def closes_utc(self) -> dt.datetime:
        """When the shutter closed, for a sub."""
        return self.start_utc + dt.timedelta(seconds=self.step.exposure_s or 0.0)


@dataclass(frozen=True)
class Executed:
    """The steps done, those broken off, and all others, each in the order of the list.

    `passed` are those of the others that are subs not taken for a cloud.
    """

    done: tuple[Done, ...]
    broken: tuple[Done, ...]
    skipped: tuple[Step, ...]
    passed: tuple[Step, ...] = ()

    @property
    def subs(self) -> tuple[Done, ...]:
        """The subs taken."""
        return tuple(each for each in self.done if each.step.kind == "expose")


def as_listed(step: Step) -> float:
    """The length of a step in the list, in seconds."""
    return float(step.seconds)


def execute(
    steps: Sequence[Step],
    at: dt.datetime,
    lasts: Lasts = as_listed,
    clouds: Sequence[Cloud] = (),
    *,
    by_mount: bool = False,
) -> Executed:
    """Go through a list, or the rest of one, from an instant on; `by_mount`: the mount flips by itself."""
    executor = _Executor(at, lasts, clouds, by_mount)
    stays = _stays(steps)
    for stay, after in zip(stays, [*stays[1:], []], strict=True):
        executor.stay(stay, _leave_by(stay, after[0] if after else None))
    went = {each.step.step for each in (*executor.done, *executor.broken)}
    skipped = tuple(step for step in steps if step.step not in went)
    return Executed(tuple(executor.done), tuple(executor.broken), skipped, tuple(executor.passed))


class _Executor:
    """Time, and whether the mount tracks, while a list is gone through stay by stay."""

    def __init__(self, at: dt.datetime, lasts: Lasts, clouds: Sequence[Cloud], by_mount: bool) -> None:
        self.now, self.lasts, self.clouds, self.by_mount = at, lasts, clouds, by_mount
        self.away = False  # whether a slew was skipped, so that the mount is on no target
        self.done: list[Done] = []
        self.broken: list[Done] = []
        self.passed: list[Step] = []
        self.tracks_until: dt.datetime | None = None  # by when it must leave what it tracks
        self.flips_until: dt.datetime | None = None  # as late as this if it waited for a download

    def stay(self, stay: Sequence[Step], limit: dt.datetime) -> None:
        """One target on one side, from what brings the mount there to the step before it leaves."""
        work = stay
        if _leaves(stay[0]):
            if not self._arrived(stay[0]):
                self.tracks_until = None
                return
            work = stay[1:]
            if self.now > limit:
                self.tracks_until = None
                return
        self.tracks_until = limit
        for step in work:
            if not self._worked(step, limit):
                return

    def _arrived(self, step: Step) -> bool:
        """Leave what is tracked; whether something is tracked after that."""
        begins = max(self.now, step.start_utc)
        if self.tracks_until is not None and begins > self.tracks_until:
            begins = max(self.now, self.tracks_until)
        self.now = begins
        waited = step.kind == "flip" and self.flips_until is not None and begins <= self.flips_until
        too_late = step.latest_start_utc is not None and begins > step.latest_start_utc
        moves = step.kind in ("slew", "flip")
        flips_itself = step.kind == "flip" and self.by_mount and not self.away
        if moves and too_late and not waited and not flips_itself:
            self.away = True
            return False
        self.away = not moves
        ends = max(begins, step.end_utc) if step.kind == "wait" else begins + self._length(step)
        self._went(step, begins, ends)
        return moves

    def _worked(self, step: Step, limit: dt.datetime) -> bool:
        """One step while the mount tracks; False where it is time to leave."""
        begins = max(self.now, step.start_utc)
        for cloud in self.clouds:
            if cloud.does == "paused" and step.kind in NEEDS_SKY and cloud.holds(begins):
                begins = cloud.end_utc
        if begins > limit:
            self.now = max(self.now, limit)
            return False
        if step.kind == "expose":
            return self._exposed(step, begins, limit)
        ends = max(begins, step.end_utc) if step.kind == "wait" else begins + self._length(step)
        if ends > limit:
            self.broken.append(Done(step, begins, limit))
            self.now = limit
            return False
        self._went(step, begins, ends)
        return True

    def _exposed(self, step: Step, begins: dt.datetime, limit: dt.datetime) -> bool:
        if step.latest_start_utc is not None and begins > step.latest_start_utc:
            return True
        if any(cloud.does == "passed" and cloud.holds(begins) for cloud in self.clouds):
            self.passed.append(step)
            self.now = begins + (step.end_utc - step.start_utc)
        else:
            shutter = dt.timedelta(seconds=step.exposure_s or 0.0)
            self._went(step, begins, begins + max(self._length(step), shutter))
        if self.now <= limit:
            return True
        self.tracks_until = None  # the download runs on while the mount stands
        self.flips_until = limit + (step.end_utc - step.start_utc)
        return False

    def _went(self, step: Step, begins: dt.datetime, ends: dt.datetime) -> None:
        self.done.append(Done(step, begins, ends))
        self.now = ends
        self.flips_until = None

    def _length(self, step: Step) -> dt.timedelta:
        return dt.timedelta(seconds=self.lasts(step))


def _leaves(step: Step) -> bool:
    """Whether the mount no longer tracks what it tracked before."""
    return step.kind in ("slew", "flip", "park") or (step.kind == "wait" and not step.tracking)


def _stays(steps: Sequence[Step]) -> list[list[Step]]:
    """The list cut before each step that leaves."""
    stays: list[list[Step]] = []
    for step in steps:
        if not stays or _leaves(step):
            stays.append([])
        stays[-1].append(step)
    return stays


def _leave_by(stay: Sequence[Step], leaving: Step | None) -> dt.datetime:
    """By when the mount must have left what it tracks during a stay."""
    never = dt.datetime.max.replace(tzinfo=dt.UTC)
    if leaving is None:
        return never
    limit = leaving.latest_start_utc or never
    last = stay[-1]
    if last.kind == "expose" and last.latest_start_utc is not None:
        limit = min(limit, last.latest_start_utc + dt.timedelta(seconds=last.exposure_s or 0.0))
    return limit
