"""The zone around the meridian, in seconds of hour angle (240 to a degree)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.audit.rows import EAST, WEST
from optimizer.audit.types import Floats, Ints
from optimizer.models.rig import Mount

SIDEREAL_PER_CLOCK = 1.00273790935
HALF_TURN_S = 43200.0
TURN_S = 86400.0


def sooner(hour_angle_s: float) -> float:
    """The earlier reading of a limit, whose minutes may be taken as hour angle or as clock time."""
    return min(hour_angle_s, hour_angle_s * SIDEREAL_PER_CLOCK)


def later(hour_angle_s: float) -> float:
    """The later reading of a limit, whose minutes may be taken as hour angle or as clock time."""
    return max(hour_angle_s, hour_angle_s * SIDEREAL_PER_CLOCK)


@dataclass(frozen=True)
class Zone:
    """Limits of a German mount's two pier sides, in seconds of hour angle.

    `reach_until` is the contact limit alone: with `flip_by = mount` the wait before a flip has to track past
    `first_until` to the flip, and contact is what bounds it then. No latest start may promise so much:
    `own_flip_by` is the second by which the mount has begun its flip.
    """

    first_from: float
    first_until: float
    reach_until: float
    own_flip_by: float
    flipped_from: float
    flipped_until: float

    @classmethod
    def of(cls, mount: Mount) -> Zone:
        """The limits that the mount's numbers give."""
        error = mount.clock_error_s
        kept_min = 0.0 if mount.contact_min is None else mount.contact_min - mount.clearance_min
        contact = sooner(kept_min * 60 - error)
        by_itself = sooner(mount.flip_from_min * 60 - error)
        flipped = mount.flip_from_min * 60 + error
        if flipped < 0:
            flipped = max(flipped, (mount.clearance_min - mount.contact_before_min) * 60 + error)
        return cls(
            first_from=-HALF_TURN_S + error,
            first_until=min(contact, by_itself) if mount.flip_by == "mount" else contact,
            reach_until=contact,
            own_flip_by=min(contact, later(flipped) + SIDEREAL_PER_CLOCK),
            flipped_from=later(flipped),
            flipped_until=HALF_TURN_S - error,
        )


@dataclass(frozen=True)
class Excess:
    """Seconds of hour angle by which spans leave their zone; positive outside, NaN without zone."""

    contact: Floats
    flip_from: Floats
    lower_culmination: Floats


def carried_s(start_s: Floats, end_s: Floats, seconds: Ints) -> Floats:
    """Hour angle gained between two wrapped ones `seconds` of clock time apart, whole turns included."""
    gained = end_s - start_s
    turns = np.round((seconds * SIDEREAL_PER_CLOCK - gained) / TURN_S)
    unwrapped: Floats = gained + turns * TURN_S
    return unwrapped


def wrapped_about(hour_angle_s: Floats, middle_s: Floats) -> Floats:
    """The hour angles, in seconds, wrapped to within half a turn of `middle_s`."""
    wrapped: Floats = np.mod(hour_angle_s - middle_s + HALF_TURN_S, TURN_S) - HALF_TURN_S + middle_s
    return wrapped


def excess(zone: Zone, side: Ints, start_s: Floats, gained_s: Floats, first_until: Floats) -> Excess:
    """Excess of spans that begin at wrapped hour angle `start_s` and gain `gained_s`; all of shape (n,).

    `first_until`: where the first side ends for each. Hour angle grows with time, so the two ends decide. A
    start outside is counted from the nearer edge of the zone.
    """
    west = side == WEST
    low = np.where(west, zone.first_from, zone.flipped_from)
    high = np.where(west, first_until, zone.flipped_until)
    start = wrapped_about(start_s, (low + high) / 2)
    over = np.maximum(start, start + gained_s) - high
    under = low - np.minimum(start, start + gained_s)
    nothing = np.full(start.shape, np.nan)
    return Excess(
        contact=np.where(west, over, nothing),
        flip_from=np.where(side == EAST, under, nothing),
        lower_culmination=np.where(west, under, np.where(side == EAST, over, nothing)),
    )
