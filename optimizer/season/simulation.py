"""Sampled seasons of one group of rigs: paths through its nights, what the policy makes of them.

Simulated nights are mixtures of paths (`coarse`), which is a little more than real plans bring.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from optimizer.ahead.factors import scarcity_of
from optimizer.season.aggregate import aggregate, hours_of, sampled
from optimizer.season.asked import request_on
from optimizer.season.bound import priced
from optimizer.season.coarse import Paths, pools_at
from optimizer.season.desk import BLOCK, Desk, Engine, NightRef, blocks_of
from optimizer.season.gathered import GatheredLaw
from optimizer.season.groups import Group
from optimizer.season.policy import ScarceHours, Simulated, State, simulated, start_of, wanted_of
from optimizer.season.pricing import bound_s
from optimizer.season.projects import Floats, Ints
from optimizer.season.weather import Bools
from optimizer.sky.bodies import night_sky

STATES = 12  # made up for each night, at which paths are looked for
LOOKS, PASSES = 6, 3  # states met by the policy at which more are looked for, and how often
PASSES_BY_DEPTH = 2  # where a path takes ten times as long to find


@dataclass(frozen=True, eq=False)
class GroupSeasons:
    """Sampled seasons of a group: what is known of its nights, and how they end by the policy.

    `own` [nights] are the numbers of its nights among those of the season, `open_h` [nights, goals] in how
    many hours each goal may be shot there, `ahead_h` [nights, goals] the hours ahead of it for the night's
    own rig, `clear` [seasons, nights] the weathers.
    """

    group: Group
    own: Ints
    refs: tuple[NightRef, ...]
    open_h: Floats
    ahead_h: Floats
    clear: Bools
    power: float
    pools: tuple[Paths, ...]
    end: Simulated

    @property
    def values_s(self) -> Floats:
        """What each season has brought, in weighted seconds, [seasons]."""
        law = GatheredLaw(self.group.projects)
        values_s: Floats = law.value_s(self.end.state.reached_s) - law.value_s(start_of(law).reached_s)
        return values_s

    @property
    def wanted(self) -> Floats:
        """Frames wanted of each goal, [goals]."""
        return wanted_of(self.group.projects)


def seasons_of_group(
    desk: Desk, group: Group, refs: Sequence[NightRef], clear: Bools, engine: Engine, seed: int
) -> GroupSeasons:
    """Let the policy plan the clear nights [seasons, nights] of which a group has its own."""
    own = np.array([number for number, ref in enumerate(refs) if ref.rig in group.numbers], dtype=np.int64)
    nights, law = tuple(refs[number] for number in own.tolist()), GatheredLaw(group.projects)
    wanted, start, weathers = wanted_of(group.projects), start_of(law), clear[:, own]
    hours = engine.run(hours_of_nights, [(block,) for block in blocks_of(nights)])
    open_h, ahead_h = (np.concatenate(each) for each in zip(*hours, strict=True))
    power = desk.rigs[0].request.aim.scarcity
    policy = ScarceHours(law, of_all_rigs(nights, ahead_h), power)
    pools = pools_of(desk, law, wanted, nights, policy, weathers, start, engine, seed)
    end = simulated(pools, weathers, policy, wanted, start)
    return GroupSeasons(group, own, nights, open_h, ahead_h, weathers, power, tuple(pools), end)


def of_all_rigs(refs: Sequence[NightRef], ahead_h: Floats) -> Floats:
    """The hours ahead of each goal for all rigs together, [nights, goals], from those for one each."""
    _, evening = np.unique(np.array([ref.evening.toordinal() for ref in refs]), return_inverse=True)
    sums = np.zeros((int(evening.max(initial=0)) + 1, ahead_h.shape[1]))
    np.add.at(sums, evening, ahead_h)
    found: Floats = sums[evening]
    return found


def hours_of_nights(desk: Desk, refs: Sequence[NightRef]) -> tuple[Floats, Floats]:
    """A job: the hours of each goal on each of some nights of a group, and ahead of it, [nights, goals].

    Those ahead are counted as `plan` counts them for the night's rig; 0 where the first request's aim asks
    for no scarcity.
    """
    projects, scarcity = desk.group(refs).projects, desk.rigs[0].request.aim.scarcity
    open_h, ahead_h = np.zeros((2, len(refs), len(projects.goals)))
    for row, ref in enumerate(refs):
        numbers = desk.numbers(ref)
        open_h[row, numbers] = desk.outline(ref).openings.open_s.sum(axis=1) / 3600
        request = request_on(desk.rigs[ref.rig].request, ref.evening).with_aim(scarcity=scarcity)
        hours = scarcity_of(request, night_sky(request)).hours
        for number in numbers.tolist() if hours else ():
            goal = projects.goals[number]
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
    """Paths through all nights of a group: at states made up first, then at those that the policy meets."""
    rng, worths, lefts = np.random.default_rng(seed), list[Floats](), list[Ints]()
    # of many rigs, states of all goals are made up for a few nights at a time
    at_once = len(refs) if len({ref.rig for ref in refs}) == 1 else BLOCK
    for first in range(0, len(refs), at_once):
        some = refs[first : first + at_once]
        shape = len(some), STATES, len(wanted)
        part = np.clip(rng.random((*shape[:2], 1)) + 0.35 * rng.standard_normal(shape), 0.0, 1.0)
        left = np.ceil((1 - part) * (wanted - start.frames[0])).astype(np.int64)
        ahead_h = np.maximum(1.0, policy.ahead_h[first : first + at_once])[:, None]
        tilt = ahead_h ** -rng.choice([0.0, 0.5, 1.0], (*shape[:2], 1))
        tilt *= np.exp(0.3 * rng.standard_normal(shape))
        worth = law.slope(law.done_s + part * (law.wanted_s - law.done_s), tilt) * tilt * (left > 0)
        worths += [worth[row][:, desk.numbers(ref)] for row, ref in enumerate(some)]
        lefts += [left[row][:, desk.numbers(ref)] for row, ref in enumerate(some)]
    pools = pools_at(engine, refs, worths, lefts)
    by_depth = desk.rigs[0].request.aim.value == "depth"
    for _ in range(PASSES_BY_DEPTH if by_depth else PASSES):
        met = simulated(pools, clear, policy, wanted, start, LOOKS)
        more = pools_at(engine, refs, met.worths, met.lefts)
        pools = [own.with_others(new) for own, new in zip(pools, more, strict=True)]
    return pools


def foreknown_s(desk: Desk, refs: Sequence[NightRef]) -> float:
    """A job: weighted seconds that a season of these nights of a group, all clear, cannot exceed."""
    projects, sure = desk.group(refs).projects, [Fraction(1)] * len(refs)
    if not refs or not projects.left.any():
        return 0.0
    some, weights = list(range(len(refs))), sure
    if len({ref.rig for ref in refs}) > 1:
        some, weights, _ = sampled(refs, sure)
    own = [refs[number] for number in some]
    prices = aggregate(projects, hours_of(desk, own), [desk.numbers(ref) for ref in own], weights).prices
    nights = [own[0].worth_s if own else 0.0 for own in priced(desk, refs, prices)]
    return bound_s(projects, prices, sure, nights)
