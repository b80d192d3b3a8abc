"""Redundant rows that make the bound tight: what is done inside a stretch of the night fits into it.

No plan needs them, the proof does: on 16 nights of 3 targets with 2 filters and long exposures 13 were proven
with them and 11 without, one worker, five counted seconds each.
"""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from optimizer.packing.model.rules.order_of_visits import NIGHT
from optimizer.packing.model.variables import NightVars, RunVars
from optimizer.problem import Span
from optimizer.problem.transitions import transition

MOST_ROWS = 200


@dataclass(frozen=True)
class _Item:
    """A run with the hull of its windows and the longest that it could last."""

    slot: int
    task: int
    hull: Span
    longest_s: int
    run: RunVars


def build(model: cp_model.CpModel, night: NightVars) -> None:
    """Add rows for stretches between window edges: runs, changes and motions inside take no longer.

    Only stretches in which more could be wanted than fits make a row; the tightest come first.
    """
    items = _items(night)
    if not items:
        return
    rows: dict[frozenset[tuple[int, int]], tuple[int, list[_Item]]] = {}
    for opens in sorted({item.hull[0] for item in items}):
        for closes in sorted({item.hull[1] for item in items}):
            inside = [item for item in items if opens <= item.hull[0] and item.hull[1] <= closes]
            key = frozenset((item.slot, item.task) for item in inside)
            if not inside or sum(item.longest_s for item in inside) <= closes - opens:
                continue
            if key not in rows or closes - opens < rows[key][0]:
                rows[key] = (closes - opens, inside)
    slack = sorted(rows.values(), key=lambda row: row[0] / sum(item.longest_s for item in row[1]))
    ways_s = {pair: _way_s(night, *pair) for pair in night.arcs if NIGHT not in pair} if slack else {}
    for length_s, inside in slack[:MOST_ROWS]:
        _row(model, night, length_s, inside, ways_s)


def _items(night: NightVars) -> list[_Item]:
    items = []
    for index, visit in night.visits.items():
        for number, run in visit.runs.items():
            spans = visit.slot.shutter[number]
            task = run.task
            most_s = night.problem.run_lengths.run_s(
                task,
                night.problem.run_lengths.cut_into_segments(
                    task, task.frames_left, max(1, night.problem.run_lengths.first_segment_most(task))
                ),
            )
            longest_s = min(most_s, spans[-1][1] - spans[0][0])
            items.append(_Item(index, number, (spans[0][0], spans[-1][1]), longest_s, run))
    return items


def _way_s(night: NightVars, first: int, second: int) -> int:
    """Least seconds from the end of one visit to the first run of another."""
    problem = night.problem
    start, after_slot = night.visits[first].slot, night.visits[second].slot
    flips = problem.flips_between(start, after_slot)
    moving = transition(problem, start, after_slot)
    seconds = problem.acquisition_s(start, after_slot)
    seconds += moving.floor_s if after_slot.motion[0] > start.work[0] else moving.at_once_s
    if not flips:
        seconds += min(problem.tasks[task].change_s for task in after_slot.shutter)
    if problem.focuses_on_arrival(flips, not flips):
        seconds += problem.rules.focus_s
    return seconds


def _row(
    model: cp_model.CpModel,
    night: NightVars,
    length_s: int,
    inside: list[_Item],
    ways_s: dict[tuple[int, int], int],
) -> None:
    """Add one row: focus runs, changes and motions count, but for those before the first run and visit."""
    problem = night.problem
    focus_s = problem.rules.focus_s
    tasks_of: dict[int, set[int]] = {}
    used: list[cp_model.LinearExprT] = []
    for item in inside:
        tasks_of.setdefault(item.slot, set()).add(item.task)
        used.append(item.run.seconds)
    for slot, tasks in tasks_of.items():
        for (task, other), literal in night.visits[slot].arcs.items():
            if task in tasks and other in tasks:
                before, after = night.visits[slot].runs[task].task, night.visits[slot].runs[other].task
                changes = before.goal.filter != after.goal.filter
                between_s = after.change_s if changes else 0
                if changes and problem.rules.focus_on_filter_change:
                    between_s += focus_s
                used.append(between_s * literal)
    whole = {slot for slot, tasks in tasks_of.items() if tasks == set(night.visits[slot].runs)}
    for (first, second), seconds in ways_s.items():
        if first in whole and second in whole:
            used.append(seconds * night.arcs[first, second])
    longest_tail_s = max(item.run.task.tail_s for item in inside)
    model.add(cp_model.LinearExpr.sum(used) <= length_s + longest_tail_s)
