"""Crossings: found, refined, and told apart from always and never."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from optimizer.sky.crossings import TOLERANCE_S, Sampled, spans_where

Floats = NDArray[np.float64]
DAY = 86400.0


def _wave(t: Floats, phase: float, turns: float) -> Floats:
    return np.asarray(np.sin(2 * math.pi * turns * t / DAY + phase))


@settings(deadline=None)
@given(st.floats(-0.999, 0.999), st.floats(0, 2 * math.pi), st.floats(0.3, 40))
def test_crossings_of_a_wave_are_where_the_arc_sine_puts_them(
    level: float, phase: float, turns: float
) -> None:
    spans = Sampled(lambda t: _wave(t, phase, turns)).at_least(level)
    rise = math.asin(level)
    expected: list[float] = []
    for turn in range(-2, int(turns) + 3):
        for angle in (rise, math.pi - rise):
            t = (angle + 2 * math.pi * turn - phase) / (2 * math.pi * turns) * DAY
            if 0.05 < t < DAY - 0.05:
                expected.append(t)
    found = [edge for span in spans for edge in span if 0.05 < edge < DAY - 0.05]
    assert found == pytest.approx(sorted(expected), abs=TOLERANCE_S)
    for start, end in spans:  # the ends lie on the right side
        assert np.all(_wave(np.array([start, end]), phase, turns) >= level)


@settings(deadline=None)
@given(st.floats(0, 2 * math.pi), st.floats(-1, 1))
def test_at_least_and_at_most_share_the_night(phase: float, level: float) -> None:
    sampled = Sampled(lambda t: _wave(t, phase, 3.0))
    above, below = (
        sum(end - start for start, end in spans)
        for spans in (sampled.at_least(level), sampled.at_most(level))
    )
    assert above + below == pytest.approx(DAY, abs=8 * TOLERANCE_S)


def test_no_crossing_means_always_or_never() -> None:
    sampled = Sampled(lambda t: _wave(t, 0.3, 1.0))
    assert sampled.at_least(-1.5) == ((0.0, DAY),)
    assert sampled.at_least(1.5) == ()
    assert sampled.at_most(1.5) == ((0.0, DAY),)
    assert sampled.at_most(-1.5) == ()


@pytest.mark.parametrize("middle", [1000.0, 1017.3, 1020.0, 1030.0, 1049.9])
@pytest.mark.parametrize("half_s", [29.0, 10.0, 2.0])
def test_a_smooth_visit_shorter_than_the_step_is_found(middle: float, half_s: float) -> None:
    # A parabola that is above 0 for 4, 20 or 58 s between samples 60 s apart.
    spans = spans_where(lambda t: half_s**2 - (t - middle) ** 2)
    assert len(spans) == 1
    assert spans[0] == pytest.approx((middle - half_s, middle + half_s), abs=TOLERANCE_S)


@pytest.mark.parametrize("half_s", [29.0, 2.0])
def test_a_smooth_gap_shorter_than_the_step_is_found(half_s: float) -> None:
    spans = spans_where(lambda t: (t - 5025.0) ** 2 - half_s**2)
    assert [edge for span in spans for edge in span] == pytest.approx(
        [0.0, 5025.0 - half_s, 5025.0 + half_s, DAY], abs=TOLERANCE_S
    )


def test_a_jump_is_found_where_it_is() -> None:
    spans = spans_where(lambda t: np.where(t < 12345.678, -5.0, 1.0))
    assert len(spans) == 1
    assert spans[0] == pytest.approx((12345.678, DAY), abs=TOLERANCE_S)
    assert spans[0][1] == DAY
    assert spans[0][0] >= 12345.678


def test_a_jump_within_a_step_needs_an_extra_sample_and_gets_it() -> None:
    def slit(t: Floats) -> Floats:
        return np.where((t > 700.0) & (t < 710.0), 1.0, -1.0)

    assert spans_where(slit) == ()  # documented: a jump shorter than a step, on no sample
    (span,) = spans_where(slit, extra_s=[705.0])
    assert span == pytest.approx((700.0, 710.0), abs=TOLERANCE_S)


def test_a_touch_on_a_sample_is_at_the_level() -> None:
    (span,) = spans_where(lambda t: -np.abs(t - 600.0))
    assert span == pytest.approx((600.0, 600.0), abs=TOLERANCE_S)


@pytest.mark.parametrize(
    ("start_s", "end_s", "step_s"), [(5.0, 5.0, 60.0), (5.0, 1.0, 60.0), (0.0, 9.0, 0.0)]
)
def test_a_search_without_length_is_refused(start_s: float, end_s: float, step_s: float) -> None:
    with pytest.raises(ValueError, match="start before its end"):
        Sampled(lambda t: t, start_s=start_s, end_s=end_s, step_s=step_s)
