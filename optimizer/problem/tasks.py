"""Goals as tasks of the integer problem: the time and the profit of one frame."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from optimizer.models.request import Request
from optimizer.models.targets import Goal, Target
from optimizer.sky.clock import SPAN_S
from optimizer.sky.windows import SkyWindows

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Task:
    """A goal of a target: the time and the profit of one of its frames, and how many are left to take.

    `profit` is that of one frame in units of `Problem.profit_unit`; where the sky decides, that of the best
    frame of the night, and `profit_by_start` then has that of a frame begun at each second.
    """

    index: int
    target_place: int  # of the target among those of the request, from 0
    target: Target
    goal: Goal
    goal_index: int
    shutter_s: int
    frame_s: int  # shutter and download, rounded up together
    change_s: int
    frames_left: int
    profit: int
    profit_by_start: Ints | None = field(default=None, compare=False)

    def frame_profit(self, opens_s: int) -> int:
        """Profit of a frame whose shutter opens at this second after the night's origin."""
        return self.profit if self.profit_by_start is None else int(self.profit_by_start[opens_s])

    @property
    def download_s(self) -> int:
        """Seconds that a frame takes beyond its shutter."""
        return self.frame_s - self.shutter_s


def tasks_of(request: Request, sky: SkyWindows) -> tuple[tuple[Task, ...], Fraction]:
    """Make tasks of all goals, by the names of their targets, and tell the weighted seconds in one unit."""
    return _by_hours(request) if request.aim.value == "hours" else _by_depth(request, sky)


def _by_hours(request: Request) -> tuple[tuple[Task, ...], Fraction]:
    """All goals as tasks; profits are whole multiples of one unit, so that sums are exact."""
    goals = sorted(request.goals(), key=lambda each: each[0].name)
    exact = [Fraction(repr(target.weight)) * Fraction(repr(goal.exposure_s)) for target, goal in goals]
    common = math.lcm(*(value.denominator for value in exact))
    unit = Fraction(math.gcd(*(value.numerator * (common // value.denominator) for value in exact)), common)
    tasks: list[Task] = []
    place = {target.name: number for number, target in enumerate(request.targets)}
    for (target, goal), profit in zip(goals, exact, strict=True):
        tasks.append(
            Task(
                index=len(tasks),
                target_place=place[target.name],
                target=target,
                goal=goal,
                goal_index=target.goals.index(goal),
                shutter_s=goal.shutter_s,
                frame_s=math.ceil(goal.exposure_s + request.camera.download_s),
                change_s=math.ceil(request.filter_named(goal.filter).change_s),
                frames_left=goal.frames_left,
                profit=int(profit / unit),
            )
        )
    return tuple(tasks), unit


def _by_depth(request: Request, sky: SkyWindows) -> tuple[tuple[Task, ...], Fraction]:
    """As above, each frame's profit being what its own sky makes of it, rounded down."""
    tasks, unit = _by_hours(request)[0], Fraction(1, 1000)
    under_sky: list[Task] = []
    for task in tasks:
        target, filter_name = task.target, task.goal.filter
        opens = np.arange(SPAN_S + 1 - task.shutter_s)
        seconds = sky[target.name].depth[filter_name].between_s(opens, opens + task.shutter_s)
        seconds *= target.weight * task.goal.exposure_s / task.shutter_s
        by_start = np.zeros(SPAN_S + 1, dtype=np.int64)
        by_start[: len(opens)] = np.floor(seconds / float(unit))
        most = 0
        for window in sky[target.name].shutter[filter_name]:
            first, last = math.ceil(window.start_s), math.floor(window.end_s) - task.shutter_s
            most = max(most, int(by_start[first : last + 1].max(initial=0)))
        under_sky.append(replace(task, profit=most, profit_by_start=by_start))
    return tuple(under_sky), unit
