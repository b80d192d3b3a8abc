"""The season from beginning to end, for now planned night by night along the worth of frames."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from optimizer.models.request import Request
from optimizer.models.season import SeasonAsked, SeasonFile, SeasonProof
from optimizer.season.asked import evenings_of, odds_of
from optimizer.season.planned import NightPlan, followed, replan_problem
from optimizer.season.prepared import prepare
from optimizer.season.pricing import Prices, bound_s, price
from optimizer.season.projects import projects_of
from optimizer.season.told import PlannedSeason, projects_without_weather, season_file


@dataclass(frozen=True)
class SeasonProgress:
    """How far a season is: value and bound in weighted seconds, None until there are any."""

    phase: str
    nights_done: int
    nights: int
    value_s: float | None
    bound_s: float | None
    seconds_left: float | None


def season_of(
    request: Request,
    *,
    engine: str = "processes",
    workers: int = 0,
    cache: Path | None = None,
    gap: float = 0.01,
    rounds: int | None = None,
    time_limit_s: float | None = None,
    tell: Callable[[SeasonProgress], None] | None = None,
) -> SeasonFile:
    """Plan the season of a request."""
    del engine, workers, cache, gap, rounds, time_limit_s
    began = time.monotonic()
    asked = request.season or SeasonAsked()
    evenings, projects = evenings_of(asked, request), projects_of(request)
    odds = odds_of(asked, evenings)
    nights = []
    for number, evening in enumerate(evenings):
        if tell is not None:
            tell(SeasonProgress("preparing", number, len(evenings), None, None, None))
        nights.append(prepare(request, evening))
    count = len(projects.goals)
    prices = Prices(np.ones(count), np.zeros(count))
    others, taken = [Fraction(0)] * count, [Fraction(0)] * count
    plans, gains, worths = [], [], []
    for night, chance in zip(nights, odds, strict=True):
        columns = price(night, prices, projects.left)
        worths.append(columns[0].worth_s if columns else 0.0)
        left = np.array(
            [
                int((wanted - got) / chance) if chance else 0
                for wanted, got in zip(projects.left.tolist(), taken, strict=True)
            ]
        )
        problem = replan_problem(night, projects, chance or Fraction(1), others, left)
        plan = followed(problem, columns[0].runs) if columns and chance else NightPlan()
        before = projects.value_s(others)
        if plan.runs:
            others = [
                a + chance * g * problem.profit_unit for a, g in zip(others, plan.gathered, strict=True)
            ]
            taken = [t + chance * f for t, f in zip(taken, plan.frames, strict=True)]
        gains.append(float(projects.value_s(others) - before))
        plans.append(plan)
    value, bound = float(projects.value_s(others)), bound_s(projects, prices, odds, worths)
    proof = SeasonProof(
        by=request.aim.value,
        balance=request.aim.balance,
        value=value,
        bound=bound,
        gap=(bound - value) / value if value else float(bound > 0),
        ended="rounds",
        rounds=1,
        seconds=time.monotonic() - began,
    )
    season = PlannedSeason(
        request,
        projects,
        nights,
        odds,
        plans,
        worths,
        gains,
        [float(goal.frame_s) for goal in projects.goals],
        proof,
    )
    return season_file(season, projects_without_weather(season), None)
