"""The phases of a search, between which `solve` shares out the time."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable

import numpy as np
from ortools.sat.python import cp_model

from optimizer import ctrl_c
from optimizer.packing.background import Background
from optimizer.packing.bound.bounds import NightBound, first_bounds, tighter_bounds
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.packing.incumbent import Hear, Incumbent
from optimizer.packing.model.search import Watch, make_solver, search, workers_of
from optimizer.packing.model.ties import break_ties
from optimizer.packing.model.value import can_count
from optimizer.packing.parameters import SearchParameters
from optimizer.packing.plan import Plan
from optimizer.packing.preparation import Preparation
from optimizer.packing.search.construct import constructed, following
from optimizer.packing.search.multi_start import MultiStart
from optimizer.packing.search.ruin_and_recreate import RuinAndRecreate
from optimizer.packing.solution import Known
from optimizer.problem import Problem

Progress = Callable[[float, float, float], None]  # seconds, value, bound (weighted seconds)


class Phases:
    """The phases of one search; each leaves its plans and bounds with the incumbent."""

    def __init__(
        self,
        problem: Problem,
        tell: Progress | None,
        warm_start: Known | None,
        spent_s: float,
        parameters: SearchParameters,
    ) -> None:
        """Begin to count the time now; arguments are as in `solve`."""
        self.problem, self.warm_start, self.parameters = problem, warm_start, parameters
        self.duals = None if warm_start is None else warm_start.duals_in(problem)
        self.began, self.workers = time.monotonic(), workers_of(problem)
        self.deterministic = self.workers == 1
        self.limit_s = problem.limits.time_limit_s
        self.idle_s = 0.0  # while loops were made ready and nothing was searched
        if not self.deterministic:
            self.limit_s = max(parameters.least_share * self.limit_s, self.limit_s - spent_s)
        # where the sky decides, hardly two plans are equal
        wanted = parameters.ties and not problem.by_time
        self.ties_s = min(parameters.ties_limit_s, parameters.ties_share * self.limit_s) if wanted else 0.0
        self.rng = np.random.default_rng(problem.limits.seed)
        self.found = NightBound.trivial(problem)
        self.settled = False  # whether the search ended because it found nothing better any more
        self.tell = tell
        self.incumbent = Incumbent(problem, self.found.bound, self._hear)

    def construct(self) -> None:
        """Make first plans in one pass each, and take over what is known of a night much like this one."""
        problem, offer = self.problem, self.incumbent.offer
        offer(constructed(problem))
        if problem.by_time:  # else the opening does better in the time that the second takes
            offer(constructed(problem, heaviest_first=True))
        if self.warm_start is not None:
            for draft in self.warm_start.drafts_in(problem):
                offer(following(problem, draft))
            for plan in self.warm_start.plans_in(problem):
                offer(plan)
        self.incumbent.tell()
        ctrl_c.heed()

    def make_ready(self, graph: RunGraph) -> None:
        """Have the loops ready; that time counts for no limit.

        The first time on a machine the constraint model looks for better plans beside the compiler. Not with
        one worker: what has been compiled before must make no difference to the plan.
        """
        began, searched_s = time.monotonic(), 0.0
        try:
            with Preparation(by_time=self.problem.by_time) as preparation:
                beside = preparation.is_going_on and not self.deterministic
                if beside and self.suits_constraint_model(graph):
                    self._search_beside(preparation)
                    searched_s = time.monotonic() - began
                if not self.incumbent.is_near:
                    preparation.finish()
        finally:
            self.limit_s += searched_s
            self.idle_s += time.monotonic() - began - searched_s

    def suits_constraint_model(self, graph: RunGraph) -> bool:
        """Whether the night has so few runs that the constraint model mostly proves its best."""
        parameters = self.parameters
        few = parameters.constraint_model and len(graph.option_s) <= parameters.few_runs
        return few and not self.problem.by_time and can_count(self.problem)

    def _search_beside(self, preparation: Preparation) -> None:
        """Search some seconds with the constraint model, or fewer if the loops are ready before."""
        incumbent, parameters = self.incumbent, self.parameters

        def hear(profit: int, bound: int) -> None:
            self._hear(max(profit, incumbent.profit), bound)

        solver = make_solver(self.problem, parameters.beside_compiler_s, parameters.beside_compiler_workers)
        self._ask_model(solver, hear, until=lambda: not preparation.is_going_on)

    def price(self, graph: RunGraph, budget: Budget) -> None:
        """Find a first bound, while runs are put into the plan beside it; make plans of its best columns."""
        problem, incumbent = self.problem, self.incumbent
        with self._opening(graph, budget):
            bounds = first_bounds(graph, budget, self.duals, lambda: incumbent.profit)
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
        if not (parameters.opening and graph.nodes) or self.problem.by_time:
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

    def solve_model(self, budget: Budget) -> None:
        """Search with the constraint model for all of the budget."""
        self._ask_model(make_solver(self.problem, budget.left_s, self.workers), None)

    def _ask_model(
        self, solver: cp_model.CpSolver, hear: Hear | None, until: Callable[[], bool] = lambda: False
    ) -> None:
        problem, incumbent = self.problem, self.incumbent
        watch = Watch(problem, hear, incumbent.bound)
        answer = search(problem, incumbent.plan, solver, watch, bound=incumbent.bound, until=until)
        incumbent.offer(answer.plan)
        incumbent.limit(answer.bound)
        if answer.stopped:
            raise KeyboardInterrupt

    def search(self, graph: RunGraph, budget: Budget) -> None:
        """Search by ruin and recreate beside a tighter bound, or after it where there is one worker."""
        parameters, incumbent = self.parameters, self.incumbent
        share = parameters.tighten_share if parameters.column_generation else 0.0
        bound = self.part(budget, share) if self.deterministic else budget.part(1.0)
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
                search = MultiStart(RuinAndRecreate(graph, parameters.ruin), incumbent, parameters.turns)
                search.improve(incumbent.plan, budget, self.rng)
                self.settled = search.in_vain
            if not incumbent.is_near:
                tightening.wait(budget.left_s, self._bound_stands() if self.settled else lambda: False)
        ctrl_c.heed()

    def _bound_stands(self) -> Callable[[], bool]:
        """A question for now and then: has the bound hardly come nearer to the plan for some while?"""
        parameters, incumbent = self.parameters, self.incumbent
        since_s, gap = self.spent_s(), incumbent.bound - incumbent.profit

        def stands() -> bool:
            nonlocal since_s, gap
            now_s, left = self.spent_s(), incumbent.bound - incumbent.profit
            if left <= (1.0 - parameters.least_fall) * gap:
                since_s, gap = now_s, left
            return now_s - since_s > parameters.patience_share * now_s

        return stands

    def without_ties(self, stopped: bool) -> Plan:
        """The incumbent's plan, or one of the same profit with fewer moves or higher sky if time is left."""
        problem, incumbent = self.problem, self.incumbent
        building_s = self.parameters.building_s * len(problem.slots) ** 2
        late = not self.deterministic and self.spent_s() + building_s > self.limit_s
        if incumbent.plan and self.ties_s and not (stopped or late) and can_count(problem):
            with contextlib.suppress(KeyboardInterrupt):
                return break_ties(problem, incumbent.plan, incumbent.profit, self.ties_s, self.workers)
        return incumbent.plan

    def _hear(self, profit: int, bound: int) -> None:
        if self.tell is not None:
            weighted = self.problem.weighted_seconds
            self.tell(self.spent_s(), weighted(profit), weighted(bound))

    def spent_s(self) -> float:
        """Seconds of search so far."""
        return time.monotonic() - self.began - self.idle_s

    def budget(self, seconds: float) -> Budget:
        """A budget by the clock, or by counted work where there is one worker."""
        return Budget(seconds, deterministic=self.deterministic)

    def part(self, whole: Budget, share: float) -> Budget:
        """A part of the whole, all of which counts as spent."""
        part = whole.part(share)
        if self.deterministic:
            whole.spend(share * whole.work_left)
        return part
