"""A night: planned once, then asked again with small changes; each answer starts from the first one.

    night = Night(request)
    shots = night.plan()
    changed = night.ask(night.without_target("Owl Nebula"))
    changed.value - night.value          # weighted seconds gained or lost

A changed night takes over the sky of the same site and evening, the plan, the prices of its bound, and how
much scarce goals count. Its search ends as soon as its plan is proven within `gap` of the best, or when its
time is up.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import cached_property
from typing import Protocol

from optimizer import ctrl_c
from optimizer.ahead import KeptSeason, Scarcity, scarcity_carried, scarcity_of, scarcity_told
from optimizer.audit import audit_shot_list
from optimizer.models.continues import Continues
from optimizer.models.request import Request
from optimizer.models.season_tonight import InSeason
from optimizer.models.shots import ShotList
from optimizer.packing.older_steps import OlderSteps
from optimizer.packing.phases import Progress
from optimizer.packing.schedule import ScheduledVisit
from optimizer.packing.solution import Known, Solution, WarmStart
from optimizer.packing.solve import solve
from optimizer.problem import Problem, build_problem
from optimizer.reading.given import check_targets, request_given, seconds_given, share_given
from optimizer.reading.load import LoadedRequest
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.windows import SkyWindows, sky_windows
from optimizer.timeline.shot_list import unaudited_list

GAP, LIMIT_S = 0.01, 1.0


class SeasonView(Protocol):
    """The season in view of which a night is planned (`season.tonight`)."""

    @property
    def factors(self) -> Mapping[tuple[str, int], Fraction] | None:
        """By how much a sub of each goal counts more, as `Scarcity.factors`; None: by scarce hours."""

    def told(self, problem: Problem, visits: Sequence[ScheduledVisit]) -> InSeason:
        """What the plan gives the season, and of each target why it is on or off."""


class Night:
    """One night of a request; sky, windows, problem and plan are each made once, when first asked for.

    A changed request that needs another file or catalogue is another night: load it and make a new one.

    Args:
        request: The request, or what `load` returned. Making a night of it takes no time: nothing is
            computed.
        continues: The older list with which this night goes on, and how mount and camera stand as it does;
            None: a night from dusk. The request's `blocked` must hold everything before that.
        older: That older list, where it is at hand. Its values are kept, and what is left of it is where the
            search begins. What it says of a season holds for this night too.
        view: The season in view of which the night is planned; the request is the view's `as_planned`.

    Attributes:
        request: The request as given.
        continues: As given.
        older: As given.
        view: As given, or what the older list says of its season.
        sky: Sun, Moon and clock from one solar noon to the next.
        windows: When the shutter may be open on each target through each filter, and what closes it.
        scarcity: Hours in which each goal may be shot in the nights to come, and how much more it counts.
        problem: The integer problem in whole seconds that is solved.

    Example:
        >>> night = Night(load("plans/first-night/request.toml"))
        >>> shots = night.plan()
        >>> night.ask(night.without_target("Hyades dust")).value < night.value
        True
    """

    def __init__(
        self,
        request: Request | LoadedRequest,
        continues: Continues | None = None,
        older: ShotList | None = None,
        view: SeasonView | None = None,
    ) -> None:
        """Keep what is given; nothing is computed or searched yet. Raises TypeError for another request."""
        self.request: Request = request_given(request, "Night()")
        self.continues, self.older, self.view = continues, older, view
        if view is None and older is not None and older.season is not None:
            self.view = KeptSeason(older.season, self.request)
        self._solution: Solution | None = None
        self._shots: ShotList | None = None

    @cached_property
    def sky(self) -> NightSky:
        """Sun, Moon and clock of the night. Raises InputError where the evening is outside all tables."""
        return night_sky(self.request)

    @cached_property
    def windows(self) -> SkyWindows:
        """When the shutter may be open, by target, filter and pier side, with causes.

        Raises InputError where the request has no targets.
        """
        check_targets(self.request, "Night")
        return sky_windows(self.request, self.sky)

    @cached_property
    def scarcity(self) -> Scarcity:
        """How scarce the goals are: counted once, and kept by every night that is asked of this one."""
        if self.older is not None:
            return scarcity_told(self.older.values, self.request, self.sky)
        return scarcity_of(self.request, self.sky)

    @cached_property
    def problem(self) -> Problem:
        """The packing problem of the night, in whole seconds.

        Raises ValueError where the mount tracks a target, as the night goes on, that the request does not
        have: one that shall be shot no more must stay in it, complete.
        """
        begin = None if self.continues is None else self.continues.begin
        factors = None if self.view is None else self.view.factors
        if factors is None:
            factors = self.scarcity.factors(self.request)
        return build_problem(self.request, self.windows, factors, begin)

    def plan(self, tell: Progress | None = None, began: float | None = None) -> ShotList:
        """Plan the night, once, and audit the plan; a second call returns the same list.

        The search keeps to `aim.time_limit_s`, `aim.gap` and `aim.workers` of the request. Ctrl-C ends it and
        keeps the best plan found so far (`proof.status` is then "stopped"). For that a SIGINT handler of the
        caller is not called while the main thread searches; it is set back afterwards.

        Args:
            tell: Called with seconds of search, value and bound (both in weighted seconds) at each better
                plan or bound, perhaps from another thread.
            began: Since when the time limit counts, as `time.monotonic` has it; None means since this call.
                Sky and windows are included, where the search has two workers or more.

        Returns:
            The shot list with its audit report. It has no steps where nothing can be scheduled, and
            `unplanned` says why. Where the audit found violations, which is a defect of the software, it
            cannot be saved.

        Raises:
            InputError: The request has no targets, or its evening is outside all tables.
            optimizer.errors.SolverFailureError: The solver refuses the model, a defect of the software.
        """
        if self._shots is None:
            solution = self.search(tell, time.monotonic() if began is None else began)
            unaudited = unaudited_list(
                self.request,
                self.sky,
                self.windows,
                self.problem,
                solution,
                self.scarcity,
                self.continues,
                self.in_season(solution.schedule.visits),
            )
            self._shots = unaudited.model_copy(update={"audit": audit_shot_list(unaudited)})
        return self._shots

    def search(
        self, tell: Progress | None = None, began: float | None = None, warm_start: Known | None = None
    ) -> Solution:
        """Search for the best plan as far as the packing goes, once: no steps yet, no audit.

        A second call returns the same solution. `tell` and `began` are as in `plan`, but without `began` the
        time limit is for the search alone; `warm_start` is what is known of a night much like this one, to
        start from, instead of what is left of an older list.
        """
        if self._solution is None:
            if warm_start is None:
                warm_start = self._rest_of_older()
            problem = self.problem
            spent_s = 0.0 if began is None else time.monotonic() - began
            self._solution = solve(problem, tell, warm_start, spent_s)
        return self._solution

    @property
    def solution(self) -> Solution:
        """The plan found, with its proof. Raises RuntimeError where the night was not planned yet."""
        if self._solution is None:
            raise RuntimeError("this night is not planned yet: call plan() or search() first")
        return self._solution

    @property
    def value(self) -> float:
        """Weighted seconds of the plan found, what filter sets come forward included, if the aim asks for it.

        Raises RuntimeError before the night is planned.
        """
        return self.problem.weighted_seconds(self.solution.profit)

    @property
    def bound(self) -> float:
        """Weighted seconds that no plan of this night exceeds. Raises RuntimeError before it is planned."""
        return self.problem.weighted_seconds(self.solution.bound)

    def open_s(self, target: str | None = None) -> float:
        """Seconds of open shutter in the plan found, of one target (by name) or of all.

        Raises ValueError where there is no target of that name, RuntimeError before the night is planned.
        """
        if target is not None:
            self._check_name(target)
        return sum(
            run.frames * self.problem.tasks[run.task].goal.exposure_s
            for visit in self.solution.plan
            for run in visit.runs
            if target in (None, self.problem.tasks[run.task].target.name)
        )

    def ask(self, changed: Request | LoadedRequest, limit_s: float = LIMIT_S, gap: float = GAP) -> Night:
        """Search a changed night from what is known of this one, which is searched first if it was not.

        Args:
            changed: The changed request, such as `without_target` gives, or what `load` returned.
            limit_s: Seconds that the search may take; above 0, at most 86400.
            gap: The search ends when its plan is proven this near to the best (0.01 is one percent); a share
                from 0 to 1.

        Returns:
            The changed night, searched: `value`, `bound`, `open_s()` and `solution` tell of its plan, and
            `plan()` makes an audited shot list of it. Scarce goals count as much as in this night, unless
            the change is in `aim.scarcity` or `aim.look_ahead_nights`.

        Raises:
            InputError: `limit_s` or `gap` is out of range, or the changed request has no targets.
            KeyboardInterrupt: Ctrl-C came while a night was searched. The plan of the changed night is lost
                then; what was found for this night by then stays, and it can be asked again.
            TypeError: Something else than a request was given, or a limit or gap that is no number.
            optimizer.errors.SolverFailureError: The solver refuses a model, a defect of the software.
        """
        request = request_given(changed, "ask()", targets_needed=True)
        limit_s = seconds_given(limit_s, "ask()", "limit_s")
        timed = request.with_aim(time_limit_s=limit_s, gap=share_given(gap, "ask()", "gap"))
        night = Night(timed, self.continues, self.older, self.view)
        if self._solution is None:
            self._search_unbroken()
        if _same_sky(request, self.request):
            night.sky = self.sky
        if _same_look_ahead(request, self.request):
            night.scarcity = scarcity_carried(self.scarcity, request, night.sky)
        night._search_unbroken(WarmStart(self.problem, self.solution))
        return night

    def without_target(self, name: str) -> Request:
        """Return this night's request without one target.

        Raises ValueError where there is no target of that name, and where no other is left.
        """
        self._check_name(name)
        left = tuple(target for target in self.request.targets if target.name != name)
        if not left:
            raise ValueError(f"without {name} there is no target left")
        return self.request.model_copy(update={"targets": left})

    def _search_unbroken(self, warm_start: Known | None = None) -> None:
        """Search, and raise KeyboardInterrupt where Ctrl-C came meanwhile, whatever was found by then."""
        _ = self.problem  # made before the block: here Ctrl-C is thrown at once
        with ctrl_c.counted():
            stopped = self.search(warm_start=warm_start).status == "stopped"
            ctrl_c.heed()
        if stopped:
            raise KeyboardInterrupt

    def in_season(self, visits: Sequence[ScheduledVisit]) -> InSeason | None:
        """What a list with these visits says of its season; None where the night is planned by itself."""
        return None if self.view is None else self.view.told(self.problem, visits)

    def _rest_of_older(self) -> OlderSteps | None:
        """What was not done of the older list with which this night goes on."""
        if self.older is None or self.continues is None:
            return None
        done = set(self.continues.steps_done)
        return OlderSteps(
            tuple(step for step in self.older.steps if step.step not in done), self.sky.clock.seconds
        )

    def _check_name(self, name: str) -> None:
        """Raise ValueError, which tells the names there are, where no target has this one."""
        names = [target.name for target in self.request.targets]
        if name not in names:
            raise ValueError(f"there is no target {name!r}; there are {', '.join(map(repr, names))}")


def _same_look_ahead(one: Request, other: Request) -> bool:
    return (one.aim.scarcity, one.aim.look_ahead_nights) == (
        other.aim.scarcity,
        other.aim.look_ahead_nights,
    )


def _same_sky(one: Request, other: Request) -> bool:
    return (one.site, one.night.evening, one.night.ut1_utc_s) == (
        other.site,
        other.night.evening,
        other.night.ut1_utc_s,
    )
