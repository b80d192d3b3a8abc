"""Limits of sky and meridian, met exactly by a whole night and missed by one second.

The whole night stands; the request's limit moves to the value that the sky has at the deciding second (the
twin) or one second beside it (the broken plan). Moonlight alone takes five: it grows by 6 millionths of a
magnitude in one.
"""

from __future__ import annotations

import pytest

from tests.support.hand_laid.edges import (
    altitude,
    ask_contact,
    ask_early_flip,
    ask_flip,
    closes,
    edge,
    flip_start,
    hour_angle,
    last_west_close,
    moon_gap,
    moonlight,
    opens,
    slew_end,
    sun,
)
from tests.support.hand_laid.mutations import Case, asking, ids, judge_broken, judge_twin, number_of
from tests.support.hand_laid.night_cases import (
    dusk,
    early,
    flipped,
    fork,
    moonlit,
    southern,
    standing,
    tight,
    under,
)

CASES = [
    edge(
        "the shutter opens too low",
        "floor",
        tight,
        opens,
        altitude("Cradle"),
        lambda night, value: asking(night, targets__0__floor_deg=value),
        +1,
        unit="deg",
    ),
    edge(
        "the shutter closes too low",
        "floor",
        southern,
        lambda night: closes(night, 6),
        altitude("Sculptor"),
        lambda night, value: asking(night, targets__1__floor_deg=value),
        -1,
        unit="deg",
    ),
    edge(
        "the slew ends where the target is too low",
        "acquisition",
        fork,
        slew_end,
        altitude("Cradle"),
        lambda night, value: asking(
            night, site__floor_deg=value, targets__0__floor_deg=None, targets__1__floor_deg=5.0
        ),
        +1,
        unit="deg",
    ),
    edge(
        "the slew ends behind the skyline",
        "skyline",
        moonlit,
        slew_end,
        altitude("Cradle"),
        lambda night, value: asking(night, site__skyline=((0.0, value),)),
        +1,
        unit="deg",
    ),
    edge(
        "not dark yet",
        "darkness",
        flipped,
        lambda night: closes(night),
        sun,
        lambda night, value: asking(night, filters__0__darkness=value),
        -1,
        unit="deg",
    ),
    edge(
        "dark too late",
        "darkness",
        dusk,
        opens,
        sun,
        lambda night, value: asking(night, filters__0__darkness=value),
        +1,
        unit="deg",
    ),
    edge(
        "too near the Moon",
        "moon_gap",
        moonlit,
        lambda night: closes(night, 2),
        moon_gap,
        lambda night, value: asking(night, filters__0__moon_gap_deg=value),
        -1,
        unit="deg",
    ),
    edge(
        "too much moonlight",
        "moonlight",
        moonlit,
        lambda night: closes(night, 2),
        moonlight,
        lambda night, value: asking(night, filters__0__moonlight_mag=value),
        -5,
        unit="mag",
        slack=1e-6,
    ),
    edge(
        "one second into the forbidden zone",
        "contact",
        standing,
        last_west_close,
        hour_angle("Cradle"),
        ask_contact,
        -1,
        unit="s",
    ),
    edge(
        "one second into a zone before the meridian",
        "contact",
        tight,
        last_west_close,
        hour_angle("Cradle"),
        ask_contact,
        -1,
        unit="s",
    ),
    edge(
        "a flip one second too soon",
        "flip_from",
        flipped,
        flip_start,
        hour_angle("Cradle"),
        ask_flip,
        +1,
        unit="s",
    ),
    edge(
        "a flip one second too soon, before the meridian",
        "flip_from",
        early,
        flip_start,
        hour_angle("Cradle"),
        ask_early_flip,
        +1,
        unit="s",
    ),
    edge(
        "one second too near the lower culmination on the flipped side",
        "lower_culmination",
        lambda: under(False),
        closes,
        lambda night, instant: 43200 - hour_angle("Polar Dust")(night, instant),
        lambda night, value: asking(night, mount__clock_error_s=value),
        -1,
        unit="s",
    ),
    edge(
        "the first side one second too near the lower culmination",
        "lower_culmination",
        under,
        lambda night: night.steps[number_of(night, "slew", 1) - 1].start_utc,
        lambda night, instant: hour_angle("Polar Dust")(night, instant) + 43200,
        lambda night, value: asking(night, mount__clock_error_s=value),
        +1,
        unit="s",
    ),
    edge(
        "the slew ends one second into the quiet time",
        "quiet",
        tight,
        slew_end,
        lambda night, instant: -hour_angle("Cradle")(night, instant),
        lambda night, value: asking(night, mount__quiet_min=value / 60),
        -1,
        unit="s",
    ),
    edge(
        "a leaving focus run ends one second into the quiet time",
        "quiet",
        tight,
        lambda night: night.steps[number_of(night, "focus") - 1].end_utc,
        lambda night, instant: -hour_angle("Cradle")(night, instant),
        lambda night, value: asking(night, mount__quiet_min=value / 60, focus__leaves_target=True),
        -1,
        unit="s",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_one_second_beyond_is_caught(case: Case) -> None:
    judge_broken(case)


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_exactly_on_the_edge_passes(case: Case) -> None:
    judge_twin(case)
