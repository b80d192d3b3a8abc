"""One tiny season: all that the planner says of it, beside the truth."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import Any

import numpy as np

from optimizer.models.request import Request
from optimizer.models.season import SeasonFile
from optimizer.reading.load import request_from_data
from optimizer.season.bound import season_bounds
from optimizer.season.desk import Desk, Inline, NightRef, only_rig
from optimizer.season.pricing import Prices, bound_s, price
from optimizer.season.projects import projects_of
from optimizer.season.season import season_of
from tests.support.oracle.best import coarse
from tests.support.scenarios.small_season import small_season
from tests.support.season_oracle.best import (
    Best,
    all_alike,
    best_foreseen,
    best_policy,
    best_season,
    independent,
)
from tests.support.season_oracle.law import SeasonLaw
from tests.support.season_oracle.reachable import Column, Reachable, night_of, reachable, without_worse

RANDOM_PRICES = 6


@dataclass(frozen=True)
class TinySeason:
    """A tiny season as plain data, and what the truth about it is."""

    data: dict[str, Any]

    @classmethod
    def of(cls, seed: int) -> TinySeason:
        return cls(small_season(seed))

    @cached_property
    def request(self) -> Request:
        return request_from_data(self.data, "tiny season")

    @cached_property
    def law(self) -> SeasonLaw:
        return SeasonLaw.of(self.request)

    @cached_property
    def evenings(self) -> list[dt.date]:
        first = dt.date.fromisoformat(self.data["night"]["evening"])
        return [first + dt.timedelta(days=number) for number in range(self.data["season"]["nights"])]

    @cached_property
    def odds(self) -> list[Fraction]:
        asked = self.data["season"]
        given, whole = dict(asked.get("clear_odds_by_evening", [])), asked["clear_odds"]
        monthly = whole if isinstance(whole, list) else [whole] * 12
        return [Fraction(str(given.get(each.isoformat(), monthly[each.month - 1]))) for each in self.evenings]

    @cached_property
    def nights(self) -> list[Reachable]:
        return [reachable(night_of(self.data, each, self.evenings[0])) for each in self.evenings]

    @cached_property
    def columns(self) -> list[tuple[Column, ...]]:
        return [night.columns for night in self.nights]

    @cached_property
    def best(self) -> Best:
        """Of the nights as they were gone through, with rounded profits where they were rounded."""
        return best_season(self.law, self.columns, self.odds)

    @cached_property
    def most_s(self) -> float:
        """What no season is worth more than: as if each frame's profit had been rounded up."""
        if all(night.steps is None for night in self.nights):
            return self.best.most_s
        return best_season(self.law, [_rounded_up(night) for night in self.nights], self.odds).most_s

    @cached_property
    def least_s(self) -> Fraction:
        """What the best season is worth at least: as if each frame's profit had been rounded down."""
        return self.best.value_s

    def foreseen(self) -> dict[str, Fraction]:
        """What they expect who know the weather beforehand, by how nights are clear together."""
        return {
            "foreseen": best_foreseen(self.law, self.columns, independent(self.odds)),
            "foreseen, nights alike": best_foreseen(self.law, self.columns, all_alike(self.odds)),
        }

    def policy(self) -> Fraction:
        """What the best of all policies expects."""
        every = [True] * len(self.law.left)
        return best_policy(self.law, [without_worse(own, every) for own in self.columns], self.odds)

    def desk(self, *, rounded: bool = False) -> tuple[Desk, list[NightRef]]:
        """The planner's desk; frames' profits may be rounded there as in the nights that are gone through."""
        projects = projects_of(self.request)
        desk = Desk((only_rig(self.request, projects),), projects)
        refs = [NightRef(0, evening) for evening in self.evenings]
        for ref, night in zip(refs, self.nights, strict=True) if rounded else ():
            if night.steps is not None:
                true = desk.night(ref)
                desk.nights[ref] = replace(true, problem=coarse(true.problem, night.steps), grids={})
        return desk, refs

    def bounds(self, step_s: int | None = None) -> list[float]:
        """Each bound that the planner finds."""
        desk, refs = self.desk(rounded=True)
        return [each.bound_s for each in season_bounds(desk, refs, self.odds, Inline(desk), step_s)]

    def bounds_at_random(self, seed: int, many: int = RANDOM_PRICES) -> list[float]:
        """Bounds at prices that nobody would choose."""
        desk, refs = self.desk(rounded=True)
        rng, own = random.Random(seed), [float(goal.frame_s) for goal in desk.projects.goals]
        found = []
        for _ in range(many):
            high = rng.choice([0, 0.5, 1.5, 20])
            costs = [each * rng.choice([0, rng.uniform(0, high)]) for each in own]
            progress = desk.projects.progress
            prices = [rng.choice([0, 1, rng.random(), 0.5]) * float(most) for most in progress.most]
            given = Prices(progress.plain + np.array(prices), np.array(costs))
            found.append(
                bound_s(desk.projects, given, self.odds, [best_path(desk, ref, given) for ref in refs])
            )
        return found

    def planned(self, **how: Any) -> SeasonFile:
        """The planner's own season."""
        return season_of(self.request, **{"engine": "threads", "workers": 1, "gap": 0.0, **how})


def best_path(desk: Desk, ref: NightRef, prices: Prices) -> float:
    """What the best path of a night is worth at prices."""
    columns = price(desk.night(ref), prices, desk.projects.left)
    return columns[0].worth_s if columns else 0.0


def _rounded_up(night: Reachable) -> list[Column]:
    if night.steps is None:
        return list(night.columns)
    problem = night.problem
    steps_s = [problem.profit_unit * -(-task.profit // night.steps) for task in problem.tasks]
    return [
        Column(
            column.frames,
            tuple(
                got + frames * step_s
                for got, frames, step_s in zip(column.gathered_s, column.frames, steps_s, strict=True)
            ),
        )
        for column in night.columns
    ]


def features(season: TinySeason) -> set[str]:
    """What of the law was in play."""
    goals = [goal for target in season.request.targets for goal in target.goals]
    most = [
        sum(
            chance * max(column.frames[goal] for column in own)
            for chance, own in zip(season.odds, season.columns, strict=True)
        )
        for goal in range(len(season.law.left))
    ]
    found = {
        "something to do": season.best.value_s > 0,
        "four nights": len(season.odds) == 4,
        "odds below 1": any(0 < each < 1 for each in season.odds),
        "odds of 1 alone": all(each == 1 for each in season.odds),
        "a night without odds": 0 in season.odds,
        "frames are scarce": any(total > left > 0 for total, left in zip(most, season.law.left, strict=True)),
        "by depth": season.request.aim.value == "depth",
        "set": bool(season.law.sets),
        "set by depth": bool(season.law.sets) and season.request.aim.value == "depth",
        "goal beside a set": bool(season.law.sets) and any(not goal.in_set for goal in goals),
        "nearly whole": any(1 <= goal.frames - goal.done <= 0.2 * goal.frames for goal in goals),
        "whole": any(goal.done >= goal.frames for goal in goals),
        "weights": len({target.weight for target in season.request.targets}) > 1,
        "flips": any(
            {slot.side for slot in night.problem.slots if slot.target.name == target.name} >= {"west", "east"}
            for night in season.nights
            for target in season.request.targets
        ),
        "quiet time": any(slot.quiet for night in season.nights for slot in night.problem.slots),
        "focus cadence": season.request.focus.every_min > 0,
        "a night without dark": any(not night.problem.slots for night in season.nights),
    }
    return {name for name, is_so in found.items() if is_so}
