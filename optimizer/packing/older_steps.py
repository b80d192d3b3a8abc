"""The rest of an older list of the same night, told in the slots and tasks of the night that goes on with it.

What of it is still possible as it stands becomes a plan; with what came too late it becomes a draft as well.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.models.shots import Step
from optimizer.packing.plan import Plan, Run, Visit
from optimizer.packing.search.construct import keeps_rules
from optimizer.problem import VISITS_PER_SIDE, Problem, Span
from optimizer.problem.tasks import Task

ARRIVALS = ("slew", "flip")


@dataclass
class _Frames:
    """Frames of one goal in one visit of the older list, one after the other."""

    task: Task
    side: str | None
    focus_first: bool
    opens: list[int]  # seconds after the origin
    focused: set[int]  # places of frames before which a focus run lies

    def segments(self, kept: Sequence[int]) -> tuple[int, ...]:
        """Frames at these places, parted where a focus run lies between them."""
        parts = [0]
        for place in kept:
            if place in self.focused and parts[-1]:
                parts.append(0)
            parts[-1] += 1
        return tuple(parts)


@dataclass(frozen=True)
class OlderSteps:
    """Steps of an older list that were not done; `seconds` turns an instant into those after the origin."""

    steps: tuple[Step, ...]
    seconds: Callable[[dt.datetime], float]

    def drafts_in(self, problem: Problem) -> list[Plan]:
        """Drafts along the older list: of what is possible when it was planned, and of all of it."""
        return [self._plan(problem, late=late) for late in (False, True)]

    def plans_in(self, problem: Problem) -> list[Plan]:
        """The older list as it stands, where what is still possible of it keeps every rule."""
        possible = self._plan(problem, late=False)
        return [possible] if keeps_rules(problem, possible) else []

    def duals_in(self, problem: Problem) -> Mapping[str, NDArray[np.float64]] | None:
        """A list says nothing of the duals of its bound."""
        return None

    def _plan(self, problem: Problem, *, late: bool) -> Plan:
        """The frames that may be taken when they were planned; with `late`, also sooner or later."""
        left, runs = [task.frames_left for task in problem.tasks], list[tuple[int, Run]]()
        for visit in self._visits(problem):
            for frames in visit:
                runs.extend(_runs(problem, frames, left, late=late))
        return Plan.of(_gathered(problem, runs))

    def _visits(self, problem: Problem) -> list[list[_Frames]]:
        """The frames by visit and run, of goals that the problem still has."""
        tasks: dict[Hashable, Task] = {}
        for task in problem.tasks:
            goal = task.goal
            key = task.target.name, goal.filter, goal.exposure_s, goal.gain, goal.offset, goal.binning
            if task.frames_left or key not in tasks:
                tasks[key] = task
        visits: list[list[_Frames]] = [[]]
        focused = False
        for step in self.steps:
            if step.kind in ARRIVALS:
                visits.append([])
                focused = False
            elif step.kind == "focus":
                focused = True
            elif step.kind == "expose":
                binning = step.binning or 1
                known = step.target, step.filter, step.exposure_s, step.gain, step.offset, binning
                if known in tasks:
                    _add(visits[-1], tasks[known], step, round(self.seconds(step.start_utc)), focused)
                focused = False
        return [visit for visit in visits if visit]


def _add(visit: list[_Frames], task: Task, step: Step, opens: int, focused: bool) -> None:
    """Add a frame to the run that is going on, or begin another one."""
    if not visit or visit[-1].task is not task:
        visit.append(_Frames(task, step.pier_side, focused, [], set()))
    elif focused:
        visit[-1].focused.add(len(visit[-1].opens))
    visit[-1].opens.append(opens)


def _runs(problem: Problem, frames: _Frames, left: list[int], *, late: bool) -> Iterator[tuple[int, Run]]:
    """Runs by the first copy of their slot; one for each window in which the frames lie."""
    task, places = frames.task, dict[tuple[int, Span], list[int]]()
    for place, opens in enumerate(frames.opens):
        found = _window(problem, task, frames.side, opens, late=late)
        if found is not None and left[task.index] > 0:
            left[task.index] -= 1
            places.setdefault(found, []).append(place)
    for (slot, span), kept in sorted(places.items(), key=lambda item: item[0][1]):
        first = kept[0]
        focus_first = frames.focus_first if first == 0 else first in frames.focused
        yield slot, Run(task.index, frames.segments(kept), span, focus_first, frames.opens[first])


def _window(
    problem: Problem, task: Task, side: str | None, opens: int, *, late: bool
) -> tuple[int, Span] | None:
    """The slot and window that hold a frame; with `late` else the one that is nearest to it in time."""
    nearest: tuple[int, int, Span] | None = None
    for slot in problem.slots_by_task.get(task.index, ()):
        if slot.copy or slot.side != side:
            continue
        for span in slot.shutter[task.index]:
            away_s = max(span[0] - opens, opens + task.shutter_s - span[1], 0)
            if nearest is None or away_s < nearest[0]:
                nearest = away_s, slot.index, span
    if nearest is None or (nearest[0] and not late):
        return None
    return nearest[1:]


def _gathered(problem: Problem, runs: Sequence[tuple[int, Run]]) -> Iterator[Visit]:
    """Visits of runs that follow each other in one slot, each goal once; then comes the other copy."""
    gathered: list[tuple[int, list[Run]]] = []
    for slot, run in runs:
        if (
            not gathered
            or gathered[-1][0] != slot
            or any(run.task == other.task for other in gathered[-1][1])
        ):
            gathered.append((slot, []))
        gathered[-1][1].append(run)
    used: Counter[int] = Counter()
    for slot, own in gathered:
        if used[slot] < VISITS_PER_SIDE:
            yield Visit(slot + used[slot], tuple(own))
            used[slot] += 1
