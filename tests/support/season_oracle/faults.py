"""What is wrong with a season as it was planned, by the oracle, by the law of what is left, by another judge."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from typing import Any
from unittest.mock import patch

from optimizer.audit import audit_steps
from optimizer.models.base import as_json_data
from optimizer.models.season import SeasonFile
from optimizer.season import laid as room
from optimizer.sky.bodies import night_sky
from optimizer.sky.facts import night_facts
from tests.support.recheck.judge import judge
from tests.support.season_oracle.judge import TinySeason

THOUSANDTH = 1e-3


def frames_of(season: TinySeason, file: SeasonFile, number: int) -> tuple[int, ...]:
    """Frames of a night's plan in the order of the law's goals."""
    own: Counter[tuple[str, str, float]] = Counter()
    for each in file.nights[number].plan:
        own[each.target, each.filter, each.exposure_s] += each.frames
    return tuple(
        own.pop((target.name, goal.filter, goal.exposure_s), 0)
        for target in sorted(season.request.targets, key=lambda each: each.name)
        for goal in target.goals
    )


def faults_of(season: TinySeason, file: SeasonFile) -> list[str]:
    """What in a season's file cannot be, by the oracle and by the law of what is left."""
    law, proof, faults = season.law, file.proof, []
    plans = [frames_of(season, file, number) for number in range(len(file.nights))]
    for number, (night, frames) in enumerate(zip(file.nights, plans, strict=True)):
        if frames not in {column.frames for column in season.columns[number]}:
            faults.append(f"night {number}: no plan takes {frames}")
        in_visits = sum(each.frames for visit in night.visits for each in visit.frames)
        if in_visits != sum(frames):
            faults.append(f"night {number}: {in_visits} frames in visits, {sum(frames)} in the plan")
        ends = [(visit.start_utc, visit.end_utc) for visit in night.visits]
        if any(start >= end for start, end in ends) or any(
            before[1] > after[0] for before, after in itertools.pairwise(ends)
        ):
            faults.append(f"night {number}: visits overlap")
    for goal, left in enumerate(law.left):
        by_odds = sum((p * frames[goal] for p, frames in zip(season.odds, plans, strict=True)), Fraction())
        if by_odds > left or any(frames[goal] > left for frames in plans):
            faults.append(f"goal {goal}: {by_odds} by odds where {left} are left")
    if proof.by == "hours":
        own_s = [wanted / goal.frames for wanted, goal in zip(law.wanted_s, _goals(season), strict=True)]
        gathered = [
            each * sum((p * frames[goal] for p, frames in zip(season.odds, plans, strict=True)), Fraction())
            for goal, each in enumerate(own_s)
        ]
        value = math.floor(law.value_s(gathered) * 1000) / 1000
        if value != proof.value:
            faults.append(f"worth {value}, told {proof.value}")
    if proof.value > season.most_s * (1 + 1e-9) + 1e-6:
        faults.append(f"value {proof.value} above {season.most_s}")
    if proof.bound < float(season.least_s):
        faults.append(f"bound {proof.bound} below {float(season.least_s)}")
    if proof.gap <= 0 and proof.value < float(season.least_s) - 1.1 * THOUSANDTH:
        faults.append(f"proven best {proof.value} below {float(season.least_s)}")
    return faults


def _goals(season: TinySeason) -> list[Any]:
    targets = sorted(season.request.targets, key=lambda each: each.name)
    return [goal for target in targets for goal in target.goals]


@contextmanager
def steps_laid() -> Iterator[list[tuple[Any, Any]]]:
    """The requests and steps of all nights that are laid out meanwhile in this process."""
    laid: list[tuple[Any, Any]] = []

    def seen(request: Any, steps: Any) -> Any:
        laid.append((request, steps))
        return audit_steps(request, steps)

    with patch.object(room, "audit_steps", seen):
        yield laid


def broken_by(laid: list[tuple[Any, Any]]) -> list[Any]:
    """What of these nights the third judge finds broken, with a sky and code of its own."""
    return [each for request, steps in laid for each in judge(_written(request, steps))]


def _written(request: Any, steps: Any) -> dict[str, Any]:
    return {
        "request": as_json_data(request),
        "night": {"ut1_utc_s": night_facts(request, night_sky(request)).ut1_utc_s},
        "steps": [as_json_data(step) for step in steps],
    }
