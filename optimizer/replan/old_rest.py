"""What is still possible of an older list: the plan that a new one must not be worse than."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from optimizer.models.shots import ShotList, Step
from optimizer.packing.plan import Plan, Run, Visit
from optimizer.packing.schedule import (
    Act,
    ActKind,
    DoesNotFit,
    Schedule,
    ScheduledVisit,
    profit_of,
    profit_of_visits,
    scheduled,
)
from optimizer.packing.search.construct import following
from optimizer.problem import Problem, Slot
from optimizer.problem.tasks import Task
from optimizer.replan.rest import is_open, steps_left
from optimizer.replan.standing import ARRIVES, Standing, key_of
from optimizer.replan.told import Told
from optimizer.sky.clock import NightClock


@dataclass(frozen=True)
class OldRest:
    """The rest of an older list as a plan of the new night, with its seconds and its profit."""

    plan: Plan = field(default_factory=Plan)
    schedule: Schedule = field(default_factory=Schedule)
    profit: int = 0


def old_rest(problem: Problem, clock: NightClock, older: ShotList, standing: Standing, told: Told) -> OldRest:
    """Find the most that going on with the older list can still give.

    Where the list goes on just as it was planned, its own steps count, to the second. Else its subs that may
    still be taken are laid out anew in their order, each visit with as many of them as fit.
    """
    left = steps_left(older, standing)
    visits = [visit for visit in _visits(problem, clock, left, standing, told) if visit.subs]
    exact = Plan.of(Visit(visit.slot.index, visit.runs()) for visit in visits)
    found = [OldRest()]
    try:
        found.append(OldRest(exact, scheduled(problem, exact), profit_of(problem, exact)))
    except DoesNotFit:
        along = following(problem, exact, fill=False)
        found.append(OldRest(along, scheduled(problem, along), profit_of(problem, along)))
    if _goes_on(older, left, visits, standing):
        literal = tuple(visit.laid(clock) for visit in visits)
        found.append(OldRest(exact, Schedule(literal), profit_of_visits(problem, literal)))
    return max(found, key=lambda each: each.profit)


@dataclass
class _OldVisit:
    """A visit of the older list in the slot of the new night that it lies in; `subs` with their tasks."""

    slot: Slot
    steps: list[Step] = field(default_factory=list)
    subs: list[tuple[Step, Task, int]] = field(default_factory=list)  # with the second of opening

    def runs(self) -> tuple[Run, ...]:
        """Its subs as runs; each begins no sooner than it was planned."""
        runs: list[Run] = []
        focused = False
        subs = {step.step: (task, opens) for step, task, opens in self.subs}
        for step in self.steps:
            focused = focused or step.kind == "focus"
            if step.step not in subs:
                continue
            task, opens = subs[step.step]
            if not runs or runs[-1].task != task.index:
                span = next(each for each in self.slot.shutter[task.index] if _holds(each, opens, task))
                runs.append(Run(task.index, (1,), span, focused, opens))
            elif focused:
                runs[-1] = replace(runs[-1], segments=(*runs[-1].segments, 1))
            else:
                runs[-1] = replace(runs[-1], segments=_one_more(runs[-1].segments))
            focused = False
        return tuple(runs)

    def laid(self, clock: NightClock) -> ScheduledVisit:
        """Its steps as they stand in the older list."""
        tasks = {step.step: task for step, task, _ in self.subs}
        acts, after = list[Act](), None
        for step in reversed(self.steps):
            task = tasks.get(step.step)
            after = task or after
            belongs = after if step.kind in ("filter", "focus", "dither", "expose") else None
            ends_by = self.slot.work[1]
            start, end = (round(clock.seconds(each)) for each in (step.start_utc, step.end_utc))
            if task is not None:
                ends_by = next(e for e in self.slot.shutter[task.index] if _holds(e, start, task))[1]
            kind: ActKind = step.kind  # type: ignore[assignment]
            acts.append(Act(kind, start, end, ends_by, None if belongs is None else belongs.index))
        return ScheduledVisit(self.slot, tuple(reversed(acts)))


def _one_more(segments: tuple[int, ...]) -> tuple[int, ...]:
    return (*segments[:-1], segments[-1] + 1)


def _holds(span: tuple[int, int], opens: int, task: Task) -> bool:
    return span[0] <= opens and opens + task.shutter_s <= span[1]


def _visits(
    problem: Problem, clock: NightClock, left: Sequence[Step], standing: Standing, told: Told
) -> Iterator[_OldVisit]:
    """The visits that are left, each in a slot; subs that may not be taken, or that no slot holds, fall out.

    The visit under way goes on only where its target is acquired. Of a visit that a closed sky cuts in two,
    what comes after that would need a slew that the older list does not have.
    """
    tasks = {_task_key(task): task for task in reversed(problem.tasks)}
    used: set[int] = set()
    for steps in _by_visit(left):
        arrives = steps[0].kind in ARRIVES
        if not arrives and not (standing.as_listed and standing.begin.acquired):
            continue
        visit: _OldVisit | None = None
        for step in steps:
            if step.kind != "expose" or not is_open(step, told):
                continue
            task, opens = tasks.get(key_of(step)), round(clock.seconds(step.start_utc))
            if task is None:
                continue
            if visit is None:
                slot = _slot_for(problem, step, task, opens, used, stays=not arrives)
                visit = None if slot is None else _OldVisit(slot, list(steps))
            if visit is not None and any(
                _holds(span, opens, task) for span in visit.slot.shutter.get(task.index, ())
            ):
                visit.subs.append((step, task, opens))
        if visit is not None:
            used.add(visit.slot.index)
            yield visit


def _by_visit(left: Sequence[Step]) -> Iterator[list[Step]]:
    """Steps of each visit; the waits between them are left out."""
    steps: list[Step] = []
    for step in left:
        if step.kind in ARRIVES:
            if steps:
                yield _without_end_wait(steps)
            steps = [step]
        elif step.tracking:
            steps.append(step)
    if steps:
        yield _without_end_wait(steps)


def _without_end_wait(steps: list[Step]) -> list[Step]:
    return steps[:-1] if steps[-1].kind == "wait" and len(steps) > 1 else steps


def _slot_for(
    problem: Problem, step: Step, task: Task, opens: int, used: set[int], *, stays: bool
) -> Slot | None:
    for slot in problem.slots_by_target.get(step.target or "", ()):
        fits = slot.side == step.pier_side and slot.index not in used
        fits = fits and (not stays or problem.start.stays_in(slot))
        if fits and any(_holds(span, opens, task) for span in slot.shutter.get(task.index, ())):
            return slot
    return None


def _task_key(task: Task) -> tuple[str, str, float, int | None, int | None, int]:
    goal = task.goal
    return task.target.name, goal.filter, goal.exposure_s, goal.gain, goal.offset, goal.binning


def _goes_on(older: ShotList, left: Sequence[Step], visits: Sequence[_OldVisit], standing: Standing) -> bool:
    """Whether the older list goes on just as planned: in time, and no sub of it falls out."""
    planned = [step.step for step in left if step.kind == "expose"]
    kept = [step.step for visit in visits for step, _, _ in visit.subs]
    if not standing.as_listed or planned != kept or not left:
        return False
    first = left[0]
    in_time = first.start_utc == standing.begin.utc or (
        first.kind == "wait" and first.start_utc <= standing.begin.utc <= first.end_utc
    )
    begins = visits[0].steps[0] if visits else None
    return in_time and (begins is None or begins.start_utc >= standing.begin.utc or begins.kind != "wait")
