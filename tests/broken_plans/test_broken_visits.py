"""Visits that go wrong: arrivals, rotator, filters, pier sides, runs, counts, lengths."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

import pytest
from mutations import (
    Case,
    asking,
    bare,
    boundary,
    edited,
    edited_all,
    ids,
    inserted,
    judge_broken,
    judge_twin,
    number_of,
    stretched,
    without,
)
from night_builder import NightBuilder
from night_cases import (
    CRADLE,
    Night,
    at,
    flipped,
    fork,
    moonlit,
    request,
    southern,
    target,
    tight,
    turned,
)

SLEW, CENTRE, SETTLE, FILTER, FOCUS, EXPOSE = 1, 2, 3, 4, 5, 6
FLIP = number_of(flipped(), "flip")
WAIT = number_of(flipped(), "wait")
ROTATE = number_of(turned(), "rotate")
EAST = [step.step for step in flipped().steps if step.pier_side == "east"]


def at_once(**parts: object) -> Night:
    """Filters that change in no time, and no rows for them."""
    asked = request(filters=[{"name": "L", "change_s": 0.0}, {"name": "R", "change_s": 0.0}], **parts)
    night = NightBuilder(asked, at("2026-11-14T22:30:00")).slew("Cradle", "west").focus().expose(2).focus()
    return Night(asked, night.expose(2, goal=1).park().steps())


def thrice(times: int) -> Night:
    """So many visits of one exposure on the same side."""
    asked = request()
    night = NightBuilder(asked, at("2026-11-14T22:00:00"))
    for _ in range(times):
        night.slew("Cradle", "west").set_filter("L").focus().expose(1)
        night.wait_until(night.now + dt.timedelta(minutes=1))
    return Night(asked, night.park().steps())


@lru_cache
def instant_mount() -> Night:
    """Centring and settling that take no time have no rows."""
    asked = request(mount={"centre_s": 0.0, "settle_s": 0.0})
    night = (
        NightBuilder(asked, at("2026-11-14T22:00:00"))
        .slew("Cradle", "west")
        .set_filter("L")
        .focus()
        .expose(2)
    )
    return Night(asked, night.park().steps())


def back_again(other: bool) -> Night:
    """Goal L, goal R, then goal L (or another goal in L) once more in the same visit."""
    goals = (
        {"filter": "L", "exposure_s": 120.0, "frames": 8},
        {"filter": "R", "exposure_s": 60.0, "frames": 8},
        {"filter": "L", "exposure_s": 30.0, "frames": 8},
    )
    asked = request(targets=[target(CRADLE, *goals)])
    night = (
        NightBuilder(asked, at("2026-11-14T22:00:00"))
        .slew("Cradle", "west")
        .set_filter("L")
        .focus()
        .expose(2)
    )
    night.set_filter("R").focus().expose(2, goal=1).set_filter("L").focus().expose(1, goal=2 if other else 0)
    return Night(asked, night.park().steps())


def paused(same_goal: bool) -> Night:
    """A tracking wait before a run, or in the midst of one."""
    night = NightBuilder(request(), at("2026-11-14T22:00:00")).slew("Cradle", "west").set_filter("L").focus()
    if same_goal:
        night.expose(1)
    night.wait_until(night.now + dt.timedelta(minutes=2), tracking=True).expose(1)
    return Night(night.request, night.park().steps())


@lru_cache
def west_only() -> Night:
    """Two exposures long before the transit."""
    night = NightBuilder(request(), at("2026-11-14T22:00:00")).slew("Cradle", "west").set_filter("L").focus()
    return Night(night.request, night.expose(2).park().steps())


@lru_cache
def direct() -> Night:
    """The flip follows at once on the download of an exposure that was open across the meridian."""
    night = NightBuilder(request(), at("2026-11-14T23:50:00")).slew("Cradle", "west").set_filter("L").focus()
    night.now = night.almanac.when_hour_angle("Cradle", 200.0, night.now) - dt.timedelta(seconds=100)
    night.rows[-1]["end_utc"] = night.now
    return Night(night.request, night.expose(2).flip().focus().expose(2).park().steps())


def arrivals() -> list[Case]:
    return [
        Case("no centring", "acquired", lambda: without(flipped(), CENTRE), instant_mount, None, 1, "steps"),
        Case("no settling", "acquired", lambda: without(flipped(), SETTLE), None, None, 1),
        Case("no settling after the flip", "acquired", lambda: without(flipped(), FLIP + 2), None, None, 1),
        Case(
            "settled before it was centred",
            "acquired",
            lambda: edited(edited(flipped(), CENTRE, kind="settle"), SETTLE, kind="centre"),
            None,
            SETTLE,
            also=frozenset({"step_length"}),
        ),
        Case(
            "filter after the focus run",
            "acquired",
            lambda: edited(
                edited(flipped(), FILTER, kind="focus", filter=None), FOCUS, kind="filter", filter="L"
            ),
            None,
            FOCUS,
            also=frozenset({"step_length", "focus_filter"}),
        ),
        Case(
            "centring in the midst of a run",
            "acquired",
            lambda: edited(flipped(), number_of(flipped(), "dither"), kind="centre", filter=None),
            None,
            8,
            also=frozenset({"step_length", "one_run"}),
        ),
        Case(
            "nothing was ever slewed to", "acquired", lambda: edited(flipped(), SLEW, kind="wait"), None, SLEW
        ),
        Case(
            "an exposure after an idle wait",
            "acquired",
            lambda: edited(
                edited(bare(moonlit()), number_of(moonlit(), "wait"), tracking=False), 10, target=None
            ),
            moonlit,
            number_of(moonlit(), "filter", 1),
        ),
        Case(
            "another target than the mount is on",
            "acquired",
            lambda: edited(
                bare(southern()), 6, target="Sculptor", ra_deg=11.9, dec_deg=-25.3, position_angle_deg=350.0
            ),
            southern,
            6,
            also=frozenset({"sides", "contact"}),
        ),
        Case(
            "an exposure on the other side than the tube",
            "acquired",
            lambda: edited(bare(flipped()), EAST[-1], pier_side="west", position_angle_deg=30.0),
            flipped,
            EAST[-1],
        ),
        Case(
            "a wait before centring",
            "acquired",
            lambda: inserted(flipped(), CENTRE, 20, kind="wait", tracking=True),
            lambda: inserted(flipped(), FILTER, 20, kind="wait", tracking=True, filter=None),
            CENTRE,
            2,
            "steps",
        ),
    ]


def rotator() -> list[Case]:
    return [
        Case(
            "not turned after the flip",
            "rotator",
            lambda: without(turned(), ROTATE),
            turned,
            None,
            180,
            "deg",
        ),
        Case(
            "turned though it should not be",
            "rotator",
            lambda: asking(turned(), mount__turn_rotator_after_flip=False),
            None,
            ROTATE,
            180,
            also=frozenset({"position_angle"}),
        ),
        Case(
            "turned on the first visit",
            "rotator",
            lambda: inserted(turned(), FILTER, 30, kind="rotate", filter=None),
            None,
            FILTER,
        ),
        Case(
            "turned twice",
            "rotator",
            lambda: inserted(turned(), ROTATE, 30),
            None,
            ROTATE + 1,
            also=frozenset({"acquired"}),
        ),
    ]


def filters() -> list[Case]:
    return [
        Case(
            "no filter after the slew",
            "filter_set",
            lambda: without(tight(), FILTER),
            lambda: at_once(),
            FILTER + 1,
            1,
            "changes",
        ),
        Case("the wrong filter", "filter_set", lambda: edited(bare(fork()), FILTER, filter="R"), None, FOCUS),
        Case("no change between runs", "filter_set", lambda: without(flipped(), 10), None, 10),
        Case(
            "a needless change",
            "filter_set",
            lambda: inserted(
                flipped(),
                9,
                8,
                kind="filter",
                filter="L",
                exposure_s=None,
                gain=None,
                offset=None,
                binning=None,
            ),
            None,
            9,
            also=frozenset({"one_run", "focus_filter", "dither_every"}),
        ),
        Case(
            "set again after the flip",
            "filter_set",
            lambda: inserted(flipped(), FLIP + 3, 6, kind="filter", filter="R"),
            None,
            FLIP + 3,
        ),
        Case(
            "a dither in another filter",
            "filter_set",
            lambda: edited(flipped(), number_of(flipped(), "dither"), filter="R"),
            flipped,
            8,
        ),
    ]


def sides() -> list[Case]:
    return [
        Case(
            "no side",
            "pier_side",
            lambda: edited(flipped(), SETTLE, pier_side=None),
            None,
            SETTLE,
            1,
            "sides",
        ),
        Case("a side on a fork", "pier_side", lambda: edited(fork(), SETTLE, pier_side="west"), fork, SETTLE),
        Case(
            "a fork that flips",
            "pier_side",
            lambda: edited(fork(), 11, kind="flip"),
            fork,
            11,
            also=frozenset({"acquired", "focus_after_flip"}),
        ),
        Case(
            "settling on the other side",
            "pier_side",
            lambda: edited(flipped(), EAST[2], pier_side="west", position_angle_deg=30.0),
            flipped,
            EAST[2],
        ),
        Case(
            "slewed from west to east",
            "pier_side",
            lambda: edited(flipped(), FLIP, kind="slew"),
            None,
            FLIP,
            also=frozenset({"filter_set"}),
        ),
        Case("flipped from nowhere", "pier_side", lambda: edited(southern(), SLEW, kind="flip"), None, SLEW),
        Case(
            "flipped to the west", "pier_side", lambda: edited(bare(tight()), SLEW, kind="flip"), None, SLEW
        ),
        Case(
            "all of it on the wrong side",
            "flip_from",
            lambda: edited_all(bare(west_only()), range(1, 8), pier_side="east", position_angle_deg=210.0),
            west_only,
            SLEW,
            also=frozenset({"slew_time"}),
        ),
        Case(
            "after the transit though wanted before",
            "sides",
            lambda: asking(flipped(), targets__0__sides="before"),
            lambda: asking(southern(), targets__0__sides="either"),
            FLIP,
            len(EAST),
            "steps",
        ),
        Case(
            "before the transit though wanted after",
            "sides",
            lambda: asking(flipped(), targets__0__sides="after"),
            None,
            SLEW,
        ),
        Case(
            "a flip though it may never flip",
            "sides",
            lambda: asking(flipped(), mount__flip_by="never"),
            lambda: asking(southern(), mount__flip_by="never"),
            FLIP,
            1,
            "steps",
        ),
    ]


def wholes() -> list[Case]:
    return [
        Case(
            "two runs of a goal",
            "one_run",
            lambda: back_again(False),
            lambda: back_again(True),
            14,
            1,
            "runs",
        ),
        Case(
            "a wait in the midst of a run",
            "one_run",
            lambda: paused(True),
            lambda: paused(False),
            None,
            1,
            "runs",
        ),
        Case("three visits on a side", "visits", lambda: thrice(3), lambda: thrice(2), 15, 1, "visits"),
        Case(
            "a visit too short by a second",
            "least_visit",
            lambda: asking(tight(), targets__0__least_min=(2 * 120 + 1) / 60),
            lambda: asking(tight(), targets__0__least_min=2 * 120 / 60),
            number_of(tight(), "flip"),
            1,
            "s",
        ),
        Case(
            "the shutter open in a flip",
            "straddle",
            lambda: boundary(direct(), number_of(direct(), "flip") - 1, -10),
            lambda: boundary(
                stretched(direct(), number_of(direct(), "flip") - 1, 10), number_of(direct(), "flip") - 1, -10
            ),
            number_of(direct(), "flip") - 1,
            7,
            "s",
            also=frozenset({"step_length"}),
        ),
    ]


CASES = [*arrivals(), *rotator(), *filters(), *sides(), *wholes()]
TWINS = [case for case in CASES if case.twin is not None]


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_broken_visit_is_caught_under_its_rule(case: Case) -> None:
    judge_broken(case)


@pytest.mark.parametrize("case", TWINS, ids=ids(TWINS))
def test_nearest_allowed_visit_passes(case: Case) -> None:
    judge_twin(case)
