"""Axis angles against a model of a rigid mount, and slew times against sums done by hand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from optimizer.models.rig import Mount, PierSide
from optimizer.mount.axes import HOME, Axes, axes_at, slew_s


def turned(hour_deg: float) -> np.ndarray:
    """Unit vector in the equator's plane at an hour angle; axes: meridian above the pole, west, pole."""
    return np.array([math.cos(math.radians(hour_deg)), math.sin(math.radians(hour_deg)), 0.0])


def tube_end(axes: Axes) -> np.ndarray:
    """Where the tube's end of the declination axis stands, seen from the hour axis.

    At home the counterweight is down, so the tube is up: above the hour axis, towards the meridian.
    """
    return turned(axes.hour_deg)


def looks_at(axes: Axes) -> np.ndarray:
    """Where the tube looks: at home to the pole, turned from there about the declination axis."""
    q = math.radians(axes.declination_deg)
    return math.cos(q) * np.array([0.0, 0.0, 1.0]) + math.sin(q) * turned(axes.hour_deg - 90.0)


@pytest.mark.parametrize("latitude_deg", [47.0, -33.0])
@pytest.mark.parametrize("side", ["west", "east"])
def test_both_sides_of_one_rigid_mount_look_at_the_star(side: PierSide, latitude_deg: float) -> None:
    for hour_h in (-11.0, -6.0, -2.0, 0.0, 0.5, 5.0, 11.5):
        for declination_deg in (-70.0, -20.0, 0.0, 35.0, 88.0):
            axes = axes_at(hour_h * 3600, declination_deg, side, latitude_deg)
            towards_pole = math.radians(declination_deg if latitude_deg >= 0 else -declination_deg)
            star = math.cos(towards_pole) * turned(15 * hour_h)
            star[2] = math.sin(towards_pole)
            assert looks_at(axes) == pytest.approx(star, abs=1e-12)


def test_pier_sides_are_those_of_the_open_device_standard() -> None:
    """pierEast: tube east of the pier looking west; pierWest: west of it looking east, both normal states.

    Source: ASCOM Telescope interface standard, property SideOfPier (an open device standard).
    """
    for latitude_deg in (47.0, -33.0):
        for hours in (0.5, 2.0, 5.0):
            looking_east = axes_at(-hours * 3600, 20.0, "west", latitude_deg)
            assert tube_end(looking_east)[1] > 0  # the second axis of the vectors points west
            assert looks_at(looking_east)[1] < 0
            looking_west = axes_at(hours * 3600, 20.0, "east", latitude_deg)
            assert tube_end(looking_west)[1] < 0
            assert looks_at(looking_west)[1] > 0


def test_tube_hangs_low_on_the_first_side_past_the_meridian() -> None:
    """Towards tripod and pier: that is what contact is about; flipped it stands high again."""
    assert tube_end(axes_at(-3 * 3600, 20.0, "west", 47.0))[0] > 0
    assert tube_end(axes_at(+3 * 3600, 20.0, "west", 47.0))[0] < 0
    assert tube_end(axes_at(+3 * 3600, 20.0, "east", 47.0))[0] > 0


def test_home_is_the_pole_with_the_counterweight_down() -> None:
    assert looks_at(HOME) == pytest.approx([0, 0, 1])
    assert tube_end(HOME) == pytest.approx([1, 0, 0])
    # a star at the pole 6 h from the meridian needs no motion of either axis
    assert axes_at(-6 * 3600, 90.0, "west", 47.0) == HOME
    assert axes_at(+6 * 3600, -90.0, "east", -33.0).hour_deg == 0.0


@pytest.mark.parametrize(
    ("place", "axes"),
    [
        ((-7200.0, 30.0, "west", 40.0), Axes(60.0, 60.0)),  # -30 + 90; 90 - 30
        ((-7200.0, 30.0, "west", -40.0), Axes(60.0, 120.0)),  # from the south pole: 90 + 30
        ((1800.0, 30.0, "east", 40.0), Axes(-82.5, -60.0)),  # 7.5 - 90
        ((1800.0, -30.0, "west", 40.0), Axes(97.5, 120.0)),
        ((1800.0, 10.0, None, 40.0), Axes(7.5, 80.0)),
        ((0.0, -10.0, "west", 0.0), Axes(90.0, 100.0)),  # equator: the north pole counts
    ],
)
def test_axis_angles_by_hand(place: tuple[Any, ...], axes: Axes) -> None:
    assert axes_at(*place) == axes


GERMAN = Mount(slew_deg_s=3.0, slew_extra_s=8.0)
SLEWS = [
    # home to 2 h before the meridian, 31 degrees north: p 0 -> 60, q 0 -> 59; 60 / 3 + 8 = 28 s, never less
    (GERMAN, HOME, axes_at(-7200.0, 31.0, "west", 40.0), 28),
    # 59.5 degrees of declination need more than 56.25 of hour axis: 8 + 19.83 = 27.83
    (GERMAN, HOME, axes_at(-8100.0, 30.5, "west", 40.0), 28),
    # flip at 30 min past: p 97.5 -> -82.5, q 60 -> -60; 180 / 3 + 8 = 68 s
    (
        GERMAN,
        axes_at(1800.0, 30.0, "west", 40.0),
        axes_at(1800.0, 30.0, "east", 40.0),
        68,
    ),
    # far from the pole the declination axis is slower: q 160 -> -160; 320 / 3 + 8 = 114.7
    (GERMAN, axes_at(1800.0, -70.0, "west", 40.0), axes_at(1800.0, -70.0, "east", 40.0), 115),
    # west to west, half an hour on, ten degrees up: 7.5 and 10 degrees; 8 + 3.33
    (GERMAN, axes_at(-7200.0, 20.0, "west", 40.0), axes_at(-5400.0, 30.0, "west", 40.0), 12),
    # a German mount never turns through the counterweight up side: west at -11 h to east at +11 h is
    # p -75 -> 75, 150 / 3 + 8
    (GERMAN, axes_at(-39600.0, 80.0, "west", 40.0), axes_at(39600.0, 80.0, "east", 40.0), 58),
    # a fork goes the short way round: -11 h to +11 h is 30 degrees; 8 + 10
    (
        Mount(kind="fork", slew_deg_s=3.0, slew_extra_s=8.0),
        axes_at(-39600.0, 80.0, None, 40.0),
        axes_at(39600.0, 80.0, None, 40.0),
        18,
    ),
    # a slow mount without a start-up time: 45 / 0.1
    (
        Mount(slew_deg_s=0.1, slew_extra_s=0.0),
        axes_at(-7200.0, 30.0, "west", 40.0),
        axes_at(3600.0, 30.0, "west", 40.0),
        450,
    ),
]


@pytest.mark.parametrize(("mount", "start", "end", "seconds"), SLEWS)
def test_slew_times_by_hand(mount: Mount, start: Axes, end: Axes, seconds: int) -> None:
    """Never shorter than the sum rounded up; a sum that comes out whole may take a second more (safety)."""
    assert seconds <= slew_s(mount, start, end) <= seconds + 1
    assert slew_s(mount, end, start) == slew_s(mount, start, end)


def test_fraction_of_a_second_is_rounded_up() -> None:
    """8 + 59.4 / 3 = 27.8 and 8 + 60.6 / 3 = 28.2."""
    for declination_deg, seconds in ((30.6, 28), (29.4, 29)):
        assert slew_s(GERMAN, HOME, axes_at(-7800.0, declination_deg, "west", 40.0)) == seconds


def test_slew_that_goes_nowhere_takes_its_start_and_stop() -> None:
    here = axes_at(-7200.0, 30.0, "west", 40.0)
    assert slew_s(Mount(slew_extra_s=7.5), here, here) == 8
    assert slew_s(Mount(slew_extra_s=0.0), here, here) <= 1
