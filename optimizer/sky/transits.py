"""Times at which a body passes the meridian."""

from __future__ import annotations

import numpy as np

from optimizer.sky.clock import SPAN_S, FloatArray
from optimizer.sky.tracks import Track

_HALF_TURN_S = 43200.0
_STEP_S = 900.0  # hour angles only grow: a step may be any part of a turn
_TOLERANCE_S = 1e-5


def upper_transits(track: Track, start_s: float = 0.0, end_s: float = SPAN_S) -> tuple[float, ...]:
    """Seconds after the origin at which the hour angle passes 0: twice at most for a star in 24 h."""
    return _transits(track, 0.0, start_s, end_s)


def lower_transits(track: Track, start_s: float = 0.0, end_s: float = SPAN_S) -> tuple[float, ...]:
    """Seconds after the origin at which the hour angle wraps from +12 h to −12 h."""
    return _transits(track, _HALF_TURN_S, start_s, end_s)


def _transits(track: Track, at_s: float, start_s: float, end_s: float) -> tuple[float, ...]:
    def past(t_s: FloatArray) -> FloatArray:
        """Seconds of hour angle past the one sought, within half a turn of it."""
        return (track.hour_angle_s(t_s) - at_s + _HALF_TURN_S) % (2 * _HALF_TURN_S) - _HALF_TURN_S

    # A step beyond each end, so that a transit on the very edge is bracketed.
    times = np.arange(start_s - _STEP_S, end_s + 2 * _STEP_S, _STEP_S)
    values = past(times)
    index = np.flatnonzero((values[:-1] < 0.0) & (values[1:] >= 0.0))  # the wrap goes from + to −
    if not index.size:
        return ()
    rate = (values[index + 1] - values[index]) / _STEP_S
    t = times[index] - values[index] / rate
    for _ in range(8):
        step = past(t) / rate
        t = t - step
        if np.all(np.abs(step) < _TOLERANCE_S):
            break
    return tuple(float(transit_s) for transit_s in t if start_s <= transit_s <= end_s)
