"""What is still possible of an older list: the plan that a new one must not be worse than."""

from __future__ import annotations

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


def old_rest(problem: Problem, clock: NightClock, older: ShotList, standing: Standing, told: Told) -> OldRest:
    """Find the most that going on with the older list can still give.

    Where the list goes on just as it was planned, its own steps count, to the second. Else its subs that may
    still be taken are laid out anew in their order, each visit with as many of them as fit. The visit under
    way goes on only where its target is acquired.
    """
    visits = [
        visit
        for visit in _by_visit(steps_left(older, standing))
        if visit[0].kind in ARRIVES or (standing.as_listed and standing.begin.acquired)
    ]
    possible = [step for visit in visits for step in visit if step.kind != "expose" or is_open(step, told)]
    steps = OlderSteps(tuple(possible), clock.seconds)
    as_planned, late = steps.drafts_in(problem)
    found = [OldRest()]
    for plan in steps.plans_in(problem) or [following(problem, late, fill=False)]:
        frames = _frames(plan) & _frames(late)
        found.append(OldRest(plan, scheduled(problem, plan), profit_of(problem, plan), frames))
    if _goes_on(standing, visits) and _matches(as_planned, visits):
        literal = tuple(_laid(problem, clock, *each) for each in zip(as_planned.visits, visits, strict=True))
        profit = profit_of_visits(problem, literal)
        found.append(OldRest(as_planned, Schedule(literal), profit, _frames(as_planned)))
    return max(found, key=lambda each: each.profit)


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


def _goes_on(standing: Standing, visits: Sequence[Sequence[Step]]) -> bool:
    """Whether the older list is not late: its next step begins now, or there is time until then."""
    return standing.as_listed and bool(visits) and visits[0][0].start_utc >= standing.begin.utc


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
