"""A list beside the best plan: only lawful and wanted subs count, by the audit's own value."""

from __future__ import annotations

import pytest

from optimizer.audit import audit_shot_list, audit_steps
from optimizer.findings.compare import lawful_subs, value_of
from optimizer.models.shots import Step
from tests.support.hand_laid.mutations import changed
from tests.support.picture_cases import NIGHTS, stored
from tests.support.spoilt_lists import moved, without_flips


def subs_of(steps: tuple[Step, ...]) -> list[Step]:
    return [step for step in steps if step.kind == "expose"]


@pytest.mark.parametrize("night", NIGHTS)
def test_subs_of_a_plan_are_worth_what_its_proof_says(night: str) -> None:
    shots = stored(night)
    lawful = lawful_subs(shots.request, shots.steps, audit_shot_list(shots))
    assert list(lawful) == subs_of(shots.steps)
    assert value_of(shots.request, lawful, shots) == pytest.approx(shots.proof.objective, rel=1e-4)


def test_subs_in_danger_do_not_count() -> None:
    """Without its flips the list keeps its subs until the tube has come to its limit."""
    shots = stored("first-night")
    steps = without_flips(shots.steps)
    lawful = lawful_subs(shots.request, steps, audit_steps(shots.request, steps))
    assert 0 < len(lawful) < len(subs_of(shots.steps))
    behind = [step for step in subs_of(shots.steps) if step.target == "Hyades dust"][-1]
    assert behind.step not in {step.step for step in lawful}


def test_lost_subs_of_a_late_list_do_not_count() -> None:
    shots = stored("short-summer-night")
    steps = moved(shots.steps, 40)
    lawful = lawful_subs(shots.request, steps, audit_steps(shots.request, steps))
    assert len(lawful) == len(subs_of(shots.steps)) - 8


def test_subs_that_are_in_hand_by_now_do_not_count() -> None:
    """The request's `done` has moved since: of the goal no more than it lacks is worth anything."""
    shots = stored("short-summer-night")
    first = subs_of(shots.steps)[0]
    key, planned = first.goal_key, sum(step.goal_key == first.goal_key for step in shots.steps)
    place, number = next(
        (place, number)
        for place, target in enumerate(shots.request.targets)
        for number, goal in enumerate(target.goals)
        if (target.name, goal.filter, goal.exposure_s) == key[:3]
    )
    goal = shots.request.targets[place].goals[number]
    request = changed(shots.request, f"targets.{place}.goals.{number}.done", goal.frames - planned + 3)
    lawful = lawful_subs(request, shots.steps, audit_steps(request, shots.steps))
    assert sum(step.goal_key == key for step in lawful) == planned - 3
