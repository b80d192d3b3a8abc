"""Subs that last longer than the request says: the mount tracks on, though the shutter has long closed."""

from __future__ import annotations

import pytest

from optimizer.audit import audit_steps
from tests.support.hand_laid.mutations import (
    Case,
    asking,
    boundary,
    ids,
    judge_broken,
    judge_twin,
    number_of,
    shutter_close,
    stretched,
)
from tests.support.hand_laid.night_builder import Almanac, R
from tests.support.hand_laid.night_cases import Night, dawn, flipped, tight

LAST_WEST = number_of(tight(), "wait") - 1
LAST = number_of(dawn(), "expose")


def room_s() -> float:
    """Seconds from the last shutter's closing on pier side west until that side must be left."""
    mount, closes = tight().request.mount, shutter_close(tight().steps[LAST_WEST - 1])
    assert mount.contact_min is not None
    limit_s = (mount.contact_min - mount.clearance_min) * 60 - mount.clock_error_s
    now_s = float(Almanac(tight().request).hour_angle_s("Cradle", closes)[0])
    return (min(limit_s, limit_s * R) - now_s) / R


def lasting(seconds: float) -> Night:
    """The last sub before the wait without tracking lasts longer, the wait is shorter, the flip in time."""
    quick = asking(tight(), mount__slew_deg_s=6.0)
    return boundary(quick, LAST_WEST, int(seconds))


CASES = [
    Case(
        "a sub that lasts a second too long tracks past the limit",
        "contact",
        lambda: lasting(room_s() + 1),
        lambda: lasting(room_s() - 1),
        LAST_WEST,
        None,
        "s",
    ),
    Case(
        "a sub that lasts past sunrise follows the sky by day",
        "sun_down",
        lambda: stretched(dawn(), LAST, 60),
        dawn,
        LAST,
        None,
        "deg",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_the_time_by_which_a_sub_lasts_longer_is_tracked(case: Case) -> None:
    """As dangerous as a wait that tracks: the rule names the sub."""
    judge_broken(case)


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_its_twin_is_whole(case: Case) -> None:
    """A second less, or as long as the request says, breaks nothing."""
    judge_twin(case)


def test_the_margin_to_contact_counts_a_sub_that_lasts_longer() -> None:
    """As if the mount had waited, tracking, for as long."""
    before, after = (audit_steps(*lasting(seconds)).least_margin_min for seconds in (0, 60))
    assert before is not None
    assert after is not None
    assert before - after == pytest.approx(R, abs=0.001)


def test_a_sub_that_lasts_longer_far_from_every_limit_breaks_nothing() -> None:
    """A slow download is no danger by itself."""
    night = flipped()
    number = number_of(night, "expose", 1)
    assert audit_steps(*stretched(night, number, 5)).violations == audit_steps(*night).violations
