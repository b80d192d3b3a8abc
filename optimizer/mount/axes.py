"""Where the two axes stand and how long it takes to move them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from optimizer.models.rig import PierSide

SECONDS_PER_DEGREE = 240.0
DRIFT_DEG_S = (
    15.041067 / 3600
)  # the hour axis of a standing mount, seen from the sky (Explanatory Supplement)
# Planner and audit compute axis angles by different routes; this much covers their difference (s).
SAFETY_S = 0.02


@dataclass(frozen=True)
class Axes:
    """Axis angles in degrees from home (tube at the pole, counterweight down)."""

    hour_deg: float
    declination_deg: float


HOME = Axes(0.0, 0.0)


def axes_at(hour_angle_s: float, declination_deg: float, side: PierSide | None, latitude_deg: float) -> Axes:
    """Axis angles of a mount that points in a direction on a pier side (None: a fork).

    A German mount's counterweight is down 6 h from the meridian.
    """
    from_pole_deg = 90.0 - (declination_deg if latitude_deg >= 0 else -declination_deg)
    hour_deg = hour_angle_s / SECONDS_PER_DEGREE
    if side is None:
        return Axes(hour_deg, from_pole_deg)
    if side == "west":
        return Axes(hour_deg + 90.0, from_pole_deg)
    return Axes(hour_deg - 90.0, -from_pole_deg)


class SlewRates(Protocol):
    """The numbers of a mount that decide how long a slew takes."""

    @property
    def slew_deg_s(self) -> float:
        """Speed of each axis, degrees per second."""

    @property
    def slew_extra_s(self) -> float:
        """Seconds that each slew takes beside the motion of the axes."""

    @property
    def flips(self) -> bool:
        """Whether it is a German mount; a fork may turn either way round."""


def slew_s(mount: SlewRates, start: Axes, end: Axes, doubt_deg: float = 0.0) -> int:
    """Whole seconds, rounded up, to move both axes at once from `start` to `end`.

    `doubt_deg`: degrees by which the way may be longer than the two axis angles say.
    """
    hour_deg = abs(end.hour_deg - start.hour_deg)
    if not mount.flips:
        hour_deg = min(hour_deg % 360.0, -hour_deg % 360.0)  # a fork may turn either way round
    declination_deg = abs(end.declination_deg - start.declination_deg)
    way_deg = max(hour_deg, declination_deg) + doubt_deg
    return math.ceil(mount.slew_extra_s + way_deg / mount.slew_deg_s + SAFETY_S)
