"""Progress of filter sets in the bound: whatever the prices, no plan is worth more."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import linprog

from optimizer.packing.bound.bounds import first_bounds, tighter_bounds
from optimizer.packing.bound.ceiling import ceiling
from optimizer.packing.bound.cuts.cut_list import CutList
from optimizer.packing.bound.progress import Progress
from optimizer.packing.bound.restricted_master import RestrictedMaster
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.budget import Budget
from optimizer.packing.compiled import Floats
from optimizer.packing.parameters import BoundParameters
from optimizer.problem import Problem
from optimizer.problem.filter_sets import FilterSet, Worth
from tests.support.oracle.worth import progress
from tests.support.packing_nights import Place, a_problem, goal
from tests.support.packing_random import bound_night, random_problem
from tests.support.packing_sets import in_sets

BALANCES = (Fraction(3, 10), Fraction(1), Fraction(1, 8))
FEW_FRAMES = 20  # profits of which are drawn


def _problem(seed: int, *, most_targets: int = 3) -> Problem:
    problem = in_sets(random_problem(seed, most_targets=most_targets), seed, BALANCES[seed % len(BALANCES)])
    if not (problem.slots and problem.worth.sets):
        pytest.skip("nothing can be done on this night, or no target has two goals")
    return problem


def _value(problem: Problem, gathered: Floats) -> float:
    """The value of what is gathered, by the definition."""
    value = float(gathered.sum())
    for each in problem.worth.sets:
        mine = [Fraction(int(gathered[task])) for task in each.tasks]
        reached = [
            min(Fraction(1), (got + more) / all_)
            for got, more, all_ in zip(each.in_hand, mine, each.wanted, strict=True)
        ]
        before = [got / all_ for got, all_ in zip(each.in_hand, each.wanted, strict=True)]
        grown = sum(each.wanted) * (progress(each.wanted, reached) - progress(each.wanted, before))
        value += float(problem.worth.balance * (grown - sum(mine)))
    return value


def _drawn_prices(numbers: Progress, rng: np.random.Generator) -> Floats:
    prices = rng.random(len(numbers.most)) * numbers.most
    at_limit = rng.random(len(prices))
    return np.where(at_limit < 0.2, 0.0, np.where(at_limit > 0.8, numbers.most, prices))


@pytest.mark.parametrize("seed", range(40))
def test_whatever_the_prices_nothing_gathered_is_worth_more(seed: int) -> None:
    """And at those of the first frames and at even ones, which need no search."""
    problem, rng = _problem(seed + 5000), np.random.default_rng(seed)
    numbers = Progress.of(problem)
    for number in range(FEW_FRAMES):
        frames = rng.integers(0, [task.frames_left + 1 for task in problem.tasks]).tolist()
        gathered = np.array(
            [float(task.profit * count) for task, count in zip(problem.tasks, frames, strict=True)]
        )
        gathered *= number > 0  # at first nothing at all
        drawn = [_drawn_prices(numbers, rng) for _ in range(5)]
        for prices in (*drawn, numbers.even, numbers.at_first, numbers.levelled(drawn[0])):
            most = float((numbers.plain + prices) @ gathered) + numbers.given(prices)
            assert most >= _value(problem, gathered) * (1 - 1e-12) - 1e-6
    assert numbers.given(numbers.at_first) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("seed", range(40))
def test_levelled_prices_take_the_whole_of_each_set(seed: int) -> None:
    problem, rng = _problem(seed + 5000), np.random.default_rng(seed)
    numbers = Progress.of(problem)
    prices = numbers.levelled(_drawn_prices(numbers, rng))
    assert (prices >= 0).all()
    assert (prices <= numbers.most).all()
    for each in problem.worth.sets:
        if each.tasks[0] in np.flatnonzero(numbers.in_set):
            taken = sum(
                prices[task] * float(all_) for task, all_ in zip(each.tasks, each.wanted, strict=True)
            )
            assert taken == pytest.approx(float(problem.worth.balance * sum(each.wanted)))


@pytest.mark.parametrize("seed", range(20))
def test_the_slope_is_that_of_the_bound(seed: int) -> None:
    """At drawn prices a small step changes what prices give and charge by as much as the slope says."""
    problem, rng = _problem(seed + 5000), np.random.default_rng(seed)
    numbers = Progress.of(problem)
    prices = 0.1 * numbers.most + 0.8 * rng.random(len(numbers.most)) * numbers.most
    gathered = rng.random(len(prices)) * 1e5
    slope = numbers.slope(prices, gathered)
    for task in range(len(prices)):
        step = np.zeros(len(prices))
        step[task] = 1e-6
        changed = (prices + step) @ gathered + numbers.given(prices + step)
        changed -= (prices - step) @ gathered + numbers.given(prices - step)
        assert changed / 2e-6 * numbers.in_set[task] == pytest.approx(slope[task], rel=1e-4, abs=1.0)


@pytest.mark.parametrize("seed", range(20))
def test_the_master_finds_what_another_solver_finds_from_the_definition(seed: int) -> None:
    """Shares of columns and, by set, y and the share of each goal: no number of the bound's is used."""
    problem, rng = _problem(seed + 5200), np.random.default_rng(seed)
    graph = RunGraph(problem)
    cuts, grid = CutList(graph), TimeExpandedGraph(graph, 20, join_arcs=True)
    master = RestrictedMaster(cuts, float(graph.ceiling))
    for _ in range(12):
        duals = cuts.kept_within(rng.random(len(cuts.rhs)) * np.where(cuts.scale > 0, 20_000, 0))
        for column in grid.best_columns(2, cuts.reduction(duals)):
            master.add(column)
    master.solve()
    assert master.value == pytest.approx(_value_of_mixture(problem, cuts, master), rel=1e-7, abs=1e-3)
    assert (master.duals <= cuts.most).all()
    best = grid.best_columns(1, cuts.reduction(master.duals))[0]
    assert best.value >= master.value * (1 - 1e-9)


def _value_of_mixture(problem: Problem, cuts: CutList, master: RestrictedMaster) -> float:
    """The linear programme written out: columns, then y and the shares reached of each set's goals."""
    graph, columns, sets = cuts.graph, master.columns, problem.worth.sets
    balance, unit = float(problem.worth.balance), float(graph.ceiling)
    gathered = np.zeros((len(problem.tasks), len(columns)))
    for number, column in enumerate(columns):
        np.add.at(gathered[:, number], graph.option_task[column.runs.options], column.runs.profits)
    goals = [(place, task, goal) for place, each in enumerate(sets) for goal, task in enumerate(each.tasks)]
    first_y, first_lack = len(columns), len(columns) + len(sets)
    gain, constant = np.zeros(first_lack + len(goals)), 0.0
    plain = np.ones(len(problem.tasks))
    rows, most = list[Floats](), list[float]()
    for place, each in enumerate(sets):
        plain[list(each.tasks)] = 1 - balance
        gain[first_y + place] = balance * float(sum(each.wanted))
        shares = [got / all_ for got, all_ in zip(each.in_hand, each.wanted, strict=True)]
        constant += balance * float(sum(each.wanted) * progress(each.wanted, shares))
    for number, (place, task, at) in enumerate(goals):
        wanted, in_hand = float(sets[place].wanted[at]), float(sets[place].in_hand[at])
        gain[first_lack + number] = -2 * balance * wanted  # of the part of y that is lacking
        row = np.zeros(len(gain))
        row[: len(columns)] = -gathered[task] / wanted
        row[first_y + place], row[first_lack + number] = 1.0, -1.0
        rows.append(row)
        most.append(in_hand / wanted)
    gain[: len(columns)] = plain @ gathered
    for name, cut in cuts.cuts.items():
        if name != "progress":
            taken = np.array([cut.coefficients(column.runs) for column in columns]).T
            size = np.maximum(cut.scale, 1.0)[:, None]
            rows += list(np.hstack([taken / size, np.zeros((len(taken), len(gain) - len(columns)))]))
            most += (cut.rhs / size[:, 0]).tolist()
    rows.append(np.where(np.arange(len(gain)) < len(columns), 1.0, 0.0))
    most.append(1.0)
    spans = [(0, None)] * len(columns) + [(0, 1)] * len(sets) + [(0, None)] * len(goals)
    found = linprog(-gain / unit, A_ub=np.array(rows), b_ub=np.array(most), bounds=spans, method="highs")
    assert found.status == 0
    return -float(found.fun) * unit - constant


@pytest.mark.parametrize("seed", range(12))
def test_a_set_of_one_goal_is_bounded_as_its_frames_are(seed: int) -> None:
    """Of such a set progress is what its frames bring."""
    plain = random_problem(seed + 5300, gap=0.0)
    single = in_sets(plain, seed, single=True)
    plain = replace(single, worth=Worth())
    assert ceiling(single) == pytest.approx(ceiling(plain), abs=1)
    if plain.slots:
        assert _tightened(single) == pytest.approx(_tightened(plain), rel=2e-4)


@pytest.mark.parametrize("seed", range(12))
def test_without_balance_no_number_is_another_one(seed: int) -> None:
    """Sets of which nothing counts for progress: the same bounds, to the unit."""
    problem = _problem(seed + 5400)
    without = replace(problem, worth=Worth())
    nothing = replace(problem, worth=Worth(Fraction(0), problem.worth.sets))
    assert ceiling(nothing) == ceiling(without)
    one = [found.bound for found in first_bounds(RunGraph(without), Budget(0.1, deterministic=True))]
    other = [found.bound for found in first_bounds(RunGraph(nothing), Budget(0.1, deterministic=True))]
    assert one == other


def test_a_set_that_fits_as_a_whole_is_bounded_by_its_whole() -> None:
    """Two goals of one target: 30 minutes of each would fit, and what is taken is shared evenly at best.

    Worth plain hours then; one goal alone would count as 0.7 of them.
    """
    problem = a_problem([Place("A", (1000, 4600))], {"A": [goal("L", 60.0, 60), goal("R", 60.0, 60)]})
    tasks = tuple(replace(task, whole_profit=Fraction(task.profit)) for task in problem.tasks)
    wanted = tuple(task.whole_profit * 60 for task in tasks)
    even = replace(
        problem,
        tasks=tasks,
        worth=Worth(Fraction(3, 10), (FilterSet("A", (0, 1), wanted, (Fraction(0),) * 2),)),
    )
    lagging = replace(
        even, worth=Worth(Fraction(3, 10), (FilterSet("A", (0, 1), wanted, (wanted[0], Fraction(0))),))
    )
    plain = bound_night(RunGraph(problem), 2.0).bound
    assert 0.97 * plain <= bound_night(RunGraph(even), 2.0).bound <= plain
    assert 1.2 * plain <= bound_night(RunGraph(lagging), 2.0).bound <= 1.3 * plain + 1


@pytest.mark.parametrize("seed", range(12))
def test_a_subgradient_over_prices_is_as_good_as_the_master(seed: int) -> None:
    """On nights that would do without, by both ways the bound comes to about the same."""
    problem = _problem(seed + 5500)
    master, slope = _tightened(problem, 10_000), _tightened(problem, 0)
    assert slope == pytest.approx(master, rel=0.01)


def _tightened(problem: Problem, many_tasks: int = BoundParameters().many_tasks) -> int:
    graph = RunGraph(problem, BoundParameters(many_tasks=many_tasks))
    first = bound_night(graph, 0.5)
    return min(
        found.bound for found in (first, *tighter_bounds(graph, first, Budget(1.0, deterministic=True)))
    )
