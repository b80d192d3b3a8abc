"""Spans of time in which a quantity of the night lies above or below a level."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from optimizer.sky.clock import SPAN_S, FloatArray, IndexArray

Signal = Callable[[FloatArray], FloatArray]
Interval = tuple[float, float]

STEP_S = 60.0
TOLERANCE_S = 0.001


class Sampled:
    """A quantity of the night, sampled once, that can be asked for many levels.

    Samples lie `step_s` apart, and at `extra_s`. A crossing shows by its change of sign and is refined to a
    millisecond. Where three samples bend towards a level without reaching it, the vertex of their parabola is
    sampled too; so a smooth quantity hides from the search only what lasts less than about a second, and a
    quantity with jumps only what lasts less than a step and lies on no extra sample. No change of sign means
    always or never, decided by the samples themselves.
    """

    def __init__(
        self,
        signal: Signal,
        *,
        step_s: float = STEP_S,
        start_s: float = 0.0,
        end_s: float = SPAN_S,
        extra_s: Sequence[float] | FloatArray = (),
    ) -> None:
        """Sample `signal`, which maps an array of seconds to an array of values of the same shape.

        Raises ValueError unless the start is before the end and the step above 0.
        """
        if not end_s > start_s or not step_s > 0:
            raise ValueError("a search needs a start before its end and a step above 0")
        self._signal = signal
        times = np.append(np.arange(start_s, end_s, step_s), end_s)
        extra = np.asarray(extra_s, dtype=np.float64)
        inside = extra[(extra > start_s) & (extra < end_s)]
        self.times = np.unique(np.concatenate([times, inside])) if inside.size else times
        self.values = np.asarray(signal(self.times), dtype=np.float64)

    def at_least(self, level: float) -> tuple[Interval, ...]:
        """Spans, ascending, in which the quantity is at or above the level; their ends lie within them."""
        return self._spans(level, 1.0)

    def at_most(self, level: float) -> tuple[Interval, ...]:
        """Spans, ascending, in which the quantity is at or below the level; their ends lie within them."""
        return self._spans(level, -1.0)

    def _spans(self, level: float, sign: float) -> tuple[Interval, ...]:
        def signal(t_s: FloatArray) -> FloatArray:
            return sign * (self._signal(t_s) - level)

        times, values = _with_vertices(signal, self.times, sign * (self.values - level))
        inside = values >= 0.0
        before = np.flatnonzero(inside[1:] != inside[:-1])
        roots = _refine(signal, times, values, before)
        edges = [float(root) for root in roots]
        if inside[0]:
            edges.insert(0, float(times[0]))
        if inside[-1]:
            edges.append(float(times[-1]))
        return tuple(zip(edges[::2], edges[1::2], strict=True))


def _with_vertices(signal: Signal, times: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Add samples at turning points that may reach beyond zero between two samples of the same sign."""
    left, middle, right = values[:-2], values[1:-1], values[2:]
    turns = (middle - left) * (right - middle) <= 0.0
    same = (np.sign(left) == np.sign(middle)) & (np.sign(middle) == np.sign(right))
    towards = np.abs(middle) <= np.minimum(np.abs(left), np.abs(right))
    index = np.flatnonzero(turns & same & towards) + 1
    if not index.size:
        return times, values
    # Vertex of the parabola through three samples.
    h0, h1 = times[index] - times[index - 1], times[index + 1] - times[index]
    slope0 = (values[index] - values[index - 1]) / h0
    slope1 = (values[index + 1] - values[index]) / h1
    bend = (slope1 - slope0) / (h0 + h1)
    index, slope0, h0, bend = (array[bend != 0.0] for array in (index, slope0, h0, bend))
    slope = slope0 + bend * h0  # at the middle sample
    shift = -slope / (2 * bend)
    vertex = times[index] + shift
    reach = values[index] + slope * shift / 2
    # Only where the parabola comes near zero: the fourth differences of a smooth quantity are far smaller.
    near = np.abs(reach) <= 0.1 * np.abs(values[index]) + np.abs(bend) * h0 * h0
    extra = vertex[near & (vertex > times[0]) & (vertex < times[-1])]
    extra = np.setdiff1d(extra, times)
    if not extra.size:
        return times, values
    place = np.searchsorted(times, extra)
    return np.insert(times, place, extra), np.insert(values, place, signal(extra))


def _refine(signal: Signal, times: FloatArray, values: FloatArray, before: IndexArray) -> FloatArray:
    """Crossings in the intervals that begin at samples `before`, each on the side where signal >= 0."""
    if not before.size:
        return np.empty(0)
    low, high = times[before].copy(), times[before + 1].copy()
    f_low, f_high = values[before].copy(), values[before + 1].copy()
    guess = _inverse_cubic(times, values, before, low, high)
    for turn in range(80):
        wide = np.flatnonzero(high - low > TOLERANCE_S)
        if not wide.size:
            break
        if turn == 0:  # both sides of a guess that is nearly always right: one call settles it
            a, b = low[wide], high[wide]
            first = np.clip(guess[wide] - TOLERANCE_S / 2.5, a, b)
            second = np.clip(guess[wide] + TOLERANCE_S / 2.5, a, b)
            f_both = signal(np.concatenate([first, second]))
            tries = [(first, f_both[: wide.size]), (second, f_both[wide.size :])]
        else:
            point = (low[wide] + high[wide]) / 2
            if turn % 2:  # secant and bisection in turn: fast where smooth, safe at a jump
                weight = f_low[wide] / (f_low[wide] - f_high[wide])
                aim = low[wide] + weight * (high[wide] - low[wide])
                room = TOLERANCE_S / 4
                point = np.clip(aim, low[wide] + room, high[wide] - room)
            tries = [(point, signal(point))]
        for point, f_point in tries:
            takes_low = (f_point >= 0.0) == (f_low[wide] >= 0.0)
            fits = (point > low[wide]) & (point < high[wide])
            to_low, to_high = wide[takes_low & fits], wide[~takes_low & fits]
            low[to_low], f_low[to_low] = point[takes_low & fits], f_point[takes_low & fits]
            high[to_high], f_high[to_high] = point[~takes_low & fits], f_point[~takes_low & fits]
    return np.where(f_low >= 0.0, low, high)


def _inverse_cubic(
    times: FloatArray,
    values: FloatArray,
    before: IndexArray,
    low: FloatArray,
    high: FloatArray,
) -> FloatArray:
    """Time as the cubic of the value through four samples, at value 0; the middle where that is no use."""
    if times.size < 4:
        return (low + high) / 2
    first = np.clip(before - 1, 0, times.size - 4)
    four = first[:, None] + np.arange(4)
    t, f = times[four] - low[:, None], values[four]
    guess = np.zeros(before.size)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for j in range(4):
            term = t[:, j].copy()
            for k in range(4):
                if k != j:
                    term *= f[:, k] / (f[:, k] - f[:, j])
            guess += term
    guess += low
    good = np.isfinite(guess) & (guess > low) & (guess < high)
    return np.where(good, guess, (low + high) / 2)


def spans_where(
    signal: Signal,
    *,
    step_s: float = STEP_S,
    start_s: float = 0.0,
    end_s: float = SPAN_S,
    extra_s: Sequence[float] | FloatArray = (),
) -> tuple[Interval, ...]:
    """Spans in which signal(t) >= 0; what it may miss is said at `Sampled`."""
    return Sampled(signal, step_s=step_s, start_s=start_s, end_s=end_s, extra_s=extra_s).at_least(0.0)
