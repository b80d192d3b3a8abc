"""The planning of one group of rigs, step by step, as if there were no other: bounds, plans, rounds."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Literal

from optimizer.models.request import Request
from optimizer.night import Night
from optimizer.season.asked import request_on
from optimizer.season.bound import SeasonBound, season_bounds
from optimizer.season.desk import Desk, Engine, NightRef
from optimizer.season.groups import Group
from optimizer.season.laid import TellablePlan, tellable
from optimizer.season.limits import Limits
from optimizer.season.planned import Runs, plan_of_schedule
from optimizer.season.pricing import ROUNDING
from optimizer.season.rounds import Rounds

THOUSANDTHS = 1000  # of a weighted second, to which value and bound are told
MOST_FOLLOWED = 8  # paths of a night, those of greatest share, that are made plans
WORK_S = 0.3  # seconds, by counted work, for planning a night anew beside all others; by depth, where
WORK_BY_DEPTH_S = 0.1  # more goes into the tables of the search
PRICED_S = 0.1  # the same for planning it at prices
SEEDS = 1000  # more than a season of one rig has nights
KICKED = 60_000  # nights times kicks of each choice from the pool: a second or two; with filter sets
KICKED_WITH_SETS = 15_000
FAST_GROWTH = Fraction(1, 500)  # by new prices alone, in a quarter of the time of a whole round
IN_VAIN, LEAST_GROWTH = 3, Fraction(1, 10_000)  # rounds on end that bring less than this share

Ended = Literal["gap", "rounds", "time", "settled", "interrupted"]


class Play:
    """The nights of one group: `own` are their numbers among those of the season, `refs` and `odds` as there.

    After the bounds come `set_out` and `begin`; then each `one_round` is one more, until `ended` says why
    there is none.
    """

    def __init__(
        self,
        group: Group,
        desk: Desk,
        refs: Sequence[NightRef],
        odds: Sequence[Fraction],
        engine: Engine,
        limits: Limits,
    ) -> None:
        """Take the nights of a season, of which those of the group's rigs are its own."""
        self.group, self.desk, self.engine, self.limits = group, desk, engine, limits
        self.own = [number for number, ref in enumerate(refs) if ref.rig in group.numbers]
        self.refs = [refs[number] for number in self.own]
        self.odds = [odds[number] for number in self.own]
        self.aim = desk.rigs[group.rigs[0]].request.aim
        self.bound: SeasonBound | None = None
        self.rounds: Rounds | None = None
        self.round, self.in_vain = 0, 0
        self.round_s = math.inf  # of the fastest pricing of all nights
        self.ended: Ended | None = None

    def bounds(self, is_over: Callable[[], bool]) -> Iterator[None]:
        """Find bounds, each better than the one before; they end where they hardly get better."""
        before_s = self.limits.spent_s
        for bound in season_bounds(self.desk, self.refs, self.odds, self.engine, is_over=is_over):
            self.bound = bound
            self.round_s = min(self.round_s, self.limits.spent_s - before_s)
            yield
            before_s = self.limits.spent_s

    def set_out(self) -> None:
        """Begin with nothing planned."""
        self.rounds = Rounds(self.desk, self.refs, self.odds, self.engine)

    def begin(self, tell: Callable[[], None]) -> None:
        """Have the first plans made, along the bound's paths."""
        rounds, bound = self.begun, self.proven
        rounds.at_prices(bound.prices, self._drafts(bound), 0.0, 0)
        rounds.choose(self._kicks, 0)
        tell()
        for batch in rounds.batches():  # what prices leave nothing is filled up with what it brings
            rounds.replan(batch, 0.0, 0)
            tell()
        self.prices = bound.prices
        self.ended = self._why_ended()

    def one_round(self, tell: Callable[[], None]) -> None:
        """Plans at new prices and a choice; where these bring little, each night anew beside all others.

        The last round that is asked for is a whole one.
        """
        if self.limits.is_over:  # in the turns of other groups
            self.ended = "time"
            return
        before = self.begun.best.value_s
        self.round += 1
        self._one_round(self.begun, tell)
        grown = self.begun.best.value_s > before * (1 + LEAST_GROWTH)
        self.in_vain = 0 if grown else self.in_vain + 1
        self.ended = self._why_ended()

    def _one_round(self, rounds: Rounds, tell: Callable[[], None]) -> None:
        tell()
        before = rounds.best.value_s
        self.prices = rounds.at_new_prices(self.prices, PRICED_S, self.round, lambda: self.limits.is_over)
        rounds.choose(self._kicks, self.round)
        tell()
        is_last = self.round == self.limits.rounds
        if rounds.best.value_s > before * (1 + FAST_GROWTH) and not is_last:
            return  # new prices bring more in less time
        for batch in rounds.batches():
            if self.limits.is_over or self.is_near:
                break
            rounds.replan(batch, self._work_s, max(SEEDS, len(self.refs)) * self.round)
            tell()

    @property
    def is_one_night(self) -> bool:
        """Whether there is but one night, which may be clear: it is planned as if there were no season."""
        return len(self.refs) == 1 and bool(self.begun.open)

    def alone(self, request: Request) -> tuple[TellablePlan | None, tuple[str, ...]]:
        """Plan the only night, of this request: the plan as it is told, or None and the rules it broke."""
        (odds,), (ref,) = self.odds, self.refs
        night = Night(request_on(request, ref.evening))
        shots = night.plan()
        problem, solution = night.problem, night.solution
        assert shots.audit is not None
        most_s = float(odds * solution.bound * problem.profit_unit)
        self.bound = replace(self.proven, bound_s=min(self.proven.bound_s, most_s * (1 + ROUNDING)))
        self.ended = solution.ended
        if shots.audit.violations:
            return None, tuple(sorted({each.rule for each in shots.audit.violations}))
        plan = plan_of_schedule(problem, solution.schedule)
        self.begun.best.put(0, plan)
        return tellable(problem, plan, solution.schedule, night.sky.clock), ()

    def _drafts(self, bound: SeasonBound) -> list[tuple[Runs, ...]]:
        """The paths of greatest share in the bound's mixture, for each night."""
        drafts = []
        for columns, shares in zip(bound.columns, bound.shares, strict=True):
            order = sorted(range(len(columns)), key=lambda place: -shares[place])[:MOST_FOLLOWED]
            drafts.append(tuple(columns[place].runs for place in order if shares[place] > 0))
        return drafts

    @property
    def begun(self) -> Rounds:
        """The rounds, which must have been set out for."""
        assert self.rounds is not None
        return self.rounds

    @property
    def proven(self) -> SeasonBound:
        """The bound, which must be there."""
        assert self.bound is not None
        return self.bound

    @property
    def _kicks(self) -> int:
        kicked = KICKED_WITH_SETS if self.group.projects.worth.sets else KICKED
        return kicked // len(self.refs)

    @property
    def _work_s(self) -> float:
        return WORK_BY_DEPTH_S if self.aim.value == "depth" else WORK_S

    def _why_ended(self) -> Ended | None:
        if self.is_near:
            return "gap"
        if self.limits.rounds is not None and self.round >= self.limits.rounds:
            return "rounds"
        if self.limits.is_over:
            return "time"
        return "settled" if self.in_vain >= IN_VAIN else None

    @property
    def value(self) -> int | None:
        """What the plans so far are worth, in whole thousandths of a weighted second, rounded down."""
        return None if self.rounds is None else math.floor(self.rounds.best.value_s * THOUSANDTHS)

    @property
    def most(self) -> int | None:
        """The bound in whole thousandths of a weighted second, rounded up."""
        return None if self.bound is None else math.ceil(self.bound.bound_s * THOUSANDTHS)

    @property
    def is_near(self) -> bool:
        """Whether the plans are within the gap that is asked for."""
        gap = gap_of(self.value, self.most)
        return gap is not None and gap <= self.limits.gap


def gap_of(value: int | None, most: int | None) -> float | None:
    """How far a bound lies above a value, both in thousandths, as a share of the value."""
    if value is None or most is None:
        return None
    value_s, most_s = value / THOUSANDTHS, most / THOUSANDTHS
    return (most_s - value_s) / value_s if value_s else float(most_s > 0)
