"""The values that a list gives to the frames of scarce goals, as the audit takes them."""

from __future__ import annotations

from optimizer.audit.rows import GoalKey
from optimizer.models.shots import ShotList


def factors_of(shots: ShotList) -> dict[GoalKey, float]:
    """By how much more a frame of each goal counts tonight, as the list says; 1 where it says nothing.

    A night that was planned by the values of a season has them in what it says of it.
    """
    if shots.season is not None and shots.season.policy == "season values":
        return {each.goal_key: each.factor for each in shots.season.goals}
    return {
        (each.target, each.filter, each.exposure_s, each.gain, each.offset, each.binning): each.factor
        for each in shots.values
    }
