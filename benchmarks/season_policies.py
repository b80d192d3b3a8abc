"""Policies for tonight over sampled seasons: which one brings most, as a share of what foreknowledge allows.

    python -m benchmarks.season_policies [--seasons N] [--few N] [--seed S] [--only TEXT] [--render]

Three lists of targets, by hours, by hours with filter sets and by depth with filter sets, each under N
weathers, independent of each other or with a correlation of 0.4 from night to night. A clear night is a
mixture of paths found by labelling with nothing remembered (`optimizer.season.coarse`); all policies choose
from the same paths, to which several have added those that they found best in the states they met. The same
weathers serve all policies, so that differences are taken season by season. The bound is that of each
season's clear nights alone: what nobody who knew the weather could exceed. Bounds and the policy that solves
programmes are taken of the first few seasons only. Results are kept as each list is done, in
benchmarks/results/season_policies.json, and as a table in season_policies.md.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import time
from dataclasses import replace
from typing import Any

import numpy as np

from benchmarks.season_lists import wanted_of
from benchmarks.season_policies_table import policies_text
from benchmarks.seasons import GALAXIES
from benchmarks.surroundings import RESULTS, surroundings
from benchmarks.worth_nights import AUTUMN, RIG, SPRING, Wanted
from optimizer.models.request import Request
from optimizer.models.season_asked import SeasonAsked
from optimizer.reading.load import request_from_data
from optimizer.season.aggregate import aggregate, hours_of
from optimizer.season.asked import evenings_of, odds_of
from optimizer.season.coarse import pools_at
from optimizer.season.desk import Desk, Inline, NightRef, only_rig
from optimizer.season.gathered import GatheredLaw
from optimizer.season.policy import NEVER, Policy, ScarceHours, Simulated, State, complete, simulated
from optimizer.season.projects import Floats, projects_of
from optimizer.season.simulation import foreknown_s, hours_of_nights
from optimizer.season.weather import Bools, sampled_weathers

PERSISTENCES = (0.0, 0.4)
KINDS = {"hours": ("hours", 0.0), "sets by hours": ("hours", 0.3), "sets by depth": ("depth", 0.3)}
# first evening, nights, targets, by how much more of each goal is wanted than its recipe says
LISTS: dict[str, tuple[str, int, tuple[Wanted, ...], float]] = {
    "30 nights x 8, mixed, from October": ("2026-10-01", 30, AUTUMN, 1.5),
    "40 nights x 12, galaxies, from March": ("2027-03-01", 40, (*SPRING, *GALAXIES), 1.5),
    "60 nights x 12, five filters, from November": ("2026-11-01", 60, tuple(map(wanted_of, range(12))), 2.0),
}
STATES, LOOKS, PASSES = 16, 10, 3  # as in `optimizer.season.expected`, with more of each
SCARCE, OWN, VALUES = "scarce hours first", "own weights", "season values"
LEAST_LEFT = 0.02
TAUGHT = (OWN, "favouring what lags", SCARCE, "target's share left and scarce hours, 0.5", VALUES)
LATER, OWN_SHARE = 0.003, 0.001  # so much less each later night, so much of a frame's own worth on top


def main() -> None:
    arguments = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    arguments.add_argument("--seasons", type=int, default=200)
    arguments.add_argument("--few", type=int, default=24, help="seasons with bound and season values")
    arguments.add_argument("--seed", type=int, default=7)
    arguments.add_argument("--only", default="", help="lists whose name and kind hold this text")
    arguments.add_argument("--render", action="store_true", help="only make the table anew")
    wanted = arguments.parse_args()
    path = RESULTS / "season_policies.json"
    raw: dict[str, Any] = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {"lists": {}}
    for name in LISTS:
        for kind in KINDS:
            if wanted.render or wanted.only not in f"{name}, {kind}":
                continue
            began = time.perf_counter()
            told = measured(name, kind, wanted.seasons, wanted.few, wanted.seed)
            raw = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {"lists": {}}
            raw["lists"].setdefault(name, {})[kind] = {
                **told,
                **surroundings(("numpy", "scipy")),
                "date": dt.datetime.now(dt.UTC).isoformat(timespec="seconds"),
                "seasons": wanted.seasons,
                "few": wanted.few,
                "seed": wanted.seed,
                "seconds": round(time.perf_counter() - began),
            }
            path.write_text(json.dumps(raw, indent=1) + "\n", encoding="utf-8")
            print(f"{name}, {kind}: {time.perf_counter() - began:.0f} s", flush=True)
    text = policies_text(raw, list(LISTS), list(KINDS), SCARCE)
    (RESULTS / "season_policies.md").write_text(text, encoding="utf-8")


def request_of(name: str, kind: str) -> Request:
    """The season of a list as a request, with the scarcity that `plan` has by itself."""
    first, nights, targets, more = LISTS[name]
    value, balance = KINDS[kind]
    given = [each.target() for each in targets]
    for target in given:
        for goal in target["goals"]:
            goal["frames"] = round(more * goal["frames"])
    data = {
        "schema": "darkfill-request/1",
        "night": {"evening": first},
        **RIG,
        "targets": given,
        "aim": {"value": value, "balance": balance},
        "season": {"nights": nights, "clear_odds": 0.5},
    }
    return request_from_data(data, f"{name}, {kind}")


class Board:
    """One list made ready: its nights, the hours ahead of each, and the paths known so far."""

    def __init__(self, name: str, kind: str) -> None:
        """Prepare all nights, and find first paths in states made up."""
        request = request_of(name, kind)
        asked = request.season or SeasonAsked()
        self.projects = projects_of(request)
        evenings = evenings_of(asked, request)
        self.odds = odds_of(asked, evenings)
        self.desk = Desk((only_rig(request, self.projects),), self.projects)
        self.refs = [NightRef(0, each) for each in evenings]
        self.engine = Inline(self.desk)
        self.law = GatheredLaw(self.projects)
        self.wanted = np.array([float(goal.wanted) for goal in self.projects.goals])
        self.targets = np.array([goal.target for goal in self.projects.goals])
        done_s = self.law.done_s[None]
        self.start = State(done_s / self.law.frame_s, done_s, np.zeros(1, np.int64))
        open_h, self.ahead_h = hours_of_nights(self.desk, self.refs)
        chances = np.array([float(each) for each in self.odds])[:, None]
        self.rest_h = np.cumsum((chances * open_h)[::-1], axis=0)[::-1]
        rng, shape = np.random.default_rng(1), (len(self.refs), STATES)
        apart = 0.35 * rng.standard_normal((*shape, len(self.wanted)))
        part = np.clip(rng.random((*shape, 1)) + apart, 0.0, 1.0)
        left = np.ceil((1 - part) * self.wanted).astype(np.int64)
        tilt = np.maximum(1.0, self.ahead_h)[:, None] ** -rng.choice([0.0, 0.5, 1.0], (*shape, 1))
        tilt *= np.exp(0.3 * rng.standard_normal(part.shape))
        worths = self.law.slope(part * self.law.wanted_s, tilt) * tilt * (left > 0)
        self.pools = pools_at(self.engine, self.refs, worths, left)

    def run(self, policy: Policy, clear: Bools, looks: int = 0) -> Simulated:
        """A policy over sampled weathers."""
        return simulated(self.pools, clear, policy, self.wanted, self.start, looks)

    def learn(self, policy: Policy, clear: Bools) -> None:
        """Find more paths in the states that a policy meets."""
        for _ in range(PASSES):
            met = self.run(policy, clear, LOOKS)
            more = pools_at(self.engine, self.refs, met.worths, met.lefts)
            self.pools = [own.with_others(new) for own, new in zip(self.pools, more, strict=True)]

    def values_s(self, end: State) -> Floats:
        """What each season has brought."""
        return self.law.value_s(end.reached_s) - self.law.value_s(self.start.reached_s)

    def bound_s(self, clear: Bools) -> float:
        """Weighted seconds that a season of these clear nights cannot exceed."""
        return foreknown_s(self.desk, [ref for ref, on in zip(self.refs, clear, strict=True) if on])


class Lagging(ScarceHours):
    """Favour what lags: the share that is left of a goal, or of its whole target, beside scarce hours."""

    def __init__(self, board: Board, lag: float, power: float = 0.0, *, whole: bool = False) -> None:
        """Factors are what is left to the power of `lag`, times those of scarce hours to a `power`."""
        super().__init__(board.law, board.ahead_h, power)
        names = board.targets
        same = names[:, None] == names[None, :] if whole else np.eye(len(names))
        parts = same * board.law.wanted_s
        self.lag, self.parts = lag, parts / parts.sum(axis=1, keepdims=True)

    def factors(self, night: int, state: State, wanted: Floats) -> Floats:
        """Those of scarce hours by the share that is left, which is taken as one in fifty at least."""
        left = np.maximum(LEAST_LEFT, (1 - state.frames / wanted) @ self.parts.T)
        return np.asarray(left**self.lag * super().factors(night, state, wanted))


class SeasonValues:
    """What a linear programme of the nights to come says of each frame, renewed weekly from each state."""

    def __init__(self, board: Board) -> None:
        """Frames count at prices that are linear: what sets make of them is in the prices."""
        self.board, self.law = board, GatheredLaw(board.projects, 0.0)
        self.hours = hours_of(board.desk, board.refs)
        self.known: dict[tuple[int, int], Floats] = {}

    def factors(self, night: int, state: State, wanted: Floats) -> Floats:
        """The worth of a frame tonight by its own worth; that of the week's first clear night."""
        week, seasons = night // 7, state.numbers.tolist()
        for row, season in enumerate(seasons):
            if (season, week) not in self.known:
                self.known[season, week] = self._worths(night, state.frames[row])
        return np.array([self.known[season, week] for season in seasons])

    def _worths(self, night: int, frames: Floats) -> Floats:
        board = self.board
        if complete(frames, board.wanted).all():
            return np.ones(len(frames))
        goals = tuple(
            replace(goal, done=int(got + 0.01))
            for goal, got in zip(board.projects.goals, frames, strict=True)
        )
        projects = replace(board.projects, goals=goals)
        numbers = [board.desk.rigs[0].numbers] * (len(board.refs) - night)
        counts = np.power(1.0 - LATER, np.arange(len(numbers)), dtype=np.float64)
        prices = aggregate(projects, self.hours[night:], numbers, board.odds[night:], counts).prices
        worths = np.maximum(0.0, prices.shares - prices.costs_s / board.law.frame_s)
        return np.asarray(worths + OWN_SHARE)


def policies_of(board: Board) -> dict[str, Policy]:
    """All policies by name; the last solves programmes and is tried on few seasons."""
    return {
        OWN: ScarceHours(board.law, board.ahead_h, 0.0),
        "favouring what lags": Lagging(board, 0.5),
        SCARCE: ScarceHours(board.law, board.ahead_h, 0.5),
        "scarce hours, power 0.25": ScarceHours(board.law, board.ahead_h, 0.25),
        "scarce hours of the season's rest": ScarceHours(board.law, board.rest_h, 0.5),
        "share left and scarce hours, 0.25": Lagging(board, 0.25, 0.25),
        "target's share left and scarce hours, 0.5": Lagging(board, 0.5, 0.5, whole=True),
        VALUES: SeasonValues(board),
    }


def measured(name: str, kind: str, seasons: int, few: int, seed: int) -> dict[str, Any]:
    """One list by one kind of worth: what each policy brings, by how alike neighbouring nights are."""
    board = Board(name, kind)
    for policy, how in policies_of(board).items():
        taught = few if policy == VALUES else 2 * few
        if policy in TAUGHT:
            board.learn(how, sampled_weathers(board.odds, 0.3, taught, seed + 1))
    weather = {}
    for persistence in PERSISTENCES:
        clear = sampled_weathers(board.odds, persistence, seasons, seed)
        bounds = np.array([board.bound_s(clear[season]) for season in range(few)])
        rows, scarce = dict[str, Any](), np.zeros(0)
        policies = policies_of(board)
        for policy in (SCARCE, *(each for each in policies if each != SCARCE)):
            count = few if policy == VALUES else seasons
            end = board.run(policies[policy], clear[:count])
            values = board.values_s(end.state)
            scarce = values if policy == SCARCE else scarce
            more = 100 * (values / scarce[:count] - 1)
            done = end.finished != NEVER
            whole = [done[:, board.targets == each].all(axis=1) for each in np.unique(board.targets)]
            rows[policy] = {
                "seasons": count,
                "value_h": float(values.mean()) / 3600,
                "percent_of_bound": float(100 * values[:few].sum() / bounds.sum()),
                "more_than_scarce_percent": float(more.mean()),
                "standard_error": float(more.std(ddof=1) / np.sqrt(count)),
                "goals_complete": float(done.mean()),
                "targets_complete": float(np.mean(whole)),
            }
        weather[str(persistence)] = rows
    return {
        "goals": len(board.wanted),
        "wanted_h": round(float(board.law.wanted_s.sum()) / 3600, 1),
        "paths_a_night": round(float(np.mean([len(each.frames) for each in board.pools]))),
        "weather": weather,
    }


if __name__ == "__main__":
    main()
