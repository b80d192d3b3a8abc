"""Policies for tonight over sampled seasons: which one brings most, as a share of what weather foreknown allows.

    python -m benchmarks.season_policies [--seasons N] [--seed S] [--render]

Three lists of targets, by hours, by hours with filter sets and by depth with filter sets, each under N
weathers, independent of each other or with a correlation of 0.4 from night to night. A clear night is a
mixture of paths found by labelling on a grid of 60 s with nothing remembered (`optimizer.season.coarse`); all
policies choose from the same paths, to which each has added those that it found best in the states it met.
The same weathers serve all policies, so that differences are taken season by season. The bound of a season is
that of its clear nights alone: what nobody who knew the weather could exceed. The results are kept in
benchmarks/results/season_policies.json and season_policies.md.
"""

from __future__ import annotations

import datetime as dt
import time
from dataclasses import replace
from typing import Any

import numpy as np

from benchmarks.season_lists import wanted_of
from benchmarks.seasons import GALAXIES
from benchmarks.worth_nights import AUTUMN, RIG, SPRING, Wanted
from optimizer.ahead.factors import scarcity_of
from optimizer.models.request import Request
from optimizer.reading.load import request_from_data
from optimizer.season.aggregate import aggregate, hours_of
from optimizer.season.asked import evenings_of, odds_of
from optimizer.season.coarse import pools_at
from optimizer.season.desk import Desk, Inline, NightRef, only_rig
from optimizer.season.expected import foreknown_s
from optimizer.season.gathered import GatheredLaw
from optimizer.season.policy import COMPLETE, NEVER, Policy, ScarceHours, Simulated, State, simulated
from optimizer.season.projects import Floats, projects_of
from optimizer.season.weather import sampled_weathers
from optimizer.sky.bodies import night_sky

PERSISTENCES = (0.0, 0.4)
KINDS = {"hours": ("hours", 0.0), "sets by hours": ("hours", 0.3), "sets by depth": ("depth", 0.3)}
# first evening, nights, targets, by how much more of each goal is wanted than its recipe says
LISTS: dict[str, tuple[str, int, tuple[Wanted, ...], float]] = {
    "30 x 8, mixed, from October": ("2026-10-01", 30, AUTUMN, 1.5),
    "60 x 12, five filters, from November": ("2026-11-01", 60, tuple(map(wanted_of, range(12))), 2.0),
    "40 x 12, galaxies, from March": ("2027-03-01", 40, (*SPRING, *GALAXIES), 1.5),
}
STATES, LOOKS, PASSES = 16, 10, 4
AHEAD = 28
SCARCE = "scarce hours first"
LEAST_LEFT = 0.02


def request_of(name: str, kind: str) -> Request:
    """The season of a list as a request."""
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
        "aim": {"value": value, "balance": balance, "scarcity": 0},
        "season": {"nights": nights, "clear_odds": 0.5},
    }
    return request_from_data(data, f"{name}, {kind}")


class Board:
    """One list made ready: its nights, the hours ahead of each, and the paths known so far."""

    def __init__(self, name: str, kind: str) -> None:
        self.request = request_of(name, kind)
        self.asked = self.request.season
        self.projects = projects_of(self.request)
        self.evenings = evenings_of(self.asked, self.request)
        self.odds = odds_of(self.asked, self.evenings)
        self.desk = Desk((only_rig(self.request, self.projects),), self.projects)
        self.refs = [NightRef(0, each) for each in self.evenings]
        self.engine = Inline(self.desk)
        self.law = GatheredLaw(self.projects)
        self.wanted = np.array([float(goal.wanted) for goal in self.projects.goals])
        self.start = State(
            self.law.done_s[None] / self.law.frame_s, self.law.done_s[None], np.zeros(1, np.int64)
        )
        self.open_h = np.array([self.desk.night(ref).openings.open_s.sum(axis=1) / 3600 for ref in self.refs])
        self.hours_28 = np.array([self._hours_of_plan(evening) for evening in self.evenings])
        chances = np.array([float(each) for each in self.odds])[:, None]
        self.hours_left = np.cumsum((chances * self.open_h)[::-1], axis=0)[::-1]
        rng = np.random.default_rng(1)
        shape = len(self.refs), STATES
        part = np.clip(
            rng.random((*shape, 1)) + 0.35 * rng.standard_normal((*shape, len(self.wanted))), 0.0, 1.0
        )
        left = np.ceil((1 - part) * self.wanted).astype(np.int64)
        tilt = np.maximum(1.0, self.hours_28)[:, None] ** -rng.choice([0.0, 0.5, 1.0], (*shape, 1))
        tilt *= np.exp(0.3 * rng.standard_normal(part.shape))
        worths = self.law.slope(part * self.law.wanted_s, tilt) * tilt * (left > 0)
        self.pools = pools_at(self.engine, self.refs, worths, left)

    def _hours_of_plan(self, evening: dt.date) -> list[float]:
        """Hours ahead of each goal as `plan` counts them."""
        night = self.request.night.model_copy(update={"evening": evening})
        aim = self.request.aim.model_copy(update={"scarcity": 0.5, "look_ahead_nights": AHEAD})
        request = self.request.model_copy(update={"night": night, "aim": aim})
        hours = scarcity_of(request, night_sky(request)).hours
        return [hours[goal.target, goal.filter] for goal in self.projects.goals]

    def run(self, policy: Policy, clear: Any, looks: int = 0) -> Simulated:
        """A policy over sampled weathers."""
        return simulated(self.pools, clear, policy, self.wanted, self.start, looks)

    def learn(self, policy: Policy, clear: Any) -> None:
        """Find more paths in the states that a policy meets."""
        for _ in range(PASSES):
            met = self.run(policy, clear, LOOKS)
            more = pools_at(self.engine, self.refs, met.worths, met.lefts)
            self.pools = [own.with_others(new) for own, new in zip(self.pools, more, strict=True)]

    def values_s(self, end: State) -> Floats:
        """What each season has brought."""
        return self.law.value_s(end.reached_s) - self.law.value_s(self.start.reached_s)


class Lagging(ScarceHours):
    """Favour what lags: the share of a goal that is left, to a power, beside scarce hours if wanted.

    `whole` goes by the share that is left of the whole target.
    """

    def __init__(
        self, board: Board, hours: Floats, power: float, scarcity: float = 0.0, whole: bool = False
    ) -> None:
        super().__init__(board.law, hours, scarcity)
        self.power, names = power, [goal.target for goal in board.projects.goals]
        same = np.array([[one == other for other in names] for one in names]) if whole else np.eye(len(names))
        self.parts = same * board.law.wanted_s
        self.parts /= self.parts.sum(axis=1, keepdims=True)

    def factors(self, night: int, state: State, wanted: Floats) -> Floats:
        """Those of scarce hours by the share that is left, which is taken as one in fifty at least."""
        left = np.maximum(LEAST_LEFT, (1 - state.frames / wanted) @ self.parts.T)
        return left**self.power * super().factors(night, state, wanted)


class SeasonDuals(ScarceHours):
    """What a linear programme of the nights to come says of each frame, renewed weekly from each state."""

    def __init__(
        self,
        board: Board,
        later: float = 0.997,
        own: float = 0.001,
        futures: Any = None,
        left: Lagging | None = None,
    ) -> None:
        """With `futures` [seasons, nights], the mean of the prices under each of these weathers."""
        self.board, self.later, self.own, self.futures = board, later, own, futures
        self.law, self.left = GatheredLaw(board.projects, 0.0), left
        self.hours = hours_of(board.desk, board.refs)
        self.known: dict[tuple[int, int], Floats] = {}

    def factors(self, night: int, state: State, wanted: Floats) -> Floats:
        week = night // 7
        for row, season in enumerate(state.numbers.tolist()):
            if (season, week) not in self.known:
                self.known[season, week] = self._worths(night, state.frames[row])
        worths = np.array([self.known[season, week] for season in state.numbers.tolist()])
        return worths if self.left is None else worths * self.left.factors(night, state, wanted)

    def _worths(self, night: int, frames: Floats) -> Floats:
        board = self.board
        if not (frames < COMPLETE * board.wanted).any():
            return np.ones(len(frames))
        goals = tuple(
            replace(goal, done=int(got))
            for goal, got in zip(board.projects.goals, frames + 0.01, strict=True)
        )
        projects = replace(board.projects, goals=goals)
        hours = [
            replace(each, share=each.share * self.later**later)
            for later, each in enumerate(self.hours[night:])
        ]
        numbers = [board.desk.rigs[0].numbers] * len(hours)
        worths = []
        for odds in (
            [board.odds[night:]] if self.futures is None else self.futures[:, night:].astype(int).tolist()
        ):
            prices = aggregate(
                projects, hours, numbers, [1, *odds[1:]] if self.futures is not None else odds
            ).prices
            worths.append(np.maximum(0.0, prices.shares - prices.costs_s / board.law.frame_s))
        return np.mean(worths, axis=0) + self.own


def policies_of(board: Board, futures: Any) -> dict[str, Policy]:
    """All policies by name; the last two solve programmes and are tried on fewer seasons."""
    law, hours = board.law, board.hours_28
    return {
        "own weights": ScarceHours(law, hours, 0.0),
        "what lags": Lagging(board, hours, 0.5),
        SCARCE: ScarceHours(law, hours, 0.5),
        "scarce hours, 0.25": ScarceHours(law, hours, 0.25),
        "scarce hours of the season": ScarceHours(law, board.hours_left, 0.5),
        "left and scarce, 0.25": Lagging(board, hours, 0.25, 0.25),
        "left and scarce, 0.5": Lagging(board, hours, 0.5, 0.5),
        "target left and scarce, 0.25": Lagging(board, hours, 0.25, 0.25, whole=True),
        "target left and scarce, 0.5": Lagging(board, hours, 0.5, 0.5, whole=True),
        "target left 0.5, scarce 0.25": Lagging(board, hours, 0.5, 0.25, whole=True),
        "season values": SeasonDuals(board),
        "season values, target left 0.25": SeasonDuals(board, left=Lagging(board, hours, 0.25, whole=True)),
    }


TAUGHT = ("own weights", SCARCE, "left and scarce, 0.5", "target left and scarce, 0.5")


def measured(name: str, kind: str, seasons: int, few: int, seed: int) -> dict[str, Any]:
    """One list by one kind of worth: what each policy brings, by how alike neighbouring nights are."""
    board = Board(name, kind)
    told: dict[str, Any] = {
        "goals": len(board.wanted),
        "wanted_h": round(float(board.law.wanted_s.sum()) / 3600, 1),
        "weather": {},
    }
    taught = policies_of(board, None)
    for each in (*TAUGHT, "season values"):
        weathers = sampled_weathers(board.odds, 0.3, 6 if "values" in each else 60, seed + 1)
        board.learn(taught[each], weathers)
    for persistence in PERSISTENCES:
        clear = sampled_weathers(board.odds, persistence, seasons, seed)
        bounds = np.array([bound_of(board, clear[season]) for season in range(few)])
        rows: dict[str, Any] = {}
        values: dict[str, Floats] = {}
        for policy, how in policies_of(board, None).items():
            count = few if "values" in policy else seasons
            began = time.perf_counter()
            end = board.run(how, clear[:count])
            values[policy] = board.values_s(end.state)
            more = 100 * (values[policy] / values.get(SCARCE, values[policy])[:count] - 1)
            complete = end.finished != NEVER
            whole = [
                complete[:, [goal.target == target for goal in board.projects.goals]].all(axis=1)
                for target in dict.fromkeys(goal.target for goal in board.projects.goals)
            ]
            rows[policy] = {
                "seasons": count,
                "value_h": float(values[policy].mean()) / 3600,
                "of_bound": float(values[policy][:few].sum() / bounds.sum()),
                "more_than_scarce_percent": float(more.mean()),
                "standard_error": float(more.std(ddof=1) / np.sqrt(count)),
                "goals_complete": float(complete.mean()),
                "targets_complete": float(np.mean(whole)),
                "seconds": round(time.perf_counter() - began, 2),
            }
            print(
                f"{name} / {kind} / {persistence} / {policy}:",
                {k: round(v, 4) for k, v in rows[policy].items()},
                flush=True,
            )
        own = 100 * (values[SCARCE] / values["own weights"] - 1)
        told["weather"][str(persistence)] = rows
        print("scarce vs own", own.mean(), own.std() / np.sqrt(seasons), flush=True)
    return told


def bound_of(board: Board, clear: Any) -> float:
    """Weighted seconds that a season of these clear nights cannot exceed."""
    return foreknown_s(board.desk, [ref for ref, on in zip(board.refs, clear, strict=True) if on])


if __name__ == "__main__":
    import sys

    for kind in KINDS:
        for name in LISTS:
            if sys.argv[1] in name:
                measured(name, kind, 200, 24, 7)
