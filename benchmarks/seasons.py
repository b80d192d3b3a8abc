"""Simulated seasons: what thirty nights make of a list, each planned by plain hours or by the defaults.

    python -m benchmarks.seasons [--seasons N] [--seed S] [--render]

Two lists of targets, each under N weathers: nights are clear at odds of 0.5, in half of the seasons
independent of each other, in the other half like the night before at odds of 0.6. A clear night is not
searched but priced: its harvest is a mixture of paths through the time-expanded graph, each the best one at
what a frame is worth after the mixture so far (the method of Frank and Wolfe), cut at the caps. Windows and
graphs are made once for a night and a list, and shared by all weathers. The results are kept in
benchmarks/results/seasons.json and seasons.md.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import time
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from benchmarks.plain_aim import PLAIN_AIM
from benchmarks.seasons_table import seasons_text
from benchmarks.surroundings import RESULTS, surroundings
from benchmarks.worth_nights import AUTUMN, HALRGB, LRGB, RIG, SPRING, WINTER, Wanted
from optimizer.ahead.factors import Scarcity, scarcity_of
from optimizer.models.request import Request
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.tables import Reduction
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.compiled import Floats, Ints
from optimizer.problem import build_problem
from optimizer.reading.load import request_from_data
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows

NIGHTS, ODDS, LIKE_BEFORE = 30, 0.5, 0.6
WEATHERS = {"independent": 0.5, "persistent": LIKE_BEFORE}  # odds that a night is like the one before
BALANCE, SCARCITY, AHEAD = 0.3, 0.5, 28
STEP_S = 60  # of the grid; it makes a night look some 0.7 % longer than a grid of seconds
STEPS = (1.0, 0.6, 0.35, 0.2, 0.1, 0.05)  # towards the next path, of which the best is taken
COMPLETE = 0.999  # of a goal; mixtures come near to it
NEVER = 1e15  # costs more than any night brings
OLD, NEW = "hours", "defaults"
ROUNDS = {OLD: 16, NEW: 10}  # by hours many goals are worth the same, and a mixture takes longer to settle
GALAXIES = (
    Wanted("Bode's pair", "M 81", HALRGB),
    Wanted("Spiral of the Giraffe", "NGC 2403", LRGB),
    Wanted("Spiral of the Dogs", "M 106", LRGB),
    Wanted("Hamburger", "NGC 3628", LRGB),
    Wanted("Spiral of the Lion", "NGC 2903", LRGB),
)
LISTS: dict[str, tuple[str, tuple[Wanted, ...]]] = {
    "mixed, from October": ("2026-10-01", (*AUTUMN, *WINTER[:4])),
    "LRGB, from March": ("2027-03-01", (*SPRING, *GALAXIES)),
}
Metrics = dict[str, float]


def main() -> None:
    arguments = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    arguments.add_argument(
        "--seasons", type=int, default=100, help="of each list, half of each kind of weather"
    )
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--render", action="store_true", help="only make the table anew")
    wanted = arguments.parse_args()
    path = RESULTS / "seasons.json"
    if not wanted.render:
        began = time.perf_counter()
        raw: dict[str, Any] = {
            "date": dt.datetime.now(dt.UTC).isoformat(timespec="seconds"),
            **surroundings(("ortools", "astropy", "numpy", "pyerfa")),
            "seasons": wanted.seasons,
            "seed": wanted.seed,
            "nights": NIGHTS,
            "lists": {name: simulated(name, wanted.seasons, wanted.seed) for name in LISTS},
        }
        raw["seconds"] = round(time.perf_counter() - began)
        path.write_text(json.dumps(raw, indent=1) + "\n", encoding="utf-8")
    raw = json.loads(path.read_text(encoding="utf-8"))
    (RESULTS / "seasons.md").write_text(seasons_text(raw, OLD, NEW), encoding="utf-8")


def simulated(name: str, seasons: int, seed: int) -> dict[str, Any]:
    """One list through all weathers: what each season comes to, by weather and aim."""
    first, targets = LISTS[name]
    seasons //= len(WEATHERS)
    clear = {kind: weather(seasons, seed, like) for kind, like in WEATHERS.items()}
    goals = goals_of(request_of(first, targets))
    states = {
        (kind, aim): [State(np.zeros(len(goals.wanted)), np.zeros(len(goals.wanted))) for _ in range(seasons)]
        for kind in WEATHERS
        for aim in (OLD, NEW)
    }
    for number in range(NIGHTS):
        night = PricedNight(goals, request_of(dt.date.fromisoformat(first) + dt.timedelta(number), targets))
        for (kind, aim), own in states.items():
            for season, state in enumerate(own):
                if clear[kind][season, number]:
                    night.take(state, aim)
        print(f"{name}: night {number + 1} of {NIGHTS}", flush=True)
    return {
        "targets": len(targets),
        "wanted_h": round(float((goals.wanted * goals.frame_s).sum()) / 3600, 1),
        "metrics": {
            kind: {aim: [goals.metrics(state) for state in states[kind, aim]] for aim in (OLD, NEW)}
            for kind in WEATHERS
        },
    }


def weather(seasons: int, seed: int, like_before: float) -> np.ndarray:
    """Which nights are clear, [seasons, nights]: half of them, in runs as long as the odds of staying say."""
    rng = np.random.default_rng(seed)
    draws = rng.random((seasons, NIGHTS))
    clear = np.zeros((seasons, NIGHTS), dtype=bool)
    clear[:, 0] = draws[:, 0] < ODDS
    for number in range(1, NIGHTS):
        stays = draws[:, number] < like_before
        clear[:, number] = np.where(stays, clear[:, number - 1], ~clear[:, number - 1])
    return clear


def request_of(evening: str | dt.date, targets: tuple[Wanted, ...]) -> Request:
    """A night of the season, with nothing in hand."""
    data = {
        "schema": "darkfill-request/1",
        "night": {"evening": str(evening)},
        **RIG,
        "targets": [each.target() for each in targets],
        "aim": {**PLAIN_AIM, "look_ahead_nights": AHEAD},
    }
    return request_from_data(data, f"night of {evening}")


@dataclass
class State:
    """Frames in hand and the seconds that they count by depth, by goal [goals]."""

    frames: Floats
    depth_s: Floats


@dataclass(frozen=True)
class Goals:
    """All goals in the order of a problem's tasks: frames wanted, seconds of one, places of each set."""

    names: tuple[tuple[str, str], ...]  # target and filter
    wanted: Floats
    frame_s: Floats
    sets: tuple[Ints, ...]

    def metrics(self, state: State) -> Metrics:
        """What a season has come to, in hours."""
        whole_s = self.wanted * self.frame_s
        shares = np.minimum(1.0, state.frames / self.wanted)
        complete = [own for own in self.sets if np.all(shares[own] >= COMPLETE)]
        return {
            "open_h": float((state.frames * self.frame_s).sum()) / 3600,
            "depth_h": float(state.depth_s.sum()) / 3600,
            "complete_sets": float(len(complete)),
            "complete_h": sum(float(whole_s[own].sum()) for own in complete) / 3600,
            "balanced_h": sum(progress_s(whole_s[own], shares[own]) for own in self.sets) / 3600,
            "balanced_depth_h": sum(
                progress_s(whole_s[own], np.minimum(1.0, state.depth_s[own] / whole_s[own]))
                for own in self.sets
            )
            / 3600,
        }


def goals_of(request: Request) -> Goals:
    """The goals of a request, none of which is done, in the order of the tasks."""
    pairs = sorted(request.goals(), key=lambda pair: pair[0].name)
    places: dict[str, list[int]] = {}
    for place, (target, goal) in enumerate(pairs):
        if goal.in_set:
            places.setdefault(target.name, []).append(place)
    return Goals(
        names=tuple((target.name, goal.filter) for target, goal in pairs),
        wanted=np.array([float(goal.frames) for _, goal in pairs]),
        frame_s=np.array([goal.exposure_s for _, goal in pairs]),
        sets=tuple(np.array(own) for own in places.values()),
    )


def progress_s(whole_s: Floats, shares: Floats) -> float:
    """The seconds of a set times the mean share of its slowest half."""
    return float(slowest(whole_s, shares) @ (whole_s * shares))


def slowest(whole_s: Floats, shares: Floats) -> Floats:
    """How much a second of each goal of a set adds to its progress: 2 in the slowest half, 0 beyond it.

    Goals that stand level where the half ends share what is left of it.
    """
    counts, left = np.zeros(len(shares)), float(whole_s.sum()) / 2
    for level in np.unique(np.round(shares, 9)):
        here = np.abs(shares - level) <= 1e-9
        part = min(1.0, left / float(whole_s[here].sum()))
        counts[here] = 2 * part
        left -= part * float(whole_s[here].sum())
        if left <= 0:
            break
    return counts


class Law:
    """What a night's seconds of each goal are worth, with the frames in hand; it is concave."""

    def __init__(self, goals: Goals, in_hand: Floats, factors: Floats, balance: float) -> None:
        """Seconds count by their factors [goals]; goals in sets by the balance as well."""
        self.goals, self.factors, self.balance = goals, factors, balance
        self.whole_s = goals.wanted * goals.frame_s
        self.before_s = in_hand * goals.frame_s

    def value(self, seconds: Floats) -> float:
        """Weighted seconds of so many seconds of each goal [goals]."""
        value = float((self.factors * seconds).sum())
        for own in self.goals.sets if self.balance else ():
            whole_s = (self.whole_s * self.factors)[own]
            more = progress_s(whole_s, self._shares(seconds, own)) - progress_s(
                whole_s, self._shares(None, own)
            )
            value += self.balance * (more - float((self.factors * seconds)[own].sum()))
        return value

    def slope(self, seconds: Floats) -> Floats:
        """What one more second of each goal is worth beside its factor, after so many [goals]."""
        slope = np.ones(len(seconds))
        for own in self.goals.sets if self.balance else ():
            counts = slowest((self.whole_s * self.factors)[own], self._shares(seconds, own))
            slope[own] = (1 - self.balance) + self.balance * counts
        return slope

    def _shares(self, seconds: Floats | None, own: Ints) -> Floats:
        reached_s = self.before_s[own] + (0.0 if seconds is None else seconds[own])
        return np.minimum(1.0, reached_s / self.whole_s[own])


@dataclass
class PricedNight:
    """Windows and graphs of one night, priced for any state of the list."""

    goals: Goals
    request: Request
    grids: dict[str, TimeExpandedGraph] = field(init=False)
    scarcity: Scarcity = field(init=False)

    def __post_init__(self) -> None:
        sky = night_sky(self.request)
        self.grids = {}
        for aim, value in ((OLD, "hours"), (NEW, "depth")):
            request = self.request.with_aim(value=value)
            problem = build_problem(request, sky_windows(request, sky))
            names = tuple((task.target.name, task.goal.filter) for task in problem.tasks)
            assert names == self.goals.names
            self.grids[aim] = TimeExpandedGraph(RunGraph(problem).forgetting, STEP_S)
        one, other = self.grids.values()
        assert np.array_equal(one.graph.option_s, other.graph.option_s)
        self.unit_s = {aim: float(grid.problem.profit_unit) for aim, grid in self.grids.items()}
        self.scarcity = scarcity_of(self.request.with_aim(scarcity=SCARCITY), sky)

    def take(self, state: State, aim: str) -> None:
        """Add the night's frames to what is in hand, as the aim would have them."""
        left = self.goals.wanted - state.frames
        factors = self._factors(left) if aim == NEW else np.ones(len(left))
        law = Law(self.goals, state.frames, factors, BALANCE if aim == NEW else 0.0)
        mixed = np.zeros((3, len(left)))  # frames, seconds by the aim, seconds by depth
        best, best_value = mixed, 0.0

        def cut(mixture: Floats) -> Floats:
            """What is beyond a cap brings nothing."""
            return mixture * np.minimum(1.0, left / np.maximum(mixture[0], 1e-9))

        for number in range(ROUNDS[aim]):
            worth = np.where(mixed[0] < left, law.slope(mixed[1]), 0.0)
            way = self._column(aim, factors * worth, left) - mixed
            values = [law.value(cut(mixed + step * way)[1]) for step in STEPS]
            step = (
                STEPS[int(np.argmax(values))] if max(values) > law.value(cut(mixed)[1]) else 1 / (number + 2)
            )
            mixed = mixed + step * way
            if max(values) > best_value:
                best, best_value = cut(mixed), max(values)
        state.frames += best[0]
        state.depth_s += best[2]

    def _factors(self, left: Floats) -> Floats:
        """By how much frames of scarce goals count more, by the median of the goals not complete."""
        hours = [self.scarcity.hours[name] for name in self.goals.names]
        open_h = [max(1.0, each) for each, more in zip(hours, left, strict=True) if more > 0 and each > 0]
        scarcity = Scarcity(SCARCITY, self.scarcity.hours, float(np.median(open_h or [1.0])))
        return np.array([scarcity.factor(*name) for name in self.goals.names])

    def _column(self, aim: str, shares: Floats, left: Floats) -> Floats:
        """The best path at these prices: frames, seconds by the aim and seconds by depth, [3, goals]."""
        grid = self.grids[aim]
        graph = grid.graph
        tasks, slots = graph.option_task, len(graph.slots)
        reduction = Reduction(
            option_shares=np.ascontiguousarray(shares[tasks]),
            option_costs=np.where(graph.option_frames > np.ceil(left[tasks]), NEVER, 0.0),
            arc_gains=np.zeros((slots + 1, slots)),
            refocus_gains=np.zeros(slots),
        )
        column = grid.best_columns(1, reduction)[0]
        options = column.runs.options
        ends = (column.begins_s - graph.zero_s) // grid.step_s + grid.grid.option_ticks[options]
        by_depth = self.grids[NEW].profits_by_end[options, ends].astype(float) * self.unit_s[NEW]
        own = by_depth if aim == NEW else column.runs.profits * self.unit_s[OLD]
        sums = np.zeros((3, len(left)))
        for row, each in enumerate((graph.option_frames[options].astype(float), own, by_depth)):
            np.add.at(sums[row], tasks[options], each)
        return sums


if __name__ == "__main__":
    main()
