"""Limits around the meridian and the arithmetic of hour angles, against the law's text worked by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from optimizer.audit.rows import EAST, NO_SIDE, WEST
from optimizer.audit.tolerances import hour_angle_s, whole_seconds
from optimizer.audit.zone import Zone, carried_s, excess
from optimizer.models.rig import Mount

R = 1.00273790935


def zone(**keys: Any) -> Zone:
    return Zone.of(Mount(**{"contact_min": 40.0, "clearance_min": 12.0, "flip_from_min": 5.0, **keys}))


@pytest.mark.parametrize(
    ("keys", "first_until", "flipped_from"),
    [
        ({}, 28 * 60, 300 * R),
        ({"clock_error_s": 20.0}, 28 * 60 - 20, 320 * R),
        ({"contact_min": 10.0}, -120 * R, 300 * R),
        ({"contact_min": 12.0}, 0.0, 300 * R),
        ({"contact_min": 12.0, "clock_error_s": 20.0}, -20 * R, 320 * R),
        ({"flip_by": "mount"}, 300.0, 300 * R),
        ({"flip_by": "mount", "contact_min": 14.0}, 120.0, 300 * R),
        ({"flip_by": "mount", "flip_from_min": -5.0, "clock_error_s": 20.0}, -320 * R, -280.0),
        ({"flip_from_min": -5.0, "contact_before_min": 30.0}, 28 * 60, -300.0),
        ({"flip_from_min": -5.0, "contact_before_min": 14.0}, 28 * 60, -120.0),
        ({"flip_from_min": -5.0, "contact_before_min": 0.0}, 28 * 60, 720 * R),
        ({"flip_from_min": 0.0, "clock_error_s": 0.0}, 28 * 60, 0.0),
    ],
)
def test_limits(keys: dict[str, Any], first_until: float, flipped_from: float) -> None:
    if keys.get("flip_from_min") == -5.0 and "contact_before_min" not in keys:
        keys = {**keys, "contact_before_min": 60.0}
    found = zone(**keys)
    assert found.first_until == pytest.approx(first_until, abs=1e-9)
    assert found.flipped_from == pytest.approx(flipped_from, abs=1e-9)
    error = keys.get("clock_error_s", 0.0)
    assert (found.first_from, found.flipped_until) == (-43200 + error, 43200 - error)


def test_wait_for_the_mounts_own_flip_is_bound_by_contact_alone() -> None:
    assert zone(flip_by="mount").reach_until == 28 * 60
    assert zone(flip_by="plan").reach_until == zone(flip_by="plan").first_until


def test_no_latest_start_reaches_beyond_the_mounts_own_flip() -> None:
    """Due 5 min past, its clock 20 s off: begun by 320 s, read by the clock, and by the second after that."""
    found = zone(flip_by="mount", clock_error_s=20.0)
    assert found.own_flip_by == pytest.approx(321 * R, abs=1e-6)
    assert found.own_flip_by < found.reach_until


@pytest.mark.parametrize("seconds", [0, 1, 3600, 43200, 86164, 86400, 170000])
def test_carried_hour_angle_counts_whole_turns(seconds: int) -> None:
    start = 43190.0
    end = (start + seconds * R + 43200) % 86400 - 43200
    carried = carried_s(np.array([start]), np.array([end]), np.array([seconds]))
    assert carried[0] == pytest.approx(seconds * R, abs=1e-6)


@pytest.mark.parametrize(
    ("side", "start", "gained", "name", "amount"),
    [
        (WEST, 1600.0, 100.0, "contact", 40.0),
        (WEST, -43190.0, 100.0, "lower_culmination", 10.0),
        (WEST, 43150.0, 100.0, "lower_culmination", 70.0),
        (WEST, 3000.0, 0.0, "contact", 1340.0),
        (WEST, -43100.0, 86400.0, "contact", 43300.0 - 1660.0),
        (EAST, 310.0, 100.0, "flip_from", 320 * R - 310),
        (EAST, 43100.0, 100.0, "lower_culmination", 20.0),
        (EAST, -43100.0, 10.0, "lower_culmination", 130.0),
        (EAST, -3000.0, 10.0, "flip_from", 320 * R + 3000),
    ],
)
def test_excess_is_counted_from_the_nearer_edge(
    side: int, start: float, gained: float, name: str, amount: float
) -> None:
    found = excess(
        zone(clock_error_s=20.0),
        np.array([side]),
        np.array([start]),
        np.array([gained]),
        np.array([zone(clock_error_s=20.0).first_until]),
    )
    assert getattr(found, name)[0] == pytest.approx(amount, abs=1e-6)


def test_no_side_has_no_zone() -> None:
    found = excess(zone(), np.array([NO_SIDE]), np.array([0.0]), np.array([10.0]), np.array([0.0]))
    assert all(np.isnan(getattr(found, name)[0]) for name in ("contact", "flip_from", "lower_culmination"))


def test_forgiven_hour_angle_grows_towards_the_pole() -> None:
    forgiven = hour_angle_s(np.array([0.0, 60.0, 89.9, 90.0])) * 15
    assert forgiven[:2] == pytest.approx([0.2, 0.25])
    assert forgiven[2] == pytest.approx(0.15 + 0.05 / np.cos(np.radians(89.9)))
    assert np.isfinite(forgiven[3])


@pytest.mark.parametrize(
    ("length", "whole"), [(0.0, 0), (0.1, 1), (1.0, 1), (1.0001, 2), (120.1 + 2.9, 123), (100.0, 100)]
)
def test_durations_round_up_but_for_the_dust_of_binary_sums(length: float, whole: int) -> None:
    assert whole_seconds(length) == whole
