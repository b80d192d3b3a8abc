"""Visits that go wrong: pier sides, runs, counts, lengths, a shutter open in a flip."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache, partial

import pytest

from tests.support.hand_laid.mutations import (
    Case,
    asking,
    bare,
    boundary,
    edited,
    edited_all,
    ids,
    judge_broken,
    judge_twin,
    number_of,
    stretched,
)
from tests.support.hand_laid.night_builder import NightBuilder
from tests.support.hand_laid.night_cases import (
    CRADLE,
    Night,
    at,
    flipped,
    fork,
    request,
    southern,
    standing,
    target,
    tight,
)

SLEW, CENTRE, SETTLE, FILTER, FOCUS, EXPOSE = 1, 2, 3, 4, 5, 6
FLIP = number_of(flipped(), "flip")
EAST = [step.step for step in flipped().steps if step.pier_side == "east"]


def thrice(times: int) -> Night:
    """So many visits of one exposure on the same side."""
    asked = request()
    night = NightBuilder(asked, at("2026-11-14T22:00:00"))
    for _ in range(times):
        night.slew("Cradle", "west").set_filter("L").focus().expose(1)
        night.wait_until(night.now + dt.timedelta(minutes=1))
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


def beside_transit(wish: str, seconds: int) -> Night:
    """A fork whose exposure closes so late after the last second before the transit, or opens so early."""
    asked = request(mount={"kind": "fork"}, targets=[target(CRADLE, sides=wish)])
    night = NightBuilder(asked, at("2026-11-14T23:40:00")).slew("Cradle").set_filter("L").focus()
    transit = night.almanac.when_hour_angle("Cradle", 0.0, night.now)
    before = night.almanac.hour_angle_s("Cradle", transit)[0] < 0
    if wish == "before":
        shut = transit + dt.timedelta(seconds=seconds if before else seconds - 1)
        night.wait_until(shut - dt.timedelta(seconds=120), tracking=True)
    else:
        night.wait_until(transit + dt.timedelta(seconds=1 - seconds if before else -seconds), tracking=True)
    return Night(asked, night.expose(1).park().steps())


def sides() -> list[Case]:
    return [
        *(
            Case(
                f"a fork a second on the wrong side, wanted {wish}",
                "sides",
                partial(beside_transit, wish, 1),
                partial(beside_transit, wish, 0),
                None,
                None,
                "s",
            )
            for wish in ("before", "after")
        ),
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
            lambda: edited(standing(), FLIP, kind="slew"),
            None,
            FLIP,
            also=frozenset({"light_path"}),
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


CASES = [*sides(), *wholes()]
TWINS = [case for case in CASES if case.twin is not None]


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_broken_visit_is_caught_under_its_rule(case: Case) -> None:
    judge_broken(case)


@pytest.mark.parametrize("case", TWINS, ids=ids(TWINS))
def test_nearest_allowed_visit_passes(case: Case) -> None:
    judge_twin(case)
