"""A rival: one plain circuit over runs (target, side, filter), solved by CP-SAT.

Each run has a start, a number of frames and an optional place in the circuit; an arc carries the seconds
from one run to the next: slew, centre, settle, filter, focus. No hint, no cuts, no bound but the solver's,
which holds for this model. A goal has at most one run in each window of its target. The answer is repaired to
the second.
"""

from __future__ import annotations

import time
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from ortools.sat.python import cp_model

from benchmarks.runs import Wanted, repaired
from optimizer.packing.plan import Plan
from optimizer.problem import VISITS_PER_SIDE, Problem, Slot
from optimizer.problem.tasks import Task
from optimizer.problem.transitions import may_follow, transition

NAME = "circuit of runs"
PROVEN = 0.01
SEARCHES = 8  # as many as darkfill runs by turns where the machine has fewer cores


@dataclass(frozen=True)
class _Run:
    slot: Slot
    task: Task
    present: cp_model.IntVar
    start: cp_model.IntVar  # first shutter
    frames: cp_model.IntVar
    end: cp_model.LinearExprT  # last tail over


class _Clock(cp_model.CpSolverSolutionCallback):  # type: ignore[misc]
    """When the solver's own gap first came down to 1 %."""

    def __init__(self, began: float) -> None:
        super().__init__()
        self.began = began
        self.proven_s: float | None = None
        self.value, self.bound = 0.0, float("inf")

    def on_solution_callback(self) -> None:
        self.value = self.objective_value
        self.heard(self.best_objective_bound)

    def heard(self, bound: float) -> None:
        self.bound = min(self.bound, bound)
        if self.proven_s is None and self.value > 0 and self.bound - self.value <= PROVEN * self.value:
            self.proven_s = time.monotonic() - self.began


def planned(problem: Problem, time_limit_s: float, seed: int) -> tuple[Plan, dict[str, Any]]:
    """The repaired plan and what the solver says of its model."""
    began = time.monotonic()
    model = cp_model.CpModel()
    runs = [
        _run(model, problem, slot, problem.tasks[task])
        for slot in problem.slots
        if not slot.copy
        for task in slot.shutter
    ]
    arcs = _circuit(model, problem, runs)
    _caps(model, problem, runs)
    model.maximize(sum(run.task.profit * run.frames for run in runs))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = SEARCHES
    solver.parameters.random_seed = seed
    solver.parameters.max_time_in_seconds = max(0.1, time_limit_s - (time.monotonic() - began))
    clock = _Clock(began)
    solver.best_bound_callback = clock.heard
    status = solver.solve(model, clock)
    if status == cp_model.MODEL_INVALID:
        raise RuntimeError(model.validate())
    solved = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    value, bound = (solver.objective_value, solver.best_objective_bound) if solved else (0.0, 0.0)
    if solved and bound - value <= PROVEN * value and clock.proven_s is None:
        clock.proven_s = time.monotonic() - began
    plan = repaired(problem, _wanted(solver, runs, arcs) if solved else [])
    return plan, {
        "seconds": time.monotonic() - began,
        "proven_s": clock.proven_s,
        "gap": (bound - value) / value if value else None,
        "model_value": problem.weighted_seconds(value),
        "model_bound": problem.weighted_seconds(bound),
        "columns": len(model.proto.variables),
    }


def _run(model: cp_model.CpModel, problem: Problem, slot: Slot, task: Task) -> _Run:
    """A run lies in one of its windows, with its dithers and the focus runs that the cadence asks for."""
    spans = slot.shutter[task.index]
    longest_s = max(last - first for first, last in spans)
    most = min(task.frames_left, problem.run_lengths.most_frames(task, longest_s))
    present = model.new_bool_var("")
    frames = model.new_int_var(0, most, "")
    model.add(frames >= 1).only_enforce_if(present)
    model.add(frames == 0).only_enforce_if(~present)
    start = model.new_int_var(spans[0][0], spans[-1][1] - task.shutter_s, "")
    seconds: cp_model.LinearExprT = frames * task.frame_s
    every = problem.rules.dither_every
    if every:
        dithers = model.new_int_var(0, most // every + 1, "")
        model.add(every * (dithers + 1) >= frames)
        seconds += dithers * problem.rules.dither_s
    first = problem.run_lengths.first_segment_most(task)
    if problem.rules.focus_every_s is not None and most > first:
        focuses = model.new_int_var(0, most, "")
        model.add(focuses * max(1, problem.run_lengths.later_segment_most(task)) + first >= frames)
        seconds += focuses * (problem.run_lengths.pause_s)
    inside = [model.new_bool_var("") for _ in spans]
    model.add_exactly_one([*inside, ~present])
    for literal, (first_s, last_s) in zip(inside, spans, strict=True):
        model.add(start >= first_s).only_enforce_if(literal)
        model.add(start + seconds - task.tail_s <= last_s).only_enforce_if(literal)
    return _Run(slot, task, present, start, frames, start + seconds)


def _circuit(
    model: cp_model.CpModel, problem: Problem, runs: list[_Run]
) -> list[tuple[int, int, cp_model.IntVar]]:
    """Node 0 is the beginning and the end of the night."""
    arcs: list[tuple[int, int, Any]] = [(0, 0, model.new_bool_var(""))]
    arrivals: dict[tuple[str, str | None], list[cp_model.IntVar]] = defaultdict(list)
    for number, run in enumerate(runs, 1):
        side = run.slot.target.name, run.slot.side
        arcs += [(number, number, ~run.present), (number, 0, model.new_bool_var(""))]
        first = model.new_bool_var("")
        arcs.append((0, number, first))
        arrivals[side].append(first)
        least_s = run.slot.work[0] + _arrival_s(problem, None, run)
        model.add(run.start >= least_s).only_enforce_if(first)
        for other_number, other in enumerate(runs, 1):
            if other_number == number:
                continue
            within = other.slot is run.slot
            if not within and not may_follow(problem, other.slot, run.slot):
                continue
            way_s = _change_s(problem, other, run)
            if not within:
                way_s = transition(problem, other.slot, run.slot).at_once_s + _arrival_s(problem, other, run)
            if other.slot.work[0] + other.task.frame_s + way_s > run.slot.work[1]:
                continue
            literal = model.new_bool_var("")
            arcs.append((other_number, number, literal))
            model.add(run.start >= other.end + way_s).only_enforce_if(literal)
            if not within:
                arrivals[side].append(literal)
                least_s = run.slot.work[0] + _arrival_s(problem, other, run)
                model.add(run.start >= least_s).only_enforce_if(literal)
    model.add_circuit(arcs)
    for literals in arrivals.values():
        model.add(sum(literals) <= VISITS_PER_SIDE)
    return [arc for arc in arcs if arc[0] != arc[1]]


def _arrival_s(problem: Problem, before: _Run | None, run: _Run) -> int:
    """From the end of the motion to the first shutter."""
    start = None if before is None else before.slot
    flips = problem.flips_between(start, run.slot)
    changes = not flips or before is None or before.task.goal.filter != run.task.goal.filter
    focus_s = problem.rules.focus_s if problem.focuses_on_arrival(flips, changes) else 0
    return problem.acquisition_s(start, run.slot) + (run.task.change_s if changes else 0) + focus_s


def _change_s(problem: Problem, before: _Run, run: _Run) -> int:
    """Between two runs of one visit."""
    if before.task.goal.filter == run.task.goal.filter:
        return 0
    return run.task.change_s + (problem.rules.focus_s if problem.rules.focus_on_filter_change else 0)


def _caps(model: cp_model.CpModel, problem: Problem, runs: list[_Run]) -> None:
    for task in problem.tasks:
        mine = [run.frames for run in runs if run.task is task]
        if mine:
            model.add(sum(mine) <= task.frames_left)


def _wanted(
    solver: cp_model.CpSolver, runs: list[_Run], arcs: list[tuple[int, int, cp_model.IntVar]]
) -> list[Wanted]:
    """Runs along the circuit."""
    after = {first: second for first, second, literal in arcs if solver.boolean_value(literal)}
    found: list[Wanted] = []
    node = after.get(0, 0)
    while node:
        run = runs[node - 1]
        found.append((run.slot.index, run.task.index, solver.value(run.frames)))
        node = after[node]
    return found
