"""Each rule at its edge: what just fits is planned and proven best, a second less and it is left out.

The seconds are worked out beside each case from the lengths in packing_nights. Every case goes through the
whole search: a model that is too strict leaves frames out, one that is too loose promises more than fits.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import pytest

from optimizer.problem import Problem
from tests.support.packing_nights import (
    CENTRED_S,
    FILTER_S,
    FLIP_S,
    FOCUS_S,
    FRAME_S,
    HOME_S,
    READY_S,
    SHUTTER_S,
    SLEW_S,
    Place,
    a_problem,
    frames,
    goal,
    proven,
)


class Edge(NamedTuple):
    """`problem(second)` gives `at` frames by task at the edge, `short` frames in all a second before it."""

    name: str
    problem: Callable[[int], Problem]
    edge: int
    at: dict[int, int]
    short: int


OPENS = 1000 + READY_S  # a target that may be worked on from 1000 s on: first opening at 1218 s
CLOSES = OPENS + SHUTTER_S
FREE = OPENS + FRAME_S
LONG = 9000
ONE: dict[str, list[dict[str, Any]]] = {"A": [goal()]}
L_AND_R = {"A": [goal("L", frames=1), goal("R", frames=1)]}
A_AND_B = {"A": [goal(frames=1)], "B": [goal(frames=1)]}


def ends(second: int, **parts: Any) -> Problem:
    """One target whose window ends at that second."""
    return a_problem([Place("A", (1000, second))], parts.pop("goals", ONE), **parts)


def l_then_r(second: int, **parts: Any) -> Problem:
    """One visit; the window of L is over first, that of R ends at that second."""
    return a_problem([Place("A", (1000, LONG), {0: (1000, CLOSES), 1: (1000, second)})], L_AND_R, **parts)


def a_then_b(second: int, *, declination_deg: float = 0.0, **parts: Any) -> Problem:
    """Two targets; the window of A is over first, that of B ends at that second."""
    places = [Place("A", (1000, CLOSES)), Place("B", (1000, second), declination_deg=declination_deg)]
    return a_problem(places, A_AND_B, **parts)


ONE_A_SIDE = {"A": [goal(frames=1), goal(frames=1, gain=1)]}  # the same filter, yet not the same goal


def across(second: int, *, goals: Any = ONE_A_SIDE, opens: int = 1000, **parts: Any) -> Problem:
    """One goal can only be shot west of the pier, the other only east of it, until that second."""
    east = Place("A", (opens, second), {0: None}, "east", (opens, second), parts.pop("quiet", None))
    return a_problem([Place("A", (1000, CLOSES), {1: None}), east], goals, **parts)


def quiet_from(second: int) -> Problem:
    """The quiet time begins at that second; there is time for one exposure if the slew ends by 1000 s."""
    return a_problem([Place("A", (1000, CLOSES), quiet=(second, 5000))], ONE)


def carried(second: int) -> Problem:
    """No focus run but the cadence's; A's window ends at that second, B's only frame opens at 1500.

    B has no time for a focus run of its own: A at its earliest ends at 1281, and 9 + 60 + 8 + 150 more
    is 1508. B closes at 1560, so with a cadence of 300 s A's focus run may not end before 1260: A has to wait
    for it though it could begin at 1218, and closes at 1320 at the earliest.
    """
    focus = {"on_new_target": False, "on_filter_change": False, "every_min": 5.0}
    places = [Place("A", (1000, second)), Place("B", (1000, 1560), {1: (1500, 1560)})]
    return a_problem(places, A_AND_B, focus=focus)


def cadence(seconds: int, window_ends: int, **parts: Any) -> Problem:
    """One target, one window; focus runs at most so many seconds apart."""
    focus = {"every_min": (seconds + 0.01) / 60, **parts.pop("focus", {})}
    return ends(window_ends, focus=focus, **parts)


NO_FOCUS = {"on_new_target": False, "on_filter_change": False}
PLAIN_FLIP = {"refocus_after_flip": False}

WINDOWS = [
    Edge("one exposure in a window", ends, CLOSES, {0: 1}, 0),
    Edge("two exposures in a window", ends, OPENS + FRAME_S + SHUTTER_S, {0: 2}, 1),
    Edge(
        "a dither between two exposures",
        lambda s: ends(s, camera={"dither_every": 1, "dither_s": 12.0}),
        OPENS + FRAME_S + 12 + SHUTTER_S,
        {0: 2},
        1,
    ),
    Edge(
        "no dither before the count is full",
        lambda s: ends(s, camera={"dither_every": 2, "dither_s": 12.0}),
        OPENS + FRAME_S + SHUTTER_S,
        {0: 2},
        1,
    ),
    Edge(
        "fractions of seconds are rounded up together",  # 60.4 + 3.4 = 63.8 -> 64, the shutter 60.4 -> 61
        lambda s: ends(s, goals={"A": [goal(exposure_s=60.4)]}, camera={"download_s": 3.4}),
        OPENS + 64 + 61,
        {0: 2},
        1,
    ),
    Edge(
        "the overhead comes between two exposures, and after the last one nobody waits for it",
        lambda s: ends(s, camera={"download_s": 3.0, "overhead_s": 4.0}),
        OPENS + SHUTTER_S + 7 + SHUTTER_S,
        {0: 2},
        1,
    ),
    Edge(
        "exposure, download and overhead are rounded up together",  # 60.4 + 3.4 + 0.2 = 64
        lambda s: ends(
            s, goals={"A": [goal(exposure_s=60.4)]}, camera={"download_s": 3.4, "overhead_s": 0.2}
        ),
        OPENS + 64 + 61,
        {0: 2},
        1,
    ),
    Edge(
        "a window that opens late",
        lambda s: a_problem([Place("A", (1000, LONG), {0: (3000, s)})], ONE),
        3000 + SHUTTER_S,
        {0: 1},
        0,
    ),
    Edge(
        "back for the second window of a target",  # one frame, away, and back with everything an arrival asks
        lambda s: a_problem(
            [Place("A", (1000, LONG), {0: ((OPENS, CLOSES), (FREE + SLEW_S + READY_S, s))})], ONE
        ),
        FREE + SLEW_S + READY_S + SHUTTER_S,
        {0: 2},
        1,
    ),
    Edge(
        "the mount may not move before sunset",  # a slew that may begin at 990 ends at 1002
        lambda s: a_problem([Place("A", (1000, s), motion=(990, s))], ONE),
        990 + HOME_S + READY_S + SHUTTER_S,
        {0: 1},
        0,
    ),
]
LEAST = [
    Edge(
        "least visit of two exposures",
        lambda s: ends(s, keys={"A": {"least_min": 2.0}}),
        OPENS + FRAME_S + SHUTTER_S,
        {0: 2},
        0,
    ),
    Edge(
        "least visit a little over two exposures",
        lambda s: ends(s, keys={"A": {"least_min": 2.001}}),
        OPENS + 2 * FRAME_S + SHUTTER_S,
        {0: 3},
        0,
    ),
    Edge(
        "least visit counts all goals of a visit",  # 60 s of L and 60 s of R make 2 min
        lambda s: l_then_r(s, keys={"A": {"least_min": 2.0}}),
        FREE + FILTER_S + FOCUS_S + SHUTTER_S,
        {0: 1, 1: 1},
        0,
    ),
]
ORDER = [
    Edge("filter and focus between runs", l_then_r, FREE + FILTER_S + FOCUS_S + SHUTTER_S, {0: 1, 1: 1}, 1),
    Edge(
        "a filter without focus",
        lambda s: l_then_r(s, focus={"on_filter_change": False}),
        FREE + FILTER_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "no filter between two exposure times",
        lambda s: a_problem(
            [Place("A", (1000, LONG), {0: (1000, CLOSES), 1: (1000, s)})],
            {"A": [goal(frames=1), goal(exposure_s=30.0, frames=1)]},
        ),
        FREE + 30,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "the file's last goal first",
        lambda s: a_problem([Place("A", (1000, LONG), {0: (1000, s), 1: (1000, CLOSES)})], L_AND_R),
        FREE + FILTER_S + FOCUS_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
]
VISITS = [
    Edge("from target to target", a_then_b, FREE + SLEW_S + READY_S + SHUTTER_S, {0: 1, 1: 1}, 1),
    Edge(
        "from target to target, 45 degrees up",  # 8 + 45 / 30 = 9.5 -> 10
        lambda s: a_then_b(s, declination_deg=45.0),
        FREE + 10 + READY_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "a fast start",  # 0.5 s -> 1
        lambda s: a_then_b(s - SLEW_S + 1, mount={"slew_extra_s": 0.5}),
        FREE + SLEW_S + READY_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "no focus on a new target",
        lambda s: a_problem(
            [Place("A", (1000, 1000 + CENTRED_S + FILTER_S + SHUTTER_S)), Place("B", (1000, s))],
            A_AND_B,
            focus=NO_FOCUS,
        ),
        1000 + CENTRED_S + FILTER_S + FRAME_S + SLEW_S + CENTRED_S + FILTER_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "the next target is not free to slew to before 3000",
        lambda s: a_problem(
            [Place("A", (1000, CLOSES)), Place("B", (2000, s), motion=(3000, s))],
            A_AND_B,
        ),
        3000 + SLEW_S + READY_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "the rotator turns where the side changes",  # 180 / 5 = 36 s; from west at -6 h to east: 180 degrees
        lambda s: a_problem(
            [Place("A", (1000, CLOSES)), Place("B", (1000, s), side="east")],
            A_AND_B,
            mount={"turn_rotator_after_flip": True},
        ),
        FREE + FLIP_S + 36 + READY_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
]
FLIPS = [
    Edge("flip and focus", across, FREE + FLIP_S + CENTRED_S + FOCUS_S + SHUTTER_S, {0: 1, 1: 1}, 1),
    Edge(
        "the flip waits for the overhead of the last exposure before it",
        lambda s: across(s, camera={"download_s": 3.0, "overhead_s": 9.5}),  # 60 + 12.5 -> 73
        OPENS + SHUTTER_S + 13 + FLIP_S + CENTRED_S + FOCUS_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "flip without focus",
        lambda s: across(s, mount=PLAIN_FLIP),
        FREE + FLIP_S + CENTRED_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "flip with a filter change and one focus run for both",
        lambda s: across(s, goals=L_AND_R),
        FREE + FLIP_S + CENTRED_S + FILTER_S + FOCUS_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "flip with a filter change that asks for the focus run",
        lambda s: across(s, goals=L_AND_R, mount=PLAIN_FLIP),
        FREE + FLIP_S + CENTRED_S + FILTER_S + FOCUS_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "flip with a filter change alone",
        lambda s: across(s, goals=L_AND_R, mount=PLAIN_FLIP, focus={"on_filter_change": False}),
        FREE + FLIP_S + CENTRED_S + FILTER_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "flip and rotator",
        lambda s: across(s, mount={**PLAIN_FLIP, "turn_rotator_after_flip": True, "rotator_deg_s": 7.0}),
        FREE + FLIP_S + CENTRED_S + 26 + SHUTTER_S,  # 180 / 7 = 25.7
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "a tight zone: nothing tracks until the flip may begin",
        lambda s: across(s, opens=2500),
        2500 + FLIP_S + CENTRED_S + FOCUS_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "the first side's download may run into the flip's beginning",
        lambda s: a_problem(
            [
                Place("A", (1000, s), {1: None}, motion=(0, s)),
                Place("A", (s + 1, 6000), {0: None}, side="east", motion=(s + 1, 6000)),
            ],
            ONE_A_SIDE,
        ),
        CLOSES,
        {0: 1, 1: 1},
        1,
    ),
]
QUIET = [
    # the slew may end as the quiet time begins, at 1000 at the earliest
    Edge("slew before the quiet time", quiet_from, 1000, {0: 1}, 0),
    Edge(
        "slew after the quiet time",
        lambda s: a_problem([Place("A", (1000, s), quiet=(900, 2000))], ONE),
        2000 + HOME_S + READY_S + SHUTTER_S,
        {0: 1},
        0,
    ),
    Edge(
        "a flip may lie in the quiet time",
        lambda s: across(s, quiet=(1100, 5000)),
        FREE + FLIP_S + CENTRED_S + FOCUS_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    # focus from 1068 to 1218, all before the quiet time
    Edge(
        "focus run before the quiet time",
        lambda s: a_problem(
            [Place("A", (1000, CLOSES), quiet=(s, 5000))], ONE, focus={"leaves_target": True}
        ),
        OPENS,
        {0: 1},
        0,
    ),
    Edge(
        "focus run after the quiet time",
        lambda s: a_problem(
            [Place("A", (1000, s), quiet=(OPENS - 1, 2000))], ONE, focus={"leaves_target": True}
        ),
        2000 + FOCUS_S + SHUTTER_S,
        {0: 1},
        0,
    ),
    Edge(
        "focus run that stays on the target",
        lambda s: a_problem([Place("A", (1000, s), quiet=(OPENS - 1, 2000))], ONE),
        CLOSES,
        {0: 1},
        0,
    ),
    Edge(
        "focus run of a flip in the quiet time",
        lambda s: across(s, quiet=(FREE, 5000), focus={"leaves_target": True}),
        FREE + FLIP_S + CENTRED_S + FOCUS_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "focus run between two runs after the quiet time",
        lambda s: a_problem(
            [Place("A", (1000, LONG), {0: (1000, CLOSES), 1: (1000, s)}, quiet=(FREE + FILTER_S, 3000))],
            L_AND_R,
            focus={"leaves_target": True},
        ),
        3000 + FOCUS_S + SHUTTER_S,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "focus run of the cadence inside a run, as the quiet time begins",
        # 5 frames need a focus run between them; at the earliest it comes after the first: 1218 + 63 + 150
        lambda s: a_problem(
            [Place("A", (1000, OPENS + 4 * FRAME_S + FOCUS_S + SHUTTER_S), quiet=(s, 5000))],
            ONE,
            focus={"leaves_target": True, "every_min": 5.0},
        ),
        FREE + FOCUS_S,
        {0: 5},
        4,
    ),
]
CADENCE = [
    Edge(
        "five exposures close within the cadence",  # 5 x 63 - 3 = 312 s after the focus run
        lambda s: cadence(s, OPENS + 312),
        312,
        {0: 5},
        4,
    ),
    Edge(
        "the cadence's focus run inside a run",  # after 4 frames
        lambda s: cadence(300, s),
        OPENS + 4 * FRAME_S + FOCUS_S + SHUTTER_S,
        {0: 5},
        4,
    ),
    Edge(
        "a dither after the focus run inside a run, its count anew",
        lambda s: cadence(300, s, camera={"dither_every": 4, "dither_s": 12.0}),
        OPENS + 4 * FRAME_S + FOCUS_S + 12 + SHUTTER_S,
        {0: 5},
        4,
    ),
    Edge(
        "an exposure as long as the cadence, one visit",  # nothing fits after a focus run and its dither
        lambda s: cadence(60, s, camera={"dither_every": 4, "dither_s": 12.0}),
        CLOSES,
        {0: 1},
        0,
    ),
    Edge(
        "the night's first exposure needs a focus run",
        lambda s: cadence(300, s, focus=NO_FOCUS),
        CLOSES,
        {0: 1},
        0,
    ),
    Edge(
        "focus carried to the next run",  # L focused at 1218; R closes at 1281 + 8 + 60 = 1349, 131 s later
        lambda s: a_problem(
            [Place("A", (1000, LONG), {0: (1000, CLOSES), 1: (1000, FREE + FILTER_S + SHUTTER_S)})],
            L_AND_R,
            focus={"on_filter_change": False, "every_min": (s + 0.01) / 60},
        ),
        131,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "focus carried to the next target",  # B closes at 1281 + 9 + 60 + 8 + 60 = 1418, 200 s after 1218
        lambda s: a_problem(
            [
                Place("A", (1000, CLOSES)),
                Place("B", (1000, FREE + SLEW_S + CENTRED_S + FILTER_S + SHUTTER_S)),
            ],
            A_AND_B,
            focus={**NO_FOCUS, "every_min": (s + 0.01) / 60},
        ),
        200,
        {0: 1, 1: 1},
        1,
    ),
    Edge(
        "focus carried across a flip",  # 1281 + 15 + 60 + 60 = 1416, 198 s after
        lambda s: across(
            FREE + FLIP_S + CENTRED_S + SHUTTER_S, mount=PLAIN_FLIP, focus={"every_min": (s + 0.01) / 60}
        ),
        198,
        {0: 1, 1: 1},
        1,
    ),
    Edge("a run delayed so that its focus run lasts for the next", carried, 1320, {0: 1, 1: 1}, 1),
]


@pytest.mark.parametrize(
    "case", [*WINDOWS, *LEAST, *ORDER, *VISITS, *FLIPS, *QUIET, *CADENCE], ids=lambda case: case.name
)
def test_what_just_fits_is_planned_and_a_second_less_is_not(case: Edge) -> None:
    fits, short = frames(proven(case.problem(case.edge))), frames(proven(case.problem(case.edge - 1)))
    assert fits == case.at
    assert sum(short.values()) == case.short
