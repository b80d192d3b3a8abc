"""A night of very many targets, and the few worth a search: a night holds some dozen visits, not a thousand.

What a search needs grows with the square of the windows. So where they are very many, it is done among the
targets that bring most for their time in each part of the night, and those of the first plan; what no plan of
all targets can exceed is then told by sums alone (`ceiling`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from optimizer.packing.bound.nodes import least_arrival_s
from optimizer.packing.plan import Plan
from optimizer.packing.search.construct import constructed
from optimizer.problem import Problem, Slot, only_slots

MOST_WAYS = 400_000  # from slots to windows; 60 targets with 8 goals have 90,000
PART_S = 1800  # of the night


def is_too_large(problem: Problem) -> bool:
    """Whether a search among all targets would take minutes and gigabytes."""
    slots = [slot for slot in problem.slots if not slot.copy]
    return _ways(slots) > MOST_WAYS


def shortlisted(problem: Problem) -> Problem:
    """Leave only the targets that are worth a search; the tasks stay as they are."""
    wanted, slots = set[str](), [slot for slot in problem.slots if not slot.copy]
    of_target: dict[str, list[Slot]] = {}
    for slot in slots:
        of_target.setdefault(slot.target.name, []).append(slot)
    kept: list[Slot] = []
    first = [problem.slots[visit.slot].target.name for visit in constructed(problem)]
    for name in [*first, *_by_merit(problem, slots)]:
        if name not in wanted:
            kept += of_target[name]
            if _ways(kept) > MOST_WAYS:
                break
            wanted.add(name)
    return only_slots(problem, lambda slot: slot.target.name in wanted)


def among_all(problem: Problem, few: Problem, plan: Plan) -> Plan:
    """Tell a plan of a shortlisted night in the slots of the whole one."""
    names = {slot.target.name for slot in few.slots}
    kept = [slot.index for slot in problem.slots if slot.target.name in names]
    return Plan.of(replace(visit, slot=kept[visit.slot]) for visit in plan)


def _ways(slots: list[Slot]) -> int:
    return len(slots) * sum(len(spans) for slot in slots for spans in slot.shutter.values())


def _by_merit(problem: Problem, slots: list[Slot]) -> Iterator[str]:
    """Name the targets: the best of each part of the night, then the second of each, and so on."""
    merits = np.array([_merit(problem, slot) for slot in slots])
    order = np.argsort(-merits, kind="stable").tolist()
    parts = [list[int]() for _ in range(1 + max(slot.work[1] for slot in slots) // PART_S)]
    for index in order:
        for part in range(slots[index].work[0] // PART_S, slots[index].work[1] // PART_S + 1):
            parts[part].append(index)
    for rank in range(len(slots)):
        for part_slots in parts:
            if rank < len(part_slots):
                yield slots[part_slots[rank]].target.name


def _merit(problem: Problem, slot: Slot) -> float:
    """Profit a second of the best visit of a slot, its arrival included."""
    tasks = [problem.tasks[index] for index in slot.shutter]
    seconds = float(min(least_arrival_s(problem, slot, task) for task in tasks))
    best, profit, gathered = 0.0, 0.0, [0] * len(problem.tasks)
    for task in sorted(tasks, key=lambda each: -each.profit / each.frame_s):
        room_s = sum(closes - opens for opens, closes in slot.shutter[task.index])
        frames = min(task.frames_left, 1 + room_s // task.frame_s)
        more = {task.index: frames * task.profit}
        profit += float(problem.worth.gain(gathered, more))
        gathered[task.index] = more[task.index]
        seconds += frames * task.frame_s + (task.change_s if profit else 0)
        best = max(best, profit / seconds)
    return best
