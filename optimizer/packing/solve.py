"""Find the best choice, say how near to the best possible it is, then break ties."""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from optimizer.packing.bound import NightBound, first_bounds
from optimizer.packing.choice import Choice, in_file_order
from optimizer.packing.first_plan import first_plan, plan_along
from optimizer.packing.graph import NightGraph
from optimizer.packing.interruptible import run_solver
from optimizer.packing.layout import lay_out, worth_of
from optimizer.packing.model import build_model, hint_choice, read_choice
from optimizer.packing.objective import build_objective, hint_objective
from optimizer.packing.opening import Opening
from optimizer.packing.packed import Known, Packed
from optimizer.packing.sampling import sampled_plans
from optimizer.packing.tightening import Tightening
from optimizer.packing.variables import NightVars
from optimizer.problem import Problem, Slot

Progress = Callable[[float, float, float], None]  # seconds, value, bound (weighted seconds)
Hear = Callable[[float, float], None]  # value, bound, in units of worth
Wish = Callable[[cp_model.CpModel, NightVars], None]  # adds rows that a plan shall meet as well
TIES_LIMIT_S, TIES_SHARE = 2.0, 0.1  # of the time limit, for choosing among plans of the same value
# The solver's strategies differ and help each other: on two cores, eight searches that take turns left a gap
# of 0.8 % where two left 1.3 % (winter night of the examples, 20 s).
LEAST_SEARCHES = 8
MOST_FOLLOWED = 12  # columns of the bound: those of greatest share
LEAST_SEARCH_S = 0.1
BUILDING_S = {False: 2e-4, True: 1.5e-3}  # of a model (by depth) for each pair of slots, measured
HINT_LIMIT = 1.0  # of the solver's own count of work
ONCE_SHARE = 0.65  # of the time limit, for the simpler plans
BOUND_SHARE = 0.25  # of the time limit, for the bound that prices the goals' caps
KNOWN_SHARE = 0.45  # the same where a limit is short and prices are known
# Of what the first bound leaves, for sampled plans and a tighter bound; of that, for the bound alone where
# all is done one after the other.
SAMPLE_SHARE, TIGHTEN_SHARE = 0.85, 0.4
# The plan with the higher sky is better among equals, but never at the price of a move.
MOVE_WORTH_S = 10 * 86400


class SolverFailureError(RuntimeError):
    """The solver refused the model or found it empty: a defect, never a user's mistake."""


class _Watch(cp_model.CpSolverSolutionCallback):  # type: ignore[misc]
    """Keeps the best plan found, tells it to people, ends the search where the bound is near enough."""

    def __init__(self, problem: Problem, hear: Hear | None, bound: int | None = None) -> None:
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


def solve(problem: Problem, tell: Progress | None = None, known: Known | None = None) -> Packed:
    """The best choice within the request's limits. Ctrl-C ends the search and keeps the best found.

    First comes a bound of its own (`first_bounds`), whose paths make first plans as well. The search then
    looks among simpler plans (a model of half the size that holds good ones) and, where these do not come
    near enough to the bound, among all. With one worker the limit is deterministic (the solver's own count
    of work, about one unit a second), so that the same request and seed give the same plan on every run.
    `known`: the answer to a night much like this one, to start from.
    """
    began = time.monotonic()
    aim = problem.request.aim
    workers = _workers(problem)
    if not problem.slots:
        return Packed(
            (), (), 0, 0, "optimal", time.monotonic() - began, workers, (0.0,) * 2 * len(problem.tasks)
        )
    # where the sky decides, hardly two plans are equal
    ties_s = 0.0 if problem.by_depth else min(TIES_LIMIT_S, TIES_SHARE * aim.time_limit_s)
    left_s = aim.time_limit_s - ties_s
    bound_s = (BOUND_SHARE if known is None else KNOWN_SHARE) * left_s
    sample_s = SAMPLE_SHARE * (left_s - bound_s)
    # of a model, until one is built
    building_s = BUILDING_S[problem.by_depth] * len(problem.slots) ** 2 if workers > 1 else 0.0
    if 2 * building_s > left_s - bound_s - sample_s:
        sample_s = left_s - bound_s  # the search would have no time left

    def hear(worth: float, bound: float) -> None:
        if tell is not None:
            tell(time.monotonic() - began, problem.weighted_seconds(worth), problem.weighted_seconds(bound))

    found, choice, stopped = _begin(problem, bound_s, sample_s, workers, known, hear)
    bound = found.bound
    left_s -= bound_s + sample_s if workers == 1 else time.monotonic() - began
    watch = _Watch(problem, hear, bound)
    for once in (True, False) if _is_simple(problem, choice) else (False,):
        if _proven(problem, choice, bound) or stopped or left_s <= building_s:
            break
        solver = _solver(problem, max(LEAST_SEARCH_S, ONCE_SHARE * left_s if once else left_s), workers)
        try:
            searched = _search(problem, choice, solver, watch, once=once, bound=bound)
        except KeyboardInterrupt:  # while the model was being built; the plan at hand stays
            stopped = True
            break
        choice, stopped, left_s = searched.choice, searched.stopped, left_s - searched.spent_s
        if workers > 1:
            building_s = searched.building_s
            left_s = min(left_s, aim.time_limit_s - ties_s - (time.monotonic() - began))
        if not once:
            bound = min(bound, searched.bound)
    worth = worth_of(problem, choice)
    late = workers > 1 and time.monotonic() - began + building_s > aim.time_limit_s
    if choice and ties_s and not (stopped or late):
        with contextlib.suppress(KeyboardInterrupt):
            choice = _break_ties(problem, choice, worth, _solver(problem, ties_s, workers))
        worth = worth_of(problem, choice)  # the search for ties may stumble on a better plan
    bound = max(bound, worth)
    return Packed(
        choice=choice,
        laid=lay_out(problem, choice),
        worth=worth,
        bound=bound,
        status="optimal" if bound == worth else "stopped" if stopped else "feasible",
        seconds=time.monotonic() - began,
        workers=workers,
        prices=tuple(float(price) for price in found.prices[: 2 * len(problem.tasks)]),
    )


def best_that(problem: Problem, wish: Wish, limit_s: float, start: Choice = ()) -> Choice | None:
    """The best of the simpler plans that meet a wish, found within the limit; None where there is none.

    For comparing plans: quick, without a bound. `start` is a hint and need not meet the wish.
    """
    if not problem.slots:
        return None
    solver = _solver(problem, limit_s, _workers(problem))
    return _search(problem, start, solver, _Watch(problem, None), once=True, wish=wish).solved


def _begin(
    problem: Problem, bound_s: float, sample_s: float, workers: int, known: Known | None, hear: Hear
) -> tuple[NightBound, Choice, bool]:
    """A bound, a good plan, and whether Ctrl-C came on the way."""
    found = NightBound.trivial(problem)
    plans = [first_plan(problem), first_plan(problem, heaviest_first=True)]
    if known is not None:
        plans.append(plan_along(problem, known.path_in(problem)))
        plans += known.choice_in(problem)
    try:
        hear(worth_of(problem, _best(problem, plans)), found.bound)
        graph = NightGraph(problem)
        prices, counted = None if known is None else known.prices_in(problem), workers == 1
        opening = Opening(graph, _best(problem, plans), bound_s, counted=counted)
        try:
            with opening:
                for found in first_bounds(graph, bound_s, prices, counted=counted):
                    hear(opening.worth, found.bound)
                    if problem.near(opening.worth, found.bound):
                        break
        finally:
            plans.append(opening.plan)
        plans += [plan_along(problem, path) for path in found.paths[:MOST_FOLLOWED]]
        plans.append(_best(problem, plans))
        hear(worth_of(problem, plans[-1]), found.bound)
        found = _sample(graph, found, plans, sample_s, counted, hear)
    except KeyboardInterrupt:
        return found, _best(problem, plans), True
    return found, plans[-1], False


def _sample(
    graph: NightGraph, found: NightBound, plans: list[Choice], seconds: float, counted: bool, hear: Hear
) -> NightBound:
    """Sample plans and tighten the bound side by side, until one meets the other or the time is up."""
    problem, began = graph.problem, time.monotonic()
    tighten_s = seconds * (TIGHTEN_SHARE if counted else 1.0)
    if problem.near(worth_of(problem, plans[-1]), found.bound):
        return found

    def tell(bound: int) -> None:
        hear(worth_of(problem, plans[-1]), bound)

    with Tightening(graph, found, tighten_s, tell, counted=counted) as tight:
        left_s = seconds - tighten_s if counted else seconds
        for better in sampled_plans(graph, lambda: tight.found, plans[-1], left_s, counted=counted):
            plans.append(better)
            hear(worth_of(problem, better), tight.found.bound)
        if not problem.near(worth_of(problem, plans[-1]), tight.found.bound):
            tight.wait(seconds - (time.monotonic() - began))
    hear(worth_of(problem, plans[-1]), tight.found.bound)
    return tight.found


def _best(problem: Problem, plans: Sequence[Choice]) -> Choice:
    return max(plans, key=lambda plan: worth_of(problem, plan))


def _proven(problem: Problem, choice: Choice, bound: int) -> bool:
    return problem.near(worth_of(problem, choice), bound)


@dataclass(frozen=True)
class _Found:
    """What one search came to: the better of its start and its own answer, `solved` (None: it had none).

    `spent_s` is in the unit of its limit, `building_s` by the clock.
    """

    choice: Choice
    solved: Choice | None
    bound: int
    stopped: bool
    spent_s: float
    building_s: float


def _search(
    problem: Problem,
    start: Choice,
    solver: cp_model.CpSolver,
    watch: _Watch,
    *,
    once: bool,
    wish: Wish | None = None,
    bound: int | None = None,
) -> _Found:
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
    return _Found(
        choice=choice,
        solved=solved,
        bound=found_bound,
        stopped=stopped,
        spent_s=_spent_s(solver),
        building_s=building_s,
    )


def _complete_hint(problem: Problem, model: cp_model.CpModel) -> None:
    """Hints for all variables from those given: with pieces of curves among them, a part is soon lost."""
    solver = _solver(problem, HINT_LIMIT, 1)
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


def _workers(problem: Problem) -> int:
    return problem.request.aim.workers or max(os.cpu_count() or 1, LEAST_SEARCHES)


def _solver(problem: Problem, limit_s: float, workers: int) -> cp_model.CpSolver:
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


def _is_simple(problem: Problem, choice: Choice) -> bool:
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


def _break_ties(problem: Problem, choice: Choice, worth: int, solver: cp_model.CpSolver) -> Choice:
    """Among plans of the same worth: fewer moves, then visits nearer to their transit (higher sky)."""
    model, night = build_model(problem)
    model.add(night.worth() >= worth)
    cost: list[cp_model.LinearExprT] = []
    for visit in night.visits.values():
        cost.append(MOVE_WORTH_S * visit.present)
        away = model.new_int_var(0, 4 * 86400, "")
        twice_transit = 2 * _transit_s(visit.slot)
        middle_twice = visit.depart + visit.free
        model.add(away >= middle_twice - twice_transit).only_enforce_if(visit.present)
        model.add(away >= twice_transit - middle_twice).only_enforce_if(visit.present)
        cost.append(away)
    model.minimize(sum(cost))
    choice = in_file_order(problem, choice)
    hint_choice(model, night, choice, lay_out(problem, choice))
    status, _ = run_solver(solver, model)
    if status == cp_model.MODEL_INVALID:
        raise SolverFailureError(model.validate())
    return read_choice(night, solver) if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else choice


def _transit_s(slot: Slot) -> int:
    """The upper transit nearest to the middle of the slot's work."""
    return min(slot.transits_s(), key=lambda transit: abs(2 * transit - slot.work[0] - slot.work[1]))
