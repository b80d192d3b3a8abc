"""The season from beginning to end: nights, prices, real plans, rounds that make them better, audit."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import TypeVar

import numpy as np

from optimizer import ctrl_c
from optimizer.models.request import Request
from optimizer.models.season import SeasonAsked, SeasonFile, SeasonProof
from optimizer.season.answers import policy_told, with_weather
from optimizer.season.asked import RigAsked, evenings_of, odds_of
from optimizer.season.desk import Desk, Engine, NightRef, Rig, blocks_of
from optimizer.season.engines.engine import engine_of
from optimizer.season.expected import Expected, expected
from optimizer.season.laid import TellablePlan, laid_out
from optimizer.season.limits import Limits
from optimizer.season.planned import NightPlan
from optimizer.season.play import THOUSANDTHS, Ended, Play, gap_of
from optimizer.season.progress import SeasonPhase, SeasonProgress, Tell
from optimizer.season.projects import Floats
from optimizer.season.shared import shared_projects
from optimizer.season.summary import NightSummary, summarised
from optimizer.season.told import RIG, PlannedSeason, projects_without_weather, season_file
from optimizer.season.worths import frame_worths_s

BOUND_SHARE = 1 / 3  # of the search's time that is left as its nights are ready
AUDIT_S, AUDIT_OF_GOAL_S = 0.05, 0.001  # of one night, and of each of its goals
BY_DEPTH = 3  # times as long, by depth
ENDS: tuple[Ended, ...] = ("interrupted", "time", "rounds", "settled", "gap")  # of groups, the first is told

T = TypeVar("T")


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
    any more, or when the time is over; Ctrl-C keeps the best season so far. Rigs that share nothing are
    planned as if each were alone, turn by turn. Stopped otherwise than by the time, the same request gives
    the same season, whatever the engine and however many workers. `say` gets a sentence for each thing that
    is amiss and does not change the season.
    """
    given = (RigAsked(asked.rig or RIG, asked),) if isinstance(asked, Request) else tuple(asked)
    request = given[0].request
    nights = request.season or SeasonAsked()
    evenings = evenings_of(nights, request)
    projects, numbers = shared_projects([rig.in_all for rig in given])
    rigs = zip(given, numbers, strict=True)
    desk = Desk(tuple(Rig(rig.name, rig.in_all, own) for rig, own in rigs), projects)
    refs = [NightRef(rig, evening) for evening in evenings for rig in range(len(given))]
    of_rigs = [odds_of(rig.request.season or nights, evenings) for rig in given]
    odds = tuple(own[number] for number in range(len(evenings)) for own in of_rigs)
    with ctrl_c.counted(), engine_of(engine, workers, desk, cache, tell=say) as run:
        limits = Limits(gap, rounds, time.monotonic(), time_limit_s)  # loops are ready by now
        return _Season(given, desk, refs, odds, run, limits, tell).planned()


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
        self.plays = [Play(group, desk, refs, odds, engine, limits) for group in desk.groups]
        self.pressed = False  # Ctrl-C, after the search
        self.told: dict[int, TellablePlan] = {}  # of each night with a plan, by number
        self.broken: dict[int, tuple[str, ...]] = {}  # rules that the plan of a night broke, by number

    def planned(self) -> SeasonFile:
        """Plan it."""
        self.tell("nights", 0)
        nights = self._nights()
        self._bounded()
        self._play()
        if any(not play.is_one_night for play in self.plays):
            self.tell("audit")
            self._audited()
        return self._file(nights)

    def _nights(self) -> list[NightSummary]:
        places = [number for play in self.plays for number in play.own]
        blocks = [(block,) for play in self.plays for block in blocks_of(play.refs)]  # as they are priced
        found: list[NightSummary] = []
        for own in self.engine.stream(summarised, blocks):
            found += own
            self.tell("nights", len(found))
        nights = [night for _, night in sorted(zip(places, found, strict=True), key=lambda each: each[0])]
        self.desk.units.update((ref, night.unit_s) for ref, night in zip(self.refs, nights, strict=True))
        return nights

    def _bounded(self) -> None:
        """Bounds of all groups in turn, until they hardly fall any more; each group has one at least."""
        self.tell("bound")
        is_over = self.limits.part(BOUND_SHARE)
        going = [play.bounds(is_over) for play in self.plays]
        while going:
            still = []
            for steps in going:
                for _ in steps:
                    still.append(steps)
                    round_s = sum(play.round_s for play in self.plays if play.bound is not None)
                    self.limits.keep_for_after(round_s, self._audit_s)
                    self.tell("bound")
                    break
            going = [] if is_over() else still

    def _play(self) -> None:
        """Make plans and make them better, group by group in turn; Ctrl-C ends it as well."""
        for play in self.plays:
            play.set_out()
        try:
            self.tell("plans")
            for play in self.plays:
                if play.is_one_night:
                    self._alone(play)
                else:
                    play.begin(lambda: self.tell("plans"))
            while going := [play for play in self.plays if play.ended is None]:
                for play in going:
                    play.one_round(lambda: self.tell("rounds"))
        except KeyboardInterrupt:
            if not self.value:
                raise
            for play in self.plays:
                play.ended = play.ended or "interrupted"

    def _alone(self, play: Play) -> None:
        """The only night of a group, planned as if no season had been asked for."""
        (number,) = play.own
        plan, broken = play.alone(self.rigs[self.refs[number].rig].in_all)
        if plan is None:
            self.broken[number] = broken
        else:
            self.told[number] = plan

    @property
    def _audit_s(self) -> float:
        """Seconds that the audit of all nights is reckoned to take."""
        nights_s = [AUDIT_S + AUDIT_OF_GOAL_S * len(self.desk.rigs[ref.rig].numbers) for ref in self.refs]
        return sum(nights_s) * (BY_DEPTH if self.request.aim.value == "depth" else 1)

    @property
    def value(self) -> int | None:
        """What the plans so far are worth, in thousandths; None as long as a group has none."""
        return _sum([play.value for play in self.plays])

    @property
    def most(self) -> int | None:
        """The bound of all groups together, in thousandths."""
        return _sum([play.most for play in self.plays])

    def _audited(self) -> None:
        """Lay all plans out and audit them; one that breaks a rule, a defect, is not kept."""
        own = [
            (play, place)
            for play in self.plays
            if not play.is_one_night
            for place in play.begun.open
            if play.begun.best.plans[place].runs
        ]
        tasks = [(play.refs[place], play.begun.best.plans[place]) for play, place in own]
        answers = self._undeterred(lambda: self.engine.run(laid_out, tasks))  # nothing is kept unaudited
        for (play, place), (broken, told) in zip(own, answers, strict=True):
            if broken:
                self.broken[play.own[place]] = broken
                play.begun.best.put(place, NightPlan())
            else:
                self.told[play.own[place]] = told

    def _file(self, nights: list[NightSummary]) -> SeasonFile:
        value, most = self.value, self.most
        gap = gap_of(value, most)
        assert value is not None
        assert most is not None
        assert gap is not None
        ended = min((play.ended or "interrupted" for play in self.plays), key=ENDS.index)
        proof = SeasonProof(
            by=self.request.aim.value,
            balance=self.request.aim.balance,
            value=value / THOUSANDTHS,
            bound=most / THOUSANDTHS,
            gap=gap,
            ended=ended,
            rounds=max(play.round for play in self.plays),
            seconds=round(self.limits.spent_s, 3),
        )
        plans, gains_s, worths_s = [NightPlan()] * len(nights), [0.0] * len(nights), [0.0] * len(nights)
        for play in self.plays:
            best = play.begun.best
            for place, number in enumerate(play.own):
                plans[number] = best.plans[place]
                gains_s[number] = float(best.lost_without(place))
                worths_s[number] = play.proven.nights_s[place]
        season = PlannedSeason(
            self.rigs,
            [rig.numbers for rig in self.desk.rigs],
            self.desk.projects,
            self.refs,
            nights,
            self.odds,
            plans,
            worths_s,
            gains_s,
            self._frame_worths_s().tolist(),
            proof,
            self.told,
            self.broken,
        )
        projects, policy = projects_without_weather(season), None
        found = None if ended == "interrupted" or self.pressed else self._weather()
        if found is not None:
            projects, policy = with_weather(projects, found), policy_told(found)
        return season_file(season, projects, policy, found.season_steps if found is not None else ())

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
        worths_s: Floats = np.zeros(len(self.desk.projects.goals))
        for play in self.plays:
            work = partial(frame_worths_s, self.desk, play.refs, play.odds, self.engine, discount)
            worths_s[play.group.goals] = self._undeterred(work)
        return worths_s

    def _undeterred(self, work: Callable[[], T]) -> T:
        """What some work comes to without which what is found cannot be kept: Ctrl-C only begins it again."""
        while True:
            try:
                return work()
            except KeyboardInterrupt:
                self.pressed = True

    def tell(self, phase: SeasonPhase, ready: int | None = None) -> None:
        """Say how the season stands."""
        if self._tell is None:
            return
        count, value, most = len(self.refs), self.value, self.most
        self._tell(
            SeasonProgress(
                phase,
                count if ready is None else ready,
                count,
                None if value is None else value / THOUSANDTHS,
                None if most is None else most / THOUSANDTHS,
                self.limits.left_s,
                max(play.round for play in self.plays),
                self.engine.dashboard,
            )
        )


def _sum(parts: Sequence[int | None]) -> int | None:
    """The sum of all parts; None where one is not known."""
    return None if None in parts else sum(part for part in parts if part is not None)
