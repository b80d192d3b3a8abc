"""Before the transit, after it, or across it: what each choice is worth, alone and in the whole night."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from ortools.sat.python import cp_model

from optimizer.models.request import Request
from optimizer.models.rig import SIDES
from optimizer.models.targets import Target
from optimizer.mount.zones import HALF_TURN_S, SIDEREAL_RATE
from optimizer.one_sided import shot_at_all
from optimizer.packing.choice import Choice, without_waiting
from optimizer.packing.layout import DoesNotFit, LaidVisit, lay_out, worth_of
from optimizer.packing.model_search import Wish
from optimizer.packing.packed import Known, Packed
from optimizer.packing.solve import best_that, solve
from optimizer.packing.variables import NightVars, RunVars
from optimizer.problem import Problem, Slot, build_problem, only_slots, only_tasks
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.moonlight import moonlight_mag
from optimizer.sky.windows import SkyWindows, sky_windows

SideChoice = Literal["before", "after", "across"]
CHOICES: tuple[SideChoice, ...] = ("before", "after", "across")
# All searches for a choice together may take these parts of the time limit of the one best plan, so that
# the comparison takes less than three times a plan.
ALONE_SHARE, WHOLE_SHARE = 0.25, 1.1
LEAST_LIMIT_S = 0.2
POLISH_SHARE = 0.25  # of a search's limit, for a last look among the visits of a good plan


@dataclass(frozen=True)
class Outcome:
    """A plan under one choice: of the target itself, and of the whole plan (weighted seconds)."""

    target_open_s: float
    open_s: float
    value: float
    flips: int
    mean_altitude_deg: float | None
    mean_moonlight_mag: float | None


@dataclass(frozen=True)
class TargetSides:
    """Outcomes by choice; None where the choice cannot be made tonight. `taken`: what the best plan does."""

    target: Target
    alone: dict[SideChoice, Outcome | None]
    night: dict[SideChoice, Outcome | None]
    taken: SideChoice | None

    @property
    def best(self) -> SideChoice | None:
        """The choice with the highest value of the whole night; among equals alone, then fewer flips."""
        possible = [choice for choice in CHOICES if self.night[choice] is not None]

        def rank(choice: SideChoice) -> tuple[float, float, int]:
            night, alone = self.night[choice], self.alone[choice]
            assert night is not None
            return night.value, 0.0 if alone is None else alone.value, -night.flips

        return max(possible, key=rank, default=None)


@dataclass(frozen=True)
class SidesOfNight:
    """All targets, and the best plan with no choice made for it."""

    targets: tuple[TargetSides, ...]
    best: Packed
    problem: Problem


Tell = Callable[[str], None]


def compare_sides(request: Request, tell: Tell | None = None) -> SidesOfNight:
    """Plan the night freely, then under each choice for each target, the others planned anew around it."""
    sky = night_sky(request)
    windows = sky_windows(request, sky)
    say = tell or (lambda _: None)
    say("the whole night")
    free = _Case(request, sky, windows)
    best = solve(free.problem)
    taken = {target.name: _taken(request, free, best.choice, target) for target in request.targets}
    searches = sum(len(CHOICES) - (taken[target.name] is not None) for target in request.targets)
    limit_s = max(LEAST_LIMIT_S, WHOLE_SHARE * request.aim.time_limit_s / max(1, searches))
    cases = len(CHOICES) * len(request.targets)
    alone_limit_s = max(LEAST_LIMIT_S, ALONE_SHARE * request.aim.time_limit_s / cases)
    found = []
    for target in request.targets:
        say(target.name)
        alone: dict[SideChoice, Outcome | None] = {}
        night: dict[SideChoice, Outcome | None] = {}
        for choice in CHOICES:
            case = _Case(_with_sides(request, target, choice), sky, windows)
            lonely = case.only(target)
            own = best_that(lonely.problem, _wish(lonely, target, choice), alone_limit_s)
            alone[choice] = None if own is None else lonely.outcome(own, target)
            if own is None and choice != "across":  # a way back to the other side may need other work between
                night[choice] = None
            elif taken[target.name] == choice:
                night[choice] = free.outcome(best.choice, target)
            else:
                whole = (
                    _across(case, free, best.choice, target, limit_s)
                    if choice == "across"
                    else _one_sided(
                        case, free, best, target, choice, limit_s, left_out=taken[target.name] is None
                    )
                )
                night[choice] = None if whole is None else case.outcome(whole, target)
        found.append(TargetSides(target, alone, night, taken[target.name]))
    return SidesOfNight(tuple(found), best, free.problem)


def _across(case: _Case, free: _Case, best: Choice, target: Target, limit_s: float) -> Choice | None:
    """The best plan that crosses: first with the visits of the free plan alone, then with all."""
    near = case.near(case.translated(free, best), target)
    first = best_that(near.problem, _wish(near, target, "across"), limit_s / 2, near.translated(free, best))
    start = () if first is None else case.translated(near, first)
    return best_that(case.problem, _wish(case, target, "across"), limit_s / 2, start)


def _one_sided(
    case: _Case,
    free: _Case,
    best: Packed,
    target: Target,
    choice: SideChoice,
    limit_s: float,
    *,
    left_out: bool,
) -> Choice | None:
    """The best plan on one side: from what is known of the free night, then among the visits of that plan."""
    known = Known(free.problem, best)
    start, proven = shot_at_all(case.problem, target, known, limit_s, left_out=left_out)
    if proven:
        return start
    near = case.near(start or case.translated(free, best.choice), target)
    wish = _wish(near, target, choice)
    found = best_that(near.problem, wish, POLISH_SHARE * limit_s, near.translated(case, start))
    if found is None:
        return start or best_that(case.problem, _wish(case, target, choice), POLISH_SHARE * limit_s)
    polished = case.translated(near, found)
    return max(polished, start, key=lambda each: worth_of(case.problem, each))


class _Case:
    """A request under the sky that all cases share, as an integer problem."""

    def __init__(
        self, request: Request, sky: NightSky, windows: SkyWindows, problem: Problem | None = None
    ) -> None:
        self.request, self.sky, self.windows = request, sky, windows
        self.problem = problem or build_problem(request, windows)

    def only(self, target: Target) -> _Case:
        """The same night with this target alone."""
        wanted = {task.index for task in self.problem.tasks if task.target.name == target.name}
        return _Case(self.request, self.sky, self.windows, only_tasks(self.problem, wanted))

    def near(self, choice: Choice, target: Target) -> _Case:
        """The same night with the visits of a plan and those of the target alone."""
        used = {visit.slot for visit in choice}

        def wanted(slot: Slot) -> bool:
            first_of_used = slot.copy == 0 and slot.index + 1 in used
            return slot.target.name == target.name or slot.index in used or first_of_used

        return _Case(self.request, self.sky, self.windows, only_slots(self.problem, wanted))

    def translated(self, other: _Case, choice: Choice) -> Choice:
        """Another case's plan in this case's slots, as far as they exist and it still fits; else no plan."""
        keys = {_key(other, slot.index): slot.index for slot in other.problem.slots}
        here = {_key(self, slot.index): slot.index for slot in self.problem.slots}
        moved = {index: here[key] for key, index in keys.items() if key in here}
        here_too = tuple(
            replace(visit, slot=moved[visit.slot]) for visit in without_waiting(choice) if visit.slot in moved
        )
        try:
            lay_out(self.problem, here_too)
        except DoesNotFit:
            return ()
        return here_too

    def outcome(self, choice: Choice, target: Target) -> Outcome:
        """What a plan gives, in all and to one target."""
        problem, laid = self.problem, lay_out(self.problem, choice)
        times = _exposures(laid, target)
        track = self.windows[target.name].track
        seconds = dict.fromkeys((task.target.name for task in problem.tasks), 0.0)
        for visit in choice:
            for run in visit.runs:
                task = problem.tasks[run.task]
                seconds[task.target.name] += run.frames * task.goal.exposure_s
        return Outcome(
            target_open_s=seconds[target.name],
            open_s=sum(seconds.values()),
            value=problem.weighted_seconds(worth_of(problem, choice)),
            flips=sum(visit.acts[0].kind == "flip" for visit in laid),
            mean_altitude_deg=float(np.mean(track.altitude_deg(times))) if times.size else None,
            mean_moonlight_mag=(
                float(np.mean(moonlight_mag(track, self.sky.moon, times))) if times.size else None
            ),
        )


def _key(case: _Case, index: int) -> tuple[str, str | None, tuple[int, int], int]:
    slot = case.problem.slots[index]
    return slot.target.name, slot.side, slot.work, slot.copy


def _exposures(laid: tuple[LaidVisit, ...], target: Target) -> np.ndarray:
    """Middles of the exposures on a target."""
    return np.array(
        [
            (act.start + act.end) / 2
            for visit in laid
            if visit.slot.target.name == target.name
            for act in visit.acts
            if act.kind == "expose"
        ]
    )


def _with_sides(request: Request, target: Target, choice: SideChoice) -> Request:
    """The request with one target's wish replaced; the others keep theirs."""
    wish = "either" if choice == "across" else choice
    targets = tuple(
        each.model_copy(update={"sides": wish}) if each.name == target.name else each
        for each in request.targets
    )
    return request.model_copy(update={"targets": targets})


def _wish(case: _Case, target: Target, choice: SideChoice) -> Wish:
    """The target is shot, for `across` on both sides of its transit."""

    def add(model: cp_model.CpModel, night: NightVars) -> None:
        visits = [visit for visit in night.visits.values() if visit.slot.target.name == target.name]
        if choice != "across":
            model.add_bool_or([visit.present for visit in visits])
        elif case.request.mount.flips:
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


def _in_half(model: cp_model.CpModel, run: RunVars, transit: int, *, after: bool) -> cp_model.IntVar:
    """The middle of the run's first exposure lies before the transit, or of its last exposure after it."""
    literal, half_turn = model.new_bool_var(""), int(HALF_TURN_S / SIDEREAL_RATE)
    opens = run.close - run.task.shutter_s if after else run.start
    twice_later = 2 * opens + run.task.shutter_s - 2 * transit
    low, high = (0, 2 * half_turn) if after else (-2 * half_turn, -1)
    model.add_implication(literal, run.present)
    model.add_linear_constraint(twice_later, low, high).only_enforce_if(literal)
    return literal


def _taken(request: Request, case: _Case, choice: Choice, target: Target) -> SideChoice | None:
    """What a plan does with a target; None where it leaves it out."""
    laid = [visit for visit in lay_out(case.problem, choice) if visit.slot.target.name == target.name]
    if not laid:
        return None
    if request.mount.flips:
        sides = {visit.slot.side for visit in laid}
    else:
        hour_angles = case.windows[target.name].track.hour_angle_s(_exposures(tuple(laid), target))
        sides = {"west" if float(hour_angle) < 0 else "east" for hour_angle in hour_angles}
    if len(sides) > 1:
        return "across"
    return "before" if sides == {"west"} else "after"
