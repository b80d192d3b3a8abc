"""What a list says it gives its season, by the audit's own route.

Of later nights the audit knows what the list tells of them: subs and weighted seconds of each goal, by odds.
It cannot check those, nor what a sub counts for tonight: they come from nights that it has not got.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.audit.odds import counted_seconds
from optimizer.audit.rows import GoalKey, key_of
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import DEPTH_SHARE, SUMS, VALUE_DIGIT, WEIGHTED_SECONDS
from optimizer.audit.worth import set_share
from optimizer.models.season_tonight import GoalInSeason, InSeason
from optimizer.models.targets import Goal, Target


@dataclass(frozen=True)
class SeasonWorth:
    """Weighted seconds of tonight with later nights and of those alone, and by how much a list may differ."""

    with_s: float
    without_s: float
    forgiven_s: float


@dataclass(frozen=True)
class _Gathered:
    """A goal with the subs and seconds of tonight, and those of later nights, no more than are wanted."""

    goal: Goal
    frames: int
    seconds: float
    later_frames: float
    later_s: float

    def after(self, tonight: bool) -> float:
        """Seconds gathered in all, with tonight or without."""
        frames, seconds = (self.frames, self.seconds) if tonight else (0, 0.0)
        room = max(0, self.goal.frames - self.goal.done - frames)
        part = min(1.0, room / self.later_frames) if self.later_frames > 0 else 0.0
        return seconds + part * self.later_s


def season_worth(scene: Scene, season: InSeason) -> SeasonWorth:
    """Add up what is gathered with tonight and without it; every goal by its target's weight alone."""
    rows = [row for row in scene.rows if row.kind == "expose" and scene.target(row.target) is not None]
    seconds = counted_seconds(scene, rows)
    frames: dict[GoalKey, int] = {}
    gathered: dict[GoalKey, float] = {}
    for row, each in zip(rows, seconds.tolist(), strict=True):
        frames[row.goal_key] = frames.get(row.goal_key, 0) + 1
        gathered[row.goal_key] = gathered.get(row.goal_key, 0.0) + each
    told = {each.goal_key: each for each in season.goals}
    values, plain = [0.0, 0.0], 0.0
    for target in scene.request.targets:
        own = []
        for goal in target.goals:
            key = key_of(target, goal)
            own.append(_gathered(target, goal, told.get(key), frames.get(key, 0), gathered.get(key, 0.0)))
        for place, tonight in enumerate((True, False)):
            values[place] += target.weight * _worth_s(own, season.balance, tonight=tonight)
        plain += target.weight * sum(
            each.after(True) + each.goal.frames * each.goal.exposure_s for each in own
        )
    off = SUMS * plain
    if scene.request.aim.value == "depth":
        off += DEPTH_SHARE * plain
    if scene.request.aim.value == "depth" or scene.request.night.clear_odds:
        off += WEIGHTED_SECONDS * len(rows) / min((each.factor for each in season.goals), default=1.0)
    return SeasonWorth(values[0], values[1], WEIGHTED_SECONDS + VALUE_DIGIT + 3 * off)


def _gathered(
    target: Target, goal: Goal, told: GoalInSeason | None, frames: int, seconds: float
) -> _Gathered:
    later = (0.0, 0.0) if told is None else (told.later_frames, told.later_s / target.weight)
    return _Gathered(goal, frames, seconds, *later)


def _worth_s(goals: Sequence[_Gathered], balance: float, *, tonight: bool) -> float:
    """Seconds that a target's goals are worth: plain sums, and what its set comes forward by the balance."""
    total = sum(each.after(tonight) for each in goals)
    own = [each for each in goals if each.goal.in_set]
    if len(own) < 2 or balance == 0:
        return total
    wanted = np.array([each.goal.frames * each.goal.exposure_s for each in own])
    in_hand = np.array([min(each.goal.done, each.goal.frames) * each.goal.exposure_s for each in own])
    more = np.array([each.after(tonight) for each in own])
    before = set_share(wanted, in_hand / wanted)
    after = set_share(wanted, np.minimum(1.0, (in_hand + more) / wanted))
    return float(total + balance * (wanted.sum() * (after - before) - more.sum()))
