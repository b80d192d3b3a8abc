"""The search's loops made ready on a tiny night, before any clock starts.

They are compiled once after an installation, which takes some 20 to 40 s, and later read from where they are
kept, which takes a part of a second. Within a search the one would look like the search's own time.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

import numpy as np

from optimizer import ctrl_c
from optimizer.models.request import Request
from optimizer.models.rig import SIDES
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.budget import Budget
from optimizer.packing.search.construct import constructed
from optimizer.packing.search.ruin_and_recreate import RuinAndRecreate
from optimizer.problem import VISITS_PER_SIDE, Limits, Problem, Rules, Slot, Span
from optimizer.problem.tasks import Task

OPENS, MERIDIAN, CLOSES = 600, 3000, 6000  # seconds of the tiny night
EXPOSURE_S, FRAMES = 60.0, 20
STEP_S = 60


@lru_cache
@ctrl_c.counted()  # an exception inside the compiler or its files can end the whole process
def make_ready(*, by_depth: bool) -> None:
    """Run every loop once as nights of this aim call it; again, and nothing is done."""
    problem = _tiny_night(by_depth=by_depth)
    graph = RunGraph(problem)
    coarse = TimeExpandedGraph(graph, STEP_S)
    start = constructed(problem)
    coarse.best_columns(1)
    budget, rng = Budget(1e-6, deterministic=True), np.random.default_rng(1)
    RuinAndRecreate(graph).improve(start, budget, rng)


def _tiny_night(*, by_depth: bool) -> Problem:
    """Two targets with two goals each, on both sides of the meridian."""
    goals = [{"filter": name, "exposure_s": EXPOSURE_S, "frames": FRAMES} for name in ("L", "R")]
    request = Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": "2026-01-01"},
            "site": {"latitude_deg": 0.0, "longitude_deg": 0.0, "floor_deg": 0.0},
            "filters": [{"name": "L"}, {"name": "R"}],
            "targets": [{"name": name, "ra_deg": 0.0, "dec_deg": 0.0, "goals": goals} for name in "AB"],
            "aim": {"value": "depth" if by_depth else "hours"},
        }
    )
    shutter_s, frame_s = round(EXPOSURE_S), round(EXPOSURE_S + request.camera.download_s)
    tasks = [
        Task(
            index=index,
            target_place=0,
            target=target,
            goal=goal,
            goal_index=target.goals.index(goal),
            shutter_s=shutter_s,
            frame_s=frame_s,
            change_s=round(request.filters[0].change_s),
            frames_left=goal.frames,
            profit=1,
            profit_by_start=np.ones(2 * CLOSES, dtype=np.int64) if by_depth else None,
        )
        for index, (target, goal) in enumerate(request.goals())
    ]
    slots: list[Slot] = []
    for target in request.targets:
        for side, work in zip(SIDES, ((OPENS, MERIDIAN), (MERIDIAN, CLOSES)), strict=True):
            shutter: dict[int, tuple[Span, ...]] = {
                task.index: (work,) for task in tasks if task.target.name == target.name
            }
            twin = len(slots)
            slots += [
                Slot(
                    index=twin + copy,
                    target=target,
                    side=side,
                    stretch=(0, CLOSES),
                    motion=(0, work[1]),
                    work=work,
                    shutter=shutter,
                    quiet=None,
                    twin=twin,
                    copy=copy,
                    hour_angle_s=float(-MERIDIAN),
                    declination_deg=0.0,
                )
                for copy in range(VISITS_PER_SIDE)
            ]
    return Problem(Rules.of(request), Limits.of(request), tuple(tasks), tuple(slots), Fraction(1))
