"""The arithmetic of the flip: do the mount's numbers fit together, and when does each target flip tonight?

Every number comes from the zones that windows, plan and law go by.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimizer.models.request import Request
from optimizer.models.rig import Mount
from optimizer.mount.zones import (
    SIDEREAL_RATE,
    carries_across,
    first_side_until_s,
    flip_due_min,
    flipped_side_from_s,
    time_of_hour_angle,
)
from optimizer.sky.tracks import Track
from optimizer.sky.transits import upper_transits

SAME_MIN = 1e-9  # minutes that count as equal


@dataclass(frozen=True)
class FlipFit:
    """The numbers around the meridian in minutes past it, with the worst case of one exposure.

    Without an exposure to judge, `last_begin_min`, `worst_end_min`, `margin_min` and `fits` are None;
    `margin_min` as well where contact was never measured, `longest_fitting_s` where no flip is ever due.
    """

    latest_track_min: float
    longest_fitting_s: float | None
    longest_exposure_s: float | None
    last_begin_min: float | None
    worst_end_min: float | None
    margin_min: float | None

    @property
    def fits(self) -> bool | None:
        """Whether the worst case closes its shutter before tracking must have ended."""
        if self.worst_end_min is None:
            return None
        return self.worst_end_min <= self.latest_track_min + SAME_MIN


def flip_fit(mount: Mount, longest_exposure_s: float | None) -> FlipFit:
    """Worst case of an exposure begun just before the flip falls due (common practice, no source).

    Its shutter must close before tracking on the first side must have ended; its tail may run on
    during the flip. A mount that flips by itself must find the shutter closed, so with it the worst case
    never fits: the plan ends the last exposure sooner. Where no target is carried across, nothing falls due,
    and the worst case is the last exposure that the plan may begin.
    """
    latest_min = first_side_until_s(mount) / 60
    due_min = None if mount.flip_by == "never" else flip_due_min(mount)
    last_begin_min = worst_min = None
    if longest_exposure_s is not None:
        last_begin_min = latest_min - longest_exposure_s / 60
        worst_min = latest_min if due_min is None else due_min + longest_exposure_s / 60
    contact_min = mount.contact_min
    return FlipFit(
        latest_track_min=latest_min,
        longest_fitting_s=None if due_min is None else max(0.0, (latest_min - due_min) * 60),
        longest_exposure_s=longest_exposure_s,
        last_begin_min=last_begin_min,
        worst_end_min=worst_min,
        margin_min=None if worst_min is None or contact_min is None else contact_min - worst_min,
    )


def longest_exposure_s(request: Request) -> float | None:
    """The longest exposure that any goal still asks for; None where nothing is left to expose."""
    return max((goal.exposure_s for _, goal in request.goals() if goal.frames_left), default=None)


@dataclass(frozen=True)
class FlipTimes:
    """The instants around one transit of a target, in seconds after the night's origin.

    `left_s`: tracking on the first side must have ended. `flipped_s`: the flipped side may be used from here
    on, clock error included. `due_s`: from here on the flip is due; None where no target is carried across.
    `latest_s`: the last instant at which the flip may begin; None where there is no flip, or where the first
    side must be left before the flip may begin, so that the mount stands still between and nothing presses.
    """

    transit_s: float
    left_s: float
    flipped_s: float
    due_s: float | None
    latest_s: float | None


def flip_times(mount: Mount, track: Track) -> tuple[FlipTimes, ...]:
    """The flips of a target within the night, one for each upper transit (two are possible)."""
    flips = []
    for transit_s in upper_transits(track):

        def when(hour_angle_s: float, transit_s: float = transit_s) -> float:
            return time_of_hour_angle(track, hour_angle_s, transit_s + hour_angle_s / SIDEREAL_RATE)

        left_s, flipped_s = when(first_side_until_s(mount)), when(flipped_side_from_s(mount))
        latest_s = None
        if mount.flip_by == "mount" and carries_across(mount):
            latest_s = flipped_s  # by then it has begun its own
        elif mount.flip_by == "plan" and math.ceil(flipped_s) <= math.floor(left_s):  # as it is planned
            latest_s = left_s
        due_s = None if mount.flip_by == "never" else when(flip_due_min(mount) * 60)
        flips.append(FlipTimes(transit_s, left_s, flipped_s, due_s, latest_s))
    return tuple(flips)
