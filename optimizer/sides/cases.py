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
from optimizer.packing.schedule import DoesNotFit, ScheduledVisit, profit_of, scheduled
from optimizer.problem import Problem, Slot, only_slots, only_tasks, with_sides_of
from optimizer.problem.transitions import may_follow
from optimizer.sky.bodies import NightSky
from optimizer.sky.moonlight import moonlight_mag
from optimizer.sky.windows import SkyWindows

SideChoice = Literal["before", "after", "across"]
CHOICES: tuple[SideChoice, ...] = ("before", "after", "across")


@dataclass(frozen=True)
class Outcome:
    """What a plan under one choice gives: to the target, and in all.

    Values in weighted seconds; `target_depth_s`: what its exposures are worth under a dark zenith, where that
    is what counts. Means over the target's exposures.
    """

    target_open_s: float
    target_value: float
    target_depth_s: float | None
    open_s: float
    value: float
    flips: int
    mean_altitude_deg: float | None
    mean_moonlight_mag: float | None


class Exposure(NamedTuple):
    """One exposure of a plan: in which slot (a window's first copy), of which task, from which second."""

    slot: int
    task: int
    opens: int


class Case:
    """A night as an integer problem, with the sky under which all cases are judged."""

    def __init__(self, request: Request, sky: NightSky, windows: SkyWindows, problem: Problem) -> None:
        """`problem` is of this request and this sky."""
        self.request, self.sky, self.windows, self.problem = request, sky, windows, problem

    def sides_of(self, target: Target) -> str:
        """Return the `sides` that the request allows a target."""
        return next(each.sides for each in self.request.targets if each.name == target.name)

    def under(self, target: Target, choice: SideChoice) -> Case:
        """The same night with one target's wish replaced; the others keep theirs."""
        wish = "either" if choice == "across" else choice
        changed = target.model_copy(update={"sides": wish})
        return self._with(with_sides_of(self.problem, self.request, self.windows, changed))

    def _with(self, problem: Problem) -> Case:
        return Case(self.request, self.sky, self.windows, problem)

    def only(self, target: Target) -> Case:
        """The same night with this target alone."""
        wanted = {task.index for task in self.problem.tasks if task.target.name == target.name}
        return self._with(only_tasks(self.problem, wanted))

    def near(self, plans: Sequence[Plan], target: Target) -> Case:
        """The same night with the windows that some plans use and those of the target alone."""
        used = {visit.slot for plan in plans for visit in plan}

        def wanted(slot: Slot) -> bool:
            first_of_used = slot.copy == 0 and slot.index + 1 in used
            return slot.target.name == target.name or slot.index in used or first_of_used

        return self._with(only_slots(self.problem, wanted))

    def translated(self, other: Case, choice: Plan, *, waits: bool = False) -> Plan:
        """Another case's plan in this case's slots, as far as they exist and it still fits; else no plan.

        `waits`: visits that wait for their target to rise still do.
        """
        choice = choice if waits else choice.without_waiting()
        here = {_key(slot): slot.index for slot in self.problem.slots}
        moved = {slot.index: here[_key(slot)] for slot in other.problem.slots if _key(slot) in here}
        here_too = Plan.of(replace(visit, slot=moved[visit.slot]) for visit in choice if visit.slot in moved)
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

    def exposures_here(self, other: Case, laid: Sequence[ScheduledVisit]) -> list[Exposure]:
        """Exposures of another case's plan, told in this case's slots; those without a slot here fall out."""
        here = {_key(slot): slot.index for slot in self.problem.slots}
        found = []
        for visit in laid:
            slot = here.get(_key(visit.slot, copy=0))
            if slot is not None:
                shutter = self.problem.slots[slot].shutter
                found += [Exposure(slot, task, opens) for task, opens in visit.exposures if task in shutter]
        return found

    def does(self, choice: Plan, target: Target) -> SideChoice | None:
        """What a plan does with a target; None where it leaves it out."""
        laid = tuple(
            visit for visit in scheduled(self.problem, choice) if visit.slot.target.name == target.name
        )
        if not laid:
            return None
        if self.problem.rules.flips:
            sides = {visit.slot.side for visit in laid}
        else:
            hour_angles = self.windows[target.name].track.hour_angle_s(_middles(laid))
            sides = {"west" if float(hour_angle) < 0 else "east" for hour_angle in hour_angles}
        if len(sides) > 1:
            return "across"
        return "before" if sides == {"west"} else "after"

    def wish(self, target: Target, choice: SideChoice) -> Wish:
        """The target is shot, for `across` on both sides of its transit."""
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

    def profit_for(self, choice: Plan, target: Target) -> int:
        """What a plan's exposures of one target are worth, in units of worth."""
        problem = self.problem
        return sum(
            problem.tasks[task].frame_profit(opens)
            for visit in scheduled(problem, choice)
            for task, opens in visit.exposures
            if problem.tasks[task].target.name == target.name
        )

    def outcome(self, choice: Plan, target: Target) -> Outcome:
        """What a plan gives, in all and to one target."""
        problem, laid = self.problem, scheduled(self.problem, choice)
        mine = tuple(visit for visit in laid if visit.slot.target.name == target.name)
        times = _middles(mine)
        track = self.windows[target.name].track
        seconds = dict.fromkeys((task.target.name for task in problem.tasks), 0.0)
        for visit in choice:
            for run in visit.runs:
                task = problem.tasks[run.task]
                seconds[task.target.name] += run.frames * task.goal.exposure_s
        value = problem.weighted_seconds(self.profit_for(choice, target))
        return Outcome(
            target_open_s=seconds[target.name],
            target_value=value,
            target_depth_s=value / target.weight if problem.by_depth else None,
            open_s=sum(seconds.values()),
            value=problem.weighted_seconds(profit_of(problem, choice)),
            flips=sum(visit.acts[0].kind == "flip" for visit in laid),
            mean_altitude_deg=float(np.mean(track.altitude_deg(times))) if times.size else None,
            mean_moonlight_mag=(
                float(np.mean(moonlight_mag(track, self.sky.moon, times))) if times.size else None
            ),
        )


def draft_of(problem: Problem, exposures: Sequence[Exposure]) -> Plan:
    """Exposures, in the order in which they are to be made, as a draft of a plan."""
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


def _middles(laid: Sequence[ScheduledVisit]) -> np.ndarray:
    """Middles of the exposures of some visits."""
    return np.array(
        [(act.start + act.end) / 2 for visit in laid for act in visit.acts if act.kind == "expose"]
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
