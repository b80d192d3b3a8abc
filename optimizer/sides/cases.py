"""One night as it stands where one target keeps to one choice: before its transit, after it, or across it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal, NamedTuple

import numpy as np
from ortools.sat.python import cp_model

from optimizer.models.request import Request
from optimizer.models.rig import SIDES
from optimizer.models.targets import Target
from optimizer.mount.zones import HALF_TURN_S, SIDEREAL_RATE
from optimizer.packing.model.search import Wish
from optimizer.packing.model.variables import NightVars, RunVars
from optimizer.packing.plan import Plan, draft
from optimizer.packing.schedule import DoesNotFit, ScheduledVisit, profit_of, profit_of_visits, scheduled
from optimizer.problem import Problem, Slot, only_slots, only_tasks, with_sides_of, without_slack
from optimizer.problem.transitions import may_follow
from optimizer.sky.bodies import NightSky
from optimizer.sky.moonlight import moonlight_mag
from optimizer.sky.windows import SkyWindows
from optimizer.timeline.totals import depth_s, expected_s

SideChoice = Literal["before", "after", "across"]
CHOICES: tuple[SideChoice, ...] = ("before", "after", "across")


@dataclass(frozen=True)
class Outcome:
    """What a plan under one choice gives: to the target, and in all.

    Values are weighted seconds, what filter sets come forward included, and means are over the target's
    exposures. `target_depth_s` has the seconds under a dark zenith that its exposures equal; None where the
    aim does not ask for depth. `target_expected_s` has its open shutter by the odds of clear sky; None where
    none are given.
    """

    target_open_s: float
    target_value: float
    target_depth_s: float | None
    open_s: float
    value: float
    flips: int
    mean_altitude_deg: float | None
    mean_moonlight_mag: float | None
    target_expected_s: float | None = None


class Exposure(NamedTuple):
    """One exposure of a plan: its slot (a window's first copy), its task, and the second when it opens."""

    slot: int
    task: int
    opens: int


class Case:
    """A night as an integer problem, with the sky under which all cases are judged."""

    def __init__(self, request: Request, sky: NightSky, windows: SkyWindows, problem: Problem) -> None:
        """Hold a night together; `problem` is of this request and this sky."""
        self.request, self.sky, self.windows, self.problem = request, sky, windows, problem

    def sides_of(self, target: Target) -> str:
        """Look up the `sides` that the request allows a target."""
        return next(each.sides for each in self.request.targets if each.name == target.name)

    def under(self, target: Target, choice: SideChoice) -> Case:
        """Replace one target's wish; the others keep theirs."""
        wish = "either" if choice == "across" else choice
        changed = target.model_copy(update={"sides": wish})
        return self._with(with_sides_of(self.problem, self.request, self.windows, changed))

    def without_slack(self) -> Case:
        """Ask for no slack: what is impossible even so is impossible tonight."""
        if not self.request.aim.slack_s:
            return self
        loose = without_slack(self.problem, self.request, self.windows)
        return Case(self.request.with_aim(slack_s=0), self.sky, self.windows, loose)

    def _with(self, problem: Problem) -> Case:
        return Case(self.request, self.sky, self.windows, problem)

    def only(self, target: Target) -> Case:
        """Leave this target alone in the night."""
        wanted = {task.index for task in self.problem.tasks if task.target.name == target.name}
        return self._with(only_tasks(self.problem, wanted))

    def near(self, plans: Sequence[Plan], target: Target) -> Case:
        """Leave only the windows that some plans use, and those of the target."""
        used = {visit.slot for plan in plans for visit in plan}

        def wanted(slot: Slot) -> bool:
            first_of_used = slot.copy == 0 and slot.index + 1 in used
            return slot.target.name == target.name or slot.index in used or first_of_used

        return self._with(only_slots(self.problem, wanted))

    def translated(self, other: Case, plan: Plan, *, waits: bool = False) -> Plan:
        """Tell another case's plan in this case's slots, as far as they exist; empty where it does not fit.

        With `waits`, visits that wait for their target to rise still do.
        """
        plan = plan if waits else plan.without_waiting()
        here = {_key(slot): slot.index for slot in self.problem.slots}
        moved = {slot.index: here[_key(slot)] for slot in other.problem.slots if _key(slot) in here}
        here_too = Plan.of(replace(visit, slot=moved[visit.slot]) for visit in plan if visit.slot in moved)
        for visit in here_too:
            shutter = self.problem.slots[visit.slot].shutter
            if any(run.span not in shutter.get(run.task, ()) for run in visit.runs):
                return Plan()
        visited = [self.problem.slots[visit.slot] for visit in here_too]
        if not all(may_follow(self.problem, before, after) for before, after in pairwise(visited)):
            return Plan()  # what lay between them is gone, and no flip leads from one to the other
        try:
            scheduled(self.problem, here_too)
        except DoesNotFit:
            return Plan()
        return here_too

    def exposures_here(self, other: Case, visits: Sequence[ScheduledVisit]) -> list[Exposure]:
        """Tell exposures of another case's plan in this case's slots; those without a slot here fall out."""
        here = {_key(slot): slot.index for slot in self.problem.slots}
        exposures = []
        for visit in visits:
            slot = here.get(_key(visit.slot, copy=0))
            if slot is not None:
                shutter = self.problem.slots[slot].shutter
                exposures += [
                    Exposure(slot, task, opens) for task, opens in visit.exposures if task in shutter
                ]
        return exposures

    def does(self, plan: Plan, target: Target) -> SideChoice | None:
        """Tell what a plan does with a target; None where it leaves it out."""
        visits = tuple(
            visit for visit in scheduled(self.problem, plan) if visit.slot.target.name == target.name
        )
        if not visits:
            return None
        if self.problem.rules.flips:
            sides = {visit.slot.side for visit in visits}
        else:
            hour_angles = self.windows[target.name].track.hour_angle_s(_middles(visits))
            sides = {"west" if float(hour_angle) < 0 else "east" for hour_angle in hour_angles}
        if len(sides) > 1:
            return "across"
        return "before" if sides == {"west"} else "after"

    def wish(self, target: Target, choice: SideChoice) -> Wish:
        """Ask that the target is shot, for `across` on both sides of its transit."""
        flips = self.problem.rules.flips

        def add(model: cp_model.CpModel, night: NightVars) -> None:
            visits = [visit for visit in night.visits.values() if visit.slot.target.name == target.name]
            if choice != "across":
                model.add_bool_or([visit.present for visit in visits])
            elif flips:
                for side in SIDES:
                    model.add_bool_or([visit.present for visit in visits if visit.slot.side == side])
            else:
                for after in (False, True):
                    model.add_bool_or(
                        [
                            _in_half(model, run, transit, after=after)
                            for visit in visits
                            for run in visit.runs.values()
                            for transit in visit.slot.transits_s()
                        ]
                    )

        return add

    def outcome(self, plan: Plan, target: Target) -> Outcome:
        """Judge what a plan gives, in all and to one target."""
        problem, schedule = self.problem, scheduled(self.problem, plan)
        mine = tuple(visit for visit in schedule if visit.slot.target.name == target.name)
        times = _middles(mine)
        track = self.windows[target.name].track
        seconds = dict.fromkeys((task.target.name for task in problem.tasks), 0.0)
        for visit in plan:
            for run in visit.runs:
                task = problem.tasks[run.task]
                seconds[task.target.name] += run.frames * task.goal.exposure_s
        return Outcome(
            target_open_s=seconds[target.name],
            target_value=problem.weighted_seconds(profit_of_visits(problem, mine)),
            target_depth_s=depth_s(problem, self.windows, mine) if self.windows.by_depth else None,
            target_expected_s=expected_s(problem, self.windows, mine) if self.windows.odds else None,
            open_s=sum(seconds.values()),
            value=problem.weighted_seconds(profit_of(problem, plan)),
            flips=sum(visit.acts[0].kind == "flip" for visit in schedule),
            mean_altitude_deg=float(np.mean(track.altitude_deg(times))) if times.size else None,
            mean_moonlight_mag=(
                float(np.mean(moonlight_mag(track, self.sky.moon, times))) if times.size else None
            ),
        )


def draft_of(problem: Problem, exposures: Sequence[Exposure]) -> Plan:
    """Make a draft of a plan from exposures in the order in which they are to be made."""
    runs: list[tuple[int, int, int, int, int]] = []
    for slot, task, opens in exposures:
        if runs and runs[-1][:2] == (slot, task):
            *_, frames, begins = runs[-1]
            runs[-1] = (slot, task, 0, frames + 1, begins)
        else:
            runs.append((slot, task, 0, 1, opens))
    return draft(runs, problem)


def _key(slot: Slot, copy: int | None = None) -> tuple[str, str | None, tuple[int, int], int]:
    return slot.target.name, slot.side, slot.work, slot.copy if copy is None else copy


def _middles(visits: Sequence[ScheduledVisit]) -> np.ndarray:
    """Middles of the exposures of visits, in seconds after the night's origin."""
    return np.array(
        [(act.start + act.end) / 2 for visit in visits for act in visit.acts if act.kind == "expose"]
    )


def _in_half(model: cp_model.CpModel, run: RunVars, transit: int, *, after: bool) -> cp_model.IntVar:
    """The middle of the run's first exposure lies before the transit, or of its last exposure after it."""
    literal, half_turn = model.new_bool_var(""), int(HALF_TURN_S / SIDEREAL_RATE)
    opens = run.close - run.task.shutter_s if after else run.start
    twice_later = 2 * opens + run.task.shutter_s - 2 * transit
    low, high = (0, 2 * half_turn) if after else (-2 * half_turn, -1)
    model.add_implication(literal, run.present)
    model.add_linear_constraint(twice_later, low, high).only_enforce_if(literal)
    return literal
