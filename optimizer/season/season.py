"""The season from beginning to end: nights, prices, real plans, rounds that make them better, audit."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Literal

import numpy as np

from optimizer import ctrl_c
from optimizer.models.request import Request
from optimizer.models.season import SeasonAsked, SeasonFile, SeasonProof
from optimizer.season.asked import evenings_of, odds_of
from optimizer.season.desk import Desk, Engine, Inline, NightRef, only_rig
from optimizer.season.planned import NightPlan, Runs, laid_out
from optimizer.season.prepared import PreparedNight
from optimizer.season.pricing import Prices, bound_s, price
from optimizer.season.progress import SeasonPhase, SeasonProgress, Tell
from optimizer.season.projects import Floats, projects_of
from optimizer.season.rounds import Rounds
from optimizer.season.told import PlannedSeason, projects_without_weather, season_file

THOUSANDTHS = 1000  # of a weighted second, to which value and bound are told
WORK_S = 0.3  # seconds, by counted work, for planning a night anew
KICKS = 60  # of each choice from the pool
IN_VAIN = 3  # rounds on end that bring nothing

Ended = Literal["gap", "rounds", "time", "settled", "interrupted"]


def season_of(
    request: Request,
    *,
    engine: Literal["processes", "threads"] = "processes",
    workers: int = 0,
    cache: Path | None = None,
    gap: float = 0.01,
    rounds: int | None = None,
    time_limit_s: float | None = None,
    tell: Tell | None = None,
) -> SeasonFile:
    """Plan the season of a request.

    Ends once the plans are proven within `gap` of the best, after so many `rounds`, once rounds bring nothing
    any more, or when the time is over; Ctrl-C keeps the best season so far. Stopped otherwise than by the
    time, the same request gives the same season, whatever the engine and however many workers.
    """
    asked = request.season or SeasonAsked()
    evenings, projects = evenings_of(asked, request), projects_of(request)
    desk = Desk((only_rig(request, projects),), projects)
    refs = [NightRef(0, evening) for evening in evenings]
    limits = _Limits(gap, rounds, time.monotonic(), time_limit_s)
    with ctrl_c.counted(), _engine(engine, workers, desk, cache) as run:
        return _Season(request, desk, refs, odds_of(asked, evenings), run, limits, tell).planned()


@contextmanager
def _engine(kind: str, workers: int, desk: Desk, cache: Path | None) -> Iterator[Engine]:
    del kind, workers, cache
    yield Inline(desk)


def priced(desk: Desk, ref: NightRef, prices: Prices) -> float:
    """The worth of a night's best path at prices of the goals. A job."""
    numbers = desk.rigs[ref.rig].numbers
    columns = price(desk.night(ref), prices.of_tasks(numbers), desk.projects.left[numbers])
    return columns[0].worth_s if columns else 0.0


@dataclass(frozen=True)
class _Limits:
    gap: float
    rounds: int | None
    began: float
    time_limit_s: float | None

    @property
    def spent_s(self) -> float:
        return time.monotonic() - self.began

    @property
    def left_s(self) -> float | None:
        """Seconds that are left; None: no limit."""
        return None if self.time_limit_s is None else max(0.0, self.time_limit_s - self.spent_s)

    @property
    def is_over(self) -> bool:
        return self.left_s == 0.0


class _Season:
    """One season while it is planned."""

    def __init__(
        self,
        request: Request,
        desk: Desk,
        refs: list[NightRef],
        odds: tuple[Fraction, ...],
        engine: Engine,
        limits: _Limits,
        tell: Tell | None,
    ) -> None:
        self.request, self.desk, self.refs, self.odds = request, desk, refs, odds
        self.engine, self.limits, self._tell = engine, limits, tell
        self.bound_s, self.nights_s = math.inf, [0.0] * len(refs)
        self.prices = Prices(np.ones(len(desk.projects.goals)), np.zeros(len(desk.projects.goals)))
        self.rounds: Rounds | None = None
        self.round = 0

    def planned(self) -> SeasonFile:
        """Plan it."""
        self.tell("nights", 0)
        nights = self._nights()
        self._price(self.prices)
        self.tell("plans")
        self.rounds = rounds = Rounds(self.desk, self.refs, self.odds, self.engine)
        ended = self._play(rounds)
        self.tell("audit")
        self._audit(rounds)
        return self._file(rounds, nights, ended)

    def _nights(self) -> list[PreparedNight]:
        nights = []
        for ref in self.refs:
            nights.append(self.desk.night(ref))
            self.tell("nights", len(nights))
            ctrl_c.heed()
        return nights

    def _price(self, prices: Prices) -> None:
        nights_s = self.engine.run(priced, [(ref, prices) for ref in self.refs])
        bound = bound_s(self.desk.projects, prices, self.odds, nights_s)
        if bound < self.bound_s:
            self.bound_s, self.nights_s, self.prices = bound, nights_s, prices

    def _play(self, rounds: Rounds) -> Ended:
        for number in rounds.open:  # one after the other, each in view of those before
            rounds.replan([number], 0.0, 0)
        none: list[tuple[Runs, ...]] = [() for _ in self.refs]
        rounds.at_prices(self.prices, none, 0.0, 0)
        rounds.choose(KICKS, 0)
        in_vain = 0
        while True:
            ended = self._ended(in_vain)
            if ended is not None:
                return ended
            before = rounds.best.value_s
            self.round += 1
            for batch in rounds.batches():
                rounds.replan(batch, WORK_S, 1000 * self.round)
                self.tell("rounds")
                if self.limits.is_over or ctrl_c.presses():
                    break
            rounds.choose(KICKS, self.round)
            in_vain = 0 if rounds.best.value_s > before else in_vain + 1

    def _ended(self, in_vain: int) -> Ended | None:
        if ctrl_c.presses():
            return "interrupted"
        if self.gap is not None and self.gap <= self.limits.gap:
            return "gap"
        if self.limits.rounds is not None and self.round >= self.limits.rounds:
            return "rounds"
        if self.limits.is_over:
            return "time"
        return "settled" if in_vain >= IN_VAIN else None

    @property
    def value_s(self) -> float | None:
        """What the plans so far are worth, rounded down to thousandths."""
        if self.rounds is None:
            return None
        return math.floor(self.rounds.best.value_s * THOUSANDTHS) / THOUSANDTHS

    @property
    def gap(self) -> float | None:
        """How far the bound lies above the value, as a share of the value."""
        value, bound = self.value_s, self._bound_told()
        if value is None or bound is None:
            return None
        return (bound - value) / value if value else float(bound > 0)

    def _bound_told(self) -> float | None:
        return math.ceil(self.bound_s * THOUSANDTHS) / THOUSANDTHS if self.bound_s < math.inf else None

    def _audit(self, rounds: Rounds) -> None:
        """Lay all plans out and audit them; one that breaks a rule, a defect, is not kept."""
        own = [number for number in rounds.open if rounds.best.plans[number].runs]
        tasks = [(self.refs[number], rounds.best.plans[number]) for number in own]
        for number, broken in zip(own, self.engine.run(laid_out, tasks), strict=True):
            if broken:
                rounds.best.put(number, NightPlan())

    def _file(self, rounds: Rounds, nights: list[PreparedNight], ended: Ended) -> SeasonFile:
        best, value, bound = rounds.best, self.value_s, self._bound_told()
        assert value is not None
        assert bound is not None
        assert self.gap is not None
        proof = SeasonProof(
            by=self.request.aim.value,
            balance=self.request.aim.balance,
            value=value,
            bound=bound,
            gap=self.gap,
            ended=ended,
            rounds=self.round,
            seconds=round(self.limits.spent_s, 3),
        )
        season = PlannedSeason(
            self.request,
            self.desk.projects,
            nights,
            self.odds,
            best.plans,
            self.nights_s,
            [float(best.lost_without(number)) for number in range(len(nights))],
            self._frame_worths_s().tolist(),
            proof,
        )
        return season_file(season, projects_without_weather(season), None)

    def _frame_worths_s(self) -> Floats:
        """What a frame of each goal is worth tonight, [goals]."""
        own = np.array([float(goal.frame_s) for goal in self.desk.projects.goals])
        worths: Floats = np.maximum(0.0, self.prices.shares * own - self.prices.costs_s)
        return worths

    def tell(self, phase: SeasonPhase, ready: int | None = None) -> None:
        """Say how the season stands."""
        if self._tell is not None:
            count = len(self.refs)
            self._tell(
                SeasonProgress(
                    phase,
                    count if ready is None else ready,
                    count,
                    self.value_s,
                    self._bound_told(),
                    self.limits.left_s,
                    self.round,
                )
            )
