"""A real plan of one night of a season: lawful to the second, within the frames that are left to it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.packing.incumbent import Incumbent
from optimizer.packing.plan import Plan, draft
from optimizer.packing.schedule import Schedule, gathered_by, scheduled
from optimizer.packing.search.construct import following
from optimizer.packing.search.multi_start import MultiStart
from optimizer.packing.search.ruin_and_recreate import RuinAndRecreate
from optimizer.problem import Problem
from optimizer.problem.filter_sets import FilterSet, Worth
from optimizer.problem.tasks import Task
from optimizer.season.desk import Desk, NightRef
from optimizer.season.prepared import PreparedNight, with_left
from optimizer.season.pricing import Prices, price
from optimizer.season.projects import Ints, Projects

FINE = 1000  # parts of a unit of profit in which prices are told
MOST_AGAIN = 3  # times a plan is made again of its runs until it stays the same

Runs = tuple[tuple[int, int, int, int, int], ...]  # slot, task, window, frames, not before (a second)


@dataclass(frozen=True)
class NightPlan:
    """A real plan: its runs as a draft from which it is made again, and what it takes and gathers.

    `frames` and `gathered` (units of profit of the night's problem) are by task.
    """

    runs: Runs = ()
    frames: tuple[int, ...] = ()
    gathered: tuple[int, ...] = ()

    def of_tasks(self, count: int) -> NightPlan:
        """The same, told of the first so many tasks; those after them take nothing."""
        return NightPlan(self.runs, self.frames[:count], self.gathered[:count])

    def draft_in(self, problem: Problem) -> Plan:
        """The runs as a draft."""
        return draft(self.runs, problem)


def plan_of(problem: Problem, plan: Plan) -> NightPlan:
    """Tell a plan as its runs, each with the second at which its first shutter opens, and what it gathers."""
    return plan_of_schedule(problem, scheduled(problem, plan))


def plan_of_schedule(problem: Problem, schedule: Schedule) -> NightPlan:
    """Tell a plan that is put in time already."""
    runs = []
    for visit in schedule.visits:
        for task, opens, frames in _runs_of(visit.exposures):
            windows = visit.slot.shutter[task]
            window = next(number for number, (start, end) in enumerate(windows) if start <= opens < end)
            runs.append((visit.slot.index, task, window, frames, opens))
    frames_of = np.zeros(len(problem.tasks), dtype=np.int64)
    for _, task, _, count, _ in runs:
        frames_of[task] += count
    return NightPlan(tuple(runs), tuple(frames_of.tolist()), tuple(gathered_by(problem, schedule.visits)))


def _runs_of(exposures: Iterable[tuple[int, int]]) -> list[tuple[int, int, int]]:
    """Task, first opening and number of the frames that follow each other."""
    runs: list[tuple[int, int, int]] = []
    for task, opens in exposures:
        if runs and runs[-1][0] == task:
            runs[-1] = (task, runs[-1][1], runs[-1][2] + 1)
        else:
            runs.append((task, opens, 1))
    return runs


def replan_problem(
    night: PreparedNight,
    projects: Projects,
    numbers: Ints,
    odds: Fraction,
    others: Sequence[Fraction],
    left: Ints,
) -> Problem:
    """The night's problem in view of all other nights: what they take and gather is as good as in hand.

    `numbers` [tasks] are the goals of its tasks, `others` [goals] holds the odds-weighted seconds that the
    other nights gather, `left` [tasks] the frames that this night may take. The value of a plan of this
    problem, times the odds, is what the season gains. Goals that belong to a filter set of the night's, but
    that only other rigs shoot, are tasks at the end that no slot serves.
    """
    problem, tasks = with_left(night.problem, left), list(night.problem.tasks)
    whole, place = problem.profit_unit * odds, {goal: task for task, goal in enumerate(numbers.tolist())}
    sets, absent = [], list[Task]()
    for each in projects.worth.sets:
        own = [place[goal] for goal in each.tasks if goal in place]
        if not own:
            continue
        for goal in each.tasks:
            if goal not in place:
                place[goal] = len(tasks) + len(absent)
                absent.append(replace(tasks[own[0]], index=place[goal], frames_left=0))
        in_hand = tuple(
            min(all_, got + others[goal])
            for goal, all_, got in zip(each.tasks, each.wanted, each.in_hand, strict=True)
        )
        sets.append(
            FilterSet(
                each.target,
                tuple(place[goal] for goal in each.tasks),
                tuple(all_ / whole for all_ in each.wanted),
                tuple(got / whole for got in in_hand),
            )
        )
    worth = Worth(projects.worth.balance, tuple(sets))
    return replace(problem, tasks=(*problem.tasks, *absent), worth=worth)


def followed(problem: Problem, runs: Runs) -> NightPlan:
    """The real plan along some runs, filled up where there is room."""
    return plan_of(problem, following(problem, draft(runs, problem)))


def schedule_of(problem: Problem, plan: NightPlan) -> Schedule:
    """The acts of a plan to the second."""
    if not plan.runs:
        return Schedule()
    return scheduled(problem, _again(problem, plan))


def _again(problem: Problem, plan: NightPlan) -> Plan:
    """The plan made again of its runs, with no frame more."""
    exact = with_left(problem, np.array(plan.frames, dtype=np.int64))
    return following(exact, plan.draft_in(exact), fill=False)


def kept(problem: Problem, plan: Plan) -> NightPlan:
    """Tell a plan so that it is made again of its runs to the second."""
    told = plan_of(problem, plan)
    for _ in range(MOST_AGAIN):
        again = plan_of(problem, _again(problem, told)) if told.runs else told
        if again == told:
            break
        told = again
    return told


def fitting(problem: Problem, plan: NightPlan) -> NightPlan:
    """As much of a plan as the frames left allow, and nothing more."""
    return kept(problem, following(problem, plan.draft_in(problem), fill=False))


def priced_problem(night: PreparedNight, prices: Prices, left: Ints) -> Problem:
    """The night's problem at prices by task: a frame is worth its share of profit less its cost, if any.

    The unit of its profits is `FINE` times finer than that of the night's own problem.
    """
    problem, unit, tasks = night.problem, float(night.problem.profit_unit), []
    for task, share, cost_s, most in zip(
        problem.tasks, prices.shares.tolist(), prices.costs_s.tolist(), left.tolist(), strict=True
    ):
        cost = FINE * cost_s / unit
        profit = max(0, round(FINE * share * task.profit - cost))
        by_start = task.profit_by_start
        if by_start is not None:
            by_start = np.maximum(0, np.floor(FINE * share * by_start - cost)).astype(np.int64)
        tasks.append(
            replace(task, profit=profit, profit_by_start=by_start, frames_left=int(most) if profit else 0)
        )
    return replace(problem, tasks=tuple(tasks), profit_unit=problem.profit_unit / FINE, worth=Worth())


def improved(problem: Problem, drafts: Sequence[Runs], work_s: float, seed: int) -> Plan:
    """The best plan along some drafts, made better by ruin and recreate with so much counted work."""
    ungapped = replace(problem, limits=replace(problem.limits, gap=0.0))
    incumbent = Incumbent(ungapped, problem.most_profit + 1)
    for runs in drafts or ((),):
        incumbent.offer(following(problem, draft(runs, problem)))
    graph = RunGraph(problem)
    if work_s > 0 and graph.nodes:
        budget, rng = Budget(work_s, deterministic=True), np.random.default_rng(seed)
        MultiStart(RuinAndRecreate(graph), incumbent).improve(incumbent.plan, budget, rng)
    return incumbent.plan


def plans_at_prices(
    desk: Desk, ref: NightRef, prices: Prices, left: Ints, drafts: Sequence[Runs], work_s: float, seed: int
) -> tuple[NightPlan, ...]:
    """Real plans of a night that are worth much at prices of its goals: along the best path and drafts.

    A job. `prices` and `left` are by goal.
    """
    night, numbers = desk.night(ref), desk.numbers(ref)
    if not night.problem.slots:
        return ()
    of_tasks, most = prices.of_tasks(numbers), left[numbers]
    columns = price(night, of_tasks, most)
    problem = priced_problem(night, of_tasks, most)
    true = with_left(night.problem, most)
    all_drafts = [*(column.runs for column in columns), *drafts]
    plans = [following(problem, draft(runs, problem)) for runs in all_drafts]
    if work_s > 0:
        plans.append(improved(problem, all_drafts, work_s, seed))
    return tuple(dict.fromkeys(kept(true, plan) for plan in plans if plan))


def better_plan(
    desk: Desk,
    ref: NightRef,
    odds: Fraction,
    others: Sequence[Fraction],
    left: Ints,
    drafts: Sequence[Runs],
    work_s: float,
    seed: int,
) -> NightPlan:
    """The best plan found of a night in view of all others, begun along some drafts.

    A job. `others` (weighted seconds that the other nights gather) and `left` are by goal.
    """
    night, numbers = desk.night(ref), desk.numbers(ref)
    if not night.problem.slots:
        return NightPlan()
    projects = desk.group((ref,)).projects
    problem = replan_problem(night, projects, numbers, odds, others, left[numbers])
    return kept(problem, improved(problem, drafts, work_s, seed)).of_tasks(len(numbers))


def trimmed_plan(desk: Desk, ref: NightRef, left: Ints, plan: NightPlan) -> NightPlan:
    """As much of a plan as fits into the frames left, by goal. A job."""
    night = desk.night(ref)
    return fitting(with_left(night.problem, left[desk.numbers(ref)]), plan)
