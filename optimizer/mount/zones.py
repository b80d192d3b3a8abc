"""Where in hour angle each pier side may track, and when that is tonight.

Hour angles are in seconds of hour angle (240 to a degree), unrefracted, in (-43200, 43200].
"""

from __future__ import annotations

import math

import numpy as np

from optimizer.models.rig import Mount, PierSide
from optimizer.sky.clock import SPAN_S
from optimizer.sky.tracks import MARGIN_S, Track

SIDEREAL_RATE = (
    1.00273781191135448  # seconds of hour angle in a second, a fixed star (IAU 2000 Resolution B1.8)
)
HALF_TURN_S = 43200.0
FULL_TURN_S = 86400.0
MINUTE_READINGS = (1.0, 1.00273790935)  # "a minute past the meridian": of hour angle, or of the clock


def clearance_from_s(mount: Mount) -> float:
    """Seconds of hour angle beyond which pier side west would come nearer to contact than the clearance."""
    limit_s = mount.clearance_from_min * 60 - mount.clock_error_s
    return min(limit_s * reading for reading in MINUTE_READINGS)


def first_side_until_s(mount: Mount) -> float:
    """Seconds of hour angle at which tracking on pier side west, the first side, must have ended."""
    if mount.flip_by != "mount":
        return clearance_from_s(mount)
    # it turns by itself from flip_from_min on, so no shutter may be open then
    turns_s = mount.flip_from_min * 60 - mount.clock_error_s
    return min(clearance_from_s(mount), *(turns_s * reading for reading in MINUTE_READINGS))


def flipped_side_from_s(mount: Mount) -> float:
    """Seconds of hour angle from which tracking on pier side east, the flipped side, is permitted."""
    start_s = flip_due_min(mount) * 60 + mount.clock_error_s
    return max(start_s * reading for reading in MINUTE_READINGS)


def flip_due_min(mount: Mount) -> float:
    """Minutes past the meridian from which a flip is due: the mount takes it, and the flipped side is clear.

    Before the meridian the flipped side has its own contact, and the clearance is kept from that.
    """
    if mount.flip_from_min * 60 + mount.clock_error_s >= 0:
        return mount.flip_from_min
    return max(mount.flip_from_min, mount.clearance_min - mount.contact_before_min)


def carries_across(mount: Mount) -> bool:
    """Whether a target can be carried across the meridian by a flip at all.

    A mount that flips by itself must be allowed to track until it does, and be clear of contact afterwards.
    """
    if mount.flip_by != "mount":
        return mount.flip_by == "plan"
    clear_at_once = flip_due_min(mount) == mount.flip_from_min
    return clear_at_once and clearance_from_s(mount) >= flipped_side_from_s(mount)


def zone_s(mount: Mount, side: PierSide | None) -> tuple[float, float]:
    """Seconds of hour angle between which a pier side may track; infinite for mounts that never flip."""
    if side is None:
        return -math.inf, math.inf
    if side == "west":
        return -HALF_TURN_S + mount.clock_error_s, first_side_until_s(mount)
    return flipped_side_from_s(mount), HALF_TURN_S - mount.clock_error_s


def times_within(track: Track, low_s: float, high_s: float, span_s: float) -> list[tuple[float, float]]:
    """Spans of time (s after origin, within 0..span_s) in which the hour angle lies in [low_s, high_s].

    The hour angle of a fixed star runs evenly but for nutation and aberration; the linear guess is
    refined on the track until it moves by less than 0.1 ms. A span may come twice (sidereal day).
    """
    if high_s <= low_s:
        return []
    if math.isinf(low_s) or math.isinf(high_s):
        return [(0.0, span_s)]
    start_s = float(track.hour_angle_s(np.array([0.0]))[0])
    spans = []
    for turn in (-1, 0, 1, 2):
        edges_s = (low_s + turn * FULL_TURN_S - start_s, high_s + turn * FULL_TURN_S - start_s)
        opens = max(0.0, time_of_hour_angle(track, low_s, edges_s[0] / SIDEREAL_RATE))
        closes = min(span_s, time_of_hour_angle(track, high_s, edges_s[1] / SIDEREAL_RATE))
        if closes > opens:
            spans.append((opens, closes))
    return spans


def time_of_hour_angle(track: Track, hour_angle_s: float, near_s: float) -> float:
    """Time (s after the night's origin) nearest to `near_s` at which the hour angle is reached.

    Far outside the night, where the track does not hold, the answer is `near_s` itself.
    """
    time_s = near_s
    if not -MARGIN_S / 2 < near_s < SPAN_S + MARGIN_S / 2:
        return time_s
    for _ in range(4):
        now_s = float(track.hour_angle_s(np.array([time_s]))[0])
        error_s = (hour_angle_s - now_s + HALF_TURN_S) % FULL_TURN_S - HALF_TURN_S
        time_s += error_s / SIDEREAL_RATE
        if abs(error_s) < 1e-4:
            break
    return time_s
