"""Order and lengths of steps that are wrong by a second, or at all.

Each row is a whole night with one deed done to it. The twin is the nearest deed that is allowed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import partial

import pytest

from tests.support.hand_laid.mutations import (
    Case,
    asking,
    boundary,
    edited,
    ids,
    inserted,
    judge_broken,
    judge_twin,
    later,
    number_of,
    shifted,
    stretched,
)
from tests.support.hand_laid.night_cases import Night, flipped, fork, southern, standing, tight, turned

SLEW, CENTRE, SETTLE, FILTER, FOCUS, EXPOSE = 1, 2, 3, 4, 5, 6
FLIP = number_of(flipped(), "flip")
WAIT = number_of(tight(), "wait")
LAST = len(flipped().steps)


def dropped_park() -> Night:
    return Night(flipped().request, flipped().steps[:-1])


def park_twice() -> Night:
    """A park in the wait before the flip, too."""
    return edited(tight(), WAIT, kind="park")


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
    ("flip", standing, FLIP),
    ("slew of a fork", fork, number_of(fork(), "slew", 1)),
    ("slew to the other side", turned, number_of(turned(), "slew", 1)),
    ("slew in the south", southern, number_of(southern(), "slew", 1)),
]


def done_to(
    night: Callable[[], Night], deed: Callable[[Night, int, int], Night], number: int, seconds: int
) -> Night:
    return deed(night(), number, seconds)


def lengths() -> list[Case]:
    """The whole nights' steps have exactly their least lengths."""
    return [
        *(
            Case(
                f"{kind} one second short",
                "step_length",
                partial(done_to, night, boundary, number, -1),
                partial(done_to, night, stretched, number, 1),
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
            "an overhead a fraction longer",
            "step_length",
            lambda: asking(fork(), camera__download_s=1.5, camera__overhead_s=1.51),
            lambda: asking(fork(), camera__download_s=1.5, camera__overhead_s=1.5),
            EXPOSE,
            1,
            "s",
        ),
        Case(
            "an overhead a second longer than the row has room for",
            "step_length",
            lambda: asking(fork(), camera__overhead_s=1),
            lambda: asking(fork(), camera__download_s=2, camera__overhead_s=1),
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
                partial(done_to, night, boundary, number, -1),
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


CASES = [*order(), *lengths()]
TWINS = [case for case in CASES if case.twin is not None]


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_broken_step_is_caught_under_its_rule(case: Case) -> None:
    judge_broken(case)


@pytest.mark.parametrize("case", TWINS, ids=ids(TWINS))
def test_nearest_allowed_step_passes(case: Case) -> None:
    judge_twin(case)
