"""Focus runs, dithers and tracking flags that are missing, late or wrong."""

from __future__ import annotations

from functools import lru_cache

import pytest

from tests.support.hand_laid.mutations import (
    Case,
    asking,
    bare,
    boundary,
    edited,
    ids,
    inserted,
    judge_broken,
    judge_twin,
    number_of,
    shutter_close,
    without,
)
from tests.support.hand_laid.night_builder import NightBuilder
from tests.support.hand_laid.night_cases import (
    Night,
    at,
    by_itself,
    flipped,
    fork,
    moonlit,
    request,
    southern,
    tight,
)

FLIP = number_of(flipped(), "flip")


def longest_since_focus_s() -> int:
    """From the end of a focus run to the last closing before the next one, over the night with a flip."""
    focused, longest = None, 0
    for step in flipped().steps:
        if step.kind == "focus":
            focused = step.end_utc
        elif step.kind == "expose" and focused is not None:
            longest = max(longest, round((shutter_close(step) - focused).total_seconds()))
    return longest


@lru_cache
def refocused(dithered: bool) -> Night:
    """A long run with a focus run in its midst, followed by a dither or not."""
    night = NightBuilder(request(), at("2026-11-14T22:00:00")).slew("Cradle", "west").set_filter("L").focus()
    night.expose(1).focus()
    if dithered:
        night.dither()
    return Night(night.request, night.expose(2).park().steps())


@lru_cache
def no_time_at_all() -> Night:
    """Filters that change in no time, each with its row all the same."""
    filters = [{"name": "L", "change_s": 0.0}, {"name": "R", "change_s": 0.0}]
    night = NightBuilder(request(filters=filters), at("2026-11-14T22:30:00")).slew("Cradle", "west")
    night.set_filter("L").focus().expose(2).set_filter("R").focus().expose(2, goal=1)
    return Night(night.request, night.park().steps())


@lru_cache
def careless() -> Night:
    """A rig that asks for no focus run ever has none."""
    asked = request(focus={"on_new_target": False, "on_filter_change": False, "every_min": 0.0})
    night = NightBuilder(asked, at("2026-11-14T22:00:00")).slew("Cradle", "west").set_filter("L").expose(2)
    return Night(asked, night.set_filter("R").expose(2, goal=1).park().steps())


def focus() -> list[Case]:
    every = longest_since_focus_s()
    return [
        Case(
            "not after the slew",
            "focus_new_target",
            lambda: asking(without(fork(), 5), focus__on_filter_change=False),
            careless,
            5,
            1,
            "runs",
            frozenset({"focus_every"}),
        ),
        Case(
            "not on the second target",
            "focus_new_target",
            lambda: asking(without(fork(), number_of(fork(), "focus", 1)), focus__on_filter_change=False),
            None,
            number_of(fork(), "focus", 1),
            1,
        ),
        Case(
            "not after the flip",
            "focus_after_flip",
            lambda: without(flipped(), FLIP + 3),
            lambda: asking(without(flipped(), FLIP + 3), mount__refocus_after_flip=False),
            FLIP + 3,
            1,
        ),
        Case(
            "not after the change of filter",
            "focus_filter",
            lambda: without(flipped(), 11),
            lambda: asking(without(flipped(), 11), focus__on_filter_change=False),
            11,
            1,
        ),
        Case(
            "not after a change that takes no time",
            "focus_filter",
            lambda: without(no_time_at_all(), number_of(no_time_at_all(), "focus", 1)),
            no_time_at_all,
            number_of(no_time_at_all(), "focus", 1),
        ),
        Case(
            "a second too long ago",
            "focus_every",
            lambda: asking(flipped(), focus__every_min=(every - 1) / 60),
            lambda: asking(flipped(), focus__every_min=every / 60),
            None,
            1,
            "s",
        ),
        Case(
            "never in the night",
            "focus_every",
            lambda: asking(careless(), focus__every_min=60.0),
            lambda: asking(careless(), focus__every_min=0.0),
            5,
            1,
            "runs",
        ),
    ]


def dithers() -> list[Case]:
    dither = number_of(flipped(), "dither")
    return [
        Case(
            "one exposure too many without",
            "dither_every",
            lambda: without(flipped(), dither),
            flipped,
            dither,
            1,
            "subs",
        ),
        Case(
            "asked for after each",
            "dither_every",
            lambda: asking(flipped(), camera__dither_every=1),
            lambda: asking(without(flipped(), dither), camera__dither_every=3),
            7,
            1,
        ),
        Case(
            "none after the focus run in a run",
            "dither_every",
            lambda: refocused(False),
            lambda: refocused(True),
            8,
            1,
            "dithers",
        ),
        Case(
            "before the first exposure",
            "dither_every",
            lambda: inserted(
                tight(), 6, 12, kind="dither", exposure_s=None, gain=None, offset=None, binning=None
            ),
            lambda: asking(without(flipped(), dither), camera__dither_every=0),
            6,
            1,
        ),
        Case(
            "after the last exposure",
            "dither_every",
            lambda: inserted(
                southern(),
                number_of(southern(), "slew", 1),
                12,
                kind="dither",
                target="Great Cloud",
                ra_deg=78.0,
                dec_deg=-69.5,
                position_angle_deg=0.0,
                pier_side="west",
            ),
            None,
            number_of(southern(), "slew", 1),
        ),
        Case(
            "one that takes no time, left out",
            "dither_every",
            lambda: asking(without(flipped(), dither), camera__dither_s=0.0),
            lambda: asking(boundary(flipped(), dither - 1, 12), camera__dither_s=0.0),
            dither,
        ),
        Case(
            "one that takes a second, without length",
            "step_length",
            lambda: asking(boundary(flipped(), dither - 1, 12), camera__dither_s=1.0),
            lambda: asking(boundary(flipped(), dither - 1, 12), camera__dither_s=0.0),
            dither,
            1,
            "s",
        ),
    ]


def tracking() -> list[Case]:
    expose = number_of(flipped(), "expose")
    own = number_of(by_itself(), "wait")
    return [
        Case(
            "on while waiting for a flip, past where the first side must be left",
            "contact",
            lambda: edited(
                bare(tight()),
                number_of(tight(), "wait"),
                tracking=True,
                target="Cradle",
                ra_deg=52.297,
                dec_deg=31.31,
                position_angle_deg=30.0,
                pier_side="west",
            ),
            tight,
            number_of(tight(), "wait"),
            None,
            "s",
            frozenset({"slew_time"}),
        ),
        Case(
            "off while the mount comes to its own flip",
            "tracking",
            lambda: edited(bare(by_itself()), own, tracking=False, target=None),
            by_itself,
            own,
            1,
            "flags",
        ),
        Case(
            "off while exposing",
            "tracking",
            lambda: edited(flipped(), expose, tracking=False),
            flipped,
            expose,
        ),
        Case(
            "on after park",
            "tracking",
            lambda: edited(flipped(), len(flipped().steps), tracking=True),
            flipped,
            len(flipped().steps),
        ),
        Case(
            "not told on a wait",
            "tracking",
            lambda: edited(tight(), number_of(tight(), "wait"), tracking=None),
            tight,
            number_of(tight(), "wait"),
        ),
        Case("not told on a slew", "tracking", lambda: edited(moonlit(), 1, tracking=None), moonlit, 1),
        Case(
            "on while waiting for the next target",
            "tracking",
            lambda: edited(
                bare(southern()),
                number_of(southern(), "wait"),
                tracking=True,
                target="Sculptor",
                ra_deg=11.9,
                dec_deg=-25.3,
                position_angle_deg=170.0,
                pier_side="east",
            ),
            southern,
            number_of(southern(), "wait"),
        ),
    ]


CASES = [*focus(), *dithers(), *tracking()]
TWINS = [case for case in CASES if case.twin is not None]


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_broken_act_is_caught_under_its_rule(case: Case) -> None:
    judge_broken(case)


@pytest.mark.parametrize("case", TWINS, ids=ids(TWINS))
def test_nearest_allowed_act_passes(case: Case) -> None:
    judge_twin(case)
