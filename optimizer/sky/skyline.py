"""The local horizon: its altitude at an azimuth, and when a body stands above it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.sky.clock import SPAN_S, FloatArray, Times
from optimizer.sky.crossings import STEP_S, TOLERANCE_S, Interval, spans_where
from optimizer.sky.tracks import Track


class Skyline:
    """The local horizon, straight between pairs of azimuth and altitude and closed at 360 degrees.

    Two pairs of one azimuth make a wall.
    """

    def __init__(self, pairs: Sequence[tuple[float, float]]) -> None:
        """Take at least one pair, in degrees, with ascending azimuths; raises ValueError without one."""
        if not pairs:
            raise ValueError("a skyline needs at least one pair")
        azimuths, altitudes = (np.array(column, dtype=np.float64) for column in zip(*pairs, strict=True))
        self.vertices = np.unique(azimuths % 360.0)
        self._azimuths = np.concatenate([[azimuths[-1] - 360.0], azimuths, [azimuths[0] + 360.0]])
        self._altitudes = np.concatenate([[altitudes[-1]], altitudes, [altitudes[0]]])

    def altitude_deg(self, azimuth_deg: Times) -> FloatArray:
        """Altitude of the local horizon at azimuths 0..360 degrees; at a wall, that to its right."""
        azimuth = np.asarray(azimuth_deg, dtype=np.float64)
        # The last pair at or left of the azimuth: the segment from there has a width.
        left = np.searchsorted(self._azimuths, azimuth, side="right") - 1
        left = np.clip(left, 0, self._azimuths.size - 2)
        start, width = self._azimuths[left], np.diff(self._azimuths)[left]
        share = np.where(width > 0.0, (azimuth - start) / np.where(width > 0.0, width, 1.0), 1.0)
        return np.asarray(self._altitudes[left] * (1.0 - share) + self._altitudes[left + 1] * share)

    def spans_clear(self, track: Track) -> tuple[Interval, ...]:
        """Spans in which the body stands at or above the local horizon.

        Sampled every minute and around each crossing of a pair's azimuth, so that walls are met to the
        millisecond and no notch between pairs is stepped over.
        """
        at = self._vertex_times(track)
        return spans_where(
            lambda t: track.altitude_deg(t) - self.altitude_deg(track.azimuth_deg(t)),
            extra_s=np.concatenate([at - TOLERANCE_S, at + TOLERANCE_S]),
        )

    def _vertex_times(self, track: Track) -> FloatArray:
        """Times within the night at which the body's azimuth is that of a pair (1 ms)."""
        azimuths = np.radians(self.vertices)
        cos, sin = np.cos(azimuths), np.sin(azimuths)
        times = np.arange(0.0, SPAN_S + STEP_S, STEP_S)
        north, east, _ = track.horizontal(times)
        # Which side of the vertical plane through the azimuth: smooth, even near the zenith.
        side = np.outer(cos, east) - np.outer(sin, north)
        row, column = np.nonzero((side[:, 1:] >= 0.0) != (side[:, :-1] >= 0.0))
        if not row.size:
            return np.empty(0)
        low, high = times[column], times[column + 1]
        f_low, f_high = side[row, column], side[row, column + 1]
        cos, sin = cos[row], sin[row]
        for _ in range(60):
            if np.all(high - low <= TOLERANCE_S / 2):
                break
            # A third of the bracket at least goes with each turn, most of it where the function is straight.
            aim = low + f_low / (f_low - f_high) * (high - low)
            for point in (aim - TOLERANCE_S / 5, aim + TOLERANCE_S / 5, (low + high) / 2):
                point = np.clip(point, low, high)
                north, east, _ = track.horizontal(point)
                f_point = cos * east - sin * north
                takes_low = (f_point >= 0.0) == (f_low >= 0.0)
                low, f_low = np.where(takes_low, point, low), np.where(takes_low, f_point, f_low)
                high, f_high = np.where(takes_low, high, point), np.where(takes_low, f_high, f_point)
        north, east, _ = track.horizontal(low)
        ahead = cos * north + sin * east > 0.0  # not the opposite azimuth
        return np.asarray(low[ahead])
