"""What is still possible of an older list: the plan that a new one must not be worse than."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import cast

from optimizer.models.shots import ShotList, Step
from optimizer.packing.older_steps import OlderSteps
from optimizer.packing.plan import Plan, Visit
from optimizer.packing.schedule import (
    Act,
    ActKind,
    Schedule,
    ScheduledVisit,
    profit_of,
    profit_of_visits,
    scheduled,
)
from optimizer.packing.search.construct import following
from optimizer.problem import Problem
from optimizer.replan.rest import is_open, steps_left
from optimizer.replan.standing import ARRIVES, Standing
from optimizer.replan.told import Told
from optimizer.sky.clock import NightClock

OF_A_GOAL = ("filter", "focus", "dither", "expose")


@dataclass(frozen=True)
class OldRest:
    """The rest of an older list as a plan of the new night: its seconds, its profit, its frames by task."""

    plan: Plan = field(default_factory=Plan)
    schedule: Schedule = field(default_factory=Schedule)
    profit: int = 0
    frames: Counter[int] = field(default_factory=Counter)


def old_rests(
    problem: Problem, clock: NightClock, older: ShotList, standing: Standing, told: Told
) -> list[OldRest]:
    """What going on with the older list can still give, in several ways, the one of greatest value first.

    Its steps as they stand count, late as they now are: that may keep other seconds than a plan has that is
    laid out anew, and only an audit tells whether it is lawful. Its subs that may still be taken are also
    laid out anew in their order, each visit with as many of them as fit. The visit under way goes on only
    where its target is acquired.
    """
    visits = [
        visit
        for visit in _by_visit(steps_left(older, standing))
        if visit[0].kind in ARRIVES or (standing.as_listed and standing.begin.acquired)
    ]
    visits = [[step for step in visit if step.kind != "expose" or is_open(step, told)] for visit in visits]
    steps = OlderSteps(tuple(step for visit in visits for step in visit), clock.seconds)
    _, late = steps.drafts_in(problem)
    found = [OldRest()]
    for plan in steps.plans_in(problem) or [following(problem, late, fill=False)]:
        frames = _frames(plan) & _frames(late)
        found.append(OldRest(plan, scheduled(problem, plan), profit_of(problem, plan), frames))
    moved = _moved(visits, standing.begin.utc) if standing.as_listed else []
    as_moved, _ = OlderSteps(tuple(step for visit in moved for step in visit), clock.seconds).drafts_in(
        problem
    )
    if moved and _matches(as_moved, moved):
        literal = tuple(_laid(problem, clock, *each) for each in zip(as_moved.visits, moved, strict=True))
        profit = profit_of_visits(problem, literal)
        found.append(OldRest(as_moved, Schedule(literal), profit, _frames(as_moved)))
    return sorted(found, key=lambda each: -each.profit)


def _frames(plan: Plan) -> Counter[int]:
    frames: Counter[int] = Counter()
    for visit in plan:
        for run in visit.runs:
            frames[run.task] += run.frames
    return frames


def _by_visit(left: Sequence[Step]) -> list[list[Step]]:
    """Steps of each visit that has a sub; waits between visits are left out."""
    visits: list[list[Step]] = [[]]
    for step in left:
        if step.kind in ARRIVES:
            visits.append([])
        if step.tracking:
            visits[-1].append(step)
    for visit in visits:
        while visit and visit[-1].kind == "wait":
            visit.pop()
    return [visit for visit in visits if any(step.kind == "expose" for step in visit)]


def _moved(visits: Sequence[Sequence[Step]], at: dt.datetime) -> list[list[Step]]:
    """The steps as late as they are if the list goes on at an instant; waits make up for it.

    Subs that come too late are skipped, with the dithers beside them. Empty where a visit is lost as a whole.
    """
    moved: list[list[Step]] = []
    for visit in visits:
        moved.append([])
        for step in visit:
            starts, latest = max(step.start_utc, at), step.latest_start_utc
            if latest is not None and starts > latest:
                if step.kind == "expose":
                    continue
                if step.kind in ARRIVES:
                    return []
            waits = step.kind == "wait"
            ends = max(step.end_utc, starts) if waits else starts + (step.end_utc - step.start_utc)
            if ends > starts or not waits:
                moved[-1].append(step.model_copy(update={"start_utc": starts, "end_utc": ends}))
                at = ends
        last = max((place for place, step in enumerate(moved[-1]) if step.kind == "expose"), default=None)
        if last is None:
            return []
        del moved[-1][last + 1 :]
    return moved


def _matches(plan: Plan, visits: Sequence[Sequence[Step]]) -> bool:
    """Whether a plan has all subs of these visits, and no visit is cut in two."""
    subs = [sum(step.kind == "expose" for step in visit) for visit in visits]
    return subs == [sum(run.frames for run in visit.runs) for visit in plan]


def _laid(problem: Problem, clock: NightClock, visit: Visit, steps: Sequence[Step]) -> ScheduledVisit:
    """The steps of a visit as they stand in the older list, in the new night's slot."""
    return ScheduledVisit(problem.slots[visit.slot], tuple(_acts(problem, clock, visit, steps)))


def _acts(problem: Problem, clock: NightClock, visit: Visit, steps: Sequence[Step]) -> Iterator[Act]:
    work_ends, frame = problem.slots[visit.slot].work[1], 0
    runs = [run for run in visit.runs for _ in range(run.frames)]
    for step in steps:
        start, end = (round(clock.seconds(each)) for each in (step.start_utc, step.end_utc))
        run = runs[min(frame, len(runs) - 1)]
        is_sub = step.kind == "expose"
        yield Act(
            cast(ActKind, step.kind),
            start,
            end,
            run.span[1] if is_sub else work_ends,
            run.task if step.kind in OF_A_GOAL else None,
        )
        frame += is_sub
