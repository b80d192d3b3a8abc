"""The season's bound: no choice of real plans within the frames left is worth more, whatever the prices."""

from __future__ import annotations

import itertools
from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import linprog

from optimizer.season.bound import SeasonBound, season_bounds
from optimizer.season.desk import Inline
from optimizer.season.planned import NightPlan, followed
from optimizer.season.prepared import with_left
from optimizer.season.pricing import Prices, bound_s, price
from optimizer.season.projects import Projects, projects_of
from tests.support.packing_nights import a_request, goal
from tests.support.season_nights import TinySeason, tiny_season

BALANCES = (0.0, 0.3, 1.0)
SEEDS = range(24)


def _prices(projects: Projects, rng: np.random.Generator) -> Prices:
    """Prices anywhere within their limits, often at them."""
    progress, count = projects.progress, len(projects.goals)
    drawn, at_limit = rng.random(count), rng.random(count)
    share = np.where(at_limit < 0.2, 0.0, np.where(at_limit > 0.8, 1.0, drawn))
    costs_s = projects.frames_s * rng.random(count) * rng.integers(0, 2, count)
    return Prices(progress.plain + share * progress.most, costs_s)


def _plans(season: TinySeason, rng: np.random.Generator) -> list[list[NightPlan]]:
    """Some real plans of each night, all within the frames left: none, and along paths at drawn prices."""
    plans = []
    for night in season.nights:
        own = {NightPlan()}
        problem = with_left(night.problem, season.projects.left)
        for _ in range(3):
            columns = price(night, _prices(season.projects, rng), season.projects.left)
            own |= {followed(problem, column.runs) for column in columns}
        plans.append(sorted(own, key=lambda plan: plan.runs))
    return plans


def _greatest_value_s(season: TinySeason, plans: list[list[NightPlan]]) -> Fraction:
    """Of all choices of one plan a night that keep to the frames left."""
    best, left = Fraction(0), season.projects.left.tolist()
    for choice in itertools.product(*plans):
        taken, gathered = [Fraction(0)] * len(left), [Fraction(0)] * len(left)
        for night, chance, plan in zip(season.nights, season.odds, choice, strict=True):
            for number, frames in enumerate(plan.frames):
                taken[number] += chance * frames
                gathered[number] += chance * plan.gathered[number] * night.problem.profit_unit
        if all(more <= most for more, most in zip(taken, left, strict=True)):
            best = max(best, season.projects.value_s(gathered))
    return best


@pytest.mark.parametrize("depth", [False, True], ids=["hours", "depth"])
@pytest.mark.parametrize("balance", BALANCES)
@pytest.mark.parametrize("seed", SEEDS)
def test_no_season_is_worth_more_whatever_the_prices(seed: int, balance: float, *, depth: bool) -> None:
    season, rng = tiny_season(seed, balance=balance, depth=depth), np.random.default_rng(seed)
    value_s = _greatest_value_s(season, _plans(season, rng))
    for _ in range(4):
        prices = _prices(season.projects, rng)
        columns = [price(night, prices, season.projects.left) for night in season.nights]
        nights_s = [own[0].worth_s if own else 0.0 for own in columns]
        assert bound_s(season.projects, prices, season.odds, nights_s) >= value_s


@pytest.mark.parametrize("seed", SEEDS)
def test_frames_in_hand_give_nothing_at_the_prices_of_first_frames(seed: int) -> None:
    """A season in which nothing can be taken is then worth nothing, however uneven its sets are."""
    season = tiny_season(seed, balance=0.3)
    projects, progress = season.projects, season.projects.progress
    prices = Prices(progress.plain + progress.at_first, np.zeros(len(projects.goals)))
    nights_s = [0.0] * len(season.odds)
    assert bound_s(projects, prices, season.odds, nights_s) == pytest.approx(0.0, abs=1e-6)


def test_a_set_half_done_gives_nothing_at_the_highest_prices() -> None:
    """Two goals of 10 frames of 60 s, 5 of each in hand: 600 s of 1200, and every more of both counts half.

    Prices of 0.6 charge 0.6 x 1200 s of a whole set and give back 0.6 x 600 s; from half a set on, less is
    given the more of it is asked: 360 - 0.5 x 360 - 0.3 x 600 = 0.
    """
    goals = {"A": [goal(each, 60.0, 10, done=5) for each in "LR"]}
    projects = projects_of(a_request(goals, aim={"balance": 0.3}))
    prices = Prices(np.array([1.3, 1.3]), np.zeros(2))
    assert bound_s(projects, prices, [Fraction(1, 2)], [0.0]) == pytest.approx(0.0, abs=1e-9)


def _mixture_s(season: TinySeason, found: SeasonBound) -> float:
    """The most worth of a mixture of the columns, by another solver from the definition: one mean share a set.

    The slowest half of a set is the least over all halves: the most of H y less twice what each goal lacks.
    """
    projects, worth = season.projects, season.projects.worth
    columns = [(night, each) for night, own in enumerate(found.columns) for each in own]
    odds = np.array([float(season.odds[night]) for night, _ in columns])
    frames = np.array([each.frames for _, each in columns]).T * odds
    gathered_s = np.array([each.gathered_s for _, each in columns]).T * odds
    gains, balance = gathered_s.sum(axis=0), float(worth.balance)
    in_sets = [(each, task, at) for each in worth.sets for at, task in enumerate(each.tasks)]
    ys, lacks = len(worth.sets), len(in_sets)
    for _, task, _ in in_sets:
        gains -= balance * gathered_s[task]
    wholes = [balance * float(sum(each.wanted)) for each in worth.sets]
    ones = np.array([[night == each for night, _ in columns] for each in range(len(season.refs))])
    rows = [np.hstack([ones, np.zeros((len(ones), ys + lacks))])]
    rows.append(np.hstack([frames, np.zeros((len(frames), ys + lacks))]))
    rhs = [*[1.0] * len(ones), *projects.left.tolist()]
    for number, (each, task, at) in enumerate(in_sets):
        of_y, of_lack = np.zeros(ys), np.zeros(lacks)
        of_y[worth.sets.index(each)], of_lack[number] = float(each.wanted[at]), -1.0
        rows.append(np.concatenate([-gathered_s[task], of_y, of_lack])[None])
        rhs.append(float(each.in_hand[at]))
    costs = np.concatenate([-gains, -np.array(wholes), np.full(lacks, 2 * balance)])
    limits = [(0.0, None)] * len(columns) + [(0.0, 1.0)] * ys + [(0.0, None)] * lacks
    solved = linprog(costs, A_ub=np.vstack(rows), b_ub=rhs, bounds=limits)
    assert solved.status == 0
    return -float(solved.fun) - balance * float(sum(each.before for each in worth.sets))


@pytest.mark.parametrize("depth", [False, True], ids=["hours", "depth"])
@pytest.mark.parametrize("balance", BALANCES)
@pytest.mark.parametrize("seed", SEEDS[:8])
def test_bounds_fall_until_they_meet_the_mixture(seed: int, balance: float, *, depth: bool) -> None:
    """And stay above all that real plans come to; the mixture's value is that of another solver."""
    season = tiny_season(seed, balance=balance, depth=depth)
    value_s = _greatest_value_s(season, _plans(season, np.random.default_rng(seed)))
    found = list(season_bounds(season.desk, season.refs, season.odds, Inline(season.desk)))
    bounds = [each.bound_s for each in found]
    last = found[-1]
    assert bounds == sorted(bounds, reverse=True)
    assert last.bound_s >= value_s
    if any(last.columns):
        assert last.lp_value_s == pytest.approx(_mixture_s(season, last), rel=1e-6, abs=1e-3)
    assert last.bound_s == pytest.approx(last.lp_value_s, rel=2e-3, abs=1e-3)


@pytest.mark.parametrize("balance", BALANCES)
def test_the_same_season_has_the_same_bounds(balance: float) -> None:
    first, again = (
        list(season_bounds(season.desk, season.refs, season.odds, Inline(season.desk)))
        for season in (tiny_season(3, balance=balance), tiny_season(3, balance=balance))
    )
    assert [each.bound_s for each in first] == [each.bound_s for each in again]
    assert [each.shares for each in first] == [each.shares for each in again]
    for one, other in zip(first, again, strict=True):
        np.testing.assert_array_equal(one.prices.shares, other.prices.shares)
        np.testing.assert_array_equal(one.prices.costs_s, other.prices.costs_s)


def test_bounds_end_between_blocks_once_time_is_over() -> None:
    """But not before there is a bound."""
    season = tiny_season(3, balance=0.3)
    desk, refs, odds = season.desk, season.refs, season.odds
    asked: list[bool] = []

    def is_over() -> bool:
        asked.append(True)
        return True

    assert len(list(season_bounds(desk, refs, odds, Inline(desk), is_over=is_over))) == 1
    assert len(asked) == 1
    assert len(list(season_bounds(desk, refs, odds, Inline(desk)))) > 1
