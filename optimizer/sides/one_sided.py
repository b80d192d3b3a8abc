"""A target shot on one side alone, the night planned anew around it, from what is known of the free night.

Only `sides` of one target differs from the free night, so its plan and its prices are a good start. Where the
best plan under that choice leaves the target out, a few of its frames are given more profit than anything
that they could push aside, and the night is planned around them.
"""

from __future__ import annotations

import math
from dataclasses import replace

from optimizer.models.targets import Target
from optimizer.packing.plan import Plan
from optimizer.packing.solution import Solution, WarmStart
from optimizer.packing.solve import solve
from optimizer.problem import Problem, only_slots
from optimizer.problem.tasks import Task

FREE_SHARE, FORCED_SHARE = 0.5, 0.5  # of the limit
PREMIUM_S = 7200.0  # weighted seconds for each of the few frames: what a visit can cost others, and more


def shot_at_all(
    problem: Problem, target: Target, warm_start: WarmStart, limit_s: float, *, left_out: bool
) -> tuple[Plan, int | None]:
    """Look for a good plan that shoots the target, and for a profit that no such plan exceeds.

    The plan is empty where none was found, and the bound None where it was not asked. Where the plan of the
    warm start leaves the target out (`left_out`), this one would too, and the night is planned at once with a
    premium.
    """
    bound = None
    if not left_out:
        solution = solved_within(problem, FREE_SHARE * limit_s, warm_start)
        if shoots(problem, solution.plan, target):
            return solution.plan, solution.bound
        warm_start, bound = WarmStart(problem, solution), solution.bound
    forced = _forced(problem, target, warm_start, FORCED_SHARE * limit_s)
    return (forced if shoots(problem, forced, target) else Plan()), bound


def shoots(problem: Problem, plan: Plan, target: Target) -> bool:
    """Whether a plan visits the target."""
    return any(problem.slots[visit.slot].target.name == target.name for visit in plan)


def _forced(problem: Problem, target: Target, warm_start: WarmStart, limit_s: float) -> Plan:
    """The best plan where the fewest frames that make a visit have their premium."""
    room_s: dict[int, int] = {}
    for slot in problem.slots:
        if slot.target.name == target.name:
            for index, spans in slot.shutter.items():
                room_s[index] = room_s.get(index, 0) + sum(last - first for first, last in spans)
    if not room_s:
        return Plan()

    def fitness(index: int) -> tuple[bool, int, int]:
        task = problem.tasks[index]
        return _fills_a_visit(task), -task.shutter_s, room_s[index]  # short frames are the easiest to place

    chosen = problem.tasks[max(room_s, key=fitness)]
    alone = _fills_a_visit(chosen)  # else the target's goals must make a visit together
    premium = math.ceil(PREMIUM_S / problem.profit_unit)
    dear = {chosen.index} if alone else set(room_s)
    tasks = tuple(_dearer(task, premium, few=alone) if task.index in dear else task for task in problem.tasks)
    dropped = set(room_s) - dear
    slots = tuple(
        replace(slot, shutter={task: spans for task, spans in slot.shutter.items() if task not in dropped})
        for slot in problem.slots
    )
    kept = [slot.index for slot in slots if slot.shutter]
    # in a filter set the premium would be worth nothing beyond what the set still wants
    sets = tuple(each for each in problem.worth.sets if each.target != target.name)
    worth = replace(problem.worth, sets=sets)
    forced = only_slots(
        replace(problem, tasks=tasks, slots=slots, worth=worth), lambda slot: bool(slot.shutter)
    )
    solution = solved_within(forced, limit_s, warm_start)
    return Plan.of(replace(visit, slot=kept[visit.slot]) for visit in solution.plan)


def _frames_of_a_visit(task: Task) -> int:
    """Fewest frames of one goal that make the target's least visit."""
    return max(1, math.ceil(60 * task.target.least_min / task.goal.exposure_s))


def _fills_a_visit(task: Task) -> bool:
    return _frames_of_a_visit(task) <= task.frames_left


def _dearer(task: Task, premium: int, *, few: bool) -> Task:
    by_start = None if task.profit_by_start is None else task.profit_by_start + premium
    frames = _frames_of_a_visit(task) if few else task.frames_left
    return replace(task, frames_left=frames, profit=task.profit + premium, profit_by_start=by_start)


def solved_within(problem: Problem, limit_s: float, warm_start: WarmStart | None = None) -> Solution:
    """Solve a problem within another limit, in seconds, than its own. Raises KeyboardInterrupt on Ctrl-C."""
    within = replace(problem, limits=replace(problem.limits, time_limit_s=limit_s))
    solution = solve(within, warm_start=warm_start)
    if solution.status == "stopped":
        raise KeyboardInterrupt
    return solution
