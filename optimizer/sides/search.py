"""Plans under one choice of sides: for the target alone, and for the whole night around it.

Each starts from what the others know. The whole night begins with the target's own visits put among those of
the free plan, in several ways, so that there is a plan wherever there is one alone; a search goes on from the
best of them among the windows that they use and, where there is time for it, among all.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice, permutations

from optimizer.models.targets import Target
from optimizer.packing.compiling import search_clock
from optimizer.packing.model.search import (
    LEAST_SEARCH_S,
    Watch,
    make_solver,
    search,
    workers_of,
)
from optimizer.packing.model.value import can_count
from optimizer.packing.parameters import DEFAULT
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import Schedule, ScheduledVisit, profit_of, scheduled
from optimizer.packing.search.construct import constructed, following
from optimizer.packing.solution import Solution, WarmStart
from optimizer.problem import Problem
from optimizer.sides.cases import Case, Exposure, SideChoice, draft_of
from optimizer.sides.one_sided import shot_at_all, solved_within

LEAST_SOLVE_S = 0.04  # a shorter search of a target alone gives no more than its first plan
STARTS_SHARE = 0.4  # of a night's time, for the ways to put the target into the free plan
WAY_S = 3e-4  # for each way in and window of the night, where time is counted
WHOLE_SHARE = 0.6  # of the rest, for a search among all windows
# A search among all windows of a night takes so long to begin for each pair of them (measured), and is worth
# it where there is some times as much.
BEGIN_S, TIMES = 6e-5, 4.0


class Allowance:
    """The time of a comparison, handed out in shares: what one share leaves goes to all later ones."""

    def __init__(self, limit_s: float, *, counted: bool) -> None:
        """Begin now; where time is counted work, every share is the same on every run."""
        self.limit_s, self.counted = limit_s, counted
        self.began = search_clock()
        self._wanted, self._handed = 0.0, 0.0

    def wants(self, weight: float) -> None:
        """Announce one more share of this weight, or (negative) that one will not be asked for."""
        self._wanted += weight

    def share_s(self, weight: float) -> float:
        """Hand out the next share, in seconds."""
        left = max(weight, self._wanted - self._handed)
        if self.counted:
            self._handed += weight
            return self.limit_s * weight / self._wanted
        left_s = max(0.0, self.limit_s - (search_clock() - self.began))
        self._handed += weight
        return left_s * weight / left


@dataclass
class BestSoFar:
    """The best plan so far under a choice, and a profit that no plan under it exceeds, None if unknown."""

    case: Case
    plan: Plan | None = None
    bound: int | None = None
    began: float = field(default_factory=search_clock)
    seconds: float = 0.0

    @property
    def profit(self) -> int:
        """Profit of the plan in units of profit; less than nothing where there is none."""
        return -1 if self.plan is None else profit_of(self.case.problem, self.plan)

    def offer(self, plan: Plan, target: Target, choice: SideChoice) -> None:
        """Take a plan if it does with the target what it should, and is better."""
        better = bool(plan) and profit_of(self.case.problem, plan) > self.profit
        if better and self.case.does(plan, target) == choice:
            self.plan = plan

    def limit(self, bound: int | None) -> None:
        """Take a bound, in units of profit, if it is lower than the one so far."""
        if bound is not None:
            self.bound = bound if self.bound is None else min(self.bound, bound)

    def over(self) -> BestSoFar:
        """Note how long the search took, now that it has ended."""
        self.seconds = search_clock() - self.began
        return self


def search_alone(
    case: Case, target: Target, choice: SideChoice, limit_s: float, starts: Sequence[Plan]
) -> BestSoFar:
    """Plan the night of a case for the target alone, from some plans of that lonely night, within seconds."""
    best = BestSoFar(case.only(target))
    lonely = best.case.problem
    if not lonely.slots:
        return best.over()
    best.limit(_most_profit(lonely, target))
    for start in (constructed(lonely), *starts):
        best.offer(start, target, choice)
    if choice == "across":
        parts = [best.case.exposures_here(best.case, scheduled(lonely, start).visits) for start in starts]
        for first, second in permutations([part for part in parts if part], 2):
            few = _least(best.case, first[::-1])[::-1]
            best.offer(following(lonely, draft_of(lonely, [*few, *second])), target, choice)
    if _is_proven(best) or (limit_s < LEAST_SOLVE_S and best.plan is not None):
        return best.over()
    limit_s = max(limit_s, LEAST_SOLVE_S)
    solution = solved_within(lonely, limit_s if choice != "across" else limit_s / 2)
    best.limit(solution.bound)
    best.offer(solution.plan, target, choice)
    if choice == "across" and not _is_proven(best):
        _look(best, best.case, target, choice, limit_s / 2)
    return best.over()


def _most_profit(problem: Problem, target: Target) -> int:
    """Profit of all that a target wants, each frame taken at its best: no plan for it alone has more."""
    return problem.worth.profit(
        [task.profit * task.frames_left if task.target.name == target.name else 0 for task in problem.tasks]
    )


@dataclass(frozen=True)
class FreeNight:
    """The night planned with no choice made for any target."""

    case: Case
    solution: Solution

    @property
    def schedule(self) -> Schedule:
        """Its visits in time."""
        return scheduled(self.case.problem, self.solution.plan)


def search_night(
    case: Case, free: FreeNight, target: Target, choice: SideChoice, limit_s: float, alone: BestSoFar
) -> BestSoFar:
    """Plan the whole night of a case around the target, within seconds.

    `alone` is what the same target gets under this choice with the night to itself.
    """
    best, problem = BestSoFar(case), case.problem
    if not problem.slots:
        return best.over()
    counted = workers_of(problem) == 1
    wished = free.case.sides_of(target)
    if wished == "either" or wished == choice:
        best.limit(free.solution.bound)
    free_plan = case.translated(free.case, free.solution.plan)
    if free_plan:
        best.offer(free_plan, target, choice)
    if alone.plan is not None:
        for waits in (False, True):
            best.offer(case.translated(alone.case, alone.plan, waits=waits), target, choice)
        until = math.inf if counted else search_clock() + STARTS_SHARE * limit_s
        best_path, most = None, None
        if counted:
            most = math.ceil(STARTS_SHARE * limit_s / (WAY_S * len(problem.slots)))
        for exposures in islice(_ways_in(case, free, target, alone, choice), most):
            path, before = draft_of(problem, exposures), best.plan
            best.offer(following(problem, path, fill=False), target, choice)
            best_path = best_path if best.plan is before else path
            if search_clock() > until:
                break
        if best_path is not None and search_clock() < until:
            best.offer(following(problem, best_path), target, choice)
    left_s = limit_s * (1.0 - STARTS_SHARE) if counted else limit_s - (search_clock() - best.began)
    if left_s > TIMES * BEGIN_S * len(problem.slots) ** 2:
        whole_s = WHOLE_SHARE * left_s
        if choice == "across":
            _look(best, case, target, choice, whole_s)
        else:
            left_out = free.case.does(free.solution.plan, target) is None
            plan, bound = shot_at_all(
                problem, target, WarmStart(free.case.problem, free.solution), whole_s, left_out=left_out
            )
            best.limit(bound)
            best.offer(plan, target, choice)
        left_s = left_s - whole_s if counted else limit_s - (search_clock() - best.began)
    if not _is_proven(best):
        plans = [plan for plan in (best.plan, free_plan) if plan]
        _look(best, case.near(plans, target), target, choice, left_s)
    return best.over()


def _is_proven(best: BestSoFar) -> bool:
    near = best.case.problem.near
    return best.plan is not None and best.bound is not None and near(best.profit, best.bound)


def _look(best: BestSoFar, among: Case, target: Target, choice: SideChoice, limit_s: float) -> None:
    """A search of the constraint model among the windows of `among`, from the best plan so far."""
    problem = among.problem
    building_s = DEFAULT.building_s * len(problem.slots) ** 2
    if not problem.slots or limit_s < 2 * building_s or not can_count(problem):
        return
    start = Plan() if best.plan is None else among.translated(best.case, best.plan)
    solver = make_solver(problem, max(LEAST_SEARCH_S, limit_s - building_s), workers_of(problem))
    answer = search(problem, start, solver, Watch(problem, None), wish=among.wish(target, choice))
    if answer.stopped:
        raise KeyboardInterrupt
    if answer.solved is not None:
        if len(problem.slots) == len(best.case.problem.slots):
            best.limit(answer.bound)
        for plan in (answer.solved, _as_late(answer.solved)):
            best.offer(best.case.translated(among, plan, waits=True), target, choice)


def _as_late(plan: Plan) -> Plan:
    """Each visit begins no sooner than the search has it: on a fork that can be what takes it across."""
    return Plan.of(replace(visit, not_before=visit.runs[0].not_before) for visit in plan)


def _ways_in(
    case: Case, free: FreeNight, target: Target, alone: BestSoFar, choice: SideChoice
) -> Iterator[list[Exposure]]:
    """Put the target's visits among those of the free plan: whole, or as short as may be, then elsewhere."""
    assert alone.plan is not None
    visits = scheduled(alone.case.problem, alone.plan).visits
    others = [visit for visit in free.schedule if visit.slot.target.name != target.name]
    mine = [case.exposures_here(alone.case, [visit]) for visit in visits]
    yield _put_in(case, free, others, visits, mine)
    least = [_least(case, visit) for visit in mine]
    if choice == "across":
        late = [_least(case, part[::-1])[::-1] for part in mine]
        yield _put_in(case, free, others, visits, [*late[:-1], least[-1]])  # about the transit
        return
    for visit, part in zip(visits, mine, strict=True):
        for few in (_least(case, part), _least(case, part[::-1])[::-1]):
            yield _put_in(case, free, others, [visit], [few])
    elsewhere = [case.exposures_here(free.case, [visit]) for visit in others]
    for number in range(len(visits)):
        for place in range(len(others) + 1):
            before = [each for part in elsewhere[:place] for each in part]
            after = [each for part in elsewhere[place:] for each in part]
            yield [*before, *least[number], *after]
            if number == 0:
                yield [*before, *mine[number], *after]


def _put_in(
    case: Case,
    free: FreeNight,
    others: Sequence[ScheduledVisit],
    visits: Sequence[ScheduledVisit],
    mine: Sequence[Sequence[Exposure]],
) -> list[Exposure]:
    """The free plan's other exposures, but for those in whose time the target's own are made, and these."""
    busy = []
    for visit, part in zip(visits, mine, strict=True):
        if part:
            ahead_s = next(act.start for act in visit.acts if act.kind == "expose") - visit.depart
            last = part[-1]
            busy.append((part[0].opens - ahead_s, last.opens + case.problem.tasks[last.task].frame_s))
    kept = [
        each
        for each in case.exposures_here(free.case, others)
        if all(
            each.opens + case.problem.tasks[each.task].frame_s <= begins or each.opens >= ends
            for begins, ends in busy
        )
    ]
    return sorted([*kept, *(each for part in mine for each in part)], key=_opens)


def _least(case: Case, exposures: Sequence[Exposure]) -> list[Exposure]:
    """The first of a visit's exposures that make the least visit of its target."""
    taken, open_s = list[Exposure](), 0.0
    for each in exposures:
        task = case.problem.tasks[each.task]
        if taken and open_s >= 60 * task.target.least_min:
            break
        taken.append(each)
        open_s += task.goal.exposure_s
    return taken


def _opens(exposure: Exposure) -> int:
    return exposure.opens
