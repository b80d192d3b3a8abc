"""The arithmetic of the flip: do the mount's numbers fit together, and when does each target flip tonight?"""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.models.request import Request
from optimizer.models.rig import Mount
from optimizer.mount.zones import (
    SIDEREAL_RATE,
    clearance_from_s,
    first_side_until_s,
    flipped_side_from_s,
    time_of_hour_angle,
)
from optimizer.sky.tracks import Track
from optimizer.sky.transits import upper_transits

SAME_MIN = 1e-9  # minutes that count as equal


@dataclass(frozen=True)
class FlipFit:
    """The numbers around the meridian, in minutes past it; the worst case of one exposure among them.

    Without an exposure to judge, `worst_end_min`, `margin_min` and `fits` are None.
    """

    latest_track_min: float
    longest_fitting_s: float
    longest_exposure_s: float | None
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

    Its shutter must close before tracking on the first side must have ended; the download may run on
    during the flip.
    """
    latest_min = mount.latest_track_min
    worst_min = None if longest_exposure_s is None else mount.flip_from_min + longest_exposure_s / 60
    return FlipFit(
        latest_track_min=latest_min,
        longest_fitting_s=max(0.0, (latest_min - mount.flip_from_min) * 60),
        longest_exposure_s=longest_exposure_s,
        worst_end_min=worst_min,
        margin_min=None if worst_min is None else mount.contact_min - worst_min,
    )


def longest_exposure_s(request: Request) -> float | None:
    """The longest exposure that any goal still asks for; None where nothing is left to expose."""
    return max((goal.exposure_s for _, goal in request.goals() if goal.frames_left), default=None)


@dataclass(frozen=True)
class FlipTimes:
    """One transit of a target, seconds after the night's origin.

    `due_s`: hour angle `flip_from_min`, where a mount that flips by itself does it. `earliest_s`: the plan
    may flip from here on, clock error included. `latest_s`: tracking on the first side must have ended.
    """

    transit_s: float
    due_s: float
    earliest_s: float
    latest_s: float


def flip_times(mount: Mount, track: Track) -> tuple[FlipTimes, ...]:
    """The flips of a target within the night, one for each upper transit (two are possible)."""
    until_s = clearance_from_s(mount) if mount.flip_by == "mount" else first_side_until_s(mount)
    hour_angles_s = (mount.flip_from_min * 60, flipped_side_from_s(mount), until_s)
    return tuple(
        FlipTimes(
            transit_s,
            *(
                time_of_hour_angle(track, hour_angle_s, transit_s + hour_angle_s / SIDEREAL_RATE)
                for hour_angle_s in hour_angles_s
            ),
        )
        for transit_s in upper_transits(track)
    )
