"""What acts take in a night whose list is known: a stored list, run by an executor of its own."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from optimizer.learn.acts import Learned, learned
from optimizer.learn.by_list import MISSING, WAITED
from optimizer.learn.estimate import AT_MOST
from optimizer.learn.rows import ACTS
from optimizer.models.shots import ShotList
from optimizer.tally.frames import Frame
from tests.support.night_files import Camera
from tests.support.picture_cases import stored
from tests.support.run_night import run_night

SIDEREAL_DAY = dt.timedelta(seconds=86164)


def the_list() -> ShotList:
    return stored("first-night")


def frames(**keys: Any) -> list[Frame]:
    return run_night(the_list(), random.Random(3), **keys).frames()


def medians(found: Learned) -> dict[str, float | None]:
    return {each.act: each.median_s for each in found.acts if each.filter is None}


def aside(found: Learned) -> dict[str, int]:
    return {each.reason: each.count for each in found.set_aside}


def test_by_the_list_or_by_the_rules_the_same_lengths_are_found() -> None:
    """Two seconds more a sub, three more a dither, forty more an autofocus; millisecond instants."""
    taken = frames(more={"expose": 2.0, "dither": 3.0, "focus": 40.0})
    for shots in (the_list(), None):
        found = learned(the_list().request, taken, shots)
        own = medians(found)
        assert own["between_subs"] == pytest.approx(5.0, abs=0.002)
        assert own["dither"] == pytest.approx(15.0, abs=0.004)
        assert own["focus"] == pytest.approx(190.0, abs=0.01)
        assert found.of("between_subs").longer_s == pytest.approx(2.0, abs=0.002)  # type: ignore[union-attr]
        told = found.of("dither").how.startswith("By the list: gaps with a dither")  # type: ignore[union-attr]
        assert told is (shots is not None)


@pytest.mark.parametrize("off_s", [0.0, 7.0])
def test_subs_that_begin_when_their_list_has_them_tell_at_most(off_s: float) -> None:
    """The executor waits for each step's time, so acts that took less would not show; clocks may differ."""
    taken = frames(camera=Camera(clock_off_s=off_s))
    found = learned(the_list().request, taken, the_list())
    for act in ACTS:
        row = found.of(act)
        assert row is not None
        assert row.unknown == AT_MOST
        assert row.median_s is None
        assert row.longer_s is None
    assert not found.sums


def test_acts_shorter_than_planned_are_not_taken_for_the_planned_ones() -> None:
    """An executor that waits for each step's time hides that a dither takes half; the list tells so."""
    taken = frames(lasts={"dither": 6.0})
    found = learned(the_list().request, taken, the_list())
    assert all(each.median_s is None for each in found.acts)


def test_waits_and_lost_subs_of_the_list_are_set_aside() -> None:
    subs = [step.step for step in the_list().steps if step.kind == "expose"]
    found = learned(
        the_list().request, frames(more={"expose": 0.25}, lost=subs[10:12] + subs[30:31]), the_list()
    )
    assert aside(found) == {MISSING: 2, WAITED: 1}


def test_a_copy_of_a_frame_and_a_stall_change_nothing() -> None:
    subs = [step.step for step in the_list().steps if step.kind == "expose"]
    taken = frames(more={"expose": 2.0, "dither": 3.0}, copies=subs[5:9], stalls={subs[40]: 333.0})
    own = medians(learned(the_list().request, taken, the_list()))
    assert own["between_subs"] == pytest.approx(5.0, abs=0.002)
    assert own["dither"] == pytest.approx(15.0, abs=0.004)


def test_nights_beside_that_of_the_list_are_told_apart_by_the_rules() -> None:
    one = frames(more={"expose": 2.0})
    two = [
        replace(each, path=Path("two") / each.name, taken_utc=each.taken_utc + SIDEREAL_DAY)
        for each in frames(more={"expose": 2.5})
        if each.taken_utc
    ]
    found = learned(the_list().request, [*one, *two], the_list())
    row = found.of("dither")
    assert row is not None
    assert len(found.evenings) == 2
    assert "By the list" in row.how
    assert "the longer of the two lengths" in row.how
    alone = learned(the_list().request, two, the_list()).of("between_subs")  # a list of another night
    assert alone is not None
    assert alone.median_s == pytest.approx(5.5, abs=0.002)
    assert alone.how == "The shorter of the two lengths that gaps within a run have."
