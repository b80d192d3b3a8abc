"""The values that a list gives to the frames of scarce goals, as the audit takes them."""

from __future__ import annotations

from optimizer.audit.rows import GoalKey
from optimizer.models.shots import ShotList


def factors_of(shots: ShotList) -> dict[GoalKey, float]:
    """By how much more a frame of each goal counts tonight, as the list says; 1 where it says nothing."""
    return {
        (each.target, each.filter, each.exposure_s, each.gain, each.offset, each.binning): each.factor
        for each in shots.values
    }
