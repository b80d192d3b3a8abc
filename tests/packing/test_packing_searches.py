"""What every search promises: no plan is made worse, none breaks a rule, a halt ends it, a seed repeats it."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from functools import partial

import numpy as np
import pytest

from optimizer.packing.background import Background
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.packing.incumbent import Incumbent
from optimizer.packing.parameters import MultiStartParameters
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import profit_of
from optimizer.packing.search.construct import constructed, following
from optimizer.packing.search.multi_start import MultiStart
from optimizer.packing.search.protocol import Search
from optimizer.packing.search.ruin_and_recreate import RuinAndRecreate
from optimizer.problem import Problem
from tests.support.packing_judge import broken_rules
from tests.support.packing_nights import (
    FRAME_S,
    READY_S,
    SHUTTER_S,
    SLEW_S,
    Place,
    a_problem,
    goal,
    under_sky,
)
from tests.support.packing_random import crowded, optimum, random_problem

OPENS = 1000 + READY_S
SHORT_S, ENDLESS_S = 0.05, 1e6  # of counted work

Maker = Callable[[Problem], Search]


def _multi_start(problem: Problem) -> Search:
    return MultiStart(RuinAndRecreate(RunGraph(problem)), Incumbent(problem, problem.most_profit))


MAKERS: dict[str, Maker] = {
    "ruin and recreate": lambda problem: RuinAndRecreate(RunGraph(problem)),
    "multi-start": _multi_start,
}
of_each_search = pytest.mark.parametrize("make", MAKERS.values(), ids=MAKERS)


def _improved(make: Maker, problem: Problem, plan: Plan, *, seed: int = 1, seconds: float = SHORT_S) -> Plan:
    budget = Budget(seconds, deterministic=True)
    return make(problem).improve(plan, budget, np.random.default_rng(seed))


def _night(seed: int) -> Problem:
    """A drawn night; on every third one profit changes from second to second."""
    if seed % 3:
        return random_problem(seed + 2700, gap=0.0)
    problem = random_problem(seed + 2700, gap=0.0, value="depth")
    return under_sky(problem, np.random.default_rng(seed).integers(1, 60_000, 9000))


def _closing_one_after_the_other() -> tuple[Problem, Plan]:
    """Five targets open together and close one after the other; the plan serves the last one only.

    In the order in which the windows close all four frames of each target fit.
    """
    ends = [OPENS + (number + 1) * (4 * 63 + READY_S + 30) for number in range(5)]
    places = [Place(name, (1000, end)) for name, end in zip("ABCDE", ends, strict=True)]
    problem = a_problem(places, {name: [goal(frames=4)] for name in "ABCDE"})
    built = constructed(problem)
    last = Plan.of(visit for visit in built if problem.slots[visit.slot].target.name == "E")
    return problem, following(problem, last, fill=False)


@of_each_search
@pytest.mark.parametrize("seed", range(24))
def test_what_comes_out_is_no_worse_and_breaks_no_rule(make: Maker, seed: int) -> None:
    problem = _night(seed)
    if not RunGraph(problem).nodes:
        pytest.skip("nothing can be done on this night")
    start = (Plan(), constructed(problem))[seed % 2]
    plan = _improved(make, problem, start, seed=seed)
    assert broken_rules(problem, plan) == []
    assert profit_of(problem, start) <= profit_of(problem, plan)


@of_each_search
def test_the_best_of_small_nights_is_come_to(make: Maker) -> None:
    """From the empty plan, with windows, caps, cadence, quiet time and least visits as they are drawn."""
    nights = [random_problem(seed, most_targets=2, gap=0.0) for seed in range(10)]
    nights = [problem for problem in nights if RunGraph(problem).nodes]
    best = [optimum(problem, rows=True) for problem in nights]
    reached = [profit_of(problem, _improved(make, problem, Plan())) for problem in nights]
    assert all(profit <= most for profit, most in zip(reached, best, strict=True))
    assert sum(profit == most for profit, most in zip(reached, best, strict=True)) >= 0.9 * len(nights)


@of_each_search
def test_a_poor_order_is_left_behind(make: Maker) -> None:
    problem, start = _closing_one_after_the_other()
    assert profit_of(problem, start) == 4 * 60_000
    assert profit_of(problem, _improved(make, problem, start)) == 5 * 4 * 60_000


@of_each_search
def test_a_run_is_put_off_to_the_better_sky(make: Maker) -> None:
    """Two frames; the sky grows better until second 3000 and worse again, at both ends it is worth nothing."""
    flat = a_problem([Place("A", (1000, 6000))], {"A": [goal("L", frames=2)]}, aim={"value": "depth"})
    instants = np.arange(7000)
    problem = under_sky(flat, np.maximum(0, 60_000 - 30 * np.abs(instants - 3000)))
    assert profit_of(problem, constructed(problem)) < 2 * 20_000
    assert profit_of(problem, _improved(make, problem, Plan())) > 2 * 58_900


@of_each_search
def test_visit_that_would_be_too_short_does_not_hide_a_longer_one(make: Maker) -> None:
    """Room for eleven frames: nine of A and two of B are worth more than 8 + 3, but B's visit needs three."""
    end = OPENS + 9 * FRAME_S + SLEW_S + READY_S + 2 * FRAME_S
    places = [Place(name, (1000, end)) for name in "AB"]
    keys = {"A": {"weight": 1.01}, "B": {"least_min": 3.0}}
    problem = a_problem(places, {name: [goal(frames=9)] for name in "AB"}, keys=keys)
    assert profit_of(problem, constructed(problem)) == 9 * 60_600
    assert profit_of(problem, _improved(make, problem, constructed(problem))) == 8 * 60_600 + 3 * 60_000


@of_each_search
@pytest.mark.parametrize("before", [0, 1])
def test_slew_that_cannot_begin_before_its_target_may_be_seen_takes_its_time(
    make: Maker, before: int
) -> None:
    """Three frames of A would just fit without the way to it; so two of B, of a quarter more each, are best.

    The way is that from home, or from C, of which one frame was taken before.
    """
    end = OPENS + 3 * FRAME_S - (FRAME_S - SHUTTER_S)
    places = [Place("A", (1000, end), motion=(1000, end)), Place("B", (1000, end))]
    goals = {"A": [goal()], "B": [goal(frames=2)]}
    if before:
        places.append(Place("C", (300, 300 + READY_S + SHUTTER_S)))
        goals["C"] = [goal()]
    problem = a_problem(places, goals, keys={"B": {"weight": 1.25}})
    plan = _improved(make, problem, Plan())
    assert profit_of(problem, plan) == 2 * 75_000 + before * 60_000


@of_each_search
def test_the_same_seed_gives_the_same_plan(make: Maker) -> None:
    for problem in (crowded(gap=0.0), _night(3)):
        start = constructed(problem)
        once, again = (_improved(make, problem, start, seed=5, seconds=0.2) for _ in range(2))
        assert once == again


@of_each_search
@pytest.mark.parametrize("deterministic", [False, True])
def test_a_halt_ends_a_search_that_would_go_on_for_days(make: Maker, deterministic: bool) -> None:
    problem = crowded(gap=0.0)
    search, start, budget = (
        make(problem),
        constructed(problem),
        Budget(ENDLESS_S, deterministic=deterministic),
    )
    with Background(partial(search.improve, start, budget, np.random.default_rng(1)), budget.stop) as working:
        working.wait(0.1)
    assert broken_rules(problem, working.result) == []
    assert profit_of(problem, working.result) >= profit_of(problem, start)


@of_each_search
def test_a_search_that_is_halted_before_it_begins_gives_the_plan_back(make: Maker) -> None:
    problem, start = _closing_one_after_the_other()
    budget = Budget(ENDLESS_S, deterministic=True)
    budget.stop()
    assert make(problem).improve(start, budget, np.random.default_rng(1)) == start


# --- turns side by side --------------------------------------------------------------------------------


class _Turns:
    """A search that brings nothing; its first turn takes long, each later one no time."""

    def __init__(self) -> None:
        self.lock, self.starts, self.first_may_end = threading.Lock(), list[Plan](), threading.Event()

    def work_of_try(self, plan: Plan) -> float:
        return 1.0 + len(plan)

    def improve(self, plan: Plan, budget: Budget, rng: np.random.Generator) -> Plan:
        with self.lock:
            self.starts.append(plan)
            is_first = len(self.starts) == 1
        if is_first:
            self.first_may_end.wait(0.5)
        budget.spend(1.0)
        return plan


def test_turns_that_end_in_vain_leave_the_budget_to_others(monkeypatch: pytest.MonkeyPatch) -> None:
    """The bound beside them goes on with what is left, also where one thread is in its turn as the other ends."""
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    problem, budget, turns = crowded(gap=0.0), Budget(60.0, deterministic=False), _Turns()
    few = MultiStartParameters(most_in_vain=5)
    search = MultiStart(turns, Incumbent(problem, problem.most_profit), few)
    assert search.improve(Plan(), budget, np.random.default_rng(1)) == Plan()
    assert len(turns.starts) >= 5
    assert not budget.halt[0]
    assert budget.left_s > 30.0


class _LongTurns(_Turns):
    """A search of which each turn goes on until it is halted, but no longer than some seconds."""

    def improve(self, plan: Plan, budget: Budget, rng: np.random.Generator) -> Plan:
        with self.lock:
            self.starts.append(plan)
        for _ in range(400):
            if budget.halt[0]:
                return plan
            self.first_may_end.wait(0.02)
        raise AssertionError("the turn went on after the time was over")


@pytest.mark.parametrize("cores", [1, 2])
def test_turns_end_with_the_time_however_long_they_were_thought_to_take(
    monkeypatch: pytest.MonkeyPatch, cores: int
) -> None:
    """A try may take several times what is reckoned for it, a turn has thousands of them."""
    monkeypatch.setattr(os, "cpu_count", lambda: cores)
    problem, budget, turns = crowded(gap=0.0), Budget(0.1, deterministic=False), _LongTurns()
    search = MultiStart(turns, Incumbent(problem, problem.most_profit))
    assert search.improve(Plan(), budget, np.random.default_rng(1)) == Plan()
    assert len(turns.starts) == cores


def test_no_turn_is_begun_where_the_plan_is_near_enough() -> None:
    problem = crowded(gap=0.5)
    start, turns = constructed(problem), _Turns()
    incumbent = Incumbent(problem, profit_of(problem, start))
    incumbent.offer(start)
    MultiStart(turns, incumbent).improve(start, Budget(9.0, deterministic=True), np.random.default_rng(1))
    assert turns.starts == []
