"""Idle time of a plan is named where a frame still wanted would really fit, and nowhere else."""

from __future__ import annotations

import pytest

from optimizer.packing.plan import Plan, Run, Visit
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import constructed
from optimizer.packing.solve import solve
from optimizer.problem import Problem
from optimizer.timeline import idle as idle_module
from optimizer.timeline.idle import idle_spans
from tests.support.packing_nights import (
    CENTRED_S,
    FILTER_S,
    FOCUS_S,
    HOME_S,
    READY_S,
    SLEW_S,
    Place,
    a_problem,
    goal,
)
from tests.support.packing_random import optimum, random_problem

AWAY_S = SLEW_S + CENTRED_S + FILTER_S + FOCUS_S  # from the end of a visit to the next one's first shutter


def _gap_of(seconds: int, **keys: object) -> tuple[Problem, Plan]:
    """A is shot early and late; between the two visits B is open, its window as long as told."""
    opens = 1000 + READY_S
    first = opens + 60
    problem = a_problem(
        [
            Place("A", (1000, first)),
            Place("A", (6000, 6000 + READY_S + 60)),
            Place("B", (1500, 1500 + seconds), {1: (1500, 1500 + seconds)}),
        ],
        {"A": [goal(frames=2)], "B": [goal(frames=5)]},
        keys={"B": keys},
    )
    early, late = (problem.slots[index] for index in (0, 2))
    return problem, Plan.of(
        Visit(slot.index, (Run(0, (1,), slot.shutter[0][0], True),)) for slot in (early, late)
    )


def test_a_frame_that_fits_to_the_second_is_named() -> None:
    """B's window takes the arrival and one exposure, from its own first second on."""
    for seconds, fits in ((READY_S + 60, True), (READY_S + 59, False)):
        problem, plan = _gap_of(seconds)
        found = idle_spans(problem, plan)
        assert bool(found) == fits
        for idle in found:
            schedule = scheduled(problem, plan)
            assert idle.span == (schedule.visits[0].free, schedule.visits[1].depart)
            assert (idle.task.target.name, idle.frames) == ("B", 1)


def test_the_least_visit_is_what_must_fit() -> None:
    problem, plan = _gap_of(READY_S + 60 + 2 * 63, least_min=3.0)
    (idle,) = idle_spans(problem, plan)
    assert idle.frames == 3
    problem, plan = _gap_of(READY_S + 60 + 2 * 63 - 1, least_min=3.0)
    assert idle_spans(problem, plan) == ()


def test_time_before_and_after_all_visits_counts() -> None:
    problem = a_problem(
        [Place("A", (1000, 4000)), Place("B", (6000, 9000))], {name: [goal()] for name in "AB"}
    )
    early, late = (
        Visit(index, (Run(task, (1,), problem.slots[index].shutter[task][0], True),))
        for index, task in ((0, 0), (2, 1))
    )
    assert [idle.task.target.name for idle in idle_spans(problem, Plan((early,)))] == ["B"]
    assert [idle.task.target.name for idle in idle_spans(problem, Plan((late,)))] == ["A"]
    assert [idle.task.target.name for idle in idle_spans(problem, Plan())] == ["A"]


@pytest.mark.parametrize("seed", range(40))
def test_what_is_named_could_be_had(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where idle time is named the plan is below the optimum; a plan that is the best has none."""
    monkeypatch.setattr(idle_module, "LEAST_S", 0)
    problem = random_problem(seed + 3800, most_targets=3, time_limit_s=0.5)
    if not problem.slots:
        pytest.skip("nothing can be done on this night")
    best, plan = optimum(problem, rows=True), constructed(problem)
    first = Plan(plan.visits[:1])
    gained = [idle.task.profit * idle.frames for idle in idle_spans(problem, first)]
    assert profit_of(problem, first) + max(gained, default=0) <= best
    solution = solve(problem)
    if solution.profit == best:
        assert idle_spans(problem, solution.plan) == ()


def test_a_first_slew_comes_from_home() -> None:
    """The span before all visits begins with the first shutter that may open, not with the evening."""
    problem, plan = _gap_of(READY_S + 60)
    assert scheduled(problem, plan).visits[0].depart == 1000 - HOME_S
    assert idle_module._between(problem, scheduled(problem, plan).visits)[0] == (1000, 1000 - HOME_S)
