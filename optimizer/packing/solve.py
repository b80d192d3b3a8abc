"""Find the best plan, say how near to the best possible it is, then break ties: the order of play."""

from __future__ import annotations

from dataclasses import replace

from optimizer import ctrl_c
from optimizer.packing.best_times import at_best_times
from optimizer.packing.bound.ceiling import ceiling
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.higher_sky import toward_transits
from optimizer.packing.parameters import DEFAULT, SearchParameters
from optimizer.packing.phases import Phases, Progress
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.shortlist import among_all, is_too_large, shortlisted
from optimizer.packing.solution import Ended, Known, Solution
from optimizer.packing.sooner_flips import with_sooner_flips
from optimizer.problem import Problem


@ctrl_c.counted()
def solve(
    problem: Problem,
    tell: Progress | None = None,
    warm_start: Known | None = None,
    spent_s: float = 0.0,
    parameters: SearchParameters = DEFAULT,
) -> Solution:
    """The best plan within the problem's limits. Ctrl-C ends the search and keeps the best found.

    A constructed plan comes first, then the loops of all that follows are made ready; then a bound by column
    generation, whose columns make plans as well, while runs are put into the plan beside it; then, where a
    night has few runs, the constraint model, which mostly proves its best; then ruin and recreate beside a
    tighter bound; last the ties. With one worker all of it is deterministic: the same problem gives the same
    plan on every run.

    `warm_start` is what is known of this night, or of one much like it, to start from; `spent_s` are seconds
    of the limit that are over, where there are two workers or more.
    """
    if is_too_large(problem):
        return _among_few(problem, tell, warm_start, spent_s, parameters)
    phases, stopped = Phases(problem, tell, warm_start, spent_s, parameters), False
    try:
        _play(phases)
    except KeyboardInterrupt:
        stopped = True
        phases.incumbent.tell()
    return _solution(phases, stopped)


def _play(phases: Phases) -> None:
    """Go through the phases until one of them comes near enough to the bound."""
    problem, parameters, incumbent = phases.problem, phases.parameters, phases.incumbent
    if not problem.slots:
        incumbent.limit(0)
        return
    phases.construct()
    graph = RunGraph(problem, parameters.bound)
    if not incumbent.is_near:
        phases.make_ready(graph)
    if incumbent.is_near:
        return
    spent_s = 0.0 if phases.deterministic else phases.spent_s()
    whole = phases.budget(phases.limit_s - phases.ties_s - spent_s)
    share = parameters.bound_share if phases.duals is None else parameters.warm_bound_share
    phases.price(graph, phases.part(whole, share))
    if phases.suits_constraint_model(graph) and not incumbent.is_near:
        phases.solve_model(phases.part(whole, parameters.few_share))
    if not incumbent.is_near:
        phases.search(graph, phases.part(whole, 1.0))


def _solution(phases: Phases, stopped: bool) -> Solution:
    problem, incumbent = phases.problem, phases.incumbent
    ended = _ended(phases, stopped)
    plan = at_best_times(problem, with_sooner_flips(problem, phases.without_ties(stopped)))
    profit = profit_of(problem, plan)  # the search for ties may stumble on a better plan
    bound = max(incumbent.bound, profit)
    plan = toward_transits(problem, plan)
    return Solution(
        plan=plan,
        schedule=scheduled(problem, plan),
        profit=profit,
        bound=bound,
        status="optimal" if bound == profit else "stopped" if stopped else "feasible",
        ended=ended,
        seconds=phases.spent_s(),
        workers=phases.workers,
        duals=phases.found.duals,
    )


def _ended(phases: Phases, stopped: bool) -> Ended:
    if stopped:
        return "interrupted"
    if phases.incumbent.is_near:
        return "gap"
    return "settled" if phases.settled else "time"


def _among_few(
    problem: Problem,
    tell: Progress | None,
    warm_start: Known | None,
    spent_s: float,
    parameters: SearchParameters,
) -> Solution:
    """The best plan of a night too large to search as a whole, from a search among the best of its targets.

    What no plan of all targets exceeds is told by sums.
    """
    bound, few = ceiling(problem), shortlisted(problem)

    def hear(seconds: float, value_s: float, _: float) -> None:
        if tell is not None:
            tell(seconds, value_s, problem.weighted_seconds(bound))

    solution = solve(few, hear, warm_start, spent_s, parameters)
    plan, bound = among_all(problem, few, solution.plan), max(bound, solution.profit)
    status = "feasible" if solution.status == "optimal" else solution.status
    return replace(
        solution,
        plan=plan,
        schedule=scheduled(problem, plan),
        bound=bound,
        status="optimal" if bound == solution.profit else status,
    )
