"""Where a night and its list parted, held against the truth of simulated nights."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer.learn.found import found_in
from optimizer.learn.parted import LATE_S, Parted, parted, taken_at
from optimizer.models.shots import Step
from tests.support.executing import Cloud
from tests.support.replan_nights import flipping_list, small_list
from tests.support.run_night import Happened, run_night

SUBS = [step for step in small_list().steps if step.kind == "expose"]
AFTERWARDS = dt.timedelta(hours=4)


def beside(happened: Happened) -> Parted:
    return parted(happened.shots, happened.frames())


def why(found: Parted) -> dict[int, str]:
    return {each.step.step: each.why for each in found.without}


def subs_of(steps: tuple[Step, ...]) -> list[int]:
    return [step.step for step in steps if step.kind == "expose"]


def test_a_night_as_planned_has_nothing_to_tell() -> None:
    found = beside(run_night(small_list(), random.Random(1)))
    assert (len(found.taken), found.subs) == (82, 82)
    assert (found.spells, found.held_up, found.without, found.others) == ((), (), (), ())
    assert all(abs(each.seconds) < 1 for each in found.grown)


def test_lateness_is_told_by_the_acts_that_made_it() -> None:
    happened = run_night(small_list(), random.Random(3), more={"dither": 8.0, "expose": 1.5}, jitter=0.01)
    found = beside(happened)
    sums = {each.acts: each for each in found.grown}
    dithers, between = sums[("dither",)], sums[()]
    assert dithers.seconds / dithers.count == pytest.approx(9.5, abs=0.3)
    assert between.seconds / between.count == pytest.approx(1.5, abs=0.2)
    assert found.grown[0] is dithers
    latest = max(happened.lateness.values())
    assert sum(each.seconds for each in found.grown) == pytest.approx(latest, abs=2)
    (spell,) = found.spells
    first = next(number for number, late_s in happened.lateness.items() if late_s >= LATE_S)
    assert spell.first.step.step == first
    assert spell.last.step.step == SUBS[-1].step
    assert spell.latest.late_s == pytest.approx(latest, abs=0.01)
    assert taken_at(spell.first) >= spell.first.step.start_utc + dt.timedelta(seconds=29)


def test_a_stall_is_told_by_itself_and_not_as_a_slow_act() -> None:
    stalled = SUBS[30].step
    found = beside(run_night(small_list(), random.Random(3), stalls={stalled: 400.0}))
    (held,) = found.held_up
    assert held.after.step.step == stalled
    assert held.seconds == pytest.approx(400, abs=1)
    assert all(abs(each.seconds) < 1 for each in found.grown)
    assert found.without == ()


def test_a_stall_in_which_a_file_is_lost_is_told_with_it() -> None:
    stalled, lost = SUBS[30].step, SUBS[31].step
    found = beside(run_night(small_list(), random.Random(3), stalls={stalled: 70.0}, lost=(lost,)))
    (held,) = found.held_up
    assert (held.after.step.step, held.missing) == (stalled, 1)
    assert held.seconds == pytest.approx(70, abs=1)
    assert why(found) == {lost: "no_file"}


def test_waits_make_up_for_what_is_late() -> None:
    shots = flipping_list(contact_min=12)  # before the meridian it waits for its flip
    assert any(step.kind == "wait" and step.seconds > 300 for step in shots.steps)
    first = next(step for step in shots.steps if step.kind == "expose")
    found = beside(run_night(shots, random.Random(3), stalls={first.step: 150.0}))
    assert found.caught_up_s == pytest.approx(150, abs=2)
    assert [spell.last.late_s for spell in found.spells] == [pytest.approx(150, abs=2)]


def test_files_lost_or_damaged_and_nights_of_other_dates_are_told_apart(tmp_path: Path) -> None:
    lost, cut, broken = (SUBS[10].step, SUBS[11].step), SUBS[50].step, SUBS[55].step
    happened = run_night(
        small_list(), random.Random(3), lost=lost, damaged={cut: "cut_short", broken: "broken_header"}
    )
    happened.write_until(tmp_path, small_list().steps[-1].end_utc + AFTERWARDS)
    files = found_in(tmp_path, small_list().request)
    day = dt.timedelta(days=1)
    older = [replace(each, taken_utc=each.taken_utc - day) for each in files.frames if each.taken_utc]
    found = parted(small_list(), [*older, *files.frames], files.damaged)
    assert why(found) == {lost[0]: "no_file", lost[1]: "no_file", cut: "damaged", broken: "no_file"}
    assert "cut short" in next(each.reason for each in found.without if each.why == "damaged")
    assert [each.fault for each in found.untold] == ["broken_header"]
    assert found.others == ()


def test_subs_not_taken_in_a_cloud_cannot_be_told_from_lost_ones() -> None:
    begins = SUBS[20].start_utc
    cloud = Cloud(begins, begins + dt.timedelta(minutes=15), "passed")
    happened = run_night(small_list(), random.Random(3), clouds=(cloud,))
    passed = subs_of(happened.executed.passed)
    assert passed
    assert why(beside(happened)) == dict.fromkeys(passed, "no_file")


def test_what_comes_after_the_last_image_was_not_reached() -> None:
    happened = run_night(small_list(), random.Random(3))
    frames = happened.frames()[:40]
    found = parted(small_list(), frames)
    assert why(found) == {step.step: "not_reached" for step in SUBS[40:]}
    nothing = parted(small_list(), [])
    assert (len(nothing.taken), len(nothing.without), nothing.spells) == (0, 82, ())


@pytest.mark.parametrize("seed", range(12))
def test_skipped_and_lost_subs_of_random_nights_are_told_apart(seed: int) -> None:
    """Where no hold-up is so long that subs might have been taken in it."""
    rng = random.Random(seed)
    shots = flipping_list() if seed % 2 else small_list()
    numbers = subs_of(shots.steps)
    happened = run_night(
        shots,
        rng,
        more={"dither": rng.choice([0.0, 5.0, 20.0]), "expose": rng.choice([0.0, 1.0, 4.0])},
        jitter=0.02,
        stalls={rng.choice(shots.steps).step: 60.0},
        lost={rng.choice(numbers) for _ in range(3)},
        begins_late_s=rng.choice([0.0, 40.0, 900.0]),
    )
    found = why(beside(happened))
    skipped = set(happened.skipped_subs)
    assert set(found) == set(numbers) - happened.whole(shots.steps[-1].end_utc + AFTERWARDS)
    for number, reason in found.items():
        if number in skipped:
            assert reason in ("too_late", "no_time", "not_reached"), number
        elif reason != "not_reached":
            assert reason == "no_file", number
