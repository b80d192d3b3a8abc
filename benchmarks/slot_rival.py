"""A rival: the night cut into equal slots of time, a mixed-integer model over them, solved by HiGHS.

One binary for each goal, side and slot of time, tied into one flow through the night; going to another target
or side and changing the filter cost setting-up seconds; a goal's frames fit into what its slots of time leave
(fractions allowed: the search is quicker so). Its bound holds for this model only.
The answer is mapped back to runs and repaired to the second.
"""

from __future__ import annotations

import time
from collections import defaultdict
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix

from benchmarks.runs import Wanted, repaired
from optimizer.packing.plan import Plan
from optimizer.problem import VISITS_PER_SIDE, Problem, Slot
from optimizer.problem.transitions import transition

NAME = "equal time slots"
# Of 5, 10, 15, 20 and 30 min, 20 gave the best plans in 10 s (nights 1, 2 and 4); 30 is proven sooner.
CELL_S = 1200
LEAST_SHARE = 0.5  # of a slot of time that must be open to be used
PROVEN, FINE = 0.01, 1e-4
WHOLE_SHARE = 0.5  # of the time limit, for the model as it is; the rest for the night part by part
BLOCKS, BLOCK_GAP = 6, 0.003
Term = tuple[int, float]  # column, factor


@dataclass
class _Rows:
    """Sparse rows `low <= sum <= high`, with the columns' bounds."""

    cost: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    most: list[float] = field(default_factory=list)
    entries: list[tuple[int, int, float]] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def column(self, most: float, *, whole: bool = False, cost: float = 0.0) -> int:
        self.cost.append(cost)
        self.whole.append(int(whole))
        self.most.append(most)
        return len(self.cost) - 1

    def row(self, terms: list[Term], low: float, high: float) -> None:
        self.entries += [(len(self.high), column, factor) for column, factor in terms]
        self.low.append(low)
        self.high.append(high)

    def balance(self, incoming: list[int], outgoing: list[int]) -> None:
        self.row([*((each, 1.0) for each in incoming), *((each, -1.0) for each in outgoing)], 0, 0)


@dataclass
class _Node:
    """A goal in one slot of time, with the ways in and out of it."""

    task: int
    used_s: int
    on: int  # the goal has this slot of time
    arrive: int  # from another target or side, at the price of setting up
    rested: int  # after a slot of time without work, in which the setting up is done
    change: int  # from another goal of the same window
    leave: int
    change_away: int


@dataclass
class _Model:
    """Nodes by (slot, task, cell)."""

    rows: _Rows
    nodes: dict[tuple[int, int, int], _Node]


def planned(problem: Problem, time_limit_s: float, seed: int) -> tuple[Plan, dict[str, Any]]:
    """The repaired plan and what the solver says of its model; it has no use for a seed."""
    began = time.monotonic()
    model = _model(problem)
    if not model.nodes:
        return Plan(), {"seconds": time.monotonic() - began, "proven_s": None, "gap": None}
    told, proven_s = _Told(), None
    # this interface tells nothing before a search ends, so the first ends at the gap whose time is told
    whole_s = WHOLE_SHARE * (time_limit_s - (time.monotonic() - began))
    best = told.better(None, _solved(model, whole_s, PROVEN))
    for again in (False, True):
        seconds = time.monotonic() - began
        if proven_s is None and best is not None and told.gap(best) <= PROVEN:
            proven_s = seconds
        left_s = time_limit_s - seconds
        if again or left_s <= 0 or (best is not None and told.gap(best) <= FINE):
            continue
        more = _solved(model, left_s, FINE) if proven_s is not None else _block_by_block(model, left_s)
        best = told.better(best, more)
    plan = repaired(problem, [] if best is None else _wanted(problem, model, best.x))
    unit = float(problem.profit_unit)
    return plan, {
        "seconds": time.monotonic() - began,
        "proven_s": proven_s,
        "gap": None if best is None else told.gap(best),
        "model_value": None if best is None else -best.fun * unit,
        "model_bound": told.bound * unit if told.bound < np.inf else None,
        "columns": len(model.rows.cost),
        "cell_s": CELL_S,
    }


@dataclass
class _Told:
    """The lowest bound on the whole model; answers are compared by their value."""

    bound: float = np.inf

    def better(self, best: Any, found: Any) -> Any:
        """The better of two answers, either of which may be None."""
        if found is None:
            return best
        if found.whole_model and found.mip_dual_bound is not None:
            self.bound = min(self.bound, -found.mip_dual_bound)
        if found.x is None or found.fun >= 0:
            return best
        return found if best is None or found.fun < best.fun else best

    def gap(self, best: Any) -> float:
        return max(0.0, float((self.bound + best.fun) / -best.fun))


def _block_by_block(model: _Model, time_limit_s: float) -> Any:
    """Part after part of the night in whole numbers, what follows in fractions, what came before fixed."""
    began = time.monotonic()
    cells = sorted({cell for _, _, cell in model.nodes})
    columns = {cell: [node.on for key, node in model.nodes.items() if key[2] == cell] for cell in cells}
    whole, fixed, found = np.zeros(len(model.rows.cost)), np.full(len(model.rows.cost), np.nan), None
    for number, part in enumerate(np.array_split(cells, BLOCKS)):
        mine = [column for cell in part for column in columns[cell]]
        whole[mine] = 1
        left_s = time_limit_s - (time.monotonic() - began)
        found = _solved(model, left_s / (BLOCKS - number), BLOCK_GAP, whole, fixed)
        if found.x is None:
            return None
        fixed[mine] = np.round(found.x[mine])
    return found


def _solved(model: _Model, seconds: float, gap: float, whole: Any = None, fixed: Any = None) -> Any:
    rows = model.rows
    lines, columns, factors = zip(*rows.entries, strict=True)
    matrix = csr_matrix((factors, (lines, columns)), shape=(len(rows.high), len(rows.cost)))
    low, high = np.zeros(len(rows.cost)), np.array(rows.most)
    if fixed is not None:
        low, high = np.where(np.isnan(fixed), low, fixed), np.where(np.isnan(fixed), high, fixed)
    found = milp(
        np.array(rows.cost),
        integrality=np.array(rows.whole) if whole is None else whole,
        bounds=Bounds(low, high),
        constraints=LinearConstraint(matrix, np.array(rows.low), np.array(rows.high)),
        options={"time_limit": max(0.1, seconds), "mip_rel_gap": gap},
    )
    found.whole_model = whole is None
    return found


def _model(problem: Problem) -> _Model:
    slots = [slot for slot in problem.slots if not slot.copy]
    model = _Model(_Rows(), {})
    spans = [span for slot in slots for spans in slot.shutter.values() for span in spans]
    opens = min((first for first, _ in spans), default=0)
    for slot in slots:
        for task, own in slot.shutter.items():
            for first, last in own:
                for cell in range((first - opens) // CELL_S, (last - opens) // CELL_S + 1):
                    begins = opens + cell * CELL_S
                    inside_s = min(last, begins + CELL_S) - max(first, begins)
                    if inside_s >= LEAST_SHARE * CELL_S:
                        model.nodes[slot.index, task, cell] = _node(model.rows, task, inside_s)
    if model.nodes:
        _flow(model)
        _time_of_frames(problem, model, slots)
    return model


def _node(rows: _Rows, task: int, used_s: int) -> _Node:
    return _Node(task, used_s, rows.column(1, whole=True), *(rows.column(1) for _ in range(5)))


def _flow(model: _Model) -> None:
    """One unit goes through the night: it stays, changes the goal, leaves for another window or rests."""
    rows, cells = model.rows, [cell for _, _, cell in model.nodes]
    by_cell: dict[int, list[_Node]] = defaultdict(list)
    windows: dict[tuple[int, int], tuple[list[int], list[int]]] = defaultdict(lambda: ([], []))
    for (slot, task, cell), node in model.nodes.items():
        by_cell[cell].append(node)
        after = model.nodes.get((slot, task, cell + 1))
        stays = [rows.column(1)] if after is not None else []
        rows.balance([node.on], [node.leave, node.change_away, *stays])
        if after is not None:
            rows.balance([after.arrive, after.rested, after.change, *stays], [after.on])
        if (slot, task, cell - 1) not in model.nodes:
            rows.balance([node.arrive, node.rested, node.change], [node.on])
        windows[slot, cell][1].append(node.change)
        windows[slot, cell + 1][0].append(node.change_away)
    for away, here in windows.values():
        rows.balance(away, here)
    rests = rows.column(1)  # before the night's first slot of time
    rows.row([(rests, 1.0)], 1, 1)
    leaving: list[int] = []
    for cell in range(min(cells), max(cells) + 1):
        nodes, rests_before, rests = by_cell[cell], rests, rows.column(1)
        arriving = [way for node in nodes for way in (node.arrive, node.rested)]
        rows.balance([rests_before, *leaving], [rests, *arriving])
        rows.row([*((node.rested, 1.0) for node in nodes), (rests_before, -1.0)], -np.inf, 0)
        leaving = [node.leave for node in nodes]


def _time_of_frames(problem: Problem, model: _Model, slots: list[Slot]) -> None:
    """Frames fit into the slots of time of their goal, less arrivals and changes of filter."""
    rows = model.rows
    seconds: dict[int, list[Term]] = defaultdict(list)
    arrivals: dict[tuple[str, str | None], list[Term]] = defaultdict(list)
    usual_s = {slot.index: _usual_arrival_s(problem, slots, slot) for slot in slots}
    focus_s = problem.rules.focus_s if problem.rules.focus_on_filter_change else 0
    for (index, number, _), node in model.nodes.items():
        slot, change_s = problem.slots[index], problem.tasks[number].change_s
        seconds[number] += [
            (node.on, -float(node.used_s)),
            (node.arrive, usual_s[index] + change_s),
            (node.change, float(change_s + focus_s)),
        ]
        arrivals[slot.target.name, slot.side] += [(node.arrive, 1.0), (node.rested, 1.0)]
    for task in problem.tasks:
        if task.index in seconds:
            frames = rows.column(task.frames_left, cost=-float(task.profit))
            rows.row([(frames, _each_s(problem, task.index)), *seconds[task.index]], -np.inf, 0)
    for terms in arrivals.values():
        rows.row(terms, 0, VISITS_PER_SIDE)


def _usual_arrival_s(problem: Problem, slots: list[Slot], slot: Slot) -> float:
    """Seconds for an arrival, over the ways from all others, filter apart."""
    ways = [transition(problem, other, slot).at_once_s for other in slots if other is not slot]
    focus_s = problem.rules.focus_s if problem.rules.focus_on_new_target else 0
    return float(np.median(ways or [0])) + problem.rules.centre_s + problem.rules.settle_s + focus_s


def _each_s(problem: Problem, index: int) -> float:
    """Seconds that a frame takes with its share of dithers and of focus runs for the cadence."""
    task, every = problem.tasks[index], problem.rules.dither_every
    seconds = task.frame_s + (problem.rules.dither_s / every if every else 0)
    if problem.rules.focus_every_s is not None:
        pause_s = problem.run_lengths.pause_s
        seconds += pause_s / max(1, problem.run_lengths.later_segment_most(task))
    return seconds


def _wanted(problem: Problem, model: _Model, x: Any) -> list[Wanted]:
    """Runs in order; a goal's frames are shared out by the slots of time that its runs have."""
    chosen = sorted(
        (cell, slot, task) for (slot, task, cell), node in model.nodes.items() if x[node.on] > 0.5
    )
    found: list[Wanted] = []
    for (slot, task), cells in groupby(chosen, key=lambda each: each[1:]):
        length_s = sum(model.nodes[slot, task, cell].used_s for cell, _, _ in cells)
        found.append((slot, task, max(1, round(length_s / _each_s(problem, task)))))
    return found
