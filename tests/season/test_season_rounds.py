"""Rounds of planning: whatever is chosen, cut or planned anew, plans stay lawful and their worth exact."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from optimizer.packing.search.choice_loops import Totals, choose
from optimizer.packing.search.construct import constructed
from optimizer.season.desk import Inline
from optimizer.season.planned import NightPlan, fitting, kept, plan_of_schedule, priced_problem, schedule_of
from optimizer.season.pool import MOST_KICKED, Pool
from optimizer.season.prepared import with_left
from optimizer.season.pricing import Prices
from optimizer.season.rounds import Rounds, Standing
from tests.support.season_nights import TinySeason, tiny_season

KINDS = [(0.0, False), (0.4, False), (0.0, True), (0.4, True)]
SEEDS = range(4)
WORK_S = 0.002


def _plain(season: TinySeason) -> Prices:
    progress = season.projects.progress
    return Prices(progress.plain + progress.even, np.zeros(len(season.projects.goals)))


def _rounds(season: TinySeason) -> Rounds:
    """Two rounds, with little work."""
    rounds = Rounds(season.desk, season.refs, season.odds, Inline(season.desk))
    prices = _plain(season)
    rounds.at_prices(prices, [()] * len(season.refs), WORK_S, 1)
    rounds.choose(20, 1)
    for number in (1, 2):
        for batch in rounds.batches():
            rounds.replan(batch, WORK_S, number)
        prices = rounds.at_new_prices(prices, WORK_S, number)
        rounds.choose(20, number)
    return rounds


def _value_s(season: TinySeason, plans: list[NightPlan]) -> Fraction:
    """The law, written down once more: sums by odds."""
    gathered = [Fraction(0)] * len(season.projects.goals)
    for night, chance, plan in zip(season.nights, season.odds, plans, strict=True):
        for number, profit in enumerate(plan.gathered):
            gathered[number] += chance * profit * night.problem.profit_unit
    return season.projects.value_s(gathered)


@pytest.mark.parametrize(("balance", "depth"), KINDS)
@pytest.mark.parametrize("seed", SEEDS)
def test_plans_of_rounds_are_lawful_and_worth_what_is_said(seed: int, balance: float, depth: bool) -> None:
    season = tiny_season(seed, balance=balance, depth=depth)
    best = _rounds(season).best
    assert best.value_s == _value_s(season, best.plans)
    for number, left in enumerate(season.projects.left.tolist()):
        frames = [plan.frames[number] if plan.frames else 0 for plan in best.plans]
        assert max(frames) <= left
        assert sum(chance * each for chance, each in zip(season.odds, frames, strict=True)) <= left
    for night, plan in zip(season.nights, best.plans, strict=True):
        if plan.runs:
            assert plan_of_schedule(night.problem, schedule_of(night.problem, plan)) == plan


@pytest.mark.parametrize(("balance", "depth"), KINDS)
def test_no_step_of_a_round_loses_what_is_found(balance: float, depth: bool) -> None:
    season = tiny_season(5, balance=balance, depth=depth)
    rounds = Rounds(season.desk, season.refs, season.odds, Inline(season.desk))
    found = []
    for number in rounds.open:  # night by night, each in view of those before
        rounds.replan([number], 0.0, 0)
        found.append(rounds.best.value_s)
    prices = _plain(season)
    for number in range(3):
        prices = rounds.at_new_prices(prices, WORK_S, number)
        rounds.choose(20, number)
        found.append(rounds.best.value_s)
        for batch in rounds.batches():
            rounds.replan(batch, WORK_S, number)
        found.append(rounds.best.value_s)
    assert found == sorted(found)
    assert found[-1] > 0


@pytest.mark.parametrize("seed", SEEDS)
def test_rounds_come_out_the_same_again(seed: int) -> None:
    one, other = (_rounds(tiny_season(seed, balance=0.4)).best for _ in range(2))
    assert one.plans == other.plans


@pytest.mark.parametrize(("balance", "depth"), KINDS)
def test_the_loops_of_the_choice_know_the_law(balance: float, depth: bool) -> None:
    for seed in SEEDS:
        season = tiny_season(seed, balance=balance, depth=depth)
        pool = _rounds(season).pool
        choices, rng = pool._choices(0.0), np.random.default_rng(seed)
        for _ in range(4):
            choice = np.array([rng.integers(first, after) for first, after in _spans(choices.nights)])
            value_s = choose(choices, Totals.of(choices), choice, 3, MOST_KICKED, 0.001, seed)
            plans = [
                night.plans[each]
                for night, each in zip(pool.nights, choice - choices.nights[:-1], strict=True)
            ]
            standing = Standing(season.desk, season.refs, season.odds, plans)
            if standing.is_lawful:
                assert value_s == pytest.approx(float(standing.value_s), rel=1e-9, abs=1e-6)


def _spans(starts: np.typing.NDArray[np.int64]) -> list[tuple[int, int]]:
    return list(zip(starts[:-1].tolist(), starts[1:].tolist(), strict=True))


def test_of_what_is_taken_beyond_what_is_left_nothing_counts() -> None:
    season = tiny_season(1)
    rounds = _rounds(season)
    pool = Pool(season.projects, [Fraction(1)] * len(season.refs), rounds.best.numbers)
    goal = int(np.argmax(season.projects.left))
    left, count = int(season.projects.left[goal]), len(season.projects.goals)
    frames = tuple(left if each == goal else 0 for each in range(count))
    whole = NightPlan(((0, goal, 0, left, 0),), frames, frames)
    for number in range(len(season.refs)):
        pool.add(number, whole, 1.0)
    choices = pool._choices(0.0)
    all_of_it = choices.nights[:-1] + 1
    assert choose(choices, Totals.of(choices), all_of_it, 0, MOST_KICKED, 0.0, 1) == pytest.approx(left)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_plan_is_cut_to_what_is_left_and_no_further(seed: int) -> None:
    season = tiny_season(seed)
    for night in season.nights:
        problem = with_left(night.problem, season.projects.left)
        if not problem.slots:
            continue
        whole = kept(problem, constructed(problem))
        half = season.projects.left // 2
        cut = fitting(with_left(problem, half), whole)
        assert all(a <= min(b, c) for a, b, c in zip(cut.frames, half.tolist(), whole.frames, strict=True))
        assert fitting(with_left(problem, np.array(whole.frames)), whole) == whole


def test_frames_that_cost_more_than_they_bring_are_not_wanted() -> None:
    season = tiny_season(3)
    night, count = season.nights[0], len(season.projects.goals)
    costs_s = np.zeros(count)
    costs_s[0] = 2 * float(season.projects.goals[0].frame_s)
    problem = priced_problem(night, Prices(np.ones(count), costs_s), season.projects.left)
    assert problem.tasks[0].frames_left == problem.tasks[0].profit == 0
    for task, own in zip(problem.tasks[1:], night.problem.tasks[1:], strict=True):
        assert task.profit * problem.profit_unit == own.profit * night.problem.profit_unit


def test_a_night_may_take_what_the_others_leave_by_odds() -> None:
    season = tiny_season(2)
    rounds = _rounds(season)
    at = rounds.best
    for number, chance in enumerate(season.odds):
        left = at.left_for(number)
        for goal, most in enumerate(left.tolist()):
            others = sum(
                odds * plan.frames[goal]
                for place, (odds, plan) in enumerate(zip(season.odds, at.plans, strict=True))
                if plan.frames and place != number
            )
            room = season.projects.left[goal] - others
            assert chance * most <= room
            assert most == season.projects.left[goal] or chance * (most + 1) > room


def test_odds_of_many_decimals_are_counted_exactly() -> None:
    season = tiny_season(2)
    odds = [Fraction("0.30000000000000004"), Fraction("0.1234567890123457"), *[Fraction(1, 3)] * 2]
    standing = Standing(season.desk, season.refs, odds[: len(season.refs)])
    goal = int(np.argmax(season.projects.left))
    left = int(season.projects.left[goal])
    frames = tuple(left if each == goal else 0 for each in range(len(season.projects.goals)))
    standing.put(0, NightPlan(((0, goal, 0, left, 0),), frames, frames))
    assert standing.is_lawful
    assert standing.left_for(0)[goal] == left
    assert standing.left_for(1)[goal] == min(left, int((1 - odds[0]) * left / odds[1]))


@pytest.mark.parametrize("chance", [1 - Fraction(1, 9 * 10**18), Fraction(1, 10**300)])
def test_no_odds_have_too_many_decimals(chance: Fraction) -> None:
    season = tiny_season(2)
    standing = Standing(season.desk, season.refs, [chance] * len(season.refs))
    assert standing.left_for(0).tolist() == season.projects.left.tolist()
