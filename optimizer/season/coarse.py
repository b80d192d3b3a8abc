"""Nights on a coarse grid, for simulations: some of the paths through each, and what a policy mixes of them.

A path is found by labelling with nothing remembered, and may overshoot what is left of a goal. A simulated
night is a mixture of paths, cut where a goal is complete: a little better than any real plan of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.season.desk import Desk, Engine, NightRef
from optimizer.season.gathered import GatheredLaw
from optimizer.season.pricing import Prices, price
from optimizer.season.projects import Floats, Ints

STEP_S = 60  # of the grid; a night then looks some 0.7 % longer than on a grid of seconds
BLOCK = 6  # nights of one task
STEPS = np.array((1.0, 0.6, 0.35, 0.2, 0.1, 0.05))  # towards the next path, of which the best is taken
ROUNDS = 12  # paths that a night is mixed of
LEAST = 1e-9

Small = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Paths:
    """Paths through one night: frames and weighted seconds at the sky's own worth, [paths, goals]."""

    frames: Small
    gathered_s: Small

    def with_others(self, other: Paths) -> Paths:
        """These and those of another pool, each once, in an order that depends on nothing but them."""
        both = np.concatenate([self.frames, other.frames]), np.concatenate([self.gathered_s, other.gathered_s])
        _, first = np.unique(np.concatenate(both, axis=1), axis=0, return_index=True)
        return Paths(both[0][first], both[1][first])


def paths_at(
    desk: Desk, refs: tuple[NightRef, ...], worths: Floats, left: Ints
) -> list[tuple[Small, Small]]:
    """The best path of each night at each of some worths of a second, [nights, worths, goals].

    `left` [nights, worths, goals] are the frames left to each, longer runs of which are not made. The answer
    has for each night frames and weighted seconds, [paths, goals], every path once.
    """
    goals, found = len(desk.projects.goals), list[tuple[Small, Small]]()
    for number, ref in enumerate(refs):
        night, own = desk.night(ref), desk.rigs[ref.rig].numbers
        rows: dict[bytes, tuple[Small, Small]] = {}
        for worth, most in zip(worths[number], left[number], strict=True):
            columns = price(night, Prices(worth[own], np.zeros(len(own))), most[own], step_s=STEP_S)
            for column in columns:
                frames, gathered = np.zeros(goals, dtype=np.float32), np.zeros(goals, dtype=np.float32)
                np.add.at(frames, own, column.frames)
                np.add.at(gathered, own, column.gathered_s)
                rows[frames.tobytes() + gathered.tobytes()] = frames, gathered
        kept = [rows[key] for key in sorted(rows)] or [(np.zeros(goals, np.float32),) * 2]
        found.append((np.array([each[0] for each in kept]), np.array([each[1] for each in kept])))
    return found


def pools_at(engine: Engine, refs: Sequence[NightRef], worths: Floats, left: Ints) -> list[Paths]:
    """The paths of `paths_at` for all nights, in their order."""
    tasks = [
        (tuple(refs[at : at + BLOCK]), worths[at : at + BLOCK], left[at : at + BLOCK])
        for at in range(0, len(refs), BLOCK)
    ]
    return [Paths(*each) for found in engine.run(paths_at, tasks) for each in found]


def mixed(
    paths: Paths,
    law: GatheredLaw,
    reached_s: Floats,
    left: Floats,
    factors: Floats | float,
    rounds: int = ROUNDS,
) -> tuple[Floats, Floats, Floats]:
    """What a night brings in each of some seasons: frames and weighted seconds, [seasons, goals].

    By the method of Frank and Wolfe: each round steps towards the path that is best at what frames are worth
    after the mixture so far. `reached_s` and `left` are [seasons, goals]. The third answer is what a second
    of each goal was worth in the end.
    """
    none = np.zeros(reached_s.shape)
    frames, gathered, best_frames, best_gathered = none, none, none, none
    best = law.value_s(reached_s, factors)
    slope = none
    pool = paths.gathered_s.T.astype(np.float64)
    for number in range(rounds):
        kept = np.minimum(1.0, left / np.maximum(frames, LEAST))
        slope = law.slope(reached_s + gathered * kept, factors) * factors * (frames < left)
        chosen = np.argmax(slope @ pool, axis=1)
        way = paths.frames[chosen] - frames, paths.gathered_s[chosen] - gathered
        steps = STEPS[None, :, None]
        tried = frames[:, None] + steps * way[0][:, None], gathered[:, None] + steps * way[1][:, None]
        cut = np.minimum(1.0, left[:, None] / np.maximum(tried[0], LEAST))
        on_factors = factors if np.ndim(factors) < 2 else np.asarray(factors)[:, None]
        values = law.value_s(reached_s[:, None] + tried[1] * cut, on_factors)
        place = np.argmax(values, axis=1)
        rows = np.arange(len(place))
        more = values[rows, place] > best
        step = np.where(values[rows, place] > law.value_s(reached_s + gathered * kept, factors), STEPS[place], 1 / (number + 2))
        frames, gathered = frames + step[:, None] * way[0], gathered + step[:, None] * way[1]
        kept = np.minimum(1.0, left / np.maximum(frames, LEAST))
        best_frames = np.where(more[:, None], frames * kept, best_frames)
        best_gathered = np.where(more[:, None], gathered * kept, best_gathered)
        best = np.where(more, values[rows, place], best)
    return best_frames, best_gathered, slope
