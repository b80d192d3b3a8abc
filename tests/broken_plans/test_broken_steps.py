"""Steps that are wrong in themselves: order, lengths, names, pointing, goals, arrivals, sides.

Each row is a whole night with one deed done to it. The twin is the nearest deed that is allowed.
"""

from __future__ import annotations

import datetime as dt

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
    later,
    number_of,
    shifted,
    stretched,
)
from night_cases import Night, flipped, fork, moonlit, southern, turned

SLEW, CENTRE, SETTLE, FILTER, FOCUS, EXPOSE = 1, 2, 3, 4, 5, 6
FLIP = number_of(flipped(), "flip")
WAIT = number_of(flipped(), "wait")
LAST = len(flipped().steps)


def dropped_park() -> Night:
    return Night(flipped().request, flipped().steps[:-1])


def park_twice() -> Night:
    """A park in the wait before the flip, too."""
    return edited(flipped(), WAIT, kind="park")


def overlapping(seconds: int) -> Night:
    """The third exposure and all after it begin sooner, their lengths kept."""
    return shifted(flipped(), 9, -seconds)


def order() -> list[Case]:
    return [
        Case(
            "a gap of one second",
            "contiguous",
            lambda: shifted(flipped(), 10, 1),
            lambda: stretched(flipped(), 9, 1),
            10,
            1,
            "s",
        ),
        Case(
            "an overlap of one second",
            "contiguous",
            lambda: overlapping(1),
            lambda: shifted(flipped(), 1, -1),
            9,
            1,
            "s",
        ),
        Case(
            "a number left out",
            "contiguous",
            lambda: edited(flipped(), LAST, step=LAST + 1),
            None,
            LAST + 1,
            1,
            "steps",
        ),
        Case("no park", "ends_with_park", dropped_park, flipped, LAST - 1),
        Case("a park before the end", "ends_with_park", park_twice, None, WAIT),
        Case(
            "a plan for the night after",
            "within_night",
            lambda: asking(flipped(), night__evening=dt.date(2026, 11, 13)),
            flipped,
            SLEW,
            None,
            "s",
        ),
    ]


LENGTHS = [
    ("centre", flipped, CENTRE),
    ("settle", flipped, SETTLE),
    ("filter", flipped, FILTER),
    ("focus", flipped, FOCUS),
    ("expose", flipped, EXPOSE),
    ("dither", flipped, number_of(flipped(), "dither")),
    ("rotate", turned, number_of(turned(), "rotate")),
]
MOVES = [
    ("slew", flipped, SLEW),
    ("flip", flipped, FLIP),
    ("slew of a fork", fork, number_of(fork(), "slew", 1)),
    ("slew to the other side", turned, number_of(turned(), "slew", 1)),
    ("slew in the south", southern, number_of(southern(), "slew", 1)),
]


def lengths() -> list[Case]:
    """The whole nights' steps have exactly their least lengths."""
    return [
        *(
            Case(
                f"{kind} one second short",
                "step_length",
                lambda n=night, k=number: boundary(n(), k, -1),
                lambda n=night, k=number: stretched(n(), k, 1),
                number,
                1,
                "s",
            )
            for kind, night, number in LENGTHS
        ),
        Case(
            "centring takes a fraction longer",
            "step_length",
            lambda: asking(flipped(), mount__centre_s=45.1),
            lambda: asking(flipped(), mount__centre_s=44.1),
            CENTRE,
            1,
            "s",
        ),
        Case(
            "a download a fraction longer",
            "step_length",
            lambda: asking(fork(), camera__download_s=3.01),
            lambda: asking(fork(), camera__download_s=2.01),
            EXPOSE,
            1,
            "s",
        ),
        Case(
            "a step without length", "step_length", lambda: inserted(flipped(), 9, 0, kind="dither"), None, 9
        ),
        *(
            Case(
                f"{name} one second short",
                "slew_time",
                lambda n=night, k=number: boundary(n(), k, -1),
                night,
                number,
                1,
                "s",
            )
            for name, night, number in MOVES
        ),
        Case(
            "park one second short",
            "slew_time",
            lambda: edited(flipped(), LAST, end_utc=later(flipped().steps[-1].end_utc, -1)),
            flipped,
            LAST,
            1,
            "s",
        ),
    ]


def names() -> list[Case]:
    return [
        Case(
            "a target that the request lacks",
            "known_target",
            lambda: edited(bare(flipped()), EXPOSE, target="Cradel"),
            flipped,
            EXPOSE,
            also=frozenset({"goal_match", "acquired"}),
        ),
        Case(
            "a settle without a target",
            "known_target",
            lambda: edited(bare(flipped()), SETTLE, target=None),
            flipped,
            SETTLE,
        ),
        Case(
            "an idle wait with a target",
            "known_target",
            lambda: edited(
                flipped(), WAIT, target="Cradle", ra_deg=52.297, dec_deg=31.31, position_angle_deg=30.0
            ),
            flipped,
            WAIT,
        ),
        Case(
            "a filter that the request lacks",
            "known_filter",
            lambda: edited_all(flipped(), range(FILTER, 10), filter="Lum"),
            None,
            FILTER,
            also=frozenset({"goal_match"}),
        ),
        Case(
            "a filter row without a filter",
            "known_filter",
            lambda: edited(flipped(), FILTER, filter=None),
            None,
            FILTER,
            also=frozenset({"filter_set"}),
        ),
    ]


def pointing() -> list[Case]:
    arcsec = 1 / 3600
    return [
        Case(
            "declination half an arcsecond off",
            "coordinates",
            lambda: edited(flipped(), SLEW, dec_deg=31.31 + 0.5 * arcsec),
            lambda: edited(flipped(), SLEW, dec_deg=31.31 + 0.1 * arcsec),
            SLEW,
            0.5,
            "arcsec",
        ),
        Case(
            "right ascension in hours",
            "coordinates",
            lambda: edited(flipped(), SLEW, ra_deg=52.297 / 15),
            None,
            SLEW,
        ),
        Case(
            "a declination beyond the pole",
            "coordinates",
            lambda: edited(flipped(), SLEW, dec_deg=131.31),
            None,
            SLEW,
        ),
        Case(
            "no coordinates",
            "coordinates",
            lambda: edited(flipped(), SLEW, ra_deg=None, dec_deg=None),
            lambda: edited(moonlit(), number_of(moonlit(), "wait"), ra_deg=None, dec_deg=None),
            SLEW,
        ),
        Case(
            "the first side's angle after the flip",
            "position_angle",
            lambda: edited(flipped(), FLIP + 4, position_angle_deg=30.0),
            lambda: edited(flipped(), FLIP + 4, position_angle_deg=570.0),
            FLIP + 4,
            180,
            "deg",
        ),
        Case(
            "turned although the rotator turned back",
            "position_angle",
            lambda: edited(turned(), LAST_EAST, position_angle_deg=210.0),
            lambda: edited(turned(), LAST_EAST, position_angle_deg=390.0),
            LAST_EAST,
            180,
            "deg",
        ),
        Case(
            "turned on a fork",
            "position_angle",
            lambda: edited(fork(), EXPOSE, position_angle_deg=210.0),
            lambda: edited(fork(), EXPOSE, position_angle_deg=-330.0),
            EXPOSE,
            180,
            "deg",
        ),
        Case(
            "no angle",
            "position_angle",
            lambda: edited(flipped(), CENTRE, position_angle_deg=None),
            None,
            CENTRE,
        ),
        Case(
            "a hundredth of a degree off",
            "position_angle",
            lambda: edited(flipped(), CENTRE, position_angle_deg=30.01),
            lambda: edited(flipped(), CENTRE, position_angle_deg=30.0004),
            CENTRE,
            0.01,
            "deg",
        ),
    ]


LAST_EAST = max(s.step for s in turned().steps if s.kind == "expose" and s.pier_side == "east")


def goals() -> list[Case]:
    return [
        Case(
            "another exposure length",
            "goal_match",
            lambda: edited(flipped(), EXPOSE, exposure_s=119.0),
            None,
            EXPOSE,
            1,
            "s",
        ),
        Case("another gain", "goal_match", lambda: edited(flipped(), 9, gain=101), None, 9),
        Case("no gain", "goal_match", lambda: edited(flipped(), 9, gain=None), None, 9),
        Case(
            "another binning",
            "goal_match",
            lambda: edited(flipped(), 9, binning=3),
            lambda: edited(flipped(), 9, binning=None),
            9,
        ),
        Case("no exposure length", "goal_match", lambda: edited(flipped(), 9, exposure_s=None), None, 9),
        Case(
            "a frame too many",
            "frames",
            lambda: asking(flipped(), targets__0__goals__0__done=4),
            lambda: asking(flipped(), targets__0__goals__0__done=3),
            None,
            1,
            "frames",
        ),
        Case(
            "frames of a goal that is done",
            "frames",
            lambda: asking(flipped(), targets__0__goals__0__done=9),
            None,
            EXPOSE,
            5,
            "frames",
        ),
    ]


CASES = [*order(), *lengths(), *names(), *pointing(), *goals()]
TWINS = [case for case in CASES if case.twin is not None]


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_broken_plan_is_caught_under_its_rule(case: Case) -> None:
    judge_broken(case)


@pytest.mark.parametrize("case", TWINS, ids=ids(TWINS))
def test_nearest_allowed_plan_passes(case: Case) -> None:
    judge_twin(case)
