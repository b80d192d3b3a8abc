"""One search of the constraint model: from a plan at hand, to a limit, with a watch on what it finds."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import dataclass

from ortools.sat.python import cp_model

from optimizer.errors import SolverFailureError
from optimizer.packing.incumbent import Hear
from optimizer.packing.model.build import build_model, hint_plan, read_plan
from optimizer.packing.model.interruptible import run_solver
from optimizer.packing.model.value import Value, make_value
from optimizer.packing.model.variables import NightVars
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.problem import Problem

Wish = Callable[[cp_model.CpModel, NightVars], None]  # adds rows that a plan shall meet as well
# The solver's strategies differ and help each other: on two cores, eight searches that take turns left a gap
# of 0.8 % where two left 1.3 % (winter night of the examples, 20 s).
LEAST_SEARCHES = 8
LEAST_SEARCH_S = 0.1


class Watch(cp_model.CpSolverSolutionCallback):  # type: ignore[misc]
    """Keeps the best plan so far, tells of it, and ends the search where the bound is near enough."""

    def __init__(self, problem: Problem, hear: Hear | None, bound: int | None = None) -> None:
        """Watch one problem; no plan of its night exceeds `bound`, in units of profit."""
        super().__init__()
        self.problem, self.hear = problem, hear
        self.bound = bound
        self.night: NightVars | None = None
        self.worth: Value | None = None
        self.best: tuple[int, Plan] | None = None

    def on_solution_callback(self) -> None:
        """Judge a better plan: called by the solver for each that it finds."""
        assert self.worth is not None
        profit = round(self.objective_value)
        if self.problem.by_time or self.problem.worth.sets:
            profit = self._judge()
        if self.hear is not None:
            bound = self.worth.bound_of(self.best_objective_bound) if self.bound is None else self.bound
            self.hear(profit, bound)

    def _judge(self) -> int:
        """Profit of the best plan so far, where the model takes each frame at its best or counts in parts."""
        assert self.night is not None
        plan = read_plan(self.night, self)
        profit = profit_of(self.problem, plan)
        if self.best is None or profit > self.best[0]:
            self.best = profit, plan
        if self.bound is not None and self.problem.near(self.best[0], self.bound):
            self.stop_search()
        return self.best[0]


@dataclass(frozen=True)
class Answer:
    """What one search came to.

    `plan` is the better of its start and of its own answer, `solved`, which is None where it had none. No
    plan exceeds `bound`, in units of profit. Where it is `infeasible`, it is proven that no plan meets the
    wish.
    """

    plan: Plan
    solved: Plan | None
    bound: int
    stopped: bool
    infeasible: bool = False


def search(
    problem: Problem,
    start: Plan,
    solver: cp_model.CpSolver,
    watch: Watch,
    *,
    wish: Wish | None = None,
    bound: int | None = None,
    until: Callable[[], bool] = lambda: False,
) -> Answer:
    """Look for a better plan than `start`, one that meets the wish if there is any.

    Where the sky decides, the model takes each frame at its best, so its plans are judged by their exposures
    and its bound is not used. The filter sets must be such as the model can count (`can_count`). Raises
    SolverFailureError where the model is invalid, or is infeasible without a wish: that is a defect.
    The search ends with the solver's limit, with Ctrl-C, or once `until` says so.
    """
    began = time.monotonic()
    model, night = build_model(problem)
    if wish is not None:
        wish(model, night)
    value = make_value(model, night)
    if bound is not None and not problem.by_time:
        model.add(value.at_most(bound))  # so that the search ends when it is near enough to it
    model.maximize(value.scaled)
    hint_plan(model, night, start, scheduled(problem, start))
    value.hint(model, start)
    watch.night, watch.worth, watch.best = night, value, None
    if bound is not None and solver.parameters.num_workers > 1:  # a large model takes seconds to build
        limit_s = solver.parameters.max_time_in_seconds - (time.monotonic() - began)
        solver.parameters.max_time_in_seconds = max(LEAST_SEARCH_S, limit_s)
    solver.parameters.relative_gap_limit = problem.limits.gap
    status, stopped = run_solver(solver, model, watch, until)
    if status == cp_model.MODEL_INVALID or (status == cp_model.INFEASIBLE and wish is None):
        raise SolverFailureError(f"{solver.status_name(status)}: {model.validate()}")
    plan, solved = start, None
    found_bound = problem.most_profit
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        solved = read_plan(night, solver) if watch.best is None else watch.best[1]
        plan = solved if profit_of(problem, solved) >= profit_of(problem, start) else start
        if not problem.by_time:
            found_bound = min(found_bound, value.bound_of(solver.best_objective_bound))
    return Answer(
        plan=plan,
        solved=solved,
        bound=found_bound,
        stopped=stopped,
        infeasible=status == cp_model.INFEASIBLE,
    )


def workers_of(problem: Problem) -> int:
    """How many searches of the solver take turns."""
    return problem.limits.workers or max(os.cpu_count() or 1, LEAST_SEARCHES)


def make_solver(problem: Problem, limit_s: float, workers: int) -> cp_model.CpSolver:
    """Make a solver with so many searches and a limit in seconds; with one search they are counted work."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = problem.limits.seed
    if workers == 1:
        solver.parameters.max_deterministic_time = limit_s
    else:
        solver.parameters.max_time_in_seconds = limit_s
    return solver
