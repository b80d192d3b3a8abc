"""Plans made to hold a target keep every rule of the night, and are found where the target fits at all."""

from __future__ import annotations

from collections import Counter

import pytest

from optimizer.models.targets import Target
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import scheduled
from optimizer.packing.search.construct import constructed
from optimizer.packing.solution import WarmStart
from optimizer.packing.solve import solve
from optimizer.problem import Problem, build_problem, only_tasks
from optimizer.reading.load import request_from_data
from optimizer.sides.one_sided import _fills_a_visit, shoots, shot_at_all
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows
from tests.support.scenarios.small import small_night
from tests.support.speeds import deep

SEEDS = range(12)


def frames_by_task(plan: Plan) -> Counter[int]:
    return Counter({run.task: 0 for visit in plan for run in visit.runs}) + Counter(
        run.task for visit in plan for run in visit.runs for _ in range(run.frames)
    )


def targets_of(problem: Problem) -> list[Target]:
    return list({task.target.name: task.target for task in problem.tasks}.values())


def problem_of(seed: int, value: str) -> Problem:
    data = small_night(seed)
    data["aim"] |= {"workers": 1, "time_limit_s": 1.0, "value": value}
    request = request_from_data(data, f"small night {seed}")
    return build_problem(request, sky_windows(request, night_sky(request)))


@deep
@pytest.mark.parametrize("value", ["hours", "depth"])
@pytest.mark.parametrize("left_out", [True, False])
def test_target_that_fits_is_shot_and_every_rule_kept(value: str, left_out: bool) -> None:
    shot: Counter[bool] = Counter()
    for seed in SEEDS:
        problem = problem_of(seed, value)
        known = WarmStart(problem, solve(problem))
        for target in targets_of(problem):
            plan, _ = shot_at_all(problem, target, known, 1.0, left_out=left_out)
            scheduled(problem, plan)  # raises where a rule would break
            own = {task.index for task in problem.tasks if task.target.name == target.name}
            assert all(
                frames <= problem.tasks[task].frames_left for task, frames in frames_by_task(plan).items()
            )
            assert bool(plan) == shoots(problem, plan, target)
            if constructed(only_tasks(problem, own)):
                shot[bool(plan)] += 1
    assert shot[True] >= 15
    assert shot[True] >= 9 * shot[False]  # the searches are short


def test_goals_that_fill_a_visit_only_together_are_all_kept() -> None:
    """One frame of 300 s and two of 150 s for a least visit of 10 min."""
    data = small_night(0)
    goals = [{"filter": "L", "exposure_s": 300, "frames": 1}, {"filter": "L", "exposure_s": 150, "frames": 2}]
    data["targets"] = [{"name": "T0", "ra_deg": 0.0, "dec_deg": 0.0, "least_min": 10, "goals": goals}]
    request = request_from_data(data, "small night")
    problem = build_problem(request, sky_windows(request, night_sky(request)))
    assert [_fills_a_visit(task) for task in problem.tasks] == [False, False]
