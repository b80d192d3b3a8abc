"""Where each pier side may track: the law's formulas, worked out by hand, and the spans of time they give."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.models.rig import Mount
from optimizer.mount.zones import (
    SIDEREAL_RATE,
    clearance_from_s,
    first_side_until_s,
    flipped_side_from_s,
    times_within,
    zone_s,
)

R = 1.00273790935  # sidereal over clock time, as in the law (LAW.md)
NIGHT_S = 86400.0


def a_mount(**keys: Any) -> Mount:
    return Mount.model_validate({"contact_min": 40.0, "clearance_min": 12.0, "clock_error_s": 20.0, **keys})


@pytest.mark.parametrize(
    ("contact_min", "clearance_min", "error_s", "until_s"),
    [
        (40.0, 12.0, 20.0, 1660.0),  # 28 min = 1680 s, less 20; a minute of hour angle is the sooner one
        (12.0, 12.0, 0.0, 0.0),
        (12.0, 12.0, 20.0, -20.0 * R),  # before the meridian the clock's minute is the sooner one
        (5.0, 15.0, 0.0, -600.0 * R),  # -10 min = -600 s -> -601.643 s of hour angle
        (-30.0, 10.0, 60.0, -2460.0 * R),  # -40 min = -2400 s, less 60
        (360.0, 0.0, 0.0, 21600.0),
    ],
)
def test_first_side_ends_before_contact(
    contact_min: float, clearance_min: float, error_s: float, until_s: float
) -> None:
    mount = a_mount(contact_min=contact_min, clearance_min=clearance_min, clock_error_s=error_s)
    assert first_side_until_s(mount) == pytest.approx(until_s, abs=1e-9)
    assert zone_s(mount, "west") == (-43200.0 + error_s, first_side_until_s(mount))


def test_safer_reading_of_a_minute_is_profit_a_second_and_a_half_at_ten_minutes() -> None:
    """600 s x 0.00273790935 = 1.643 s."""
    before = a_mount(contact_min=2.0, clock_error_s=0.0)
    assert first_side_until_s(before) == pytest.approx(-601.643, abs=5e-4)
    after = a_mount(flip_from_min=10.0, clock_error_s=0.0)
    assert flipped_side_from_s(after) == pytest.approx(601.643, abs=5e-4)


@pytest.mark.parametrize(
    ("flip_from_min", "error_s", "from_s"),
    [
        (5.0, 20.0, 320.0 * R),  # 300 s + 20: the later reading is the clock's
        (0.0, 0.0, 0.0),
        (-1.0, 60.0, 0.0),  # the error carries it to the meridian exactly: nothing touches before it there
        (360.0, 600.0, 22200.0 * R),
    ],
)
def test_flipped_side_begins_no_sooner_than_the_mount_takes_a_flip(
    flip_from_min: float, error_s: float, from_s: float
) -> None:
    mount = a_mount(flip_from_min=flip_from_min, clock_error_s=error_s, contact_before_min=0.0)
    assert flipped_side_from_s(mount) == pytest.approx(from_s, abs=1e-9)
    assert zone_s(mount, "east") == (flipped_side_from_s(mount), 43200.0 - error_s)


@pytest.mark.parametrize(
    ("flip_from_min", "contact_before_min", "from_s"),
    [
        # y = -900 + 20 = -880; it would touch 20 min before: -(20 - 12) min = -480, + 20 = -460
        (-15.0, 20.0, -460.0),
        (-5.0, 20.0, -280.0),  # y = -280, later than -460: the mount's own beginning binds
        (-15.0, 26.5, -850.0),  # -(26.5 - 12) min = -870, + 20 = -850, later than -880
        (-15.0, 27.5, -880.0),  # -930 + 20 = -910: now the mount's own beginning binds
        (-15.0, 12.0, 20.0 * R),  # no room before the meridian at all but for the clock's error
        (-15.0, 0.0, 740.0 * R),  # not measured: the clearance reaches 12 min past the meridian, + 20 s
        (-0.5, 0.0, 740.0 * R),  # y = -10 < 0: asked as well
    ],
)
def test_flipped_side_before_the_meridian_keeps_clear_of_its_own_contact(
    flip_from_min: float, contact_before_min: float, from_s: float
) -> None:
    mount = a_mount(flip_from_min=flip_from_min, contact_before_min=contact_before_min)
    assert flipped_side_from_s(mount) == pytest.approx(from_s, abs=1e-9)


@pytest.mark.parametrize(
    ("flip_from_min", "contact_min", "until_s"),
    [
        (5.0, 40.0, 280.0),  # it flips by itself from 300 s on, the clock 20 s off
        (5.0, 12.0, -20.0 * R),  # contact binds sooner
        (-5.0, 40.0, -320.0 * R),  # 300 s before the meridian, and 20 more
        (28.0, 40.0, 1660.0),  # both the same
    ],
)
def test_mount_that_flips_by_itself_ends_the_first_side(
    flip_from_min: float, contact_min: float, until_s: float
) -> None:
    mount = a_mount(flip_from_min=flip_from_min, contact_min=contact_min, flip_by="mount")
    assert first_side_until_s(mount) == pytest.approx(until_s, abs=1e-9)
    assert clearance_from_s(mount) == first_side_until_s(mount.model_copy(update={"flip_by": "plan"}))


def test_who_flips_changes_nothing_else() -> None:
    plan, never = a_mount(flip_by="plan"), a_mount(flip_by="never")
    for side in ("west", "east"):
        assert zone_s(plan, side) == zone_s(never, side)
    assert zone_s(plan, "east") == zone_s(a_mount(flip_by="mount"), "east")


def test_without_a_measured_contact_nothing_passes_the_meridian() -> None:
    for keys in ({}, {"clearance_min": 3.0}, {"clearance_min": 60}):
        assert first_side_until_s(Mount.model_validate(keys)) == 0.0
    # a clearance alone never moves the end past the meridian, a clock error moves it before
    assert first_side_until_s(Mount(clearance_min=20.0, clock_error_s=30.0)) == pytest.approx(-30 * R)


def test_fork_has_no_zone() -> None:
    assert zone_s(Mount(kind="fork"), None) == (-math.inf, math.inf)


class EvenTrack:
    """A star whose hour angle runs evenly from a value at the night's origin."""

    def __init__(self, at_origin_s: float) -> None:
        self.at_origin_s = at_origin_s

    def hour_angle_s(self, t_s: Any) -> Any:
        turned = np.asarray(self.at_origin_s + SIDEREAL_RATE * np.asarray(t_s, dtype=float))
        wrapped = (turned + 43200.0) % 86400.0 - 43200.0
        return np.where(wrapped <= -43200.0, 43200.0, wrapped)


@settings(max_examples=300, deadline=None)
@given(
    at_origin_s=st.floats(-43199, 43200),
    low_s=st.floats(-43200, 43200),
    high_s=st.floats(-43200, 43200),
    at_s=st.floats(0, NIGHT_S),
)
def test_times_within_are_all_the_times_within(
    at_origin_s: float, low_s: float, high_s: float, at_s: float
) -> None:
    track = EvenTrack(at_origin_s)
    spans = times_within(track, low_s, high_s, NIGHT_S)  # type: ignore[arg-type]
    edges = [edge for span in spans for edge in span]
    assert edges == sorted(edges)
    assert all(0.0 <= edge <= NIGHT_S for edge in edges)
    hour_angle_s = float(track.hour_angle_s(at_s))
    # the lower culmination belongs to both ends of the circle
    beside = min(abs(hour_angle_s - low_s), abs(hour_angle_s - high_s), 43200.0 - abs(hour_angle_s))
    if beside > 1e-3:
        inside = any(start <= at_s <= end for start, end in spans)
        assert inside == (low_s < hour_angle_s < high_s)


def test_star_that_transits_twice_has_its_zone_twice() -> None:
    """The stars turn in 86400 / 1.0027378119 = 86164.0989 s: what transits at 100 s does so twice a night."""
    track = EvenTrack(-100.0 * SIDEREAL_RATE)
    spans = times_within(track, -60.0, 60.0, NIGHT_S)  # type: ignore[arg-type]
    middles = [(start + end) / 2 for start, end in spans]
    assert middles == pytest.approx([100.0, 100.0 + 86164.0989], abs=1e-3)
    assert [end - start for start, end in spans] == pytest.approx([120 / SIDEREAL_RATE] * 2, abs=1e-3)
    # the first side's zone, cut by the night's end: from 12 h before the second transit on
    assert len(times_within(track, -43180.0, 0.0, NIGHT_S)) == 2  # type: ignore[arg-type]


def test_zone_that_ends_before_it_begins_has_no_time() -> None:
    track = EvenTrack(0.0)
    assert times_within(track, 100.0, 100.0, NIGHT_S) == []  # type: ignore[arg-type]
    assert times_within(track, 100.0, 99.0, NIGHT_S) == []  # type: ignore[arg-type]
    assert times_within(track, -math.inf, math.inf, NIGHT_S) == [(0.0, NIGHT_S)]  # type: ignore[arg-type]
