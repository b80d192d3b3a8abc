"""One search of the constraint model: from a plan at hand, to a limit, with a watch on what it finds."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import dataclass

from ortools.sat.python import cp_model

from optimizer.packing.choice import Choice, in_file_order
from optimizer.packing.interruptible import run_solver
from optimizer.packing.layout import lay_out, worth_of
from optimizer.packing.model import build_model, hint_choice, read_choice
from optimizer.packing.objective import build_objective, hint_objective
from optimizer.packing.variables import NightVars
from optimizer.problem import Problem, Slot

Hear = Callable[[float, float], None]  # value, bound, in units of worth
Wish = Callable[[cp_model.CpModel, NightVars], None]  # adds rows that a plan shall meet as well
# The solver's strategies differ and help each other: on two cores, eight searches that take turns left a gap
# of 0.8 % where two left 1.3 % (winter night of the examples, 20 s).
LEAST_SEARCHES = 8
LEAST_SEARCH_S = 0.1
HINT_LIMIT = 1.0  # of the solver's own count of work


class SolverFailureError(RuntimeError):
    """The solver refused the model or found it empty: a defect, never a user's mistake."""


class Watch(cp_model.CpSolverSolutionCallback):  # type: ignore[misc]
    """Keeps the best plan found, tells it to people, ends the search where the bound is near enough."""

    def __init__(self, problem: Problem, hear: Hear | None, bound: int | None = None) -> None:
        """`bound`: one that holds for all plans of the night."""
        super().__init__()
        self.problem, self.hear = problem, hear
        self.bound = bound
        self.night: NightVars | None = None
        self.best: tuple[int, Choice] | None = None

    def on_solution_callback(self) -> None:
        """Called by the solver for each better plan."""
        worth = self.objective_value
        if self.problem.by_depth:
            worth = self._judge()
        if self.hear is not None:
            self.hear(worth, self.best_objective_bound if self.bound is None else self.bound)

    def _judge(self) -> int:
        """Worth of the best plan so far by its exposures: the model only comes near to it."""
        assert self.night is not None
        choice = read_choice(self.night, self)
        worth = worth_of(self.problem, choice)
        if self.best is None or worth > self.best[0]:
            self.best = worth, choice
        if self.bound is not None and self.problem.near(self.best[0], self.bound):
            self.stop_search()
        return self.best[0]


@dataclass(frozen=True)
class Found:
    """What one search came to: the better of its start and its own answer, `solved` (None: it had none).

    `infeasible`: no plan of those that were searched meets the wish. `spent_s` is in the unit of its limit,
    `building_s` by the clock.
    """

    choice: Choice
    solved: Choice | None
    bound: int
    stopped: bool
    spent_s: float
    building_s: float
    infeasible: bool = False


def search(
    problem: Problem,
    start: Choice,
    solver: cp_model.CpSolver,
    watch: Watch,
    *,
    once: bool,
    wish: Wish | None = None,
    bound: int | None = None,
) -> Found:
    """Improve on `start`; with `once` among simpler plans, and the bound says nothing of the others."""
    began = time.monotonic()
    model, night = build_model(problem)
    if wish is not None:
        wish(model, night)
    if once:
        _simplify(model, night)
    objective = build_objective(model, night)
    if bound is not None and not problem.by_depth:
        model.add(night.worth() <= bound)  # so that the search ends when it is near enough to it
    model.maximize(objective.worth)
    start = in_file_order(problem, start)
    laid = lay_out(problem, start)
    hint_choice(model, night, start, laid)
    hint_objective(model, objective, laid, problem)
    if problem.by_depth:
        _complete_hint(problem, model)
    watch.night, watch.best = night, None
    building_s = time.monotonic() - began
    if bound is not None and solver.parameters.num_workers > 1:  # a large model takes seconds to build
        limit_s = solver.parameters.max_time_in_seconds - building_s
        solver.parameters.max_time_in_seconds = max(LEAST_SEARCH_S, limit_s)
    solver.parameters.relative_gap_limit = problem.request.aim.gap
    status, stopped = run_solver(solver, model, watch)
    if status == cp_model.MODEL_INVALID or (status == cp_model.INFEASIBLE and wish is None):
        raise SolverFailureError(f"{solver.status_name(status)}: {model.validate()}")
    choice, solved = start, None
    found_bound = problem.most_worth
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        solved = read_choice(night, solver) if watch.best is None else watch.best[1]
        choice = solved if worth_of(problem, solved) >= worth_of(problem, start) else start
        if not problem.by_depth:
            found_bound = min(found_bound, int(solver.best_objective_bound + 0.5))
    return Found(
        choice=choice,
        solved=solved,
        bound=found_bound,
        stopped=stopped,
        spent_s=_spent_s(solver),
        building_s=building_s,
        infeasible=status == cp_model.INFEASIBLE,
    )


def _complete_hint(problem: Problem, model: cp_model.CpModel) -> None:
    """Hints for all variables from those given: with pieces of curves among them, a part is soon lost."""
    solver = make_solver(problem, HINT_LIMIT, 1)
    solver.parameters.fix_variables_to_their_hinted_value = True
    status, stopped = run_solver(solver, model)
    if stopped:
        raise KeyboardInterrupt
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        values = list(solver.response_proto.solution)
        model.clear_hints()
        for index, value in enumerate(values):
            model.add_hint(model.get_int_var_from_proto_index(index), value)


def _spent_s(solver: cp_model.CpSolver) -> float:
    """Time spent, in the unit in which this solver's limit is given."""
    if solver.parameters.num_workers == 1:
        return float(solver.response_proto.deterministic_time)
    return float(solver.wall_time)


def workers_of(problem: Problem) -> int:
    """How many searches take turns."""
    return problem.request.aim.workers or max(os.cpu_count() or 1, LEAST_SEARCHES)


def make_solver(problem: Problem, limit_s: float, workers: int) -> cp_model.CpSolver:
    """A solver with so many searches, for so long; with one, by its own count of work."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = problem.request.aim.seed
    if workers == 1:
        solver.parameters.max_deterministic_time = limit_s
    else:
        solver.parameters.max_time_in_seconds = limit_s
    return solver


def _simplify(model: cp_model.CpModel, night: NightVars) -> None:
    """No window is visited twice, and runs follow in the order in which their windows close.

    On the winter night of the examples this finds in 8 s what the whole model finds in 20 s.
    """
    for visit in night.visits.values():
        if visit.slot.copy:
            model.add(visit.present == 0)
        for (task, other), follows in visit.arcs.items():
            if _closing(visit.slot, task) > _closing(visit.slot, other):
                model.add(follows == 0)


def is_simple(problem: Problem, choice: Choice) -> bool:
    """Whether a plan is one of those that `_simplify` leaves: only then the search can start from it."""
    for visit in in_file_order(problem, choice):
        slot = problem.slots[visit.slot]
        closing = [_closing(slot, run.task) for run in visit.runs]
        if slot.copy or closing != sorted(closing):
            return False
    return True


def _closing(slot: Slot, task: int) -> tuple[int, int, int]:
    spans = slot.shutter[task]
    return spans[-1][1], spans[0][0], task
