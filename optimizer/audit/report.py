"""Are these steps within the rules, and are the figures of this list those of its steps?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from optimizer.audit.registry import (
    CONTINUED_RULE_NAMES,
    CONTINUED_RULES,
    LIST_RULE_NAMES,
    QUALITY_RULES,
    RULES,
    SEASON_RULE_NAMES,
    STEP_RULE_NAMES,
)
from optimizer.audit.rows import NO_TARGET, WEST
from optimizer.audit.rules.in_season import check_season
from optimizer.audit.rules.night_facts import check_night
from optimizer.audit.rules.proof import check_proof
from optimizer.audit.rules.totals import check_totals
from optimizer.audit.rules.values import check_values
from optimizer.audit.scene import Scene
from optimizer.audit.values import factors_of
from optimizer.audit.worth import worth_of
from optimizer.models.continues import Begin, Continues
from optimizer.models.request import Request
from optimizer.models.shots import AuditReport, ShotList, Step, Violation


def audit_steps(request: Request, steps: Sequence[Step], continues: Continues | None = None) -> AuditReport:
    """Check steps, planned or typed by hand, against every rule, from the request and the steps alone.

    The mount begins the night at home, or stands where `continues` says. Violations come in the order of the
    steps, those of the list as a whole last. Amounts carry their unit. What breaks no rule but falls short of
    the request stands in `quality`.
    `least_margin_min` is the least distance (minutes of hour angle) from the end of tracking on the first
    side to `contact_min`; None for a fork, where that side was not used, or where contact was never measured.
    Never raises, whatever the steps hold.
    """
    scene = Scene.of(request, steps, own_list=False, begins=_begins(continues))
    return report_of(scene, (), _of_steps(scene))


def audit_shot_list(shots: ShotList) -> AuditReport:
    """Check one of our own lists: its steps as in `audit_steps`, its totals, proof, night facts and values.

    Its exposures and flips must also carry their latest start. The audit report in the list is not looked at.
    """
    scene = Scene.of(shots.request, shots.steps, own_list=True, begins=_begins(shots.continues))
    worth = worth_of(scene, shots.totals, factors_of(shots))
    violations = [
        *_of_steps(scene),
        *check_totals(scene, shots.totals, shots.proof.objective, worth),
        *check_proof(scene, shots.proof, worth),
        *check_night(scene, shots.night),
        *check_values(scene, shots),
        *check_season(scene, shots),
    ]
    names = LIST_RULE_NAMES + (() if shots.season is None else SEASON_RULE_NAMES)
    return report_of(scene, names, violations)


def value_of(shots: ShotList, steps: Sequence[Step]) -> float:
    """Say what steps are worth in weighted seconds by the aim and the values of one of our own lists.

    They are steps of that list, perhaps fewer of them, at the times at which they really were or will be.
    """
    scene = Scene.of(shots.request, steps, own_list=True, begins=_begins(shots.continues))
    return worth_of(scene, shots.totals, factors_of(shots)).value_s


def _begins(continues: Continues | None) -> dict[int, Begin]:
    return {} if continues is None else {0: continues.begin}


def _of_steps(scene: Scene) -> list[Violation]:
    rules = RULES if scene.start is None else RULES + CONTINUED_RULES
    return [violation for rule in rules for violation in rule.check(scene)]


def report_of(scene: Scene, more: tuple[str, ...], violations: Iterable[Violation]) -> AuditReport:
    """The report on what the rules of steps found, and those whose names are given as `more`."""
    rules = STEP_RULE_NAMES + (() if scene.start is None else CONTINUED_RULE_NAMES) + more
    whole_list = len(scene.rows) + 1
    ordered = sorted(violations, key=lambda each: whole_list if each.step is None else each.step)
    quality = tuple(finding for rule in QUALITY_RULES for finding in rule.check(scene))
    return AuditReport(
        rules=rules,
        violations=tuple(ordered),
        quality=quality,
        least_margin_min=least_margin_min(scene),
    )


def least_margin_min(scene: Scene) -> float | None:
    """Minutes of hour angle between contact and the latest end of tracking on the first side."""
    ends = [
        (visit.target, visit.tracked_until)
        for visit in scene.replay.visits
        if visit.side == WEST and visit.target != NO_TARGET
    ]
    ends += [(span.target, span.end) for span in scene.stretched_view.spans if span.side == WEST]
    contact_min = scene.request.mount.contact_min
    if not scene.german or not ends or contact_min is None:
        return None
    target, second = np.array(ends, dtype=np.int64).T
    turn = scene.book.places(target, second).hour_angle_s
    turn = turn[~np.isnan(turn)]
    return round(contact_min - float(turn.max()) / 60, 4) if turn.size else None
