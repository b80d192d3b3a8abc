"""Plans from many beams: prices near the best ones, moved at random, lead to different good nights.

Where many plans are nearly equal, the best prices hold no order of visits dear. A little noise picks one, and
a beam then builds it backwards from the night's end (Lagrangian heuristics: Beasley 1993, in Modern Heuristic
Techniques for Combinatorial Problems, cited from memory). Where all that is wanted fits, each frame's price
is its worth and the tables say nothing: lower prices do. Fewer lengths of run to choose from make a beam
look at nights that differ more; which lengths, is drawn anew each time.
"""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass

import numpy as np

from optimizer import ctrl_c
from optimizer.packing.beam import beam_paths, beam_work
from optimizer.packing.bound import WORK_PER_SECOND, NightBound
from optimizer.packing.choice import Choice
from optimizer.packing.compiled import Bools, Floats
from optimizer.packing.first_plan import plan_along
from optimizer.packing.graph import NightGraph
from optimizer.packing.insertion import Insertions
from optimizer.packing.layout import worth_of
from optimizer.packing.paths import Path
from optimizer.packing.relaxation import Relaxation
from optimizer.packing.reorder import DRAWS, reorder_work, reordered

STEPS_S = (10, 20, 40, 60)
MOST_CELLS = 8e6  # of the tables that guide one beam, 8 bytes each
MOST_WORTHS = 2e7  # of runs by the tick, 12 bytes each
SCALES = (1.0, 0.9, 0.7)  # of the best prices
NOISES = (0.0, 0.0, 0.05, 0.1)  # standard deviations, of a frame's worth
LENGTHS = (0.05, 0.1, 0.0, 0.2, 0.5)  # share of the lengths of run that a beam may choose from
WIDTHS = (10, 30)
PATHS = 4  # of a beam, followed to their plans
# Shares of the jobs: those that put runs in by the second, fewer and shorter ones where the sky decides
# (runs as soon as may be are then seldom better); of the others, once the first beams are built, those that
# reorder a plan.
INSERTED, REORDERED = {False: 0.5, True: 0.2}, 0.9
TRIES = 30  # of each that reorders
INSERTION_TRIES = {False: (1000, 3000, 10_000), True: (300, 1000, 3000)}  # of each that puts runs in
INSERTION_SHARE = 0.1  # of the time, for one of these at most
LONGEST = 0.2  # of the time, for any other job
BEARS = (0.003, 0.01, 0.02)  # of the worth, that a try may lose and still be gone on from
MOST_PLANS = 4  # the best of different worth, from which reordering starts
# Coarse grids allow many tries, fine ones are true where runs are short: each has the same share of the time.
REORDER_STEPS_S = (40, 20, 10)
MOST_IN_VAIN = 200  # jobs on end that bring nothing better
PLAN_WORK = 1e7  # of following a path, in the unit of a pricing's work


@dataclass(frozen=True)
class _Means:
    """For beams, for plans reordered, and for runs put in."""

    beams: Relaxation
    reordering: tuple[Relaxation, ...]
    insertions: Insertions
    halt: Bools  # [1], ends those searches that look at it


@dataclass(frozen=True)
class _Beam:
    """A beam to be built."""

    prices: Floats
    width: int
    allowed: Bools

    def work(self, means: _Means) -> float:
        grid = means.beams
        return grid.work + beam_work(grid, self.width) + PATHS * PLAN_WORK

    def paths(self, means: _Means) -> list[Path]:
        return beam_paths(means.beams, self.prices, self.width, 0.0, PATHS, means.halt, self.allowed)


@dataclass(frozen=True)
class _Reordering:
    """A plan to be reordered."""

    grid: Relaxation
    start: Choice
    draws: Floats
    bear: float

    def work(self, means: _Means) -> float:
        return reorder_work(self.grid, len(self.draws)) + PLAN_WORK

    def paths(self, means: _Means) -> list[Path]:
        path = reordered(self.grid, self.start, self.draws, self.bear, means.halt)
        return [] if path is None else [path]


@dataclass(frozen=True)
class _Insertion:
    """A plan from which runs are taken out and into which others are put."""

    start: Choice
    tries: int
    bear: float
    seed: int

    def work(self, means: _Means) -> float:
        return means.insertions.work(self.start) * self.tries + PLAN_WORK

    def paths(self, means: _Means) -> list[Path]:
        path = means.insertions.improved(self.start, self.tries, self.bear, self.seed, means.halt)
        if path is None or not means.insertions.problem.by_depth:
            return [] if path is None else [path]
        # laid as soon as may be; when it is best under the sky a grid tells
        soonest = plan_along(means.insertions.problem, path)
        best = reordered(means.reordering[-1], soonest, np.empty((0, DRAWS)), 0.0, means.halt)
        return [] if best is None else [best]


_Job = _Beam | _Reordering | _Insertion


def sampled_plans(
    graph: NightGraph, latest: Callable[[], NightBound], start: Choice, seconds: float, *, counted: bool
) -> Iterator[Choice]:
    """Plans from sampled prices and from the best ones changed, each better than `start` and all before it.

    For about so many seconds. `latest` gives the bound as it stands. `counted`: one by one and by counted
    work, the same on every run; else by the clock and side by side. Ends early where the plan comes as near
    to the bound as the request asks, or many jobs bring nothing.
    """
    if not graph.entries or seconds <= 0:
        return
    deadline, most_work = time.monotonic() + seconds, seconds * WORK_PER_SECOND
    problem, means = graph.problem, _means(graph)
    best_plans = [(worth_of(problem, start), start)]
    centre, work, in_vain = latest().frame_prices, 0.0, 0
    side_by_side = 1 if counted else min(2, os.cpu_count() or 1)
    drawing = _Drawing(means, np.random.default_rng(problem.request.aim.seed), most_work)
    with ThreadPoolExecutor(side_by_side) as pool:
        working: dict[Future[list[Choice]], _Job] = {}
        over = False
        try:
            while not over and in_vain < MOST_IN_VAIN and not problem.near(best_plans[0][0], latest().bound):
                while len(working) < side_by_side:
                    job = drawing.job([plan for _, plan in best_plans], latest().frame_prices, centre)
                    work += job.work(means)
                    working[pool.submit(_plans, means, job)] = job
                if counted and work > most_work:
                    return
                left_s = None if counted else deadline - time.monotonic()
                done = _first_done(working, left_s)
                over = not done
                means.halt[0] = over  # those at work then end with what they have
                found = [(working.pop(future), future.result()) for future in done or list(working)]
                in_vain += 1
                for job, plan in [(job, plan) for job, plans in found for plan in plans]:
                    worth = worth_of(problem, plan)
                    better = worth > best_plans[0][0]
                    if plan and all(worth != other for other, _ in best_plans):
                        best_plans = sorted([*best_plans, (worth, plan)], key=_worth_first)[:MOST_PLANS]
                    if better:
                        in_vain = 0
                        centre = job.prices if isinstance(job, _Beam) else centre
                        yield plan
        finally:
            means.halt[0] = True
            pool.shutdown(cancel_futures=True)


def _first_done(working: Collection[Future[list[Choice]]], left_s: float | None) -> set[Future[list[Choice]]]:
    """Those that are done as soon as one is; none after so many seconds. Heeds Ctrl-C meanwhile."""
    deadline = math.inf if left_s is None else time.monotonic() + left_s
    while True:
        ctrl_c.heed()
        left_s = max(0.0, deadline - time.monotonic())
        done = wait(working, min(left_s, ctrl_c.POLL_S), FIRST_COMPLETED).done
        if done or left_s <= ctrl_c.POLL_S:
            return done


class _Drawing:
    """Which job comes next: drawn, but for the first beams, one at each scale of the prices."""

    def __init__(self, means: _Means, chance: np.random.Generator, most_work: float) -> None:
        self.means, self.chance, self.most_work = means, chance, most_work
        often = np.array([1.0 / reorder_work(grid, TRIES) for grid in means.reordering])
        self.often = often / often.sum()
        self.beams, self.by_depth = 0, means.insertions.problem.by_depth

    def job(self, plans: Sequence[Choice], best: Floats, centre: Floats) -> _Job:
        chance = self.chance
        start = plans[int(chance.integers(len(plans)))]
        if chance.random() < INSERTED[self.by_depth]:
            return self._insertion(start)
        if self.beams >= len(SCALES) and plans[0] and chance.random() < REORDERED:
            draws, bear = chance.random((TRIES, DRAWS)), float(chance.choice(BEARS))
            grid = self.means.reordering[int(chance.choice(len(self.often), p=self.often))]
            job = _Reordering(grid, start, draws, bear)
            return job if self._is_short(job) else self._insertion(start)
        beam = self._beam(best, centre)
        return beam if self._is_short(beam) else self._insertion(start)

    def _is_short(self, job: _Job) -> bool:
        """Whether a job is worth its time: on large nights thousands of runs are put in meanwhile."""
        return job.work(self.means) <= LONGEST * self.most_work

    def _insertion(self, start: Choice) -> _Insertion:
        insertions = self.means.insertions
        most = int(INSERTION_SHARE * self.most_work / insertions.work(start))
        tries = min(int(self.chance.choice(INSERTION_TRIES[self.by_depth])), max(1, most))
        bear, seed = float(self.chance.choice(BEARS)), int(self.chance.integers(2**31))
        return _Insertion(start, tries, bear, seed)

    def _beam(self, best: Floats, centre: Floats) -> _Beam:
        graph, chance = self.means.beams.graph, self.chance
        number, self.beams = self.beams, self.beams + 1
        worths = np.array([float(task.worth) for task in graph.problem.tasks])
        scale, share = SCALES[number % len(SCALES)], LENGTHS[number % len(LENGTHS)]
        prices, width = best * scale, WIDTHS[0]
        if number >= len(SCALES):
            prices = (best if chance.random() < 0.5 else centre) * chance.choice(SCALES)
            prices = prices + worths * chance.normal(0.0, chance.choice(NOISES), len(worths))
            share, width = chance.choice(LENGTHS), int(chance.choice(WIDTHS))
        return _Beam(np.maximum(0.0, prices), width, chance.random(len(graph.pair_s)) < share)


def _means(graph: NightGraph) -> _Means:
    """For beams the finest grid of small enough tables, else the coarsest; for the others all such grids."""
    for step_s in STEPS_S:
        grid = Relaxation(graph, step_s)
        if grid.ticks * int(graph.entry_sets.sum()) <= MOST_CELLS and _worths_of(grid) <= MOST_WORTHS:
            break
    _ = grid.worths_by_end, grid.worths, grid.fitting  # made once, before threads ask for them
    ctrl_c.heed()
    grids = [grid if grid.step_s == step_s else Relaxation(graph, step_s) for step_s in REORDER_STEPS_S]
    reordering = tuple(each for each in grids if _worths_of(each) <= MOST_WORTHS) or (grid,)
    _ = [each.most_worths for each in reordering]
    return _Means(grid, reordering, Insertions(grid), np.zeros(1, dtype=np.bool_))


def _worths_of(grid: Relaxation) -> int:
    """Numbers in the table of a grid's worths by the tick; where the sky does not decide, hardly any."""
    return len(grid.graph.pair_s) * grid.ticks if grid.problem.by_depth else 0


def _plans(means: _Means, job: _Job) -> list[Choice]:
    return [plan_along(means.beams.problem, path) for path in job.paths(means)]


def _worth_first(plan: tuple[int, Choice]) -> int:
    return -plan[0]
