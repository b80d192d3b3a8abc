"""The first plan looks at the few slots that promise most and takes the one that a look at all would take."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from optimizer.packing.plan import Plan
from optimizer.packing.search import construct as module
from optimizer.packing.search.construct import constructed, following
from optimizer.packing.search.promises import promises_of
from optimizer.problem import Problem
from tests.support.packing_judge import broken_rules
from tests.support.packing_nights import Place, a_problem, goal, under_sky
from tests.support.packing_random import random_problem


def _by_looking_at_all(problem: Problem, *, heaviest_first: bool) -> Plan:
    plan = module._GrowingPlan.empty(problem)
    while True:
        offers = [
            (slot.target.weight if heaviest_first else 0.0, *offer)
            for slot in problem.slots
            if plan.may_visit(slot) and (offer := plan.fullest(slot))
        ]
        if not offers:
            return Plan(tuple(plan.visits))
        plan.append(max(offers, key=lambda offer: offer[:2])[2])


@pytest.mark.parametrize("seed", range(60))
@pytest.mark.parametrize("heaviest_first", [False, True])
def test_first_plan_is_that_of_a_look_at_all_slots(seed: int, heaviest_first: bool) -> None:
    problem = random_problem(seed + 3500, most_targets=4)
    if seed % 3 == 0:
        profits = np.random.default_rng(seed).integers(1, 60_000, 9000)
        problem = under_sky(random_problem(seed + 3500, most_targets=4, value="depth"), profits)
        tasks = tuple(task.__class__(**{**task.__dict__, "profit": 60_000}) for task in problem.tasks)
        problem = problem.__class__(**{**problem.__dict__, "tasks": tasks})
    expected = _by_looking_at_all(problem, heaviest_first=heaviest_first)
    assert constructed(problem, heaviest_first=heaviest_first) == expected


def test_most_slots_are_not_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a hundred targets one after the other a plan of some dozen visits looks at few."""
    names = [f"T{number:03}" for number in range(100)]
    places = [Place(name, (1000 + 200 * at, 2000 + 200 * at)) for at, name in enumerate(names)]
    problem = a_problem(places, {name: [goal(frames=3)] for name in names})
    looked: list[int] = []
    fullest = module._GrowingPlan.fullest

    def counting(*args: object) -> object:
        looked.append(1)
        return fullest(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(module._GrowingPlan, "fullest", counting)
    visits = len(constructed(problem))
    assert visits > 20
    assert len(looked) < 0.1 * visits * len(problem.slots)
    assert promises_of(problem) is promises_of(problem)


def test_a_built_plan_carries_a_focus_run_from_goal_to_goal() -> None:
    """Cadence of an hour, no focus run for a filter: one at arrival serves both goals."""
    problem = a_problem(
        [Place("A", (1000, 4000))],
        {"A": [goal("L", frames=4), goal("R", frames=4)]},
        focus={"every_min": 60, "on_filter_change": False},
    )
    runs = [run for visit in constructed(problem) for run in visit.runs]
    assert [run.focus_first for run in runs] == [True, False]


@pytest.mark.parametrize("seed", range(40))
def test_a_plan_along_a_draft_keeps_the_rules_whatever_the_draft_asks_for(seed: int) -> None:
    """Visits in any order, runs of any length that begin at any time: what fits is kept, the rest left out."""
    problem = random_problem(seed + 900, most_targets=4)
    rng = np.random.default_rng(seed)
    draft = Plan.of(
        replace(
            visit,
            slot=visit.slot - problem.slots[visit.slot].copy,
            runs=tuple(
                replace(run, segments=(int(rng.integers(1, 9)),), not_before=int(rng.integers(6000)))
                for run in visit.runs
            ),
        )
        for visit in rng.permutation(np.array(constructed(problem).visits, dtype=object)).tolist()
    )
    for fill in (False, True):
        assert broken_rules(problem, following(problem, draft, fill=fill)) == []
