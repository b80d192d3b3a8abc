"""What a frame is worth tonight: all of it where no other night gives it, next to nothing where all will."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from typing import Any, cast

import numpy as np
import pytest

from optimizer.season.desk import Desk, Inline, NightRef, only_rig
from optimizer.season.prepared import Openings, PreparedNight
from optimizer.season.projects import projects_of
from optimizer.season.worths import frame_worths_s
from tests.support.packing_nights import Place, a_problem, a_request, goal


def _desk(balance: float = 0.0) -> tuple[Desk, list[NightRef]]:
    """Two nights of one half hour: Gone (200 frames wanted) on the first alone, Stays (2 wanted) on both."""
    goals = {"Gone": [goal("L", 60.0, 200)], "Stays": [goal("L", 60.0, 2)]}
    request = a_request(goals, aim={"balance": balance})
    desk = Desk((only_rig(request, projects_of(request)),), projects_of(request))
    problem = a_problem([Place("Gone", (0, 1800)), Place("Stays", (0, 1800))], goals)
    nothing = cast(Any, None)
    refs = [NightRef(0, dt.date(2026, 11, day)) for day in (1, 2)]
    for ref, gone_s in zip(refs, (1800.0, 0.0), strict=True):
        open_s = np.zeros((2, 48))
        open_s[:, 0] = gone_s, 1800.0
        hours = Openings(open_s, np.ones((2, 48)), open_s.sum(axis=1))
        night = PreparedNight(ref.evening, problem, nothing, nothing, 1800.0, 1800.0, hours)
        desk.nights[ref] = night
    return desk, refs


def test_what_goes_is_worth_all_and_what_stays_is_worth_the_discount() -> None:
    desk, refs = _desk()
    worths_s = frame_worths_s(desk, refs, [Fraction(1), Fraction(1)], Inline(desk), 0.01)
    assert worths_s.tolist() == pytest.approx([60.0 * 1.001, 60.0 * 0.011])


def test_what_is_done_is_worth_nothing() -> None:
    desk, refs = _desk()
    done = {"Gone": [goal("L", 60.0, 200)], "Stays": [goal("L", 60.0, 2, done=2)]}
    other = Desk(desk.rigs, projects_of(a_request(done)))
    other.nights.update(desk.nights)
    worths_s = frame_worths_s(other, refs, [Fraction(1), Fraction(1)], Inline(other), 0.01)
    assert worths_s[0] > 0
    assert worths_s[1] == 0.0


def test_nights_that_are_never_clear_give_nothing_to_wait_for() -> None:
    desk, refs = _desk()
    worths_s = frame_worths_s(desk, refs, [Fraction(1, 2), Fraction(0)], Inline(desk), 0.01)
    assert worths_s[1] == pytest.approx(60.0 * 1.001)
