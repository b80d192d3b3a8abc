"""Find the best plan, say how near to the best possible it is, then break ties."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from optimizer import ctrl_c
from optimizer.packing.background import Background
from optimizer.packing.bound.bounds import NightBound, first_bounds, tighter_bounds
from optimizer.packing.bound.ceiling import ceiling
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.packing.higher_sky import toward_transits
from optimizer.packing.incumbent import Incumbent
from optimizer.packing.model.search import Watch, make_solver, search, workers_of
from optimizer.packing.model.ties import break_ties
from optimizer.packing.parameters import DEFAULT, SearchParameters
from optimizer.packing.plan import Plan
from optimizer.packing.preparation import Preparation
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import constructed, following
from optimizer.packing.search.multi_start import MultiStart
from optimizer.packing.search.ruin_and_recreate import RuinAndRecreate
from optimizer.packing.shortlist import among_all, is_too_large, shortlisted
from optimizer.packing.solution import Solution, WarmStart
from optimizer.problem import Problem

Progress = Callable[[float, float, float], None]  # seconds, value, bound (weighted seconds)


@ctrl_c.counted()
def solve(
    problem: Problem,
    tell: Progress | None = None,
    known: WarmStart | None = None,
    spent_s: float = 0.0,
    parameters: SearchParameters = DEFAULT,
) -> Solution:
    """The best plan within the problem's limits. Ctrl-C ends the search and keeps the best found.

    A constructed plan comes first, then the loops of all that follows are made ready; then a bound by column
    generation, whose columns make plans as well, while runs are put into the plan beside it; then, where a
    night has few runs, the constraint model, which mostly proves its best; then ruin and recreate beside a
    tighter bound; last the ties. With one worker all of it is deterministic: the same problem gives the same
    plan on every run.

    `known` is the answer to a night much like this one, to start from; `spent_s` are seconds of the limit
    that are over, where there are two workers or more.
    """
    if is_too_large(problem):
        return _among_few(problem, tell, known, spent_s, parameters)
    return _Solving(problem, tell, known, spent_s, parameters).solution()


class _Solving:
    """One problem being solved."""

    def __init__(
        self,
        problem: Problem,
        tell: Progress | None,
        known: WarmStart | None,
        spent_s: float,
        parameters: SearchParameters,
    ) -> None:
        self.problem, self.known, self.parameters = problem, known, parameters
        self.began, self.workers = time.monotonic(), workers_of(problem)
        self.deterministic = self.workers == 1
        self.limit_s = problem.limits.time_limit_s
        self.idle_s = 0.0  # while loops were made ready and nothing was searched
        if not self.deterministic:
            self.limit_s = max(parameters.least_share * self.limit_s, self.limit_s - spent_s)
        # where the sky decides, hardly two plans are equal
        wanted = parameters.ties and not problem.by_depth
        self.ties_s = min(parameters.ties_limit_s, parameters.ties_share * self.limit_s) if wanted else 0.0
        self.rng = np.random.default_rng(problem.limits.seed)
        self.found = NightBound.trivial(problem)

        self.tell = tell
        self.incumbent = Incumbent(problem, self.found.bound, self._hear)

    def solution(self) -> Solution:
        """The order of play."""
        problem, incumbent = self.problem, self.incumbent
        stopped = False
        if problem.slots:
            try:
                self._play()
            except KeyboardInterrupt:
                stopped = True
                incumbent.tell()
            plan = self._without_ties(stopped)
        else:
            plan, incumbent.bound = Plan(), 0
        profit = profit_of(problem, plan)  # the search for ties may stumble on a better plan
        bound = max(incumbent.bound, profit)
        plan = toward_transits(problem, plan)
        return Solution(
            plan=plan,
            schedule=scheduled(problem, plan),
            profit=profit,
            bound=bound,
            status="optimal" if bound == profit else "stopped" if stopped else "feasible",
            seconds=self._spent_s(),
            workers=self.workers,
            duals=self.found.duals,
        )

    def _play(self) -> None:
        parameters, incumbent = self.parameters, self.incumbent
        self._construct()
        graph = RunGraph(self.problem, parameters.bound)
        if not incumbent.is_near:
            self._make_ready(graph)
        if incumbent.is_near:
            return
        spent_s = 0.0 if self.deterministic else self._spent_s()
        whole = self._budget(self.limit_s - self.ties_s - spent_s)
        share = parameters.bound_share if self.known is None else parameters.warm_bound_share
        self._bound(graph, self._part(whole, share))
        if self._suits_constraint_model(graph) and not incumbent.is_near:
            self._constraint_model(self._part(whole, parameters.few_share))
        if not incumbent.is_near:
            self._search(graph, self._part(whole, 1.0))

    def _construct(self) -> None:
        problem, offer = self.problem, self.incumbent.offer
        offer(constructed(problem))
        if problem.by_depth:  # else the opening does better in the time that the second takes
            offer(constructed(problem, heaviest_first=True))
        if self.known is not None:
            offer(following(problem, self.known.draft_in(problem)))
            for plan in self.known.plan_in(problem):
                offer(plan)
        self.incumbent.tell()
        ctrl_c.heed()

    def _make_ready(self, graph: RunGraph) -> None:
        """Have the loops ready; that time counts for no limit.

        The first time on a machine the constraint model looks for better plans beside the compiler. Not with
        one worker: what has been compiled before must make no difference to the plan.
        """
        began, searched_s = time.monotonic(), 0.0
        try:
            with Preparation(by_depth=self.problem.by_depth) as preparation:
                beside = preparation.is_going_on and not self.deterministic
                if beside and self._suits_constraint_model(graph):
                    self._search_beside(preparation)
                    searched_s = time.monotonic() - began
                if not self.incumbent.is_near:
                    preparation.finish()
        finally:
            self.limit_s += searched_s
            self.idle_s += time.monotonic() - began - searched_s

    def _suits_constraint_model(self, graph: RunGraph) -> bool:
        parameters = self.parameters
        few = parameters.constraint_model and len(graph.option_s) <= parameters.few_runs
        return few and not self.problem.by_depth

    def _search_beside(self, preparation: Preparation) -> None:
        """Some seconds of the constraint model, or fewer if the loops are ready before."""
        problem, incumbent, parameters = self.problem, self.incumbent, self.parameters

        def hear(profit: int, bound: int) -> None:
            self._hear(max(profit, incumbent.profit), bound)

        watch = Watch(problem, hear, incumbent.bound)
        solver = make_solver(problem, parameters.beside_compiler_s, parameters.beside_compiler_workers)
        answer = search(
            problem,
            incumbent.plan,
            solver,
            watch,
            bound=incumbent.bound,
            until=lambda: not preparation.is_going_on,
        )
        incumbent.offer(answer.plan)
        incumbent.limit(answer.bound)
        if answer.stopped:
            raise KeyboardInterrupt

    def _bound(self, graph: RunGraph, budget: Budget) -> None:
        """The first bound, while runs are put into the plan beside it; then its best columns as plans."""
        problem, incumbent = self.problem, self.incumbent
        duals = None if self.known is None else self.known.duals_in(problem)
        with self._opening(graph, budget):
            bounds = first_bounds(graph, budget, duals, lambda: incumbent.profit)
            for found in bounds if self.parameters.column_generation else ():
                self.found = found
                incumbent.limit(found.bound)
                ctrl_c.heed()
                if incumbent.is_near:
                    break
        for column in self.found.columns[: self.parameters.most_followed]:
            incumbent.offer(following(problem, column.draft()))
            ctrl_c.heed()

    def _opening(self, graph: RunGraph, bound: Budget) -> contextlib.AbstractContextManager[object]:
        """A short search beside the first bound; before it, where all is done one after the other.

        Not where the sky decides: the bound needs the time there.
        """
        parameters, incumbent = self.parameters, self.incumbent
        if not (parameters.opening and graph.nodes) or self.problem.by_depth:
            return contextlib.nullcontext()
        search = RuinAndRecreate(graph, parameters.ruin)
        opening = MultiStart(search, incumbent, parameters.opening_turns)
        budget = bound.part(parameters.opening_share if self.deterministic else 1.0)
        (rng,) = self.rng.spawn(1)
        if self.deterministic:
            opening.improve(incumbent.plan, budget, rng)
            bound.spend(budget.work)
            return contextlib.nullcontext()
        budget.halt = np.zeros(1, dtype=np.bool_)
        return Background(lambda: opening.improve(incumbent.plan, budget, rng), budget.stop)

    def _constraint_model(self, budget: Budget) -> None:
        problem, incumbent = self.problem, self.incumbent
        solver = make_solver(problem, budget.left_s, self.workers)
        watch = Watch(problem, lambda profit, bound: None, incumbent.bound)
        answer = search(problem, incumbent.plan, solver, watch, bound=incumbent.bound)
        budget.seconds = 0.0
        incumbent.offer(answer.plan)
        incumbent.limit(answer.bound)
        if answer.stopped:
            raise KeyboardInterrupt

    def _search(self, graph: RunGraph, budget: Budget) -> None:
        """Ruin and recreate beside a tighter bound; the bound first, where one follows the other."""
        parameters, incumbent = self.parameters, self.incumbent
        share = parameters.tighten_share if parameters.column_generation else 0.0
        bound = self._part(budget, share) if self.deterministic else budget.part(1.0)
        bound.halt = np.zeros(1, dtype=np.bool_)

        def tighten() -> None:
            if not self.parameters.column_generation:
                return
            for found in tighter_bounds(graph, self.found, bound, lambda: incumbent.profit):
                self.found = found
                incumbent.limit(found.bound)
                ctrl_c.heed()
                if bound.is_over or incumbent.is_near:
                    return

        with Background(tighten, bound.stop, beside=not self.deterministic) as tightening:
            if parameters.ruin_and_recreate:
                search = RuinAndRecreate(graph, parameters.ruin)
                MultiStart(search, incumbent, parameters.turns).improve(incumbent.plan, budget, self.rng)
            if not incumbent.is_near:
                tightening.wait(budget.left_s)
        ctrl_c.heed()

    def _without_ties(self, stopped: bool) -> Plan:
        problem, incumbent = self.problem, self.incumbent
        building_s = self.parameters.building_s * len(problem.slots) ** 2
        late = not self.deterministic and self._spent_s() + building_s > self.limit_s
        if incumbent.plan and self.ties_s and not (stopped or late):
            with contextlib.suppress(KeyboardInterrupt):
                return break_ties(problem, incumbent.plan, incumbent.profit, self.ties_s, self.workers)
        return incumbent.plan

    def _hear(self, profit: int, bound: int) -> None:
        if self.tell is not None:
            weighted = self.problem.weighted_seconds
            self.tell(self._spent_s(), weighted(profit), weighted(bound))

    def _spent_s(self) -> float:
        """Seconds of search so far."""
        return time.monotonic() - self.began - self.idle_s

    def _budget(self, seconds: float) -> Budget:
        return Budget(seconds, deterministic=self.deterministic)

    def _part(self, whole: Budget, share: float) -> Budget:
        """A part of the whole, all of which counts as spent."""
        part = whole.part(share)
        if self.deterministic:
            whole.spend(share * whole.work_left)
        return part


def _among_few(
    problem: Problem,
    tell: Progress | None,
    known: WarmStart | None,
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

    solution = solve(few, hear, known, spent_s, parameters)
    plan, bound = among_all(problem, few, solution.plan), max(bound, solution.profit)
    status = "feasible" if solution.status == "optimal" else solution.status
    return replace(
        solution,
        plan=plan,
        schedule=scheduled(problem, plan),
        bound=bound,
        status="optimal" if bound == solution.profit else status,
    )
