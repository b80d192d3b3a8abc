"""On small nights the planner's "optimal" is the oracle's, to the last unit of profit."""

from __future__ import annotations

import random
from collections import Counter
from itertools import pairwise

import pytest

from optimizer.models.request import Request
from optimizer.packing.bound.bounds import first_bounds
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.packing.solution import Solution
from optimizer.packing.solve import solve
from optimizer.problem import Problem, build_problem
from optimizer.reading.load import request_from_data
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import SkyWindows, sky_windows
from tests.support.oracle.best import greatest_profit
from tests.support.scenarios.small import small_night
from tests.support.speeds import sampled

CHUNKS, NIGHTS = 8, 63  # so that several processes can share the work
SLACK = [range(2000, 2020), range(2020, 2090), range(2090, 2160)]


def problem_of(seed: int, slack_s: int = 0) -> tuple[Request, Problem, SkyWindows]:
    request = request_from_data(small_night(seed), f"small night {seed}").with_aim(slack_s=slack_s)
    sky = sky_windows(request, night_sky(request))
    return request, build_problem(request, sky), sky


def features(problem: Problem, solution: Solution) -> set[str]:
    """What of the law was in play in a plan."""
    acts = [act for visit in solution.schedule for act in visit.acts]
    runs = [run for visit in solution.plan for run in visit.runs]
    stands = any(later.depart > earlier.free for earlier, later in pairwise(solution.schedule))
    found = {
        "proven": solution.status == "optimal",
        "something to do": solution.profit > 0,
        "flip": any(act.kind == "flip" for act in acts),
        "wait": stands or any(act.kind == "wait" for act in acts),
        "focus run inside a run": any(len(run.segments) > 1 for run in runs),
        "carried focus": problem.rules.focus_every_s is not None and any(not run.focus_first for run in runs),
    }
    return {name for name, is_so in found.items() if is_so}


@pytest.mark.parametrize("chunk", sampled(range(CHUNKS), quick=1))
def test_proven_value_is_the_greatest_there_is(chunk: int) -> None:
    seen: Counter[str] = Counter()
    wrong = []
    for seed in range(chunk * NIGHTS, (chunk + 1) * NIGHTS):
        request, problem, sky = problem_of(seed)
        solution, greatest = solve(problem), greatest_profit(request, problem, sky)
        bound = min(found.bound for found in first_bounds(RunGraph(problem), Budget(0.5, deterministic=True)))
        if bound < greatest:
            wrong.append((seed, "bound", 0, bound, greatest))
        seen.update(features(problem, solution))
        exact = solution.profit == greatest or solution.status != "optimal"
        if not (exact and solution.profit <= greatest <= solution.bound):
            wrong.append((seed, solution.status, solution.profit, solution.bound, greatest))
    assert not wrong, "seed, status, value, bound, oracle's value"
    assert seen["proven"] >= 0.9 * NIGHTS
    assert seen["something to do"] >= 0.6 * NIGHTS
    for feature in ("flip", "wait", "focus run inside a run", "carried focus"):
        assert seen[feature], f"no night of the chunk has a {feature}: it tests less than it says"


@pytest.mark.parametrize("seeds", sampled(SLACK, quick=1), ids=str)
def test_proven_value_with_slack_is_the_greatest_there_is(seeds: range) -> None:
    """And never more than without; on some nights the slack costs a frame."""
    costs = 0
    for seed in seeds:
        free = solve(problem_of(seed)[1])
        request, problem, sky = problem_of(seed, random.Random(seed).choice([1, 60, 300, 600]))
        solution, greatest = solve(problem), greatest_profit(request, problem, sky)
        assert solution.profit <= greatest <= solution.bound, seed
        assert solution.profit == greatest or solution.status != "optimal", seed
        assert greatest <= free.bound, seed
        costs += greatest < free.profit
    assert costs >= 0.15 * len(seeds)
