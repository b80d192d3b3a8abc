"""What is to be expected of a season: sampled weathers, each clear night planned by the policy for tonight.

Simulated nights are mixtures of paths (`coarse`), which is a little more than real plans bring.
"""

from __future__ import annotations

import datetime as dt
import math
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from optimizer.ahead.factors import scarcity_of
from optimizer.models.season_asked import SeasonAsked
from optimizer.season.aggregate import aggregate, hours_of
from optimizer.season.asked import request_on
from optimizer.season.bound import priced
from optimizer.season.coarse import Paths, pools_at
from optimizer.season.desk import Desk, Engine, NightRef, blocks_of
from optimizer.season.gathered import GatheredLaw
from optimizer.season.policy import (
    NEVER,
    PolicyName,
    ScarceHours,
    Simulated,
    State,
    finish_share,
    frames_left,
    last_night,
    simulated,
    start_of,
    wanted_of,
)
from optimizer.season.pricing import bound_s
from optimizer.season.projects import Floats, Ints
from optimizer.season.steps import most_helpful, shares_with_steps
from optimizer.season.weather import Bools, sampled_weathers
from optimizer.sky.bodies import night_sky

SEASONS = 200
FOREKNOWN = 12  # of them, of which the bound is found
STATES = 12  # made up for each night, at which paths are looked for
LOOKS, PASSES = 6, 3  # states met by the policy at which more are looked for, and how often
PASSES_BY_DEPTH = 2  # where a path takes ten times as long to find
STEP_NIGHTS = 200_000  # nights of all seasons that steps are tried in, but in no fewer seasons than
LEAST_SEASONS = 40
LIKELY = 0.5  # of the seasons: a project finished in fewer is told what a step would give


@dataclass(frozen=True)
class Step:
    """What one step gives a project: the share of the sampled seasons in which it is finished with it.

    `change` is `clear_night` or `half_the_frames`. It was tried in the first `seasons` of those sampled; in a
    share of `without` of them the project is finished if nothing changes. One more clear night is, in each
    season, the cloudy one that has most to offer to what the project lacks; `evening` is the night that is so
    most often.
    """

    target: str
    change: str
    evening: dt.date | None
    finish_share: float
    without: float
    seasons: int


@dataclass(frozen=True, eq=False)
class Expected:
    """Sampled seasons under the policy for tonight.

    `finished` [seasons, goals] has the number of the night on which each goal was complete, `NEVER` or
    `BEFORE` the season; `left` [seasons, goals] the frames lacking at the end; `values_s` [seasons] what each
    season brought, in weighted seconds. `shares` are those of some seasons of the bound of their own weather,
    seasons that can bring nothing left out; `share_of_bound` is that of their sums.
    """

    policy: PolicyName
    seed: int
    persistence: float
    evenings: tuple[dt.date, ...]
    targets: tuple[str, ...]  # of each goal
    finished: Ints
    left: Floats
    values_s: Floats
    shares: Floats
    share_of_bound: float
    steps: tuple[Step, ...]
    seconds: float

    @property
    def seasons(self) -> int:
        """How many weathers were sampled."""
        return len(self.values_s)

    def finish_night(self, target: str) -> Ints:
        """The number of the night on which all goals of a target were complete, [seasons], or `NEVER`."""
        return last_night(self.finished[:, [each == target for each in self.targets]])

    def finish_share(self, target: str) -> float:
        """In what share of the sampled seasons a target is finished, those included that are so already."""
        return float(np.mean(self.finish_night(target) != NEVER))

    def finish_evening(self, target: str, share: float) -> dt.date | None:
        """The evening by which a target is finished in such a share of the seasons.

        None where it is finished in fewer, or in hand before the first night.
        """
        nights = self.finish_night(target)
        in_order = np.sort(np.where(nights == NEVER, len(self.evenings), nights))
        night = int(in_order[math.ceil(share * len(nights)) - 1])
        return self.evenings[night] if 0 <= night < len(self.evenings) else None

    def left_after(self) -> Floats:
        """Frames that each goal lacks at the end, the mean over the sampled seasons, [goals]."""
        mean: Floats = self.left.mean(axis=0)
        return mean

    def value_range_s(self) -> tuple[float, float, float]:
        """The mean of what the seasons bring, and the values that 10 and 90 % of them do not exceed."""
        low, high = np.quantile(self.values_s, (0.1, 0.9))
        return float(self.values_s.mean()), float(low), float(high)


def expected(
    desk: Desk,
    refs: Sequence[NightRef],
    odds: Sequence[Fraction],
    asked: SeasonAsked,
    seed: int,
    engine: Engine,
    seasons: int = SEASONS,
) -> Expected:
    """Sample so many weathers of a season and let the policy plan each clear night of them.

    `refs` are in the order of their evenings, `odds` those of clear sky. The same arguments give the same
    answer, whatever the engine.
    """
    began = time.monotonic()
    projects = desk.projects
    law = GatheredLaw(projects)
    wanted, start = wanted_of(projects), start_of(law)
    clear = sampled_weathers(odds, asked.persistence, seasons, seed)
    hours = engine.run(hours_of_nights, [(block,) for block in blocks_of(refs)])
    open_h, ahead_h = (np.concatenate(each) for each in zip(*hours, strict=True))
    policy = ScarceHours(law, ahead_h, desk.rigs[0].request.aim.scarcity)
    pools = pools_of(desk, law, wanted, refs, policy, clear, start, engine, seed)
    end = simulated(pools, clear, policy, wanted, start)
    values_s = law.value_s(end.state.reached_s) - law.value_s(start.reached_s)
    some = range(min(FOREKNOWN, seasons))
    tasks = [(tuple(ref for ref, on in zip(refs, clear[season], strict=True) if on),) for season in some]
    bounds_s = np.array(engine.run(foreknown_s, tasks))
    shares, share_of_bound = shares_of(values_s[: len(some)], bounds_s)
    return Expected(
        policy=policy.name,
        seed=seed,
        persistence=asked.persistence,
        evenings=tuple(ref.evening for ref in refs),
        targets=tuple(goal.target for goal in projects.goals),
        finished=end.finished,
        left=frames_left(end.state.frames, wanted),
        values_s=values_s,
        shares=shares,
        share_of_bound=share_of_bound,
        steps=tuple(_steps(desk, refs, policy, open_h, pools, clear, end, engine)),
        seconds=time.monotonic() - began,
    )


def shares_of(values_s: Floats, bounds_s: Floats) -> tuple[Floats, float]:
    """What seasons brought as shares of their bounds, and the share of their sums.

    Seasons that can bring nothing are left out; 1 where there is no other.
    """
    some = bounds_s > 0
    if not some.any():
        return np.ones(1), 1.0
    shares = np.minimum(1.0, values_s[some] / bounds_s[some])
    return shares, min(1.0, float(values_s[some].sum() / bounds_s[some].sum()))


def hours_of_nights(desk: Desk, refs: Sequence[NightRef]) -> tuple[Floats, Floats]:
    """A job: the hours of each goal on each of some nights, and ahead of it, [nights, goals].

    Those ahead are counted as `plan` counts them; 0 where the request's aim asks for no scarcity.
    """
    shape = len(refs), len(desk.projects.goals)
    open_h, ahead_h = np.zeros(shape), np.zeros(shape)
    for row, ref in enumerate(refs):
        rig = desk.rigs[ref.rig]
        open_h[row, rig.numbers] = desk.outline(ref).openings.open_s.sum(axis=1) / 3600
        request = request_on(rig.request, ref.evening).with_aim(scarcity=rig.request.aim.scarcity)
        hours = scarcity_of(request, night_sky(request)).hours
        for number in rig.numbers.tolist() if hours else ():
            goal = desk.projects.goals[number]
            ahead_h[row, number] = hours[goal.target, goal.filter]
    return open_h, ahead_h


def pools_of(
    desk: Desk,
    law: GatheredLaw,
    wanted: Floats,
    refs: Sequence[NightRef],
    policy: ScarceHours,
    clear: Bools,
    start: State,
    engine: Engine,
    seed: int,
) -> list[Paths]:
    """Paths through all nights: at states made up first, then at those that the policy meets."""
    rng = np.random.default_rng(seed)
    shape = len(refs), STATES, len(wanted)
    done = start.frames[0]
    part = np.clip(rng.random((*shape[:2], 1)) + 0.35 * rng.standard_normal(shape), 0.0, 1.0)
    left = np.ceil((1 - part) * (wanted - done)).astype(np.int64)
    tilt = np.maximum(1.0, policy.ahead_h)[:, None] ** -rng.choice([0.0, 0.5, 1.0], (*shape[:2], 1))
    tilt *= np.exp(0.3 * rng.standard_normal(shape))
    worths = law.slope(law.done_s + part * (law.wanted_s - law.done_s), tilt) * tilt * (left > 0)
    pools = pools_at(engine, refs, worths, left)
    by_depth = any(rig.request.aim.value == "depth" for rig in desk.rigs)
    for _ in range(PASSES_BY_DEPTH if by_depth else PASSES):
        met = simulated(pools, clear, policy, wanted, start, LOOKS)
        more = pools_at(engine, refs, met.worths, met.lefts)
        pools = [own.with_others(new) for own, new in zip(pools, more, strict=True)]
    return pools


def foreknown_s(desk: Desk, refs: Sequence[NightRef]) -> float:
    """A job: weighted seconds that a season of these nights, all clear, cannot exceed."""
    projects, sure = desk.projects, [Fraction(1)] * len(refs)
    if not refs or not projects.left.any():
        return 0.0
    numbers = [desk.rigs[ref.rig].numbers for ref in refs]
    prices = aggregate(projects, hours_of(desk, refs), numbers, sure).prices
    nights = [own[0].worth_s if own else 0.0 for own in priced(desk, refs, prices)]
    return bound_s(projects, prices, sure, nights)


def _steps(
    desk: Desk,
    refs: Sequence[NightRef],
    policy: ScarceHours,
    open_h: Floats,
    pools: Sequence[Paths],
    clear: Bools,
    end: Simulated,
    engine: Engine,
) -> Iterator[Step]:
    """What each step gives the projects that are finished in less than half of the seasons."""
    of_target: dict[str, list[int]] = {}
    for number, goal in enumerate(desk.projects.goals):
        of_target.setdefault(goal.target, []).append(number)
    left_s = frames_left(end.state.frames, wanted_of(desk.projects)).mean(axis=0) * policy.law.frame_s
    paths = tuple((pool.frames, pool.gathered_s) for pool in pools)
    unsure = {target: own for target, own in of_target.items() if finish_share(end.finished[:, own]) < LIKELY}
    few = STEP_NIGHTS // max(1, 2 * len(unsure) * len(refs))
    first = slice(0, min(len(clear), max(LEAST_SEASONS, few)))
    seasons = len(clear[first])
    asked = [
        (target, own, most_helpful(open_h[:, own], clear[first], left_s[own]))
        for target, own in unsure.items()
    ]
    none = np.zeros(seasons, dtype=np.int64)
    tasks = [
        (
            tuple(own),
            paths,
            clear[first],
            none if helps is None else helps,
            policy.ahead_h,
            policy.power,
        )
        for _, own, helps in asked
    ]
    for (target, own, helps), shares in zip(asked, engine.run(shares_with_steps, tasks), strict=True):
        without = finish_share(end.finished[first][:, own])
        if helps is not None:
            evening = refs[int(np.argmax(np.bincount(helps)))].evening
            yield Step(target, "clear_night", evening, shares[0], without, seasons)
        yield Step(target, "half_the_frames", None, shares[1], without, seasons)
