"""Integer problems made by hand, without a sky, so that every second of a plan can be worked out on paper.

Seconds are after the night's origin. Declinations are 0 and axes turn 30 degrees a second, so moves take (by
the law 8 s + way / 30, rounded up with 0.02 s of safety): from home 8 + 90/30 = 11 -> HOME_S, between
targets next to each other 8 -> SLEW_S, a flip 8 + 180/30 = 14 -> FLIP_S. Then 45 s of centring and 15 s of
settling, 8 s for the filter, 150 s of focus. An exposure is 60 s and 3 s of download.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request
from optimizer.models.rig import PierSide
from optimizer.packing.schedule import scheduled
from optimizer.packing.solution import Solution
from optimizer.packing.solve import solve
from optimizer.problem import VISITS_PER_SIDE, Limits, Problem, Rules, Slot, Span
from optimizer.problem.tasks import Task

HOME_S, SLEW_S, FLIP_S = 12, 9, 15
CENTRED_S, FILTER_S, FOCUS_S = 60, 8, 150
READY_S = CENTRED_S + FILTER_S + FOCUS_S  # from the end of a slew to the first opening
OPENS_AFTER_FLIP_S = FLIP_S + CENTRED_S  # from the end of a download, with the same filter and focus
SHUTTER_S, FRAME_S = 60, 63


@dataclass(frozen=True)
class Place:
    """A span in which a target can be visited; `shutter` by task, missing tasks: all of `work`.

    `stretch`: the span in which the sky alone allows it, the same for both sides of one target by default.
    """

    target: str
    work: Span
    shutter: dict[int, Any] | None = None
    side: PierSide | None = "west"
    motion: Span | None = None
    quiet: Span | None = None
    declination_deg: float = 0.0
    stretch: Span = (0, 20000)


def goal(filter_name: str = "L", exposure_s: float = 60.0, frames: int = 9, **keys: Any) -> dict[str, Any]:
    return {"filter": filter_name, "exposure_s": exposure_s, "frames": frames, **keys}


def a_request(goals: dict[str, list[dict[str, Any]]], **parts: dict[str, Any]) -> Request:
    """Targets by name with their goals; `parts` change mount, camera, focus, aim, and keys of targets."""
    keys = parts.pop("keys", {})
    return Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": "2026-11-14"},
            "site": {"latitude_deg": 40.0, "longitude_deg": 0.0, "floor_deg": 0.0},
            "filters": parts.pop("filters", [{"name": "L"}, {"name": "R"}]),
            "targets": [
                {"name": name, "ra_deg": 0.0, "dec_deg": 0.0, "goals": wanted, **keys.get(name, {})}
                for name, wanted in goals.items()
            ],
            "mount": {"slew_deg_s": 30.0, "flip_by": "plan", **parts.pop("mount", {})},
            "aim": {**PLAIN_AIM, "workers": 1, "gap": 0.0, "time_limit_s": 20.0, **parts.pop("aim", {})},
            **parts,
        }
    )


def a_problem(places: list[Place], goals: dict[str, list[dict[str, Any]]], **parts: Any) -> Problem:
    request = a_request(goals, **parts)
    names = [target.name for target in request.targets]
    tail_s = request.camera.download_s + request.camera.overhead_s
    tasks = tuple(
        Task(
            index=index,
            target_place=names.index(target.name),
            target=target,
            goal=wanted,
            goal_index=target.goals.index(wanted),
            shutter_s=math.ceil(wanted.exposure_s),
            frame_s=math.ceil(wanted.exposure_s + tail_s),
            change_s=math.ceil(request.filter_named(wanted.filter).change_s),
            frames_left=wanted.frames - wanted.done,
            profit=round(1000 * target.weight * wanted.exposure_s),
        )
        for index, (target, wanted) in enumerate(request.goals())
    )
    slots: list[Slot] = []
    for place in places:
        own = [task for task in tasks if task.target.name == place.target]
        wished = place.shutter or {}
        shutter = {task.index: _spans(wished.get(task.index, place.work), task.shutter_s) for task in own}
        shutter = {index: spans for index, spans in shutter.items() if spans}
        if not shutter:
            continue
        twin = len(slots)
        slots.extend(
            Slot(
                index=twin + copy,
                target=request.target_named(place.target),
                side=place.side,
                stretch=place.stretch,
                motion=place.motion or (0, place.work[1]),
                work=place.work,
                shutter=shutter,
                quiet=place.quiet,
                twin=twin,
                copy=copy,
                hour_angle_s=-21600.0,
                declination_deg=place.declination_deg,
            )
            for copy in range(VISITS_PER_SIDE)
        )
    return Problem(Rules.of(request), Limits.of(request), tasks, tuple(slots), Fraction(1, 1000))


def _spans(given: Any, shutter_s: int) -> tuple[Span, ...]:
    """One span, several, or none; like the planner's own, without those too short for an exposure."""
    spans = () if not given else (given,) if isinstance(given[0], int) else tuple(given)
    return tuple(span for span in spans if span[1] - span[0] >= shutter_s)


def under_sky(problem: Problem, profit_by_start: NDArray[np.int64]) -> Problem:
    """The problem, where a frame of each goal is worth so much by the second at which it begins."""
    tasks = tuple(replace(task, profit_by_start=profit_by_start) for task in problem.tasks)
    return replace(problem, tasks=tasks)


def proven(problem: Problem) -> Solution:
    """The best plan, proven; it must lay out as promised."""
    solution = solve(problem)
    assert solution.status == "optimal"
    assert solution.bound == solution.profit
    assert scheduled(problem, solution.plan) == solution.schedule
    return solution


def frames(solution: Solution) -> dict[int, int]:
    """Exposures by task, counted in the layout."""
    counted = Counter(act.task for visit in solution.schedule for act in visit.acts if act.kind == "expose")
    return {task: count for task, count in counted.items() if task is not None}


def kinds(solution: Solution) -> list[str]:
    return [act.kind for visit in solution.schedule for act in visit.acts]
