"""One night of a season, made ready once: its packing problem, and what the season asks of its sky."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from optimizer.models.request import Request
from optimizer.models.shots import NightFacts
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.problem import Problem, build_problem
from optimizer.season.asked import request_on, without_counts
from optimizer.season.projects import Floats, Ints
from optimizer.season.sky_blocks import SKY_STEP_S, SkyBlockGrid
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.clock import NightClock
from optimizer.sky.facts import night_facts
from optimizer.sky.windows import SkyWindows, intersect_all, sky_windows, total_s

BIN_S = 1800  # seconds of a bin of `Openings`
REST_BYTES = 500_000  # of a night without its arrays
SHORT_MOST = 2**31 - 1  # that a number of half the length holds
_SPARE: list[Floats] = []  # room for the tables of the grids of all nights: one for each thread that prices


@dataclass(frozen=True)
class Openings:
    """In which seconds of a night each goal may be shot, by bins of half an hour.

    `open_s` [tasks, bins] holds seconds in which the shutter may be open on either pier side, `share` the
    mean share of full worth that a second then counts (1 by hours). `moonless_s` [tasks] is how long the
    shutter might be open if the Moon closed nothing.
    """

    open_s: Floats
    share: Floats
    moonless_s: Floats


@dataclass(frozen=True)
class PreparedNight:
    """A night of a season with nothing in hand: any counts enter by `left` where it is priced or planned.

    `dark_s` are the seconds in which the Sun is low enough for the filter that asks least, `moonless_dark_s`
    those of them without Moon. Tasks are in the order of `Projects` of the same request.
    """

    evening: dt.date
    problem: Problem
    facts: NightFacts
    clock: NightClock
    dark_s: float
    moonless_dark_s: float
    openings: Openings
    grids: dict[int, TimeExpandedGraph] = field(default_factory=dict, compare=False, repr=False)

    @cached_property
    def graph(self) -> RunGraph:
        """The night's runs; paths through it remember nothing, so that labelling takes milliseconds."""
        graph = RunGraph(self.problem)
        return graph.forgetting if graph.nodes else graph

    def grid(self, step_s: int) -> TimeExpandedGraph:
        """The graph on a grid of so many seconds, made once."""
        if step_s not in self.grids:
            kind = SkyBlockGrid if self.problem.by_time else TimeExpandedGraph
            self.grids[step_s] = kind(self.graph, step_s, join_arcs=True, spare=_SPARE)
        return self.grids[step_s]

    @property
    def held_bytes(self) -> int:
        """About how much memory the night takes as it is now, in bytes."""
        arrays = [task.profit_by_start for task in self.problem.tasks]
        if "graph" in self.__dict__:
            arrays += vars(self.graph).values()
        for grid in self.grids.values():
            arrays += [*vars(grid).values(), *getattr(grid, "grid", ())]
        return REST_BYTES + sum(each.nbytes for each in arrays if isinstance(each, np.ndarray))

    def without_tables(self) -> PreparedNight:
        """The same night without what its subs count second by second, which by depth is nearly all of it."""
        if not self.problem.by_time:
            return self
        tasks = tuple(replace(task, profit_by_start=None) for task in self.problem.tasks)
        return replace(self, problem=replace(self.problem, tasks=tasks), grids={})

    def for_pricing(self) -> PreparedNight:
        """The same night without those tables, with what runs are worth by blocks of the sky instead."""
        outline = self.without_tables()
        if self.problem.by_time and outline.graph.nodes:
            grid = outline.grid(SKY_STEP_S)
            assert isinstance(grid, SkyBlockGrid)
            grid.blocks = grid.blocks_of(self.problem.tasks)
        return outline

    @property
    def is_for_pricing(self) -> bool:
        """Whether `price` needs nothing that is not here."""
        return not self.problem.by_time or bool(self.grids) or not self.graph.nodes

    def __getstate__(self) -> Mapping[str, object]:
        """Leave out what is quickly made again."""
        state = {**self.__dict__, "grids": {}}
        state.pop("graph", None)
        return state


def prepare(request: Request, evening: dt.date) -> PreparedNight:
    """Make a night of the season ready: sky, windows, problem. It depends on nothing but its arguments."""
    of_night = without_counts(request_on(request, evening))
    sky = night_sky(of_night)
    windows = sky_windows(of_night, sky)
    problem = build_problem(of_night, windows)
    return PreparedNight(
        evening=evening,
        problem=_shortened(problem),
        facts=night_facts(of_night, sky),
        clock=sky.clock,
        dark_s=float(total_s(windows.dark)),
        moonless_dark_s=_moonless_s(sky, windows),
        openings=openings_of(problem, windows),
    )


def _shortened(problem: Problem) -> Problem:
    """The problem with what subs count second by second in numbers of half the length, where they fit."""
    tasks = tuple(
        task
        if task.profit_by_start is None or task.profit_by_start.max(initial=0) > SHORT_MOST
        else replace(task, profit_by_start=task.profit_by_start.astype(np.int32))
        for task in problem.tasks
    )
    return replace(problem, tasks=tasks)


def _moonless_s(sky: NightSky, windows: SkyWindows) -> float:
    """Seconds of the dark windows in which the Moon's upper limb is below the horizon, by the minute."""
    at_s = np.arange(30.0, 86400.0, 60.0)
    dark = np.zeros(len(at_s), dtype=np.bool_)
    for window in windows.dark:
        dark |= (at_s >= window.start_s) & (at_s < window.end_s)
    return float(60 * np.count_nonzero(dark & (sky.moon.limb_above_deg(at_s) < 0.0)))


def sky_of(request: Request, evening: dt.date) -> tuple[Request, NightSky, SkyWindows]:
    """The request of a night of the season with its counts, its sky and its windows: for steps and audit."""
    of_night = request_on(request, evening)
    sky = night_sky(of_night)
    return of_night, sky, sky_windows(of_night, sky)


def openings_of(problem: Problem, windows: SkyWindows) -> Openings:
    """Count the seconds in which each goal may be shot, in bins of half an hour from the first solar noon."""
    bins = 86400 // BIN_S
    open_s, share = np.zeros((len(problem.tasks), bins)), np.ones((len(problem.tasks), bins))
    moonless_s = np.zeros(len(problem.tasks))
    edges = np.arange(bins + 1) * BIN_S
    for task in problem.tasks:
        seen = np.zeros(86400 + 1, dtype=np.bool_)
        for slot in problem.slots_by_task.get(task.index, ()):
            for opens, closes in slot.shutter[task.index]:
                seen[opens:closes] = True
        open_s[task.index] = np.add.reduceat(seen[:86400], edges[:-1])
        if task.profit_by_start is not None and task.whole_profit:
            worth = np.where(seen[:86400], task.profit_by_start[:86400], 0)
            sums = np.add.reduceat(worth, edges[:-1]) / float(task.whole_profit)
            share[task.index] = np.where(open_s[task.index] > 0, sums / np.maximum(1, open_s[task.index]), 0)
        causes = windows[task.target.name].shutter_causes[task.goal.filter]
        others = [own for cause, own in causes.items() if cause not in ("moon_gap", "moonlight")]
        moonless_s[task.index] = total_s(intersect_all(others)) if others else 0.0
    return Openings(open_s, share, moonless_s)


def with_left(problem: Problem, left: Ints) -> Problem:
    """The problem with so many frames left to take of each task, [tasks]."""
    tasks = tuple(
        replace(task, frames_left=int(each)) for task, each in zip(problem.tasks, left, strict=True)
    )
    return replace(problem, tasks=tasks)
