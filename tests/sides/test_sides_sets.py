"""Sides where filter sets count: values hold their progress, depth does not, and bounds stay above."""

from __future__ import annotations

from typing import Any

import pytest

from optimizer.night import Night
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import constructed
from optimizer.packing.solution import Solution, WarmStart
from optimizer.problem import Problem, only_tasks
from optimizer.sides import one_sided
from optimizer.sides.cases import Case
from optimizer.sides.one_sided import PREMIUM_S, shot_at_all
from optimizer.sides.search import BestSoFar, search_alone
from tests.support.timeline_nights import CRADLE, WHEEL, a_request, goal

FORK = {"kind": "fork"}


def a_case(*, weight: float = 2.0, **aim: Any) -> Case:
    """The Cradle, of whose set R is still wanted and L complete, and the Wheel with one goal."""
    cradle = [goal("L", frames=12, done=12), goal("R", exposure_s=150.0, frames=24)]
    request = a_request(
        {**CRADLE, "weight": weight, "goals": cradle},
        {**WHEEL, "goals": [goal("L", frames=10)]},
        clear=("22:00", "23:40"),
        mount=FORK,
        aim=aim,
    )
    night = Night(request)
    return Case(request, night.sky, night.windows, night.problem)


def test_value_of_a_choice_holds_the_progress_of_sets() -> None:
    """R is the slowest half of 7200 s: 150 s of it bring 300 s, 0.7 x 150 + 0.3 x 300 = 195, by weight 390."""
    case = a_case(balance=0.3)
    plan = constructed(case.problem)
    cradle, wheel = (case.outcome(plan, target) for target in case.request.targets)
    frames = cradle.target_open_s / 150
    assert frames > 0
    assert cradle.target_value == pytest.approx(390 * frames)
    assert wheel.target_value == pytest.approx(wheel.target_open_s)
    assert cradle.value == wheel.value == pytest.approx(cradle.target_value + wheel.target_value)
    assert cradle.target_depth_s is None


@pytest.mark.parametrize("weight", [1.0, 2.0])
@pytest.mark.parametrize("balance", [0.0, 0.3, 1.0])
def test_depth_is_that_of_the_subs_whatever_they_are_worth(weight: float, balance: float) -> None:
    case = a_case(weight=weight, balance=balance, value="depth")
    plan = constructed(case.problem)
    target = case.request.targets[0]
    outcome = case.outcome(plan, target)
    curve = case.windows[target.name].depth["R"]
    mine = [visit for visit in scheduled(case.problem, plan) if visit.slot.target.name == target.name]
    opens = [opens for visit in mine for _, opens in visit.exposures]
    assert opens
    by_hand = sum(float(curve.between_s(start, start + 150)) for start in opens)
    assert outcome.target_depth_s == pytest.approx(by_hand, abs=1e-3)
    factor = {0.0: 1.0, 0.3: 1.3, 1.0: 2.0}[balance]  # of what lags, as above
    assert outcome.target_value == pytest.approx(weight * factor * by_hand, rel=1e-4)


@pytest.mark.parametrize("balance", [0.3, 1.0])
def test_target_alone_has_no_more_than_its_bound(balance: float) -> None:
    """All of R is worth 1.3 times its seconds, or twice: more than the sum of its frames."""
    case = a_case(balance=balance)
    target = case.request.targets[0]
    best = search_alone(case, target, "before", 0.0, [])
    lonely = case.only(target).problem
    assert best.bound is not None
    assert best.profit <= best.bound
    assert case.problem.weighted_seconds(best.bound) <= (1 + balance) * 2 * 24 * 150 + 1e-6
    assert best.profit == profit_of(lonely, best.plan or constructed(lonely))


def test_premium_counts_though_the_set_has_no_room_for_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """With sets alone, L of a set whose R lags far behind adds nothing; a target is brought in all the same."""
    cradle = [goal("L", frames=12, done=6), goal("R", frames=24)]
    request = a_request(
        {**CRADLE, "goals": cradle}, clear=("22:00", "23:00"), mount=FORK, aim={"balance": 1.0}
    )
    night = Night(request)
    problem = only_tasks(night.problem, {0})  # R cannot be shot
    assert problem.worth.profit([problem.tasks[0].profit, 0]) == 0
    asked: list[Problem] = []

    def solved(forced: Problem, *_: Any) -> Solution:
        asked.append(forced)
        return night.search()

    monkeypatch.setattr(one_sided, "solved_within", solved)
    known = WarmStart(problem, night.search())
    shot_at_all(problem, request.targets[0], known, 1.0, left_out=True)
    (forced,) = asked
    premium = PREMIUM_S / problem.profit_unit
    assert forced.worth.profit([forced.tasks[0].profit, 0]) >= premium


def test_best_so_far_counts_sets() -> None:
    case = a_case(balance=0.3)
    target, plan = case.request.targets[0], constructed(case.problem)
    best = BestSoFar(case, plan)
    assert (
        best.profit
        == profit_of(case.problem, plan)
        > sum(run.frames * case.problem.tasks[run.task].profit for visit in plan for run in visit.runs)
    )
    assert case.does(plan, target) is not None
