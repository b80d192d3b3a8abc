"""Plans of nights laid out as steps, audited, and told: frames by goal, visits one after the other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from optimizer.audit import audit_steps
from optimizer.models.season import GoalFrames, SeasonVisit
from optimizer.packing.schedule import Schedule
from optimizer.problem import Problem
from optimizer.season.desk import Desk, NightRef
from optimizer.season.planned import NightPlan, schedule_of
from optimizer.season.prepared import sky_of
from optimizer.sky.clock import NightClock
from optimizer.timeline.steps import build_steps


@dataclass(frozen=True)
class TellablePlan:
    """A night's plan as it is told; without a plan both are empty."""

    frames: tuple[GoalFrames, ...] = ()
    visits: tuple[SeasonVisit, ...] = ()


def laid_out(desk: Desk, ref: NightRef, plan: NightPlan) -> tuple[tuple[str, ...], TellablePlan]:
    """Lay a plan out as steps and audit them: the names of the rules that are broken, and the plan told.

    No name if all is well. A job.
    """
    of_night, sky, windows = sky_of(desk.rigs[ref.rig].request, ref.evening)
    night = desk.night(ref)
    schedule = schedule_of(night.problem, plan)
    steps = build_steps(of_night, sky, windows, night.problem, schedule.visits)
    broken = {each.rule for each in audit_steps(of_night, steps).violations}
    return tuple(sorted(broken)), tellable(night.problem, plan, schedule, night.clock)


def tellable(problem: Problem, plan: NightPlan, schedule: Schedule, clock: NightClock) -> TellablePlan:
    """Tell a plan of a night, whose acts the schedule has."""
    frames = _frames(problem, dict(enumerate(plan.frames)), plan.gathered)
    return TellablePlan(tuple(frames), tuple(_visits(problem, schedule, clock)))


def _frames(problem: Problem, frames: Mapping[int, int], gathered: Sequence[int] = ()) -> list[GoalFrames]:
    """The frames of some tasks, those without any left out; `gathered` is their profit by task, if told."""
    return [
        GoalFrames(
            target=problem.tasks[task].target.name,
            filter=problem.tasks[task].goal.filter,
            exposure_s=problem.tasks[task].goal.exposure_s,
            gain=problem.tasks[task].goal.gain,
            offset=problem.tasks[task].goal.offset,
            binning=problem.tasks[task].goal.binning,
            frames=count,
            counted_s=problem.weighted_seconds(gathered[task]) if gathered else None,
        )
        for task, count in frames.items()
        if count
    ]


def _visits(problem: Problem, schedule: Schedule, clock: NightClock) -> list[SeasonVisit]:
    visits = []
    for visit in schedule.visits:
        frames: dict[int, int] = {}
        for task, _ in visit.exposures:
            frames[task] = frames.get(task, 0) + 1
        visits.append(
            SeasonVisit(
                target=visit.slot.target.name,
                pier_side=visit.slot.side,
                start_utc=clock.utc(visit.depart),
                end_utc=clock.utc(visit.free),
                frames=tuple(_frames(problem, frames)),
            )
        )
    return visits
