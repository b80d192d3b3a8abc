"""Before the transit, after it, or across it: the value of each choice, alone and in the whole night."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from optimizer.models.request import Request
from optimizer.models.targets import Target
from optimizer.night import Night
from optimizer.packing.model.search import workers_of
from optimizer.packing.solution import Solution
from optimizer.problem import Problem
from optimizer.sides.cases import CHOICES, Case, Outcome, SideChoice
from optimizer.sides.one_sided import solved_within
from optimizer.sides.proofs import is_impossible
from optimizer.sides.search import Allowance, BestSoFar, FreeNight, search_alone, search_night

# How the time is shared: the free plan gets this part, then each search of a target alone and each of a whole
# night these shares of the rest.
FREE_SHARE, ALONE_WEIGHT, NIGHT_WEIGHT = 0.4, 1.0, 2.0
SAME_SHARE = 0.001  # of a night's value: nights that differ by less count as equal

Status = Literal["proven", "found", "not_found", "impossible"]


@dataclass(frozen=True)
class Sureness:
    """How sure an outcome is; no plan under the choice exceeds `bound` (weighted seconds), where it is known.

    `proven`: as near to the bound as the request asks; `found`: nothing better was found; `not_found`: no
    plan was found in `seconds`, which proves nothing; `impossible`: proven that there is none.
    """

    status: Status
    bound: float | None
    seconds: float


@dataclass(frozen=True)
class TargetSides:
    """Outcomes for one target by choice, None where no plan was found.

    In `alone` it has the night to itself; where other targets between its visits help it to more, its part of
    that plan counts. `taken` is what the free plan does with it.
    """

    target: Target
    alone: dict[SideChoice, Outcome | None]
    night: dict[SideChoice, Outcome | None]
    alone_sure: dict[SideChoice, Sureness]
    night_sure: dict[SideChoice, Sureness]
    taken: SideChoice | None

    @property
    def best(self) -> SideChoice | None:
        """The choice with the highest value of the whole night; among equals the one with the higher sky."""
        nights = {choice: night for choice, night in self.night.items() if night is not None}
        most = max((night.value for night in nights.values()), default=0.0)
        equals = [choice for choice, night in nights.items() if is_same(night.value, most)]

        def rank(choice: SideChoice) -> tuple[float, int, float]:
            night = nights[choice]
            return night.mean_altitude_deg or 0.0, -night.flips, night.value

        return max(equals, key=rank, default=None)


@dataclass(frozen=True)
class SidesOfNight:
    """All targets, and the best plan with no choice made for it."""

    targets: tuple[TargetSides, ...]
    best: Solution
    problem: Problem


Tell = Callable[[str], None]


def is_same(value: float, most: float) -> bool:
    """Whether a night's value counts as equal to the highest."""
    return most - value <= SAME_SHARE * most


def compare_sides(request: Request, tell: Tell | None = None) -> SidesOfNight:
    """Plan the night freely, then under each choice for each target, the others planned anew around it.

    All of it takes about the request's time limit; Ctrl-C ends it.
    """
    say = tell or (lambda _: None)
    say("the whole night")
    night = Night(request)
    problem = night.problem
    time = Allowance(request.aim.time_limit_s, counted=workers_of(problem) == 1)
    searches = len(CHOICES) * len(request.targets) * (ALONE_WEIGHT + NIGHT_WEIGHT)
    free_weight = searches * FREE_SHARE / (1.0 - FREE_SHARE)
    time.wants(searches + free_weight)
    case = Case(request, night.sky, night.windows, problem)
    free = FreeNight(case, solved_within(problem, time.share_s(free_weight)))
    compared = []
    for target in request.targets:
        say(target.name)
        compared.append(_compare(target, free, time))
    return SidesOfNight(tuple(compared), free.solution, problem)


def _compare(target: Target, free: FreeNight, time: Allowance) -> TargetSides:
    """All choices for one target."""
    taken = free.case.does(free.solution.plan, target)
    cases = {choice: free.case.under(target, choice) for choice in CHOICES}
    alone: dict[SideChoice, BestSoFar] = {}
    for choice in CHOICES:
        lonely = cases[choice].only(target)
        starts = [lonely.translated(each.case, each.plan) for each in alone.values() if each.plan]
        starts.append(lonely.translated(free.case, free.solution.plan))
        alone[choice] = search_alone(cases[choice], target, choice, time.share_s(ALONE_WEIGHT), starts)
    night: dict[SideChoice, BestSoFar] = {}
    for choice in CHOICES:
        if choice == taken:
            time.wants(-NIGHT_WEIGHT)
            night[choice] = BestSoFar(
                free.case, free.solution.plan, free.solution.bound, seconds=free.solution.seconds
            )
        else:
            share_s = time.share_s(NIGHT_WEIGHT)
            night[choice] = search_night(cases[choice], free, target, choice, share_s, alone[choice])
        _start_alone_from_night(alone[choice], night[choice], target, choice)
    outcomes = {choice: _outcomes(target, alone[choice], night[choice]) for choice in CHOICES}
    sure = {
        choice: _sureness(cases[choice], target, choice, alone[choice], night[choice]) for choice in CHOICES
    }
    return TargetSides(
        target=target,
        alone={choice: outcomes[choice][0] for choice in CHOICES},
        night={choice: outcomes[choice][1] for choice in CHOICES},
        alone_sure={choice: sure[choice][0] for choice in CHOICES},
        night_sure={choice: sure[choice][1] for choice in CHOICES},
        taken=taken,
    )


def _start_alone_from_night(alone: BestSoFar, night: BestSoFar, target: Target, choice: SideChoice) -> None:
    """The target's part of the whole night's plan is one for it alone, where it fits without the others."""
    if night.plan is not None:
        for waits in (False, True):
            alone.offer(alone.case.translated(night.case, night.plan, waits=waits), target, choice)


def _outcomes(target: Target, alone: BestSoFar, night: BestSoFar) -> tuple[Outcome | None, Outcome | None]:
    """Outcomes of the target alone and of the whole night."""
    own = None if alone.plan is None else alone.case.outcome(alone.plan, target)
    if night.plan is None:
        return own, None
    whole = night.case.outcome(night.plan, target)
    if own is None or own.value < whole.target_value:
        own = replace(whole, open_s=whole.target_open_s, value=whole.target_value)
        alone.bound = None
    return own, whole


def _sureness(
    case: Case, target: Target, choice: SideChoice, alone: BestSoFar, night: BestSoFar
) -> tuple[Sureness, Sureness]:
    """How sure the two outcomes are."""
    nothing = alone.plan is None and night.plan is None
    if nothing and is_impossible(case, target, choice):
        return Sureness("impossible", None, alone.seconds), Sureness("impossible", None, night.seconds)
    return _of(alone, none=night.plan is None), _of(night, none=True)


def _of(best: BestSoFar, *, none: bool) -> Sureness:
    """How sure a search is; with `none` there is no outcome where it has no plan of its own."""
    problem = best.case.problem
    bound = None if best.bound is None else problem.weighted_seconds(best.bound)
    if best.plan is None:
        return Sureness("not_found" if none else "found", bound, best.seconds)
    proven = best.bound is not None and problem.near(best.profit, best.bound)
    return Sureness("proven" if proven else "found", bound, best.seconds)
