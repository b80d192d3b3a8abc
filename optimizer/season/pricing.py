"""The pricing problem of one night of a season: the best path at what frames are worth in view of the season.

At prices (a dual for each frame, a price of progress for each second of a filter set) the worth of the best
path bounds what any real plan of the night is worth at them. One pricing of all nights at the same prices is
a proof for the season (`bound_s`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from optimizer.packing.bound.tables import Reduction
from optimizer.season.prepared import PreparedNight
from optimizer.season.projects import Floats, Ints, Projects
from optimizer.season.sky_blocks import SKY_STEP_S

STEP_S = 10  # seconds of a tick; a night then looks some 0.05 % longer than on a grid of seconds
NEVER = 1e15  # a cost that no night brings in
ROUNDING = 1e-11  # of a sum of floating numbers, on the safe side


@dataclass(frozen=True, eq=False)
class Prices:
    """What frames are worth in view of the season, [goals].

    A frame of a goal counts `shares` times its own profit, less `costs_s` weighted seconds. `shares` are 1,
    or in filter sets 1 - balance and the price of progress.
    """

    shares: Floats
    costs_s: Floats

    def of_tasks(self, numbers: Ints) -> Prices:
        """The prices of a rig's tasks, [tasks], by the numbers of their goals."""
        return Prices(self.shares[numbers], self.costs_s[numbers])


@dataclass(frozen=True, eq=False)
class NightColumn:
    """A path through a night: what it takes of each task and how to lay it out as a plan.

    `worth_s` is its worth at the prices it was found at, in weighted seconds; `frames` and `gathered_s`
    (weighted seconds at the sky's own worth) are by task. `runs` has a row for each run in the order of time:
    slot, task, number of the window, frames, second before which it shall not begin.
    """

    worth_s: float
    frames: Ints
    gathered_s: Floats
    runs: tuple[tuple[int, int, int, int, int], ...]


def price(
    night: PreparedNight, prices: Prices, left: Ints, most: int = 1, step_s: int | None = None
) -> list[NightColumn]:
    """The best path of a night and up to `most` - 1 others that end elsewhere, best first.

    `prices` and `left` (frames, no run is longer) are by task. The first one's worth is no less than that of
    any real plan of the night. Empty where nothing can be shot. Ticks last `step_s`, or
    as long as is usual.
    """
    graph, usual_s = night.graph, SKY_STEP_S if night.problem.by_time else STEP_S
    if not graph.nodes:
        return []
    unit = float(night.problem.profit_unit)
    tasks, frames = graph.option_task, graph.option_frames
    costs = prices.costs_s[tasks] / unit * frames
    costs = np.where(frames > left[tasks], NEVER / unit, costs)
    slots = len(graph.slots)
    reduction = Reduction(
        option_shares=np.ascontiguousarray(prices.shares[tasks]),
        option_costs=costs,
        arc_gains=np.zeros((slots + 1, slots)),
        refocus_gains=np.zeros(slots),
    )
    return [
        NightColumn(
            worth_s=column.value * unit * (1 + ROUNDING),
            frames=np.bincount(
                tasks[column.runs.options],
                weights=frames[column.runs.options],
                minlength=len(night.problem.tasks),
            ).astype(np.int64),
            gathered_s=np.asarray(
                unit
                * np.bincount(
                    tasks[column.runs.options],
                    weights=column.runs.profits,
                    minlength=len(night.problem.tasks),
                ),
                dtype=np.float64,
            ),
            runs=tuple(
                (graph.slots[node.slot].index, node.task.index, node.window, int(count), int(begins))
                for node, count, begins in zip(
                    (graph.nodes[number] for number in graph.option_node[column.runs.options]),
                    frames[column.runs.options],
                    column.begins_s,
                    strict=True,
                )
            ),
        )
        for column in night.grid(step_s or usual_s).best_columns(most, reduction)
    ]


def bound_s(projects: Projects, prices: Prices, odds: Sequence[Fraction], nights_s: Sequence[float]) -> float:
    """Weighted seconds that no policy can expect more of, from the worth of the best path of each night.

    `nights_s` are those worths at these prices, `odds` those of clear sky. Holds for any prices with costs
    not below 0 and prices of progress from 0 to what a set counts at most. The value is odds-weighted and
    undiscounted.
    """
    progress = projects.progress
    given = float(projects.left @ prices.costs_s)
    given += progress.given(np.where(progress.in_set, prices.shares - progress.plain, 0.0))
    total = sum(float(chance) * each for chance, each in zip(odds, nights_s, strict=True))
    return (total + given) * (1 + ROUNDING)
