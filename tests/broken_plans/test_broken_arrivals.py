"""Arrivals that go wrong: their steps and order, the rotator, the filters."""

from __future__ import annotations

from functools import lru_cache

import pytest

from tests.support.hand_laid.mutations import (
    Case,
    asking,
    bare,
    edited,
    ids,
    inserted,
    judge_broken,
    judge_twin,
    number_of,
    without,
)
from tests.support.hand_laid.night_builder import NightBuilder
from tests.support.hand_laid.night_cases import (
    Night,
    at,
    flipped,
    fork,
    moonlit,
    request,
    southern,
    tight,
    turned,
)

SLEW, CENTRE, SETTLE, FILTER, FOCUS, EXPOSE = 1, 2, 3, 4, 5, 6
FLIP = number_of(flipped(), "flip")
ROTATE = number_of(turned(), "rotate")
EAST = [step.step for step in flipped().steps if step.pier_side == "east"]


def at_once() -> Night:
    """Filters that change in no time, with their rows all the same: who runs the list must be told."""
    asked = request(filters=[{"name": "L", "change_s": 0.0}, {"name": "R", "change_s": 0.0}])
    night = NightBuilder(asked, at("2026-11-14T22:30:00")).slew("Cradle", "west").set_filter("L").focus()
    night.expose(2).set_filter("R").focus().expose(2, goal=1)
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
            "light_path",
            lambda: without(tight(), FILTER),
            tight,
            FILTER + 1,
            1,
            "changes",
        ),
        Case(
            "no row for a change that takes no time",
            "light_path",
            lambda: without(at_once(), number_of(at_once(), "filter", 1)),
            at_once,
            number_of(at_once(), "filter", 1),
            1,
            "changes",
        ),
        Case("the wrong filter", "light_path", lambda: edited(bare(fork()), FILTER, filter="R"), None, FOCUS),
        Case("no change between runs", "light_path", lambda: without(flipped(), 10), None, 10),
        Case(
            "a needless change",
            "light_path",
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
            "light_path",
            lambda: inserted(flipped(), FLIP + 3, 6, kind="filter", filter="R"),
            None,
            FLIP + 3,
        ),
        Case(
            "a dither in another filter",
            "light_path",
            lambda: edited(flipped(), number_of(flipped(), "dither"), filter="R"),
            flipped,
            8,
        ),
    ]


CASES = [*arrivals(), *rotator(), *filters()]
TWINS = [case for case in CASES if case.twin is not None]


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_broken_arrival_is_caught_under_its_rule(case: Case) -> None:
    judge_broken(case)


@pytest.mark.parametrize("case", TWINS, ids=ids(TWINS))
def test_nearest_allowed_arrival_passes(case: Case) -> None:
    judge_twin(case)
