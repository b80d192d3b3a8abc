"""What is shown of a plan: a whole shot list, or bare steps with the request that they were made for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.models.continues import Continues
from optimizer.models.request import Request
from optimizer.models.season_tonight import InSeason
from optimizer.models.shots import (
    AuditReport,
    GoalTotal,
    GoalValue,
    Proof,
    ShotList,
    Step,
    TargetTotal,
    Unplanned,
    goal_total,
)


@dataclass(frozen=True)
class ShownPlan:
    """A plan as pictures and pages take it; None or nothing where bare steps do not say."""

    request: Request
    steps: tuple[Step, ...]
    goals: tuple[GoalTotal, ...]
    targets: tuple[TargetTotal, ...]
    open_shutter_s: float
    depth_s: float | None
    expected_s: float | None
    dark_s: int | None
    proof: Proof | None
    unplanned: tuple[Unplanned, ...]
    audit: AuditReport | None
    values: tuple[GoalValue, ...] = ()
    values_carried: bool = False
    continues: Continues | None = None
    season: InSeason | None = None


def shown_list(shots: ShotList) -> ShownPlan:
    """What is shown of a whole shot list."""
    return ShownPlan(
        request=shots.request,
        steps=shots.steps,
        goals=shots.totals.goals,
        targets=shots.totals.targets,
        open_shutter_s=shots.totals.open_shutter_s,
        depth_s=shots.totals.depth_s,
        expected_s=shots.totals.expected_s,
        dark_s=shots.totals.dark_s,
        proof=shots.proof,
        unplanned=shots.unplanned,
        audit=shots.audit,
        values=shots.values,
        values_carried=shots.values_carried,
        continues=shots.continues,
        season=shots.season,
    )


def shown_steps(request: Request, steps: Sequence[Step]) -> ShownPlan:
    """What is shown of bare steps, perhaps typed by hand: counted here, neither proven nor audited."""
    exposures = [step for step in steps if step.kind == "expose"]
    counted = Counter((step.target, step.filter, step.exposure_s) for step in exposures)
    goals = [
        goal_total(target.name, goal, counted[target.name, goal.filter, goal.exposure_s])
        for target, goal in request.goals()
    ]
    open_s = sum(step.exposure_s or 0.0 for step in exposures)
    return ShownPlan(request, tuple(steps), tuple(goals), (), open_s, None, None, None, None, (), None)
