"""The season from beginning to end: nights, prices, real plans, rounds that make them better, audit."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Literal, TypeVar

from optimizer import ctrl_c
from optimizer.models.request import Request
from optimizer.models.season import SeasonAsked, SeasonFile, SeasonProof
from optimizer.night import Night
from optimizer.packing.schedule import Schedule
from optimizer.season.answers import policy_told, with_weather
from optimizer.season.asked import RigAsked, evenings_of, odds_of, request_on
from optimizer.season.bound import SeasonBound, season_bounds
from optimizer.season.desk import Desk, Engine, NightRef, Rig, blocks_of
from optimizer.season.engine import engine_of
from optimizer.season.expected import Expected, expected
from optimizer.season.planned import NightPlan, Runs, laid_out, plan_of_schedule
from optimizer.season.prepared import PreparedNight
from optimizer.season.pricing import ROUNDING, Prices
from optimizer.season.progress import SeasonPhase, SeasonProgress, Tell
from optimizer.season.projects import Floats
from optimizer.season.rounds import Rounds
from optimizer.season.shared import shared_projects
from optimizer.season.told import RIG, PlannedSeason, projects_without_weather, season_file
from optimizer.season.worths import frame_worths_s

THOUSANDTHS = 1000  # of a weighted second, to which value and bound are told
MOST_FOLLOWED = 8  # paths of a night, those of greatest share, that are made plans
WORK_S = 0.3  # seconds, by counted work, for planning a night anew beside all others; by depth, where
WORK_BY_DEPTH_S = 0.1  # more goes into the tables of the search
PRICED_S = 0.1  # the same for planning it at prices
SEEDS = 1000  # more than a season has nights
KICKED = 60_000  # nights times kicks of each choice from the pool: a second or two; with filter sets
KICKED_WITH_SETS = 15_000
BOUND_SHARE = 1 / 3  # of the search's time that is left as its nights are ready
AFTER_SHARE, MOST_AFTER = 0.1, 0.5  # of the time limit, for audit and sampled weathers: at first, and most
AFTER_ROUNDS = 50  # these are reckoned to take: pricings of all nights, and seconds of each night
AUDIT_S, AUDIT_BY_DEPTH_S = 0.2, 0.6
FAST_GROWTH = Fraction(1, 500)  # by new prices alone, in a quarter of the time of a whole round
IN_VAIN, LEAST_GROWTH = 3, Fraction(1, 10_000)  # rounds on end that bring less than this share

T = TypeVar("T")
Ended = Literal["gap", "rounds", "time", "settled", "interrupted"]


def season_of(
    asked: Request | Sequence[RigAsked],
    *,
    engine: str = "processes",
    workers: int = 0,
    cache: Path | None = None,
    gap: float = 0.01,
    rounds: int | None = None,
    time_limit_s: float | None = None,
    tell: Tell | None = None,
    say: Callable[[str], None] = lambda sentence: None,
) -> SeasonFile:
    """Plan the season of a request, or of several rigs, of which the first says which nights.

    Ends once the plans are proven within `gap` of the best, after so many `rounds`, once rounds bring nothing
    any more, or when the time is over; Ctrl-C keeps the best season so far. Stopped otherwise than by the
    time, the same request gives the same season, whatever the engine and however many workers. `say` gets a
    sentence for each thing that is amiss and does not change the season.
    """
    given = (RigAsked(asked.rig or RIG, asked),) if isinstance(asked, Request) else tuple(asked)
    request = given[0].request
    nights = request.season or SeasonAsked()
    evenings = evenings_of(nights, request)
    projects, numbers = shared_projects([rig.in_all for rig in given])
    rigs = zip(given, numbers, strict=True)
    desk = Desk(tuple(Rig(rig.name, rig.in_all, own) for rig, own in rigs), projects)
    refs = [NightRef(rig, evening) for evening in evenings for rig in range(len(given))]
    with ctrl_c.counted(), engine_of(engine, workers, desk, cache, tell=say) as run:
        limits = Limits(gap, rounds, time.monotonic(), time_limit_s)  # loops are ready by now
        return _Season(given, desk, refs, odds_of(nights, evenings), run, limits, tell).planned()


def ready(desk: Desk, refs: Sequence[NightRef]) -> list[PreparedNight]:
    """Have some nights prepared: their outlines. A job."""
    return [desk.priced(ref) for ref in refs]


@dataclass
class Limits:
    """When the planning of a season ends; part of its time limit is kept for what comes after the search."""

    gap: float
    rounds: int | None
    began: float
    time_limit_s: float | None
    after_share: float = AFTER_SHARE

    @property
    def spent_s(self) -> float:
        """Seconds since it began."""
        return time.monotonic() - self.began

    @property
    def left_s(self) -> float | None:
        """Seconds after which the search ends; None: no limit."""
        limit_s = self.time_limit_s
        return None if limit_s is None else max(0.0, (1 - self.after_share) * limit_s - self.spent_s)

    @property
    def is_over(self) -> bool:
        """Whether the search is to end; what is left is for the audit and the sampled weathers."""
        return self.left_s == 0.0

    def part(self, share: float) -> Callable[[], bool]:
        """Whether such a share is over of what is left of the search now."""
        if self.left_s is None:
            return lambda: False
        until_s = self.spent_s + share * self.left_s
        return lambda: self.spent_s >= until_s

    def keep_for_after(self, round_s: float, audit_s: float) -> None:
        """Keep time for audit and weathers, by the seconds of one pricing of all nights and of the audit."""
        if self.time_limit_s is not None:
            share = (AFTER_ROUNDS * round_s + audit_s) / self.time_limit_s
            self.after_share = min(MOST_AFTER, max(AFTER_SHARE, share))


class _Season:
    """One season while it is planned."""

    def __init__(
        self,
        rigs: tuple[RigAsked, ...],
        desk: Desk,
        refs: list[NightRef],
        odds: tuple[Fraction, ...],
        engine: Engine,
        limits: Limits,
        tell: Tell | None,
    ) -> None:
        self.rigs, self.desk, self.refs, self.odds = rigs, desk, refs, odds
        self.request = rigs[0].request
        self.engine, self.limits, self._tell = engine, limits, tell
        self.bound: SeasonBound | None = None
        self.rounds: Rounds | None = None
        self.round = 0
        self.pressed = False  # Ctrl-C, after the search
        self.broken: dict[int, tuple[str, ...]] = {}  # rules that the plan of a night broke, by number

    def planned(self) -> SeasonFile:
        """Plan it."""
        self.tell("nights", 0)
        nights = self._nights()
        bound = self._bounded()
        self.rounds = rounds = Rounds(self.desk, self.refs, self.odds, self.engine)
        if len(self.refs) == 1 and rounds.open:
            return self._alone(rounds, bound, nights[0])
        ended = self._play(rounds, bound)
        self.tell("audit")
        return self._file(rounds, bound, nights, ended, self._audited(rounds))

    def _alone(self, rounds: Rounds, bound: SeasonBound, prepared: PreparedNight) -> SeasonFile:
        """The only night, planned as if no season had been asked for."""
        night = Night(request_on(self.rigs[0].in_all, self.refs[0].evening))
        shots = night.plan()
        solution, odds = night.solution, self.odds[0]
        assert shots.audit is not None
        if shots.audit.violations:
            self.broken[0] = tuple(sorted({each.rule for each in shots.audit.violations}))
        else:
            rounds.best.put(0, plan_of_schedule(night.problem, solution.schedule))
        most_s = float(odds * solution.bound * night.problem.profit_unit)
        self.bound = bound = replace(bound, bound_s=min(bound.bound_s, most_s * (1 + ROUNDING)))
        nights = [replace(prepared, problem=night.problem)]
        return self._file(rounds, bound, nights, solution.ended, {0: solution.schedule})

    def _nights(self) -> list[PreparedNight]:
        nights: list[PreparedNight] = []
        for own in self.engine.stream(ready, [(block,) for block in blocks_of(self.refs)]):
            nights += own
            self.tell("nights", len(nights))
        for ref, night in zip(self.refs, nights, strict=True):
            self.desk.outlines.setdefault(ref, night)
        return nights

    def _bounded(self) -> SeasonBound:
        """Bounds until they hardly fall any more."""
        self.tell("bound")
        is_over = self.limits.part(BOUND_SHARE)
        before_s, round_s = self.limits.spent_s, math.inf
        for bound in season_bounds(self.desk, self.refs, self.odds, self.engine, is_over=is_over):
            self.bound = bound
            round_s, before_s = min(round_s, self.limits.spent_s - before_s), self.limits.spent_s
            self.limits.keep_for_after(round_s, self._audit_s)
            self.tell("bound")
            if is_over():
                break
        return bound

    def _play(self, rounds: Rounds, bound: SeasonBound) -> Ended:
        """Make plans and make them better, until that is to end; Ctrl-C ends it as well."""
        try:
            self.tell("plans")
            rounds.at_prices(bound.prices, self._drafts(bound), 0.0, 0)
            rounds.choose(self._kicks, 0)
            self.tell("plans")
            for batch in rounds.batches():  # what prices leave nothing is filled up with what it brings
                rounds.replan(batch, 0.0, 0)
                self.tell("plans")
            in_vain, prices = 0, bound.prices
            while True:
                ended = self._ended(in_vain)
                if ended is not None:
                    return ended
                before = rounds.best.value_s
                self.round += 1
                prices = self._one_round(rounds, prices)
                in_vain = 0 if rounds.best.value_s > before * (1 + LEAST_GROWTH) else in_vain + 1
        except KeyboardInterrupt:
            if not rounds.best.value_s:
                raise
            return "interrupted"

    def _drafts(self, bound: SeasonBound) -> list[tuple[Runs, ...]]:
        """The paths of greatest share in the bound's mixture, for each night."""
        drafts = []
        for columns, shares in zip(bound.columns, bound.shares, strict=True):
            order = sorted(range(len(columns)), key=lambda place: -shares[place])[:MOST_FOLLOWED]
            drafts.append(tuple(columns[place].runs for place in order if shares[place] > 0))
        return drafts

    def _one_round(self, rounds: Rounds, prices: Prices) -> Prices:
        """Plans at new prices and a choice; where these bring little, each night anew beside all others."""
        self.tell("rounds")
        before = rounds.best.value_s
        prices = rounds.at_new_prices(prices, PRICED_S, self.round, lambda: self.limits.is_over)
        rounds.choose(self._kicks, self.round)
        self.tell("rounds")
        if rounds.best.value_s > before * (1 + FAST_GROWTH):
            return prices  # new prices bring more in less time
        for batch in rounds.batches():
            if self.limits.is_over or self._is_near:
                break
            rounds.replan(batch, self._work_s, SEEDS * self.round)
            self.tell("rounds")
        return prices

    @property
    def _kicks(self) -> int:
        kicked = KICKED_WITH_SETS if self.desk.projects.worth.sets else KICKED
        return kicked // len(self.refs)

    @property
    def _work_s(self) -> float:
        return WORK_BY_DEPTH_S if self.request.aim.value == "depth" else WORK_S

    @property
    def _audit_s(self) -> float:
        return (AUDIT_BY_DEPTH_S if self.request.aim.value == "depth" else AUDIT_S) * len(self.refs)

    @property
    def _is_near(self) -> bool:
        return self.gap is not None and self.gap <= self.limits.gap

    def _ended(self, in_vain: int) -> Ended | None:
        if self._is_near:
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
        return None if self.bound is None else math.ceil(self.bound.bound_s * THOUSANDTHS) / THOUSANDTHS

    def _audited(self, rounds: Rounds) -> dict[int, Schedule]:
        """Lay all plans out and audit them: their acts; one that breaks a rule, a defect, is not kept."""
        own = [number for number in rounds.open if rounds.best.plans[number].runs]
        tasks = [(self.refs[number], rounds.best.plans[number]) for number in own]
        answers = self._undeterred(lambda: self.engine.run(laid_out, tasks))  # nothing is kept unaudited
        schedules = {}
        for number, (broken, schedule) in zip(own, answers, strict=True):
            if broken:
                self.broken[number] = broken
                rounds.best.put(number, NightPlan())
            else:
                schedules[number] = schedule
        return schedules

    def _file(
        self,
        rounds: Rounds,
        bound: SeasonBound,
        nights: list[PreparedNight],
        ended: Ended,
        schedules: Mapping[int, Schedule],
    ) -> SeasonFile:
        best, value, limit = rounds.best, self.value_s, self._bound_told()
        assert value is not None
        assert limit is not None
        assert self.gap is not None
        proof = SeasonProof(
            by=self.request.aim.value,
            balance=self.request.aim.balance,
            value=value,
            bound=limit,
            gap=self.gap,
            ended=ended,
            rounds=self.round,
            seconds=round(self.limits.spent_s, 3),
        )
        season = PlannedSeason(
            self.rigs,
            self.desk.projects,
            nights,
            self.odds,
            best.plans,
            bound.nights_s,
            [float(best.lost_without(number)) for number in range(len(nights))],
            self._frame_worths_s().tolist(),
            proof,
            schedules,
            self.broken,
        )
        projects, policy = projects_without_weather(season), None
        found = None if ended == "interrupted" or self.pressed else self._weather()
        if found is not None:
            projects, policy = with_weather(projects, found), policy_told(found)
        return season_file(season, projects, policy)

    def _weather(self) -> Expected | None:
        """What sampled weathers bring; None where Ctrl-C comes meanwhile, and the season is kept without."""
        self.tell("weather")
        asked = self.request.season or SeasonAsked()
        try:
            return expected(self.desk, self.refs, self.odds, asked, self.request.aim.seed, self.engine)
        except KeyboardInterrupt:
            return None

    def _frame_worths_s(self) -> Floats:
        """What a frame of each goal is worth tonight, [goals]."""
        discount = (self.request.season or SeasonAsked()).discount_per_night
        return self._undeterred(
            lambda: frame_worths_s(self.desk, self.refs, self.odds, self.engine, discount)
        )

    def _undeterred(self, work: Callable[[], T]) -> T:
        """What some work comes to without which what is found cannot be kept: Ctrl-C only begins it again."""
        while True:
            try:
                return work()
            except KeyboardInterrupt:
                self.pressed = True

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
                    self.engine.dashboard,
                )
            )
