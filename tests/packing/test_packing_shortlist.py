"""A night of very many targets is searched among the best of them, and never said to be better than it is."""

from __future__ import annotations

import pytest

from optimizer.packing import phases, shortlist
from optimizer.packing.bound.ceiling import ceiling
from optimizer.packing.parameters import DEFAULT
from optimizer.packing.phases import Phases
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import constructed
from optimizer.packing.shortlist import among_all, is_too_large, shortlisted
from optimizer.packing.solution import WarmStart
from optimizer.packing.solve import solve
from optimizer.problem import Problem
from tests.support.packing_nights import Place, a_problem, goal
from tests.support.packing_random import crowded, optimum, random_problem

MANY = 40


def _many(weight: float = 1.0) -> Problem:
    """Forty targets all night long, of which three are worth ten times as much, far back in the alphabet."""
    names = [f"T{number:02}" for number in range(MANY)]
    dear = names[-3:]
    return a_problem(
        [Place(name, (1000, 9000)) for name in names],
        {name: [goal(frames=5), goal("R", 90.0, 5)] for name in names},
        keys={name: {"weight": 10.0 * weight} for name in dear},
        aim={"time_limit_s": 1.0, "gap": 0.0},
    )


@pytest.mark.parametrize("seed", range(20))
def test_a_plan_among_few_is_one_of_the_whole_night(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its slots, seconds and worth are those of the whole night; its bound is never below the optimum."""
    problem = random_problem(seed + 3700, most_targets=3, time_limit_s=0.3)
    if not problem.slots:
        pytest.skip("nothing can be done on this night")
    monkeypatch.setattr(shortlist, "MOST_WAYS", 2)
    solution = solve(problem)
    assert solution.schedule == scheduled(problem, solution.plan)
    assert solution.profit == profit_of(problem, solution.plan)
    assert solution.profit <= optimum(problem, rows=True) <= solution.bound <= problem.most_profit
    assert all(problem.slots[visit.slot.index] == visit.slot for visit in solution.schedule)
    assert (solution.status == "optimal") == (solution.profit == solution.bound)


def test_the_dearest_targets_are_among_the_few(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = _many()
    assert not is_too_large(problem)
    monkeypatch.setattr(shortlist, "MOST_WAYS", 200)
    assert is_too_large(problem)
    few = shortlisted(problem)
    names = {slot.target.name for slot in few.slots}
    assert {"T37", "T38", "T39"} <= names
    assert len(names) == 10  # 10 slots with 20 windows
    assert few.tasks == problem.tasks
    assert among_all(problem, few, constructed(few)).visits[0].slot >= 2 * (MANY - 3)


def test_what_is_heard_of_a_search_among_few_holds_for_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """A bound of the few would be no bound of the night."""
    problem = _many()
    monkeypatch.setattr(shortlist, "MOST_WAYS", 20)
    heard: list[float] = []
    solution = solve(problem, lambda seconds, value, bound: heard.append(bound))
    assert heard
    assert set(heard) == {problem.weighted_seconds(ceiling(problem))}
    assert solution.bound == ceiling(problem) > solution.profit
    again = solve(problem, None, WarmStart(problem, solution))
    assert again.profit >= solution.profit


def test_time_that_is_over_is_taken_off_the_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half the limit is left at least; counted by work, a plan does not hang on how long the sky took."""

    class BegunError(Exception):
        """Instead of a search: with how many seconds for all but the ties."""

    def begin(seconds: float, *, deterministic: bool) -> None:
        raise BegunError(seconds, deterministic)

    monkeypatch.setattr(phases, "Budget", begin)
    monkeypatch.setattr(Phases, "spent_s", lambda _: 0.0)  # whatever the first plan takes here
    for workers, spent_s, share in ((2, 0.0, 1.0), (2, 0.3, 0.7), (2, 9.0, 0.5), (1, 0.3, 1.0)):
        with pytest.raises(BegunError) as begun:
            solve(crowded(workers=workers, gap=0.0, time_limit_s=1.0), None, None, spent_s)
        seconds, deterministic = begun.value.args
        assert seconds == pytest.approx(share * (1 - DEFAULT.ties_share))
        assert deterministic == (workers == 1)
