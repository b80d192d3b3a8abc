"""A list and an instant -> what runs by the plan, what comes next, when the flip is, what slack is left."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from optimizer.models.rig import Mount
from optimizer.models.shots import ShotList, Step
from optimizer.pace.late import slack_by_step

Phase = Literal["empty", "before", "during", "after"]
FlipBy = Literal["plan", "mount", "nobody"]
PARTS_RUNS = ("slew", "flip", "park")


@dataclass(frozen=True)
class Moment:
    """What a list has for one instant; all of it by the plan, nothing of where the mount really is.

    `now_utc` is the instant, cut to the whole second. A step is `running` from its start on, up to but
    without its end; None before and after the list, and where a list edited by hand leaves a gap. `next` is
    the first later step that is neither a sub of the running one's goal nor a dither, which is part of its
    run; before the list it is the first step. `flip` is the first flip that begins later than now, and
    `flip_by` who makes it ("nobody": a fork, or a mount that never flips). `slack_s` is by how many seconds
    the list may still be late and break and lose nothing, the rest of a running wait included; None where no
    later step can be too late. `begins_utc` and `ends_utc` are those of the list, None where it is empty.
    """

    now_utc: dt.datetime
    phase: Phase
    begins_utc: dt.datetime | None = None
    ends_utc: dt.datetime | None = None
    running: Step | None = None
    next: Step | None = None
    flip: Step | None = None
    flip_by: FlipBy = "plan"
    slack_s: int | None = None

    def seconds_until(self, instant: dt.datetime) -> int:
        """Whole seconds from now until an instant; negative where it is past."""
        return round((instant - self.now_utc).total_seconds())


def moment(shots: ShotList, now: dt.datetime) -> Moment:
    """Tell what a list has for an instant, which may be any that has a time zone."""
    return moment_of(shots.steps, now, flip_maker(shots.request.mount))


def flip_maker(mount: Mount) -> FlipBy:
    """Tell who makes the flips of a mount: the plan's steps, the mount by itself, or nobody."""
    if not mount.flips or mount.flip_by == "never":
        return "nobody"
    return mount.flip_by


def moment_of(steps: Sequence[Step], now: dt.datetime, flip_by: FlipBy = "plan") -> Moment:
    """Tell the same of bare steps, in the order of time."""
    now = now.astimezone(dt.UTC).replace(microsecond=0)
    if not steps:
        return Moment(now, "empty", flip_by=flip_by)
    begun = sum(step.start_utc <= now for step in steps)
    begins, ends = steps[0].start_utc, max(step.end_utc for step in steps)
    phase: Phase = "before" if now < begins else "after" if now >= ends else "during"
    running = next((step for step in reversed(steps[:begun]) if now < step.end_utc), None)
    flip = next((step for step in steps[begun:] if step.kind == "flip"), None)
    return Moment(
        now_utc=now,
        phase=phase,
        begins_utc=begins,
        ends_utc=ends,
        running=running,
        next=next((step for step in steps[begun:] if _is_other(step, running)), None),
        flip=None if flip_by == "nobody" else flip,
        flip_by=flip_by,
        slack_s=_slack_s(steps, begun, running, now, by_mount=flip_by == "mount"),
    )


def place_in_run(steps: Sequence[Step], sub: Step) -> tuple[int, int]:
    """Which sub of its run a sub is, from 1 on, and how many the run has.

    A run are subs of one goal, one after the other; what leaves the target parts them, and a sub of another
    goal does. Dithers, autofocus and waits in between do not.
    """
    place = next(index for index, step in enumerate(steps) if step.step == sub.step)
    before = _alike(reversed(steps[:place]), sub)
    return before + 1, before + 1 + _alike(steps[place + 1 :], sub)


def _alike(steps: Iterable[Step], sub: Step) -> int:
    """How many subs of a sub's goal come before its run is parted."""
    number = 0
    for step in steps:
        if step.kind in PARTS_RUNS or (step.kind == "expose" and step.goal_key != sub.goal_key):
            break
        number += step.kind == "expose"
    return number


def _is_other(step: Step, running: Step | None) -> bool:
    """Whether a step is of another kind or goal than the running one, and no dither."""
    if running is None:
        return True
    if step.kind == "dither":
        return False
    if step.kind != running.kind:
        return True
    return step.kind != "expose" or step.goal_key != running.goal_key


def _slack_s(
    steps: Sequence[Step], begun: int, running: Step | None, now: dt.datetime, *, by_mount: bool
) -> int | None:
    """Slack at the next step; a running wait takes up what is left of it."""
    if begun == len(steps):
        return None
    slack_s = slack_by_step(steps, by_mount=by_mount)[begun]
    if slack_s is None or running is None or running.kind != "wait":
        return slack_s
    return slack_s + round((running.end_utc - now).total_seconds())
