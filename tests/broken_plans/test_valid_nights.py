"""Nights that keep every rule pass without a word; each for reasons that its docstring tells."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from optimizer.audit import audit_steps
from tests.support.checks import there
from tests.support.hand_laid.mutations import bare, changed, number_of
from tests.support.hand_laid.night_builder import Almanac
from tests.support.hand_laid.night_cases import VALID, Night, by_itself, flipped, fork, standing, tight


@pytest.mark.parametrize("night", VALID, ids=lambda night: night.__name__)
def test_valid_night_passes(night: Callable[[], Night]) -> None:
    request, steps = night()
    report = audit_steps(request, steps)
    assert report.violations == ()
    assert len(set(report.rules)) == len(report.rules) >= 40


@pytest.mark.parametrize("night", VALID, ids=lambda night: night.__name__)
def test_hand_typed_night_without_sky_columns_passes(night: Callable[[], Night]) -> None:
    request, steps = bare(night())
    assert audit_steps(request, steps).violations == ()


def test_nights_hold_what_they_claim() -> None:
    hours = {step.step: step.hour_angle_h or 0 for step in flipped().steps}
    assert hours[number_of(flipped(), "slew")] < 0 < hours[number_of(flipped(), "expose", 5)], (
        "not across the meridian"
    )
    waits = [step for night in (tight(), by_itself()) for step in night.steps if step.kind == "wait"]
    assert [step.tracking for step in waits] == [False, True]
    kinds = {step.kind for night in VALID for step in night().steps}
    assert len(kinds) == 11


def test_empty_list_moves_nothing() -> None:
    report = audit_steps(flipped().request, ())
    assert report.violations == ()
    assert report.least_margin_min is None


def test_margin_is_from_the_last_tracking_of_the_first_side_to_contact() -> None:
    """`standing` leaves the west at its last shutter's closing; the fork has no such thing."""
    request, steps = standing()
    last = max(step.step for step in steps if step.kind == "expose" and step.pier_side == "west")
    opened = steps[last - 1]
    closes_min = (opened.hour_angle_h or 0) * 60 + 1.00273790935 * (opened.exposure_s or 0) / 60
    margin = audit_steps(request, steps).least_margin_min
    assert margin == pytest.approx(there(request.mount.contact_min) - closes_min, abs=1e-3)
    assert audit_steps(*fork()).least_margin_min is None


def test_margin_counts_the_wait_that_tracks_to_the_flip() -> None:
    request, steps = flipped()
    flip = steps[number_of(flipped(), "flip") - 1]
    hour_angle_min = Almanac(request).hour_angle_s("Cradle", flip.start_utc)[0] / 60
    margin = audit_steps(request, steps).least_margin_min
    assert margin == pytest.approx(request.mount.contact_min - hour_angle_min, abs=1e-3)


def test_margin_is_told_only_where_contact_was_measured() -> None:
    request, steps = standing()
    assert audit_steps(changed(request, "mount.contact_min", None), steps).least_margin_min is None


def test_margin_without_the_first_side_is_none() -> None:
    request, steps = bare(flipped())
    flip = number_of(flipped(), "flip")
    east = tuple(step for step in steps if step.step >= flip)
    assert audit_steps(changed(request, "mount.contact_min", 20.0), east).least_margin_min is None
