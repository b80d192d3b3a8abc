"""Find the best choice, say how near to the best possible it is, then break ties."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from ortools.sat.python import cp_model

from optimizer import ctrl_c
from optimizer.packing.bound import NightBound, first_bounds
from optimizer.packing.ceiling import ceiling
from optimizer.packing.choice import Choice, in_file_order
from optimizer.packing.first_plan import first_plan, plan_along
from optimizer.packing.graph import NightGraph
from optimizer.packing.higher_sky import toward_transits
from optimizer.packing.interruptible import run_solver
from optimizer.packing.layout import lay_out, worth_of
from optimizer.packing.model import build_model, hint_choice, read_choice
from optimizer.packing.model_search import (
    LEAST_SEARCH_S,
    Hear,
    SolverFailureError,
    Watch,
    is_simple,
    make_solver,
    search,
    workers_of,
)
from optimizer.packing.opening import Opening
from optimizer.packing.packed import Known, Packed
from optimizer.packing.path_rows import lasting_prices
from optimizer.packing.sampling import sampled_plans
from optimizer.packing.shortlist import among_all, is_too_large, shortlisted
from optimizer.packing.tightening import Tightening
from optimizer.packing.warming import make_ready
from optimizer.problem import Problem

Progress = Callable[[float, float, float], None]  # seconds, value, bound (weighted seconds)
LEAST_SHARE = 0.5  # of the time limit, for the search, however long it took to make the night ready
TIES_LIMIT_S, TIES_SHARE = 1.0, 0.05  # of the time limit, for choosing among plans of the same value
MOST_FOLLOWED = 12  # columns of the bound: those of greatest share
BUILDING_S = {False: 2e-4, True: 1.5e-3}  # of a model (by depth) for each pair of slots, measured
LEAST_OF_BUILDING = 2  # times what building a model takes: other work may share the cores
ONCE_SHARE = 0.65  # of the time limit, for the simpler plans
BOUND_SHARE = 0.25  # of the time limit, for the bound that prices the goals' caps
KNOWN_SHARE = 0.45  # the same where a limit is short and prices are known
# Of what the first bound leaves, for sampled plans and a tighter bound; of that, for the bound alone where
# all is done one after the other.
SAMPLE_SHARE, TIGHTEN_SHARE = 0.85, 0.4
# On nights of so few runs the solver mostly proves its best within a part of that time.
FEW_RUNS, FEW_SHARE = 400, 0.15
# The plan with the higher sky is better among equals, but never at the price of a move.
MOVE_WORTH_S = 10 * 86400


@ctrl_c.counted()
def solve(
    problem: Problem, tell: Progress | None = None, known: Known | None = None, spent_s: float = 0.0
) -> Packed:
    """The best choice within the request's limits. Ctrl-C ends the search and keeps the best found.

    First comes a bound of its own (`first_bounds`), whose paths make first plans as well; then, where a night
    has few runs, a short search of the constraint model, which mostly proves its best; then sampled plans and
    a tighter bound. The last search looks among simpler plans (a model of half the size that holds good ones)
    and, where these do not come near enough to the bound, among all. With one worker the limit is
    deterministic (the solver's own count of work, about one unit a second), so that the same request and seed
    give the same plan on every run.
    `known`: the answer to a night much like this one, to start from. `spent_s`: seconds of the limit that are
    over, with two workers or more.
    """
    make_ready(by_depth=problem.by_depth)
    if is_too_large(problem):
        return _among_few(problem, tell, known, spent_s)
    began = time.monotonic()
    aim = problem.request.aim
    workers = workers_of(problem)
    limit_s = aim.time_limit_s
    if workers > 1:  # else all is counted, the same on every run
        limit_s = max(LEAST_SHARE * limit_s, limit_s - spent_s)
    if not problem.slots:
        prices = (0.0,) * lasting_prices(len(problem.tasks))
        return Packed((), (), 0, 0, "optimal", time.monotonic() - began, workers, prices)
    # where the sky decides, hardly two plans are equal
    ties_s = 0.0 if problem.by_depth else min(TIES_LIMIT_S, TIES_SHARE * limit_s)
    left_s = limit_s - ties_s
    bound_s = (BOUND_SHARE if known is None else KNOWN_SHARE) * left_s
    sample_s = SAMPLE_SHARE * (left_s - bound_s)
    # of a model, until one is built
    building_s = BUILDING_S[problem.by_depth] * len(problem.slots) ** 2 if workers > 1 else 0.0
    if LEAST_OF_BUILDING * building_s > left_s - bound_s - sample_s:
        sample_s = left_s - bound_s  # the search would have no time left

    def hear(worth: float, bound: float) -> None:
        if tell is not None:
            tell(time.monotonic() - began, problem.weighted_seconds(worth), problem.weighted_seconds(bound))

    found, choice, stopped = _begin(problem, bound_s, sample_s, workers, known, hear)
    bound = found.bound
    left_s -= bound_s + sample_s if workers == 1 else time.monotonic() - began
    watch = Watch(problem, hear, bound)
    for once in (True, False) if is_simple(problem, choice) else (False,):
        if _proven(problem, choice, bound) or stopped or left_s <= LEAST_OF_BUILDING * building_s:
            break
        solver = make_solver(problem, max(LEAST_SEARCH_S, ONCE_SHARE * left_s if once else left_s), workers)
        try:
            searched = search(problem, choice, solver, watch, once=once, bound=bound)
        except KeyboardInterrupt:  # while the model was being built; the plan at hand stays
            stopped = True
            break
        choice, stopped, left_s = searched.choice, searched.stopped, left_s - searched.spent_s
        if workers > 1:
            building_s = searched.building_s
            left_s = min(left_s, limit_s - ties_s - (time.monotonic() - began))
        if not once:
            bound = min(bound, searched.bound)
    worth = worth_of(problem, choice)
    late = workers > 1 and time.monotonic() - began + building_s > limit_s
    if choice and ties_s and not (stopped or late):
        with contextlib.suppress(KeyboardInterrupt):
            solver = make_solver(problem, ties_s, workers)
            solver.parameters.cp_model_presolve = workers == 1  # would take most of so short a search
            choice = _break_ties(problem, choice, worth, solver)
        worth = worth_of(problem, choice)  # the search for ties may stumble on a better plan
    bound = max(bound, worth)
    choice = toward_transits(problem, choice)
    return Packed(
        choice=choice,
        laid=lay_out(problem, choice),
        worth=worth,
        bound=bound,
        status="optimal" if bound == worth else "stopped" if stopped else "feasible",
        seconds=time.monotonic() - began,
        workers=workers,
        prices=tuple(found.prices[: lasting_prices(len(problem.tasks))].tolist()),
    )


def _begin(
    problem: Problem, bound_s: float, sample_s: float, workers: int, known: Known | None, hear: Hear
) -> tuple[NightBound, Choice, bool]:
    """A bound, a good plan, and whether Ctrl-C came on the way."""
    began, whole_s = time.monotonic(), bound_s + sample_s
    found = NightBound.trivial(problem)
    plans = [first_plan(problem)]
    if problem.by_depth:  # else `Opening` does better in the time that the second takes
        plans.append(first_plan(problem, heaviest_first=True))
    if known is not None:
        plans.append(plan_along(problem, known.path_in(problem)))
        plans += known.choice_in(problem)
    try:
        hear(worth_of(problem, _best(problem, plans)), found.bound)
        ctrl_c.heed()
        graph = NightGraph(problem)
        if workers > 1:  # the first plans and the graph took their part
            bound_s = max(LEAST_SHARE * bound_s, bound_s - (time.monotonic() - began))
        prices, counted = None if known is None else known.prices_in(problem), workers == 1
        opening = Opening(graph, _best(problem, plans), bound_s, counted=counted)
        try:
            with opening:
                for found in first_bounds(graph, bound_s, prices, lambda: opening.worth, counted=counted):
                    hear(opening.worth, found.bound)
                    ctrl_c.heed()
                    if problem.near(opening.worth, found.bound):
                        break
        finally:
            plans.append(opening.plan)
        for path in found.paths[:MOST_FOLLOWED]:
            plans.append(plan_along(problem, path))
            ctrl_c.heed()
        plans.append(_best(problem, plans))
        hear(worth_of(problem, plans[-1]), found.bound)
        if not (problem.by_depth or _proven(problem, plans[-1], found.bound) or len(graph.pair_s) > FEW_RUNS):
            solver = make_solver(problem, FEW_SHARE * sample_s, workers)
            watch = Watch(problem, hear, found.bound)
            searched = search(problem, plans[-1], solver, watch, once=False, bound=found.bound)
            plans.append(searched.choice)
            found = replace(found, bound=min(found.bound, searched.bound))
            sample_s *= 1.0 - FEW_SHARE
            if searched.stopped:
                return found, plans[-1], True
        if workers > 1:
            sample_s = max(0.0, min(sample_s, whole_s - (time.monotonic() - began)))
        found = _sample(graph, found, plans, sample_s, counted, hear)
    except KeyboardInterrupt:
        hear(worth_of(problem, _best(problem, plans)), found.bound)  # if it came before the first time
        return found, _best(problem, plans), True
    return found, plans[-1], False


def _sample(
    graph: NightGraph, found: NightBound, plans: list[Choice], seconds: float, counted: bool, hear: Hear
) -> NightBound:
    """Sample plans and tighten the bound side by side, until one meets the other or the time is up."""
    problem, began = graph.problem, time.monotonic()
    tighten_s = seconds * (TIGHTEN_SHARE if counted else 1.0)

    def reached() -> int:
        return worth_of(problem, plans[-1])

    def tell(bound: int) -> None:
        hear(reached(), bound)

    if problem.near(reached(), found.bound):
        return found
    with Tightening(graph, found, tighten_s, reached, tell, counted=counted) as tight:
        left_s = seconds - tighten_s if counted else seconds
        for better in sampled_plans(graph, lambda: tight.found, plans[-1], left_s, counted=counted):
            plans.append(better)
            hear(reached(), tight.found.bound)
        if not problem.near(reached(), tight.found.bound):
            tight.wait(seconds - (time.monotonic() - began))
    ctrl_c.heed()
    hear(reached(), tight.found.bound)
    return tight.found


def _best(problem: Problem, plans: Sequence[Choice]) -> Choice:
    return max(plans, key=lambda plan: worth_of(problem, plan))


def _proven(problem: Problem, choice: Choice, bound: int) -> bool:
    return problem.near(worth_of(problem, choice), bound)


def _break_ties(problem: Problem, choice: Choice, worth: int, solver: cp_model.CpSolver) -> Choice:
    """Among plans of the same worth: fewer moves, then visits nearer to their transit (higher sky)."""
    model, night = build_model(problem)
    model.add(night.worth() >= worth)
    cost: list[cp_model.LinearExprT] = []
    for visit in night.visits.values():
        cost.append(MOVE_WORTH_S * visit.present)
        away = model.new_int_var(0, 4 * 86400, "")
        twice_transit = 2 * visit.slot.transit_s()
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


def _among_few(problem: Problem, tell: Progress | None, known: Known | None, spent_s: float) -> Packed:
    """The best choice of a night too large to search as a whole, from a search among the best of its targets.

    What no plan of all targets can be worth is told by sums.
    """
    bound, few = ceiling(problem), shortlisted(problem)

    def hear(seconds: float, value_s: float, _: float) -> None:
        if tell is not None:
            tell(seconds, value_s, problem.weighted_seconds(bound))

    packed = solve(few, hear, known, spent_s)
    choice, bound = among_all(problem, few, packed.choice), max(bound, packed.worth)
    status = "feasible" if packed.status == "optimal" else packed.status
    return replace(
        packed,
        choice=choice,
        laid=lay_out(problem, choice),
        bound=bound,
        status="optimal" if bound == packed.worth else status,
    )
