"""What every search promises: no plan is made worse, none breaks a rule, a halt ends it, a seed repeats it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import numpy as np
import pytest

from optimizer.packing.background import Background
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.packing.incumbent import Incumbent
from optimizer.packing.parameters import DEFAULT
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import constructed, following
from optimizer.packing.search.family import searches_of
from optimizer.packing.search.portfolio import Portfolio
from optimizer.packing.search.protocol import Search
from optimizer.problem import VISITS_PER_SIDE, Problem
from tests.support.packing_nights import READY_S, Place, a_problem, goal, under_sky
from tests.support.packing_random import crowded, optimum, random_problem

OPENS = 1000 + READY_S
SHORT_S, ENDLESS_S = 0.05, 1e6  # of counted work


def _night(seed: int) -> Problem:
    """A drawn night; every third one is worth more or less from second to second."""
    by_depth = seed % 3 == 0
    problem = random_problem(seed + 2700, most_targets=3, gap=0.0, value="depth" if by_depth else "hours")
    if by_depth:
        profits = np.random.default_rng(seed).integers(1, 60_000, 9000)
        problem = under_sky(problem, profits)
    return problem


def _portfolio(problem: Problem) -> Search:
    return Portfolio(searches_of(RunGraph(problem), DEFAULT), Incumbent(problem, problem.most_profit))


def _alone(number: int) -> Callable[[Problem], Search]:
    return lambda problem: searches_of(RunGraph(problem), DEFAULT)[number].search


MAKERS = {"ruin and recreate": _alone(0), "resequence": _alone(-1), "portfolio": _portfolio}
of_each_search = pytest.mark.parametrize("make", MAKERS.values(), ids=MAKERS)


def _improved(
    make: Callable[[Problem], Search], problem: Problem, plan: Plan, *, seed: int = 1, seconds: float = SHORT_S
) -> Plan:
    budget = Budget(seconds, deterministic=True)
    return make(problem).improve(plan, budget, np.random.default_rng(seed))


def _broken_rules(problem: Problem, plan: Plan) -> list[str]:
    """What a plan breaks, counted run by run; `scheduled` raises where windows, cadence or quiet time are."""
    schedule = scheduled(problem, plan)
    broken: list[str] = []
    taken = Counter(task for visit in schedule for task, _ in visit.exposures)
    broken += [f"cap of {task.index}" for task in problem.tasks if taken[task.index] > task.frames_left]
    sides = Counter((visit.slot.target.name, visit.slot.side) for visit in schedule)
    broken += [f"visits of {side}" for side, count in sides.items() if count > VISITS_PER_SIDE]
    for visit in schedule:
        open_s = sum(problem.tasks[task].goal.exposure_s for task, _ in visit.exposures)
        if open_s < visit.slot.target.least_min * 60:
            broken.append(f"least visit of {visit.slot.target.name}")
        tasks = [run.task for each in plan if each.slot == visit.slot.index for run in each.runs]
        if len(set(zip(tasks, [run.span for v in plan if v.slot == visit.slot.index for run in v.runs],
                       strict=True))) < len(tasks):
            broken.append("two runs of a goal in one window of a visit")
    if len({visit.slot for visit in plan}) < len(plan):
        broken.append("a slot used twice")
    return broken


@of_each_search
@pytest.mark.parametrize("seed", range(40))
def test_what_comes_out_is_no_worse_and_breaks_no_rule(make: Callable[[Problem], Search], seed: int) -> None:
    problem = _night(seed)
    if not RunGraph(problem).entries:
        pytest.skip("nothing can be done on this night")
    start = (Plan(), constructed(problem))[seed % 2]
    plan = _improved(make, problem, start, seed=seed)
    assert _broken_rules(problem, plan) == []
    assert profit_of(problem, start) <= profit_of(problem, plan)
    if not problem.by_depth and seed % 4 == 1:
        assert profit_of(problem, plan) <= optimum(problem, rows=False)


@of_each_search
def test_the_same_seed_gives_the_same_plan(make: Callable[[Problem], Search]) -> None:
    for problem in (crowded(gap=0.0), _night(3)):
        start = constructed(problem)
        once, again = (_improved(make, problem, start, seed=5, seconds=0.3) for _ in range(2))
        assert once == again


@of_each_search
def test_a_halt_ends_a_search_that_would_go_on_for_days(make: Callable[[Problem], Search]) -> None:
    problem = crowded(gap=0.0)
    search, start = make(problem), constructed(problem)
    for deterministic in (True, False):
        budget = Budget(ENDLESS_S, deterministic=deterministic)
        rng = np.random.default_rng(1)
        with Background(lambda b=budget, r=rng: search.improve(start, b, r), budget.stop) as working:
            working.wait(0.2)
        assert _broken_rules(problem, working.result) == []
        assert profit_of(problem, working.result) >= profit_of(problem, start)


@of_each_search
def test_a_search_halted_before_it_begins_gives_the_plan_back(make: Callable[[Problem], Search]) -> None:
    problem = crowded(gap=0.0)
    budget = Budget(ENDLESS_S, deterministic=True)
    budget.stop()
    start = constructed(problem)
    assert profit_of(problem, make(problem).improve(start, budget, np.random.default_rng(1))) == profit_of(problem, start)


@of_each_search
def test_a_poor_order_is_left_behind(make: Callable[[Problem], Search]) -> None:
    """Five targets open together and close one after the other; the plan at hand serves the last one only.

    In the order in which the windows close all four frames of each target fit.
    """
    ends = [OPENS + (number + 1) * (4 * 63 + READY_S + 30) for number in range(5)]
    places = [Place(name, (1000, end)) for name, end in zip("ABCDE", ends, strict=True)]
    problem = a_problem(places, {name: [goal(frames=4)] for name in "ABCDE"}, aim={"gap": 0.0})
    last = constructed(a_problem(places[-1:], {"E": [goal(frames=4)]}))
    start = following(problem, Plan.of(visit for visit in constructed(problem) if problem.slots[visit.slot].target.name == "E"), fill=False)
    assert len(last) == 1
    plan = _improved(make, problem, start, seconds=2.0)
    assert profit_of(problem, plan) == 5 * 4 * 60_000
