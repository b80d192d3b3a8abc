"""Goals as tasks of the integer problem: the time and the profit of one frame."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from optimizer.models.request import Request
from optimizer.models.rig import Camera
from optimizer.models.targets import Goal, GoalKey, Target, goal_key
from optimizer.sky.clock import SPAN_S
from optimizer.sky.windows import SkyWindows

Ints = NDArray[np.int64]
Factors = Mapping[tuple[str, int], Fraction]  # by the target's name and the goal's place among its goals
NO_FACTORS: Factors = {}
THOUSANDTH = Fraction(1, 1000)  # of a weighted second


@dataclass(frozen=True)
class Task:
    """A goal of a target: the time and the profit of one of its frames, and how many are left to take.

    `profit` is that of one frame in units of `Problem.profit_unit`; where it depends on when the frame is
    taken, that of the best one of the night, and `profit_by_start` then has that of a frame begun at each
    second. `whole_profit` is that of a frame under the best of skies.
    """

    index: int
    target_place: int  # of the target among those of the request, from 0
    target: Target
    goal: Goal
    goal_index: int
    shutter_s: int
    frame_s: int  # shutter and tail
    change_s: int
    frames_left: int
    profit: int
    profit_by_start: Ints | None = field(default=None, compare=False)
    whole_profit: Fraction = Fraction(0)
    factor: Fraction = Fraction(1)  # by which a scarce goal's frames count more, a plentiful one's less

    def frame_profit(self, opens_s: int) -> int:
        """Profit of a frame whose shutter opens at this second after the night's origin."""
        return self.profit if self.profit_by_start is None else int(self.profit_by_start[opens_s])

    @property
    def goal_key(self) -> GoalKey:
        """What its goal is known by in another night, where it may stand at another place."""
        return goal_key(self.target, self.goal)

    @property
    def tail_s(self) -> int:
        """Seconds that a frame takes once its shutter is closed: download and overhead."""
        return self.frame_s - self.shutter_s


def frame_s(goal: Goal, camera: Camera) -> int:
    """Seconds of one exposure of a goal: exposure, download and overhead, rounded up together.

    Their decimals are added as they are written, so that a whole sum is no second longer for being made of
    fractions that have no exact binary form.
    """
    parts = goal.exposure_s, camera.download_s, camera.overhead_s
    return math.ceil(sum(Fraction(repr(part)) for part in parts))


def tasks_of(
    request: Request, sky: SkyWindows, factors: Factors = NO_FACTORS
) -> tuple[tuple[Task, ...], Fraction]:
    """Make tasks of all goals, by the names of their targets, and tell the weighted seconds in one unit.

    `factors` are those of scarce goals; the frames of a goal without one count as they are.
    """
    if profit_varies(request):
        return _by_time(request, sky, factors)
    return _at_any_time(request, factors)


def profit_varies(request: Request) -> bool:
    """Whether a frame's profit depends on when it is taken."""
    return request.aim.value == "depth" or bool(request.night.clear_odds)


def worth_planning(request: Request, task: Task) -> bool:
    """Whether frames of a task are left that may be planned.

    By odds of clear sky there may be none that counts anything: such a goal is not planned at all.
    """
    return task.frames_left > 0 and (task.profit > 0 or not request.night.clear_odds)


def _at_any_time(request: Request, factors: Factors) -> tuple[tuple[Task, ...], Fraction]:
    """All goals as tasks; profits are whole multiples of one unit, so that sums are exact.

    With filter sets, a plan's value is rounded down to a unit, which then is no more than a thousandth.
    """
    goals = sorted(request.goals(), key=lambda each: each[0].name)
    places = [target.goals.index(goal) for target, goal in goals]
    scarce = [
        factors.get((target.name, at), Fraction(1)) for (target, _), at in zip(goals, places, strict=True)
    ]
    exact = [
        factor * Fraction(repr(target.weight)) * Fraction(repr(goal.exposure_s))
        for factor, (target, goal) in zip(scarce, goals, strict=True)
    ]
    common = math.lcm(*(value.denominator for value in exact))
    unit = Fraction(math.gcd(*(value.numerator * (common // value.denominator) for value in exact)), common)
    if request.aim.balance > 0:
        unit /= math.ceil(unit / THOUSANDTH)
    tasks: list[Task] = []
    place = {target.name: number for number, target in enumerate(request.targets)}
    for (target, goal), at, factor, profit in zip(goals, places, scarce, exact, strict=True):
        tasks.append(
            Task(
                index=len(tasks),
                target_place=place[target.name],
                target=target,
                goal=goal,
                goal_index=at,
                shutter_s=goal.shutter_s,
                frame_s=frame_s(goal, request.camera),
                change_s=math.ceil(request.filter_named(goal.filter).change_s),
                frames_left=goal.frames_left,
                profit=int(profit / unit),
                whole_profit=profit / unit,
                factor=factor,
            )
        )
    return tuple(tasks), unit


def _by_time(request: Request, sky: SkyWindows, factors: Factors) -> tuple[tuple[Task, ...], Fraction]:
    """As above, each frame's profit being what its own time makes of it, rounded down."""
    (tasks, whole_unit), unit = _at_any_time(request, factors), THOUSANDTH
    under_sky: list[Task] = []
    for task in tasks:
        target, filter_name = task.target, task.goal.filter
        counted = sky[target.name].counted(filter_name)
        assert counted is not None
        opens = np.arange(SPAN_S + 1 - task.shutter_s)
        seconds = counted.between_s(opens, opens + task.shutter_s)
        seconds *= float(task.factor) * target.weight * task.goal.exposure_s / task.shutter_s
        by_start = np.zeros(SPAN_S + 1, dtype=np.int64)
        by_start[: len(opens)] = np.floor(seconds / float(unit))
        most = 0
        for window in sky[target.name].shutter[filter_name]:
            first, last = math.ceil(window.start_s), math.floor(window.end_s) - task.shutter_s
            most = max(most, int(by_start[first : last + 1].max(initial=0)))
        whole = task.whole_profit * whole_unit / unit
        under_sky.append(replace(task, profit=most, profit_by_start=by_start, whole_profit=whole))
    return tuple(under_sky), unit
