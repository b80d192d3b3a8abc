"""A real plan of one night of a season: lawful to the second, within the frames that are left to it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from optimizer.packing.plan import Plan, draft
from optimizer.packing.schedule import Schedule, gathered_by, scheduled
from optimizer.packing.search.construct import following
from optimizer.problem import Problem
from optimizer.problem.filter_sets import FilterSet, Worth
from optimizer.season.prepared import PreparedNight, with_left
from optimizer.season.projects import Ints, Projects

Runs = tuple[tuple[int, int, int, int, int], ...]  # slot, task, window, frames, not before (a second)


@dataclass(frozen=True)
class NightPlan:
    """A real plan: its runs as a draft from which it is made again, and what it takes and gathers.

    `frames` and `gathered` (units of profit of the night's problem) are by task.
    """

    runs: Runs = ()
    frames: tuple[int, ...] = ()
    gathered: tuple[int, ...] = ()

    def draft_in(self, problem: Problem) -> Plan:
        """The runs as a draft."""
        return draft(self.runs, problem)


def plan_of(problem: Problem, plan: Plan) -> NightPlan:
    """Tell a plan as its runs, each with the second at which its first shutter opens, and what it gathers."""
    schedule = scheduled(problem, plan)
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
    odds: Fraction,
    others: Sequence[Fraction],
    left: Ints,
) -> Problem:
    """The night's problem in view of all other nights: what they take and gather is as good as in hand.

    `others` [goals] holds the odds-weighted seconds that the other nights gather, `left` [tasks] the frames
    that this night may take. The value of a plan of this problem, times the odds, is what the season gains.
    """
    problem = with_left(night.problem, left)
    whole = problem.profit_unit * odds
    sets = []
    for each in projects.worth.sets:
        in_hand = tuple(
            min(all_, got + others[task])
            for task, all_, got in zip(each.tasks, each.wanted, each.in_hand, strict=True)
        )
        sets.append(
            FilterSet(
                each.target,
                each.tasks,
                tuple(all_ / whole for all_ in each.wanted),
                tuple(got / whole for got in in_hand),
            )
        )
    return replace(problem, worth=Worth(projects.worth.balance, tuple(sets)))


def followed(problem: Problem, runs: Runs) -> NightPlan:
    """The real plan along some runs, filled up where there is room."""
    return plan_of(problem, following(problem, draft(runs, problem)))


def schedule_of(problem: Problem, plan: NightPlan) -> Schedule:
    """The acts of a plan to the second."""
    return scheduled(problem, following(problem, plan.draft_in(problem), fill=False))
