"""Plans from many priced paths: prices near the best ones, moved at random, lead to different good nights.

Where many plans are nearly equal, the best prices hold no order of visits dear; a little noise picks one, and
a path of the relaxation then says it (Lagrangian heuristics: Beasley 1993, in Modern Heuristic Techniques for
Combinatorial Problems, cited from memory). On the winter night of the examples 150 paths take 3 s and come as
near to the bound as the constraint search alone does in 20 s.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from itertools import cycle

import numpy as np

from optimizer.packing.bound import WORK_PER_SECOND, NightBound
from optimizer.packing.choice import Choice
from optimizer.packing.first_plan import plan_along
from optimizer.packing.layout import worth_of
from optimizer.packing.relaxation import Relaxation
from optimizer.problem import Problem

STEP_S = 60
# Standard deviations of the noise, of a frame's worth. Where the sky decides the path at the best prices is
# nearly right; where all seconds are equal many are, and only more noise tells them apart.
NOISES = {"hours": (0.1, 0.4), "depth": (0.05, 0.1)}
PLAN_WORK = 1e6  # of following a path, in the unit of a pricing's work, for each slot and task


def sampled_plans(
    problem: Problem, bound: NightBound, start: Choice, seconds: float, *, counted: bool
) -> Iterator[Choice]:
    """Plans along sampled paths, each better than `start` and all before it, for about so many seconds.

    `counted`: by counted work, the same on every run; else by the clock. Ends early where the plan comes as
    near to the bound as the request asks.
    """
    relaxation = Relaxation(problem, STEP_S)
    if not relaxation.entries:
        return
    chance = np.random.default_rng(problem.request.aim.seed)
    worths = np.array([float(task.worth) for task in problem.tasks])
    best_worth, centre = worth_of(problem, start), bound.prices
    deadline = time.monotonic() + seconds
    rounds = int(seconds * WORK_PER_SECOND / (relaxation.work + PLAN_WORK * (1 + len(problem.slots) / 30)))
    for number, noise in enumerate(cycle(NOISES[problem.request.aim.value])):
        if problem.near(best_worth, bound.bound):
            return
        if number >= rounds if counted else time.monotonic() >= deadline:
            return
        around = centre if number % 4 >= 2 else bound.prices
        prices = np.maximum(0.0, around + worths * chance.normal(0.0, noise, len(worths)))
        plan = plan_along(problem, relaxation.best_path(prices))
        worth = worth_of(problem, plan)
        if worth > best_worth:
            best_worth, centre = worth, prices
            yield plan
