"""Rounds of planning: which plan each night has, kept lawful and exact, and made better batch by batch."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from optimizer.season.desk import Desk, Engine, NightRef
from optimizer.season.planned import NightPlan, Runs, better_plan, plans_at_prices, trimmed_plan
from optimizer.season.pool import Pool
from optimizer.season.pricing import Prices
from optimizer.season.projects import Ints

BATCH = 6  # nights that are planned anew at once with all others as they are: never by the number of workers
FEWEST_BATCHES = 15  # of several rigs' nights: as many as of ninety nights of one
ALLOWED = 0.01  # of the best value, by which what the search goes on from may be worse
BEYOND = (0.0, 1.0)  # what a frame too much costs in a choice: nothing, as it is cut, or all that one counts
SMOOTHING = 0.5  # share of the prices before in the next ones


@dataclass(eq=False)
class Standing:
    """One plan a night of one group of rigs, within the frames left by odds; all is counted exactly.

    `frames` (times `whole`) and `gathered` are by goal and weighted by odds.
    """

    desk: Desk
    refs: Sequence[NightRef]
    odds: Sequence[Fraction]
    plans: list[NightPlan] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Begin with empty plans."""
        group = self.desk.group(self.refs)
        self.projects, self._together = group.projects, group.together
        self.whole = math.lcm(*(each.denominator for each in self.odds))
        self.parts = [int(each * self.whole) for each in self.odds]  # of a frame that a night's frame counts
        self.numbers = [self.desk.numbers(ref) for ref in self.refs]
        self.units = [self.desk.unit(ref) for ref in self.refs]
        count = len(self.projects.goals)
        self.frames = np.full(
            count, 0, dtype=object
        )  # whole numbers of any size: odds may have many decimals
        self.gathered = [Fraction(0)] * count
        self.plans = self.plans or [NightPlan()] * len(self.refs)
        for number, plan in enumerate(self.plans):
            self._count(number, plan, 1)
        self.value_s = self.projects.value_s(self.gathered)

    @property
    def most(self) -> NDArray[np.object_]:
        """Frames left of each goal, [goals], in parts as `frames` are."""
        most: NDArray[np.object_] = self.whole * self.projects.left.astype(object)
        return most

    def copied(self) -> Standing:
        """The same, to go on from."""
        return Standing(self.desk, self.refs, self.odds, list(self.plans))

    def _count(self, number: int, plan: NightPlan, sign: int) -> None:
        if plan.runs:
            self.frames[self.numbers[number]] += (
                sign * self.parts[number] * np.array(plan.frames, dtype=object)
            )
            each_s = sign * self.odds[number] * self.units[number]
            for goal, gathered in zip(self.numbers[number].tolist(), plan.gathered, strict=True):
                if gathered:
                    self.gathered[goal] += each_s * gathered

    def put(self, number: int, plan: NightPlan) -> None:
        """Put a plan in the place of the one that a night has."""
        before_s = self._part_s(number, self.gathered)
        self._count(number, self.plans[number], -1)
        self._count(number, plan, 1)
        self.plans[number] = plan
        self.value_s += self._part_s(number, self.gathered) - before_s

    def _part_s(self, number: int, gathered: Sequence[Fraction]) -> Fraction:
        """What of the value a night's plan has a part in: of hundreds of rigs' goals these are few."""
        return self.projects.part_s(self._together[self.refs[number].rig], gathered)

    def put_if_better(self, number: int, plan: NightPlan) -> bool:
        """The same, if it is lawful and the season is worth more by it; whether it was put."""
        before, value_s = self.plans[number], self.value_s
        self.put(number, plan)
        if self.is_lawful and self.value_s > value_s:
            return True
        self.put(number, before)
        return False

    @property
    def is_lawful(self) -> bool:
        """Whether no more frames are taken by odds than are left."""
        return bool(np.all(self.frames <= self.most))

    def left_for(self, number: int) -> Ints:
        """Frames by goal that a night may take at most with all others as they are; 0 without odds."""
        left, part, plan = self.most - self.frames, self.parts[number], self.plans[number]
        if not part:
            return np.zeros(len(left), dtype=np.int64)
        if plan.runs:
            left[self.numbers[number]] += part * np.array(plan.frames, dtype=object)
        fitting = [max(0, each) // part for each in left.tolist()]
        most: Ints = np.array([min(each) for each in zip(fitting, self.projects.left.tolist(), strict=True)])
        return most

    def others_for(self, number: int) -> tuple[Fraction, ...]:
        """Weighted seconds by goal that the other nights gather; none where sums alone count."""
        others = list(self.gathered)
        if not self.projects.worth.sets:
            return (Fraction(0),) * len(others)
        plan, each_s = self.plans[number], self.odds[number] * self.units[number]
        for goal, gathered in zip(self.numbers[number].tolist(), plan.gathered, strict=False):
            others[goal] -= each_s * gathered
        return tuple(others)

    def lost_without(self, number: int) -> Fraction:
        """Weighted seconds that the season would lose without a night's plan."""
        others = list(self.gathered)
        plan, each_s = self.plans[number], self.odds[number] * self.units[number]
        for goal, gathered in zip(self.numbers[number].tolist(), plan.gathered, strict=False):
            others[goal] -= each_s * gathered
        return self._part_s(number, self.gathered) - self._part_s(number, others)


@dataclass(eq=False)
class Rounds:
    """The planning of one group of rigs in pieces: between any two the best plans so far may be taken.

    `best` are those; `at` is where the search stands, which may be somewhat worse.
    """

    desk: Desk
    refs: Sequence[NightRef]
    odds: Sequence[Fraction]
    engine: Engine

    def __post_init__(self) -> None:
        """Begin with nothing planned."""
        self.best = self.at = Standing(self.desk, self.refs, self.odds)
        self.pool = Pool(self.best.projects, self.odds, self.best.numbers)
        self.open = [number for number, each in enumerate(self.odds) if each > 0]

    def at_prices(
        self,
        prices: Prices,
        drafts: Sequence[tuple[Runs, ...]],
        work_s: float,
        seed: int,
        is_over: Callable[[], bool] = lambda: False,
    ) -> None:
        """Real plans of all nights at prices, along the best paths and some drafts, into the pool.

        It ends sooner once `is_over`, which is asked after each night.
        """
        left = self.best.projects.left
        tasks = [(self.refs[each], prices, left, drafts[each], work_s, seed) for each in self.open]
        for number, plans in zip(self.open, self.engine.stream(plans_at_prices, tasks), strict=False):
            self._pooled(number, plans)
            if is_over():
                break

    def at_new_prices(
        self, before: Prices, work_s: float, seed: int, is_over: Callable[[], bool] = lambda: False
    ) -> Prices:
        """The same at the prices of the pool's own mixture, smoothed; return them."""
        own = self.pool.prices()
        prices = Prices(
            SMOOTHING * before.shares + (1 - SMOOTHING) * own.shares,
            SMOOTHING * before.costs_s + (1 - SMOOTHING) * own.costs_s,
        )
        drafts = [(plan.runs,) if plan.runs else () for plan in self.at.plans]
        self.at_prices(prices, drafts, work_s, seed, is_over)
        return prices

    def choose(self, kicks: int, seed: int) -> None:
        """Choose anew from the pool, and cut what is too much; go on from there if it is good enough."""
        nights, kicks = self.pool.nights, kicks // len(BEYOND)
        places = [night.numbers.get(plan, 0) for night, plan in zip(nights, self.best.plans, strict=True)]
        trials = []
        for beyond in BEYOND:
            choice = self.pool.chosen(places, kicks, seed, beyond)
            plans = [night.plans[place] for night, place in zip(nights, choice, strict=True)]
            trial = Standing(self.desk, self.refs, self.odds, self._cut(plans))
            for number, plan in enumerate(trial.plans):
                self._pooled(number, (plan,))
            trials += [trial] if trial.is_lawful else []
        at = max(trials, key=lambda each: each.value_s, default=self.best)
        enough = at.value_s > (1 - ALLOWED) * self.best.value_s
        self.at = at if enough and at is not self.best else self.best.copied()
        self._keep()

    def replan(self, batch: Sequence[int], work_s: float, seed: int) -> None:
        """Plan some nights anew with all others as they are; what makes the season better is taken."""
        at = self.at
        tasks = [
            (
                self.refs[number],
                self.odds[number],
                at.others_for(number),
                at.left_for(number),
                (at.plans[number].runs,) if at.plans[number].runs else (),
                work_s,
                seed + number,
            )
            for number in batch
        ]
        for number, plan in zip(batch, self.engine.run(better_plan, tasks), strict=True):
            self._pooled(number, (plan,))
            at.put_if_better(number, plan)
        self._keep()

    def batches(self) -> list[list[int]]:
        """All nights that may be clear in batches, the nights of each far from each other."""
        several = len({ref.rig for ref in self.refs}) > 1
        size = max(BATCH, math.ceil(len(self.open) / FEWEST_BATCHES)) if several else BATCH
        count = math.ceil(len(self.open) / size)
        return [self.open[first::count] for first in range(count)]

    def _pooled(self, number: int, plans: Sequence[NightPlan]) -> None:
        for plan in plans:
            self.pool.add(number, plan, float(self.best.units[number]))

    def _keep(self) -> None:
        """Take what the search stands at for the best, if it is better."""
        if self.at.value_s > self.best.value_s:
            self.best = self.at.copied()

    def _cut(self, plans: Sequence[NightPlan]) -> list[NightPlan]:
        """The plans with fewer frames of the goals of which they take too many, the last nights cut first."""
        standing = Standing(self.desk, self.refs, self.odds, list(plans))
        over = np.maximum(0, standing.frames - standing.most)
        cut: dict[int, Ints] = {}
        for number in reversed(self.open):
            plan, part = plans[number], standing.parts[number]
            if plan.runs and over.any():
                own = np.zeros(len(over), dtype=np.int64)
                own[standing.numbers[number]] = plan.frames
                fewer = np.minimum(own, -(-over // part)).astype(np.int64)
                if fewer.any():
                    cut[number] = own - fewer
                    over = np.maximum(0, over - part * fewer.astype(object))
        result = list(plans)
        tasks = [(self.refs[number], left, plans[number]) for number, left in cut.items()]
        for number, plan in zip(cut, self.engine.run(trimmed_plan, tasks), strict=True):
            result[number] = plan
        return result
