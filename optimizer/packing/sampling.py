"""Plans from many beams: prices near the best ones, moved at random, lead to different good nights.

Where many plans are nearly equal, the best prices hold no order of visits dear; a little noise picks one, and
a beam then builds it backwards from the night's end (Lagrangian heuristics: Beasley 1993, in Modern Heuristic
Techniques for Combinatorial Problems, cited from memory).
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from itertools import cycle

import numpy as np

from optimizer.packing.beam import beam_paths, beam_work
from optimizer.packing.bound import MOST_CELLS, WORK_PER_SECOND, NightBound
from optimizer.packing.choice import Choice
from optimizer.packing.first_plan import plan_along
from optimizer.packing.graph import NightGraph
from optimizer.packing.layout import worth_of
from optimizer.packing.relaxation import Relaxation

STEPS_S = (10, 20, 60)
WIDTH, PATHS = 30, 4  # kept in each block of ticks, and followed to their plans
NOISES = (0.1, 0.3)  # standard deviations of the noise, of a frame's worth
PLAN_WORK = 1e7  # of following a path, in the unit of a pricing's work


def sampled_plans(
    graph: NightGraph, bound: NightBound, start: Choice, seconds: float, *, counted: bool
) -> Iterator[Choice]:
    """Plans from sampled prices, each better than `start` and all before it, for about so many seconds.

    `counted`: by counted work, the same on every run; else by the clock. Ends early where the plan comes as
    near to the bound as the request asks.
    """
    problem = graph.problem
    for step_s in STEPS_S:
        relaxation = Relaxation(graph, step_s)
        if relaxation.cells <= MOST_CELLS:
            break
    if not relaxation.entries:
        return
    chance = np.random.default_rng(problem.request.aim.seed)
    worths = np.array([float(task.worth) for task in problem.tasks])
    best_worth, centre = worth_of(problem, start), bound.prices
    deadline = time.monotonic() + seconds
    work = relaxation.work + beam_work(relaxation, WIDTH) + PATHS * PLAN_WORK
    rounds = int(seconds * WORK_PER_SECOND / work)
    for number, noise in enumerate(cycle(NOISES)):
        if problem.near(best_worth, bound.bound):
            return
        if number >= rounds if counted else time.monotonic() >= deadline:
            return
        around = centre if number % 4 >= 2 else bound.prices
        moved = worths * chance.normal(0.0, noise, len(worths)) if number else 0.0
        prices = np.maximum(0.0, around + moved)
        for path in beam_paths(relaxation, prices, WIDTH, 0.0, PATHS):
            plan = plan_along(problem, path)
            worth = worth_of(problem, plan)
            if worth > best_worth:
                best_worth, centre = worth, prices
                yield plan
