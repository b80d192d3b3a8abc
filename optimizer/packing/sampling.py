"""Plans from many beams: prices near the best ones, moved at random, lead to different good nights.

Where many plans are nearly equal, the best prices hold no order of visits dear. A little noise picks one, and
a beam then builds it backwards from the night's end (Lagrangian heuristics: Beasley 1993, in Modern Heuristic
Techniques for Combinatorial Problems, cited from memory). Where all that is wanted fits, each frame's price
is its worth and the tables say nothing: lower prices do. Fewer lengths of run to choose from make a beam
look at nights that differ more; which lengths, is drawn anew each time.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from itertools import count

import numpy as np

from optimizer.packing.beam import beam_paths, beam_work
from optimizer.packing.bound import WORK_PER_SECOND, NightBound
from optimizer.packing.choice import Choice
from optimizer.packing.compiled import Bools, Floats
from optimizer.packing.first_plan import plan_along
from optimizer.packing.graph import NightGraph
from optimizer.packing.layout import worth_of
from optimizer.packing.relaxation import Relaxation
from optimizer.packing.reorder import DRAWS, reorder_work, reordered

STEPS_S = (10, 20, 40, 60)
MOST_CELLS = 8e6  # of the tables that guide one beam, 8 bytes each
SCALES = (1.0, 0.9, 0.7)  # of the best prices
NOISES = (0.0, 0.0, 0.05, 0.1)  # standard deviations, of a frame's worth
LENGTHS = (0.05, 0.1, 0.0, 0.2, 0.5)  # share of the lengths of run that a beam may choose from
WIDTHS = (10, 30)
PATHS = 4  # of a beam, followed to their plans
REORDERED = 0.9  # share of the jobs that reorder the best plan, once the first beams are built
TRIES = 30  # of each of them
BEARS = (0.003, 0.01, 0.02)  # of the worth, that a try may lose and still be gone on from
MOST_PLANS = 4  # the best of different worth, from which reordering starts
# Coarse grids allow many tries, fine ones are true where runs are short: each has the same share of the time.
REORDER_STEPS_S = (40, 20, 10)
MOST_IN_VAIN = 200  # jobs on end that bring nothing better
PLAN_WORK = 1e7  # of following a path, in the unit of a pricing's work


@dataclass(frozen=True)
class _Beam:
    """One beam to be built."""

    prices: Floats
    width: int
    allowed: Bools


@dataclass(frozen=True)
class _Grids:
    """For beams, and for plans reordered."""

    beams: Relaxation
    reordering: tuple[Relaxation, ...]


def sampled_plans(
    graph: NightGraph, latest: Callable[[], NightBound], start: Choice, seconds: float, *, counted: bool
) -> Iterator[Choice]:
    """Plans from sampled prices and from the best ones reordered, each better than `start` and all before it.

    For about so many seconds. `latest` gives the bound as it stands. `counted`: one by one and by counted
    work, the same on every run; else by the clock and side by side. Ends early where the plan comes as near
    to the bound as the request asks, or many jobs bring nothing.
    """
    grids = _grids(graph)
    if grids is None or seconds <= 0:
        return
    problem = graph.problem
    best_plans = [(worth_of(problem, start), start)]
    chance = np.random.default_rng(problem.request.aim.seed)
    centre, work, in_vain = latest().frame_prices, 0.0, 0
    deadline, most_work = time.monotonic() + seconds, seconds * WORK_PER_SECOND
    side_by_side = 1 if counted else min(2, os.cpu_count() or 1)
    numbers = count()
    often = np.array([1.0 / reorder_work(grid, TRIES) for grid in grids.reordering])
    often /= often.sum()
    with ThreadPoolExecutor(side_by_side) as pool:
        building: list[tuple[_Beam | Relaxation, Future[list[Choice]]]] = []
        try:
            while in_vain < MOST_IN_VAIN and not problem.near(best_plans[0][0], latest().bound):
                while len(building) < side_by_side:
                    number = next(numbers)
                    if number >= len(SCALES) and best_plans[0][1] and chance.random() < REORDERED:
                        draws, bear = chance.random((TRIES, DRAWS)), float(chance.choice(BEARS))
                        _, plan = best_plans[chance.integers(len(best_plans))]
                        grid = grids.reordering[int(chance.choice(len(grids.reordering), p=often))]
                        building.append((grid, pool.submit(_reordered, grid, plan, draws, bear)))
                        continue
                    beam = _beam(graph, latest().frame_prices, centre, number, chance)
                    building.append((beam, pool.submit(_plans, grids, beam)))
                job, built = building.pop(0)
                work += _work(grids, job)
                if work > most_work if counted else time.monotonic() >= deadline:
                    return
                in_vain += 1
                for plan in built.result():
                    worth = worth_of(problem, plan)
                    better = worth > best_plans[0][0]
                    if plan and all(worth != other for other, _ in best_plans):
                        best_plans = sorted([*best_plans, (worth, plan)], key=_worth_first)[:MOST_PLANS]
                    if better:
                        in_vain = 0
                        centre = job.prices if isinstance(job, _Beam) else centre
                        yield plan
        finally:
            pool.shutdown(cancel_futures=True)


def _work(grids: _Grids, job: _Beam | Relaxation) -> float:
    """About what a beam takes, or a plan reordered on a grid."""
    if isinstance(job, Relaxation):
        return reorder_work(job, TRIES) + PLAN_WORK
    return grids.beams.work + beam_work(grids.beams, job.width) + PATHS * PLAN_WORK


def _grids(graph: NightGraph) -> _Grids | None:
    """For beams the finest grid whose tables are small enough, else the coarsest."""
    if not graph.entries:
        return None
    for step_s in STEPS_S:
        grid = Relaxation(graph, step_s)
        if grid.cells <= MOST_CELLS:
            break
    _ = grid.worths_by_end, grid.worths, grid.fitting  # made once, before threads ask for them
    reordering = tuple(Relaxation(graph, step_s) for step_s in REORDER_STEPS_S)
    _ = [each.most_worths for each in reordering]
    return _Grids(grid, reordering)


def _beam(graph: NightGraph, best: Floats, centre: Floats, number: int, chance: np.random.Generator) -> _Beam:
    """The beam of that number: first at each scale of the prices, then all is drawn."""
    worths = np.array([float(task.worth) for task in graph.problem.tasks])
    scale, share = SCALES[number % len(SCALES)], LENGTHS[number % len(LENGTHS)]
    prices, width = best * scale, WIDTHS[0]
    if number >= len(SCALES):
        prices = (best if chance.random() < 0.5 else centre) * chance.choice(SCALES)
        prices = prices + worths * chance.normal(0.0, chance.choice(NOISES), len(worths))
        share, width = chance.choice(LENGTHS), int(chance.choice(WIDTHS))
    return _Beam(np.maximum(0.0, prices), width, chance.random(len(graph.pair_s)) < share)


def _plans(grids: _Grids, beam: _Beam) -> list[Choice]:
    grid = grids.beams
    paths = beam_paths(grid, beam.prices, beam.width, 0.0, PATHS, beam.allowed)
    return [plan_along(grid.problem, path) for path in paths]


def _worth_first(plan: tuple[int, Choice]) -> int:
    return -plan[0]


def _reordered(grid: Relaxation, plan: Choice, draws: Floats, bear: float) -> list[Choice]:
    path = reordered(grid, plan, draws, bear)
    return [] if path is None else [plan_along(grid.problem, path)]
