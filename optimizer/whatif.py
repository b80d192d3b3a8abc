"""What if? A night planned once, then asked again with small changes; each answer starts from the first one.

    night = WhatIf(request)
    answer = night.ask(night.without_target("Owl Nebula"))
    answer.value - night.value          # weighted seconds gained or lost

The sky of the same site and evening, the plan and the prices of its bound are used again. An answer ends as
soon as it is proven within `gap` of its own best, or when its time is up.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

from optimizer.models.request import Request
from optimizer.packing.solution import Solution, WarmStart
from optimizer.packing.solve import Progress, solve
from optimizer.problem import Problem, build_problem
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.windows import SkyWindows, sky_windows

GAP, LIMIT_S = 0.01, 1.0


@dataclass(frozen=True)
class Answer:
    """A request's plan as far as the packing goes; not yet steps, not yet audited."""

    request: Request
    windows: SkyWindows
    problem: Problem
    solution: Solution

    @property
    def value(self) -> float:
        """Weighted seconds."""
        return self.problem.weighted_seconds(self.solution.profit)

    @property
    def bound(self) -> float:
        """Weighted seconds that no plan of this request exceeds."""
        return self.problem.weighted_seconds(self.solution.bound)

    def open_s(self, target: str | None = None) -> float:
        """Seconds of open shutter, of one target or of all."""
        return sum(
            run.frames * self.problem.tasks[run.task].goal.exposure_s
            for visit in self.solution.plan
            for run in visit.runs
            if target in (None, self.problem.tasks[run.task].target.name)
        )


class WhatIf:
    """One night and the answers to changes of it. Not for changes that need another file or catalogue."""

    def __init__(self, request: Request, tell: Progress | None = None, began: float | None = None) -> None:
        """Plan the night as it stands, within the limits of its aim; `tell` hears of each better plan.

        The time limit counts from `began` (as `time.monotonic` has it), else from now: sky and windows
        included, where the search has two workers or more.
        """
        began = time.monotonic() if began is None else began
        self.sky = night_sky(request)
        self.first = self._answer(request, self.sky, None, tell, began)

    @property
    def value(self) -> float:
        """Of the night as it stands, in weighted seconds."""
        return self.first.value

    def ask(self, changed: Request, limit_s: float = LIMIT_S, gap: float = GAP) -> Answer:
        """Plan a changed request, from what is known of the first one."""
        same_sky = (changed.site, changed.night.evening, changed.night.ut1_utc_s) == (
            self.first.request.site,
            self.first.request.night.evening,
            self.first.request.night.ut1_utc_s,
        )
        aim = changed.aim.model_copy(update={"time_limit_s": limit_s, "gap": gap})
        return self._answer(
            changed.model_copy(update={"aim": aim}), self.sky if same_sky else night_sky(changed), self.first
        )

    def without_target(self, name: str) -> Request:
        """The first request without one target. Raises ValueError where no other is left."""
        left = tuple(target for target in self.first.request.targets if target.name != name)
        if not left:
            raise ValueError(f"without {name} there is no target left")
        return self.first.request.model_copy(update={"targets": left})

    @staticmethod
    def _answer(
        request: Request,
        sky: NightSky,
        first: Answer | None,
        tell: Progress | None = None,
        began: float | None = None,
    ) -> Answer:
        windows = sky_windows(request, sky)
        problem = build_problem(request, windows)
        known = None if first is None else WarmStart(first.problem, first.solution)
        spent_s = 0.0 if began is None else time.monotonic() - began
        return Answer(request, windows, problem, solve(problem, tell, known, spent_s))
