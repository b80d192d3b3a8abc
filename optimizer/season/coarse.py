"""Coarse nights, for simulations: some of the paths through each, and what a policy mixes of them.

A path is found by labelling as for the bound, with nothing remembered, and may overshoot what is left of a
goal. A simulated night is a mixture of paths, cut where a goal is complete: a little better than any real
plan of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.season.coarse_loops import PathArrays, mix_paths
from optimizer.season.desk import Desk, Engine, NightRef, blocks_of
from optimizer.season.gathered import GatheredLaw
from optimizer.season.pricing import Prices, price
from optimizer.season.projects import Floats, Ints

STEPS = np.array((1.0, 0.6, 0.35, 0.2, 0.1, 0.05))  # towards the next path, of which the best is taken
ROUNDS = 12  # paths that a night is mixed of

Small = NDArray[np.float32]
OfPaths = tuple[Small, Small, Ints]


@dataclass(frozen=True, eq=False)
class Paths:
    """Paths through one night: frames and weighted seconds at the sky's own worth, [paths, tasks].

    `goals` [tasks] are the numbers of the goals that the tasks are; None: they are all goals in their order.
    """

    frames: Small
    gathered_s: Small
    goals: Ints | None = None

    def arrays(self, law: GatheredLaw) -> PathArrays:
        """The same for the compiled loop."""
        path, task = np.nonzero(self.frames)
        goal = task if self.goals is None else self.goals[task]
        met = np.unique(goal)
        sets = np.unique(law.arrays.of_goal[met])
        return PathArrays(
            starts=np.searchsorted(path, np.arange(len(self.frames) + 1)),
            goals=goal,
            frames=self.frames[path, task].astype(np.float64),
            gathered_s=self.gathered_s[path, task].astype(np.float64),
            met=met,
            sets=sets[sets >= 0],
        )

    def with_others(self, other: Paths) -> Paths:
        """These and those of another pool, each once, in an order that depends on nothing but them."""
        frames = np.concatenate([self.frames, other.frames])
        gathered = np.concatenate([self.gathered_s, other.gathered_s])
        _, first = np.unique(np.concatenate([frames, gathered], axis=1), axis=0, return_index=True)
        return Paths(frames[first], gathered[first], self.goals)


def paths_at(
    desk: Desk, refs: tuple[NightRef, ...], worths: Sequence[Floats], lefts: Sequence[Ints]
) -> list[OfPaths]:
    """The best path of each night at each of some worths of a second, [worths, tasks] for each night.

    `lefts` [worths, tasks] are the frames left to each, longer runs of which are not made. The answer has for
    each night what `Paths` takes, every path once.
    """
    found = list[OfPaths]()
    for ref, of_night, left in zip(refs, worths, lefts, strict=True):
        night, numbers = desk.priced(ref), desk.numbers(ref)
        rows: dict[bytes, tuple[Small, Small]] = {}
        for worth, most in zip(of_night, left, strict=True):
            for column in price(night, Prices(worth, np.zeros(len(numbers))), most):
                frames, gathered = column.frames.astype(np.float32), column.gathered_s.astype(np.float32)
                rows[frames.tobytes() + gathered.tobytes()] = frames, gathered
        kept = [rows[key] for key in sorted(rows)] or [(np.zeros(len(numbers), np.float32),) * 2]
        found.append((np.array([each[0] for each in kept]), np.array([each[1] for each in kept]), numbers))
    return found


def pools_at(
    engine: Engine, refs: Sequence[NightRef], worths: Sequence[Floats], lefts: Sequence[Ints]
) -> list[Paths]:
    """The paths of `paths_at` for all nights, in their order."""
    tasks, first = [], 0
    for block in blocks_of(refs):
        own = slice(first, first + len(block))
        tasks.append((block, tuple(worths[own]), tuple(lefts[own])))
        first += len(block)
    return [Paths(*each) for found in engine.run(paths_at, tasks) for each in found]


def mixed(
    paths: Paths,
    law: GatheredLaw,
    reached_s: Floats,
    left: Floats,
    factors: Floats,
    rounds: int = ROUNDS,
) -> tuple[Floats, Floats, Floats]:
    """What a night brings in each of some seasons: frames and weighted seconds, [seasons, goals].

    By the method of Frank and Wolfe: each round steps towards the path that is best at what frames are worth
    after the mixture so far. `reached_s` and `left` are [seasons, goals], `factors` as well or [goals]. The
    third answer is what a second of each goal was worth in the end.
    """
    frames, gathered, slope = (np.zeros(reached_s.shape) for _ in range(3))
    factors = np.ascontiguousarray(np.broadcast_to(factors, reached_s.shape), dtype=np.float64)
    mix_paths(law.arrays, paths.arrays(law), factors, reached_s, left, rounds, STEPS, frames, gathered, slope)
    return frames, gathered, slope
