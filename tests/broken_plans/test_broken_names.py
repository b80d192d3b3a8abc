"""Names, pointing and goals that the request does not have."""

from __future__ import annotations

import pytest

from tests.support.hand_laid.mutations import (
    Case,
    asking,
    bare,
    edited,
    edited_all,
    ids,
    judge_broken,
    judge_twin,
    number_of,
)
from tests.support.hand_laid.night_cases import flipped, fork, moonlit, tight, turned

SLEW, CENTRE, SETTLE, FILTER, FOCUS, EXPOSE = 1, 2, 3, 4, 5, 6
FLIP = number_of(flipped(), "flip")
WAIT = number_of(tight(), "wait")


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
                tight(), WAIT, target="Cradle", ra_deg=52.297, dec_deg=31.31, position_angle_deg=30.0
            ),
            tight,
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
            also=frozenset({"light_path"}),
        ),
    ]


LAST_EAST = max(s.step for s in turned().steps if s.kind == "expose" and s.pier_side == "east")


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
            "a whole turn too far round",
            "coordinates",
            lambda: edited(flipped(), SLEW, ra_deg=52.297 + 360),
            flipped,
            SLEW,
            360,
            "deg",
        ),
        Case(
            "a whole turn too far back",
            "coordinates",
            lambda: edited(flipped(), SLEW, ra_deg=52.297 - 720),
            flipped,
            SLEW,
            720,
            "deg",
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
            "subs",
        ),
        Case(
            "frames of a goal that is done",
            "frames",
            lambda: asking(flipped(), targets__0__goals__0__done=9),
            None,
            EXPOSE,
            5,
            "subs",
        ),
    ]


CASES = [*names(), *pointing(), *goals()]
TWINS = [case for case in CASES if case.twin is not None]


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_broken_name_is_caught_under_its_rule(case: Case) -> None:
    judge_broken(case)


@pytest.mark.parametrize("case", TWINS, ids=ids(TWINS))
def test_nearest_allowed_name_passes(case: Case) -> None:
    judge_twin(case)
