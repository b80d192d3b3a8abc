"""What a change of the request may do to a plan, and what it may not."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from optimizer.models.shots import ShotList
from tests.support.property_plans import plan_of
from tests.support.scenarios.nights import random_night
from tests.support.scenarios.small import small_night
from tests.support.speeds import deep, sampled


@pytest.mark.parametrize("seed", range(500, 540))
def test_nothing_wanted_any_more_is_an_empty_plan(seed: int, tmp_path: Path) -> None:
    night = random_night(seed)
    for target in night["targets"]:
        for goal in target["goals"]:
            goal["done"] = goal["frames"]
    shots = plan_of(night, tmp_path)
    assert shots.steps == ()
    assert shots.audit_report.violations == ()
    assert (shots.proof.status, shots.proof.objective, shots.proof.bound) == ("optimal", 0, 0)
    assert [goal.frames_left for goal in shots.totals.goals] == [0] * len(shots.totals.goals)
    assert shots.unplanned == ()


@deep
def test_a_lower_floor_never_makes_a_proven_plan_worse(tmp_path: Path) -> None:
    pairs = [_floors(seed, tmp_path) for seed in range(1000, 1060)]
    proven = [(high, low) for high, low in pairs if high.proof.status == low.proof.status == "optimal"]
    worse = [(high.proof, low.proof) for high, low in proven if low.proof.objective < high.proof.objective]
    assert not worse
    assert len(proven) > 50
    assert sum(low.proof.objective > high.proof.objective for high, low in proven) > 10


def _floors(seed: int, folder: Path) -> tuple[ShotList, ShotList]:
    """A small night under a high floor and under a low one."""
    plans = []
    for floor_deg in (45, 10):
        night = small_night(seed)
        night["site"]["floor_deg"] = floor_deg
        for target in night["targets"]:
            target.pop("floor_deg", None)
        plans.append(plan_of(night, folder))
    return plans[0], plans[1]


@pytest.mark.parametrize("seed", sampled(range(600, 606), quick=2))
def test_one_worker_and_a_seed_give_the_same_plan_again(seed: int, tmp_path: Path) -> None:
    first, again = (_timeless(plan_of(random_night(seed), tmp_path)) for _ in range(2))
    assert first == again


def _timeless(shots: ShotList) -> dict[str, Any]:
    """All but when it was made and how long that took."""
    data = shots.model_dump(exclude={"created_utc"})
    data["proof"].pop("seconds")
    return data


@pytest.mark.parametrize("seed", sampled(range(620, 626), quick=2))
def test_order_of_the_targets_in_the_file_changes_no_step(seed: int, tmp_path: Path) -> None:
    night = random_night(seed)
    first = plan_of(night, tmp_path)
    turned = plan_of(night | {"targets": night["targets"][::-1]}, tmp_path)
    assert turned.steps == first.steps
    assert [goal.target for goal in turned.totals.goals] == [
        goal.target
        for target in turned.request.targets
        for goal in first.totals.goals
        if goal.target == target.name
    ]
