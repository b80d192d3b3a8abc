"""What is to be expected of a season: sampled weathers, each clear night planned by tonight's policy."""

from __future__ import annotations

import datetime as dt
import math
import time
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from optimizer.models.season import SeasonStep
from optimizer.models.season_asked import SeasonAsked
from optimizer.season.desk import Desk, Engine, NightRef
from optimizer.season.places import places_of
from optimizer.season.policy import NEVER, PolicyName, frames_left, last_night
from optimizer.season.projects import Floats, Ints
from optimizer.season.season_steps import season_steps
from optimizer.season.simulation import GroupSeasons, foreknown_s, seasons_of_group
from optimizer.season.steps import Step, project_steps
from optimizer.season.weather import weathers_by_place

SEASONS = 200
FOREKNOWN = 12  # of them, of which the bound is found


@dataclass(frozen=True, eq=False)
class Expected:
    """Sampled seasons under the policy for tonight.

    `finished` [seasons, goals] has the place of the evening on which each goal was complete, `NEVER` or
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
    season_steps: tuple[SeasonStep, ...] = ()

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
    places = places_of([rig.request.site for rig in desk.rigs])
    clear = weathers_by_place(refs, odds, places, asked.persistence, seasons, seed)
    groups = [seasons_of_group(desk, group, refs, clear, engine, seed) for group in desk.groups]
    values_s: Floats = np.sum([each.values_s for each in groups], axis=0)
    some = range(min(FOREKNOWN, seasons))
    tasks = [
        (tuple(ref for ref, on in zip(each.refs, each.clear[season], strict=True) if on),)
        for season in some
        for each in groups
    ]
    bounds_s = np.array(engine.run(foreknown_s, tasks)).reshape(len(some), len(groups)).sum(axis=1)
    shares, share_of_bound = shares_of(values_s[: len(some)], bounds_s)
    evenings = sorted({ref.evening for ref in refs})
    finished, left = _of_goals(groups, evenings, seasons, len(desk.projects.goals))
    skies = [(ref.evening, places[ref.rig]) for ref in refs]
    steps = tuple(project_steps(desk, groups, skies, finished, engine))
    of_season = tuple(season_steps(desk, groups, finished, engine))
    return Expected(
        policy="scarce hours" if desk.rigs[0].request.aim.scarcity else "own weights",
        seed=seed,
        persistence=asked.persistence,
        evenings=tuple(evenings),
        targets=tuple(goal.target for goal in desk.projects.goals),
        finished=finished,
        left=left,
        values_s=values_s,
        shares=shares,
        share_of_bound=share_of_bound,
        steps=steps,
        seconds=time.monotonic() - began,
        season_steps=of_season,
    )


def _of_goals(
    groups: Sequence[GroupSeasons], evenings: Sequence[dt.date], seasons: int, goals: int
) -> tuple[Ints, Floats]:
    """Of all goals of the season the evening on which each was complete, and the frames left in the end."""
    finished, left = np.full((seasons, goals), NEVER), np.zeros((seasons, goals))
    place = {evening: number for number, evening in enumerate(evenings)}
    for each in groups:
        evening = np.array([place[ref.evening] for ref in each.refs], dtype=np.int64)
        night = each.end.finished
        finished[:, each.group.goals] = np.where(night >= 0, evening[np.maximum(0, night)], night)
        left[:, each.group.goals] = frames_left(each.end.state.frames, each.wanted)
    return finished, left


def shares_of(values_s: Floats, bounds_s: Floats) -> tuple[Floats, float]:
    """What seasons brought as shares of their bounds, and the share of their sums.

    Seasons that can bring nothing are left out; 1 where there is no other.
    """
    some = bounds_s > 0
    if not some.any():
        return np.ones(1), 1.0
    shares = np.minimum(1.0, values_s[some] / bounds_s[some])
    return shares, min(1.0, float(values_s[some].sum() / bounds_s[some].sum()))
