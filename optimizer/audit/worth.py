"""What the exposures of a list are worth together, by the audit's own route.

A goal of N frames of e seconds wants h = N e times its factor. With d frames in hand and what the night adds,
c frames as the aim counts them, its share is s = min(1, (d + c) / N). A filter set, two goals or more, has
come as far as the greatest of all

    y - sum over its goals of h / (H / 2) max(0, y - s),    H = the sum of their h,

which is the mean share of the half that lags most. A target is worth its weight times: for goals outside a
set the seconds gathered; for those of a set 1 - b of them, and b H times what the set comes forward, with b =
aim.balance.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.audit.odds import counted_seconds
from optimizer.audit.rows import GoalKey, Row, goals_alike, key_of
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import DEPTH_SHARE, SUMS, VALUE_DIGIT, WEIGHTED_SECONDS
from optimizer.audit.types import Floats
from optimizer.models.shots import Totals
from optimizer.models.targets import Goal

HALF = 0.5
Factors = Mapping[GoalKey, float]


@dataclass(frozen=True)
class Worth:
    """Value of a list's exposures in weighted seconds, and what of it is progress of filter sets.

    `set_s` is that progress before the balance is applied, `shares` each target's share of its set before and
    after, by frames alone (None without a goal in it). The `forgiven` are by how much the list may differ.
    """

    value_s: float
    value_forgiven_s: float
    set_s: float
    set_forgiven_s: float
    shares: tuple[tuple[float, float] | None, ...]


@dataclass(frozen=True)
class _GoalTonight:
    """A goal with its factor, its frames of the night, and the seconds that these count for."""

    goal: Goal
    factor: float
    frames: int
    seconds: float

    @property
    def wanted(self) -> float:
        """What all its frames are worth, in seconds times its factor, under the best of skies."""
        return self.goal.frames * self.goal.exposure_s * self.factor

    def share(self, frames: float) -> float:
        """Share in hand with so many frames on top of those that were there."""
        return min(1.0, (self.goal.done + frames) / self.goal.frames)


def worth_of(scene: Scene, totals: Totals, factors: Factors) -> Worth:
    """Add up what the exposures are worth; those that no goal asks for count as they are.

    `factors` are those of scarce goals. Of goals that are alike in all but their number the steps cannot say
    which one an exposure serves: there the frames are as `totals` shares them out.
    """
    exposures = [row for row in scene.rows if row.kind == "expose" and scene.target(row.target) is not None]
    seconds = counted_seconds(scene, exposures)
    tonight = _goals_tonight(scene, totals, exposures, seconds, factors)
    balance = scene.request.aim.balance
    weights = np.array([scene.request.targets[row.target].weight for row in exposures])
    scarce = np.array([factors.get(row.goal_key, 1.0) for row in exposures])
    plain = float(np.sum(weights * scarce * seconds))
    value, progress, whole = plain, 0.0, 0.0
    for target, goals in zip(scene.request.targets, tonight, strict=True):
        own = [each for each in goals if each.goal.in_set]
        if len(own) < 2:
            continue
        came = target.weight * _progress(own)
        whole += target.weight * sum(each.wanted for each in own)
        gathered = target.weight * sum(each.factor * each.seconds for each in own)
        progress += came
        value += balance * (came - gathered)
    off = SUMS * (plain + whole)
    by_depth = scene.request.aim.value == "depth"
    if by_depth or scene.request.night.clear_odds:  # each frame is rounded down
        off += WEIGHTED_SECONDS * len(exposures)
        off += _mixed(scene, exposures, weights * scarce * seconds)
    if by_depth:  # the weight is that of two routes through the sky
        off += DEPTH_SHARE * plain
    most = 1 / HALF  # by which a second's worth can bring a set forward
    return Worth(
        value_s=value,
        value_forgiven_s=WEIGHTED_SECONDS + VALUE_DIGIT + (1 - balance + balance * most) * off,
        set_s=progress,
        set_forgiven_s=WEIGHTED_SECONDS + VALUE_DIGIT + most * off,
        shares=tuple(_shares_by_frames(goals) for goals in tonight),
    )


def _goals_tonight(
    scene: Scene, totals: Totals, rows: Sequence[Row], seconds: Floats, factors: Factors
) -> list[list[_GoalTonight]]:
    """The goals of each target, in file order, with what the night gives them."""
    frames: dict[GoalKey, int] = {}
    gathered: dict[GoalKey, float] = {}
    for row, each in zip(rows, seconds.tolist(), strict=True):
        frames[row.goal_key] = frames.get(row.goal_key, 0) + 1
        gathered[row.goal_key] = gathered.get(row.goal_key, 0.0) + each
    alike = goals_alike(scene.request)
    lines = iter(totals.goals)
    tonight = []
    for target in scene.request.targets:
        goals = []
        for goal in target.goals:
            key, line = key_of(target, goal), next(lines, None)
            all_frames = own_frames = frames.get(key, 0)
            if alike[key] > 1 and line is not None:
                own_frames = min(max(line.frames_planned, 0), all_frames)
            part = own_frames / all_frames if all_frames else 0.0
            goals.append(_GoalTonight(goal, factors.get(key, 1.0), own_frames, part * gathered.get(key, 0.0)))
        tonight.append(goals)
    return tonight


def _progress(own: Sequence[_GoalTonight]) -> float:
    """What a set is worth as a whole times the share by which it comes forward."""
    wanted = np.array([each.wanted for each in own])
    before = np.array([each.share(0) for each in own])
    after = np.array([each.share(each.seconds / each.goal.exposure_s) for each in own])
    return float(wanted.sum()) * (set_share(wanted, after) - set_share(wanted, before))


def set_share(wanted: Floats, shares: Floats) -> float:
    """How far a set has come, 0 to 1: the greatest level less what its goals lack to it, as defined above.

    `wanted` is what each goal wants, of shape (goals,), and `shares` what it has of that. The level is
    greatest where it meets the share of a goal.
    """
    half = HALF * wanted.sum()
    return max(
        float(level - np.sum(wanted * np.maximum(0.0, level - shares)) / half) for level in np.unique(shares)
    )


def _shares_by_frames(goals: Iterable[_GoalTonight]) -> tuple[float, float] | None:
    """Share of a target's set before the night and after it, every frame counted as one."""
    own = [each for each in goals if each.goal.in_set]
    if not own:
        return None
    wanted = np.array([each.wanted for each in own])
    before = np.array([each.share(0) for each in own])
    after = np.array([each.share(each.frames) for each in own])
    return set_share(wanted, before), set_share(wanted, after)


def _mixed(scene: Scene, rows: Sequence[Row], values: Floats) -> float:
    """By how much frames of goals that are alike differ: nobody knows which of them has the better ones."""
    alike = goals_alike(scene.request)
    by_key: dict[GoalKey, list[float]] = {}
    for row, value in zip(rows, values.tolist(), strict=True):
        if alike.get(row.goal_key, 1) > 1:
            by_key.setdefault(row.goal_key, []).append(value)
    return sum(abs(each - sum(same) / len(same)) for same in by_key.values() for each in same)
