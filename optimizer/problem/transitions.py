"""From one visit to the next: what the motion takes, as linear rows, and whether it may follow at all."""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimizer.mount.axes import DRIFT_DEG_S, HOME, SAFETY_S
from optimizer.mount.zones import HALF_TURN_S
from optimizer.problem.problem import Problem
from optimizer.problem.slots import Slot
from optimizer.problem.tasks import Task


@dataclass(frozen=True)
class Transition:
    """The motion from one slot to another, as linear rows: seconds as a function of the wait before it.

    With w seconds of wait (the mount stands while the sky turns) the motion takes at least `floor_s`, at
    least `ahead_s + w / per_wait_s` and at least `behind_s - w / per_wait_s` seconds, and the largest of
    the three suffices (a fork may do with less where that is over half a turn). From home the wait counts
    from the night's origin.
    """

    floor_s: int
    ahead_s: float
    behind_s: float
    per_wait_s: float

    @property
    def at_once_s(self) -> int:
        """Seconds of the motion without any wait."""
        return max(self.floor_s, math.ceil(self.ahead_s), math.ceil(self.behind_s))


def transition(problem: Problem, before: Slot | None, after: Slot) -> Transition:
    """Tell the motion between two slots, or from home where `before` is None.

    From the start's slot, where the mount stands as the plan begins, the wait counts from `left_s`.
    """
    mount, latitude_deg = problem.rules, problem.rules.latitude_deg
    start = HOME if before is None else before.axes(0, latitude_deg)
    end = after.axes(0, latitude_deg)
    declination_deg = abs(end.declination_deg - start.declination_deg)
    hour_deg = end.hour_deg - start.hour_deg
    if not mount.flips and before is not None:
        hour_deg = (hour_deg + 180) % 360 - 180
    extra_s = mount.slew_extra_s + SAFETY_S + problem.uneven_deg(before, after) / mount.slew_deg_s
    if problem.tracks_to_flip(before, after):
        whole_s = extra_s + max(declination_deg, abs(hour_deg)) / mount.slew_deg_s
        return Transition(math.ceil(whole_s), 0.0, 0.0, mount.slew_deg_s / DRIFT_DEG_S)
    return Transition(
        floor_s=math.ceil(extra_s + declination_deg / mount.slew_deg_s),
        ahead_s=extra_s + hour_deg / mount.slew_deg_s,
        behind_s=extra_s - hour_deg / mount.slew_deg_s,
        per_wait_s=mount.slew_deg_s / DRIFT_DEG_S,
    )


def may_follow(problem: Problem, before: Slot, after: Slot) -> bool:
    """Whether one slot can directly follow another at all."""
    flip_by = problem.rules.flip_by
    if problem.flips_between(before, after):
        if flip_by == "never":
            return False
        if flip_by == "mount" and not _mount_reaches_flip(problem, before, after):
            return False
    elif before.twin == after.twin and (
        before.copy > after.copy or all(len(spans) == 1 for spans in before.shutter.values())
    ):
        return False  # coming straight back to the same window gains nothing
    shortest_s = min(problem.tasks[task].frame_s for task in before.shutter)
    earliest = before.work[0] + shortest_s + transition(problem, before, after).floor_s
    return earliest <= after.work[1]


def may_begin(problem: Problem, slot: Slot) -> bool:
    """Whether a slot can be the first of the plan, as far as its order goes."""
    start = problem.start.slot
    if start is None or not problem.flips_between(start, slot):
        return True
    by_mount = problem.rules.flip_by == "mount"
    return problem.rules.flip_by != "never" and (not by_mount or _mount_reaches_flip(problem, start, slot))


def prepared_s(problem: Problem, slot: Slot, task: Task) -> int:
    """Least seconds from the arrival of the first visit of a plan to the first shutter, of a task's run.

    Where the visit goes on, they count from the start. A focus run is among them where one must be
    (`focuses_at_start`).
    """
    start, rules = problem.start, problem.rules
    flips, stays = problem.flips_between(start.slot, slot), start.stays_in(slot)
    seconds = start.lead_s(rules) if stays else problem.acquisition_s(start.slot, slot)
    seconds += rules.focus_s if focuses_at_start(problem, slot, task) else 0
    changes = not (flips or stays) or task.goal.filter != start.filter
    return seconds + (task.change_s if changes else 0)


def focuses_at_start(problem: Problem, slot: Slot, task: Task) -> bool:
    """Whether a focus run must lie before a task's run, if it is the first of the plan.

    The cadence asks for one where none is known of.
    """
    start, rules = problem.start, problem.rules
    if start.focus_due or (rules.focus_every_s is not None and start.focused_s is None):
        return True
    flips = problem.flips_between(start.slot, slot)
    changes = task.goal.filter != start.filter
    if start.stays_in(slot):
        return rules.focus_on_filter_change and changes
    return problem.focuses_on_arrival(flips, not flips or changes)


def _mount_reaches_flip(problem: Problem, before: Slot, after: Slot) -> bool:
    """Whether a mount that flips by itself may track on until it does, and is then on its target at once."""
    flips_at = after.motion[0]
    return (
        problem.rules.carries_across
        and before.stretch == after.stretch
        and 0 <= flips_at - before.work[1] < HALF_TURN_S
        and flips_at + transition(problem, before, after).at_once_s >= after.work[0]
    )
