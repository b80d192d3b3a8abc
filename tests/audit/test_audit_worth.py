"""The worth of a list by the audit's own route: equal to the planner's, and to its definition."""

from __future__ import annotations

import random
from fractions import Fraction
from functools import cache
from typing import Any

import numpy as np
import pytest

from optimizer.audit import audit_shot_list
from optimizer.audit.worth import set_share
from optimizer.models.request import Request
from optimizer.models.shots import GoalValue, ShotList
from optimizer.night import Night
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import constructed
from optimizer.packing.solution import Solution
from optimizer.problem import build_problem
from optimizer.problem.filter_sets import progress_of
from optimizer.reading.load import request_from_data
from tests.support.scenarios.nights import random_night
from tests.support.scenarios.small import small_night
from tests.support.speeds import sampled


def test_share_of_a_set_is_the_mean_of_its_slowest_half() -> None:
    """Two routes: the greatest of all levels less what lags behind them, and the goals in order."""
    rng = random.Random(27)
    for _ in range(500):
        wanted = [
            rng.choice([60, 600, 7200, 100_000]) * rng.uniform(0.5, 2) for _ in range(rng.randint(1, 8))
        ]
        shares = [rng.choice([0.0, 1.0, 0.5, rng.random()]) for _ in wanted]
        exact = [Fraction(each) for each in wanted]
        reached = [part * Fraction(share) for part, share in zip(exact, shares, strict=True)]
        by_order = progress_of(exact, reached) / sum(exact)
        assert set_share(np.array(wanted), np.array(shares)) == pytest.approx(float(by_order), abs=1e-12)


def made_of(request: Request, factors: dict[tuple[str, int], Fraction]) -> ShotList:
    """The list of a plan made in one pass, with the factors that it was made with."""
    night = Night(request)
    problem = night.problem = build_problem(request, night.windows, factors)
    plan = constructed(problem)
    night._solution = Solution(
        plan=plan,
        schedule=scheduled(problem, plan),
        profit=profit_of(problem, plan),
        bound=problem.most_profit,
        status="feasible",
        ended="time",
        seconds=0.0,
        workers=1,
        duals={},
    )
    values = tuple(
        GoalValue(
            target=target.name,
            filter=goal.filter,
            exposure_s=goal.exposure_s,
            gain=goal.gain,
            offset=goal.offset,
            binning=goal.binning,
            hours_ahead=10.0,
            factor=float(factors.get((target.name, target.goals.index(goal)), 1)),
        )
        for target, goal in request.goals()
    )
    return night.plan().model_copy(update={"values": values})


def a_night(kind: str, seed: int) -> tuple[Request, dict[tuple[str, int], Fraction]]:
    """A random night with a balance, uneven frames in hand, goals beside the sets, and factors."""
    rng = random.Random(f"worth {kind} {seed}")
    data: dict[str, Any] = random_night(seed) if kind == "full" else small_night(seed)
    data["aim"] |= {"balance": rng.choice([0.0, 0.3, 0.125, 1.0]), "value": rng.choice(["hours", "depth"])}
    for target in data["targets"]:
        for goal in target["goals"]:
            goal["done"] = rng.choice([0, goal["frames"] // 3, goal["frames"] // 2, goal["frames"] + 1])
            goal["in_set"] = rng.random() < 0.85
    request = request_from_data(data, f"{kind} night {seed}")
    factors = {
        (target.name, place): Fraction(rng.randint(300, 3000), 1000)
        for target in request.targets
        for place, _ in enumerate(target.goals)
    }
    return request, factors if rng.random() < 0.6 else {}


FULL = [("full", seed) for seed in (0, 1, 3, 6, 8, 10, 2, 4, 5, 7, 9, *range(11, 60))]
SMALL = [("small", seed) for seed in range(60)]
NIGHTS = [night for pair in zip(FULL, SMALL, strict=True) for night in pair]
QUICK = 10


@cache
def made(kind: str, seed: int) -> ShotList:
    return made_of(*a_night(kind, seed))


@pytest.mark.parametrize("night", sampled(NIGHTS, QUICK), ids=lambda night: f"{night[0]} {night[1]}")
def test_planner_and_audit_agree_on_value_and_sets(night: tuple[str, int]) -> None:
    """Within a thousandth by hours, by depth as far as two routes through the sky agree."""
    found = audit_shot_list(made(*night)).violations
    assert [each for each in found if each.rule in ("proof", "totals")] == []


def test_nights_hold_what_matters() -> None:
    """Else the test above would say little: sets come forward, by hours and by depth, with factors and not."""
    lists = [made(*night) for night in NIGHTS[:QUICK]]
    moved = [shots for shots in lists if shots.totals.set_s > 0 and 0 < shots.request.aim.balance < 1]
    assert {shots.request.aim.value for shots in moved} == {"hours", "depth"}
    assert {any(each.factor != 1 for each in shots.values) for shots in moved} == {True, False}
    for shots in moved:  # a value that is not the plain sum
        assert shots.totals.set_s != pytest.approx(shots.proof.objective, rel=1e-3)


def test_audit_takes_the_factors_of_the_list() -> None:
    shots = next(
        shots
        for shots in (made(*night) for night in NIGHTS[:QUICK])
        if shots.steps and any(each.factor != 1 for each in shots.values)
    )
    blind = audit_shot_list(shots.model_copy(update={"values": ()})).violations
    assert {each.rule for each in blind} >= {"proof", "totals"}
