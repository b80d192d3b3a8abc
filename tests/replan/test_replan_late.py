"""Late nights that are planned anew where their running sub ends: the new list begins there, and both audits pass."""

from __future__ import annotations

import datetime as dt
import random
from pathlib import Path

import pytest

from benchmarks.interrupted_nights import NIGHTS, stored
from optimizer.models.shots import ShotList
from optimizer.pace.ranges import ranges_of
from optimizer.replan import Told, rest_of
from optimizer.replan.asked import Asked, told_of
from optimizer.replan.standing import standing_of
from tests.support.executing import Done
from tests.support.run_night import Happened, run_night
from tests.support.speeds import sampled

LIMIT_S = 0.2
MOMENTS = [(night, seed) for seed in range(12) for night in NIGHTS]


def late_night(night: str, seed: int) -> tuple[ShotList, Happened, random.Random]:
    rng, shots = random.Random(f"late {night} {seed}"), stored(night)
    happened = run_night(
        shots,
        rng,
        more={"expose": rng.choice((0, 2, 5)), "focus": rng.choice((0, 60)), "flip": rng.choice((0, 40))},
        begins_late_s=rng.choice((5, 90, 600, 2400)),
        stalls={rng.choice(shots.steps).step: rng.uniform(10, 1500) for _ in range(rng.randrange(3))},
    )
    return shots, happened, rng


def told_at_the_end_of(shots: ShotList, happened: Happened, sub: Done) -> Told:
    """What is told as that sub is about to end: the steps up to it, less the subs that were not taken."""
    part_s = dt.timedelta(microseconds=sub.end_utc.microsecond)
    now = sub.end_utc - part_s + dt.timedelta(seconds=bool(part_s))
    taken = {each.step.step for each in happened.executed.subs}
    done = [step.step for step in shots.steps[: sub.step.step] if step.kind != "expose" or step.step in taken]
    return told_of(shots, Asked(now=now, done=ranges_of(done)), "x")


def test_new_list_begins_with_the_end_of_any_sub_of_a_late_night() -> None:
    moments = 0
    for night, seed in MOMENTS:
        shots, happened, rng = late_night(night, seed)
        subs = happened.executed.subs
        for sub in rng.sample(subs, min(len(subs), 10)):
            told = told_at_the_end_of(shots, happened, sub)
            standing = standing_of(shots, told)
            begin = standing.begin
            assert (begin.utc, standing.done) == (told.now, tuple(sorted(told.done or ())))
            assert (begin.target, begin.pier_side, begin.filter) == (
                sub.step.target, sub.step.pier_side, sub.step.filter,
            )  # fmt: skip
            runs = [each.end_utc for each in happened.done if each.step.kind == "focus"]
            before = [end for end in runs if end <= told.now]
            # what a late list planned for its autofocus lies before its true end: it counts for older than it is
            assert (begin.focused_utc is None) == (not before)
            assert begin.focused_utc is None or begin.focused_utc <= before[-1]
            moments += 1
    assert moments > 300


@pytest.mark.parametrize(("night", "seed"), sampled(MOMENTS, quick=3, several=True))
def test_rest_of_a_late_night_passes_both_audits(night: str, seed: int) -> None:
    shots, happened, rng = late_night(night, seed)
    told = told_at_the_end_of(shots, happened, rng.choice(happened.executed.subs))
    rest = rest_of(shots, told, "0" * 64, limit_s=LIMIT_S)
    assert rest.violations == ()
    if rest.shots.steps:
        assert rest.shots.steps[0].start_utc == told.now


@pytest.mark.parametrize("late_s", [10, 27, 60, 400])
def test_wait_that_a_late_list_comes_to_next_has_begun_for_both_audits(late_s: int) -> None:
    """Step 60 stands still for 27 s before a slew."""
    shots = stored("first-night")
    wait = shots.steps[59]
    assert (wait.kind, wait.tracking, wait.seconds) == ("wait", False, 27)
    told = Told(wait.start_utc + dt.timedelta(seconds=late_s), done=frozenset(range(1, 60)))
    rest = rest_of(shots, told, "0" * 64, limit_s=LIMIT_S)
    assert rest.standing.begin.stands_since_utc == wait.start_utc
    assert rest.violations == ()


def test_images_of_a_late_night_and_what_they_leave_pass_both_audits(tmp_path: Path) -> None:
    """Twenty minutes late, and some files are lost."""
    shots = stored("first-night")
    happened = run_night(shots, random.Random(5), begins_late_s=1200, lost=(12, 13, 40))
    now = shots.steps[99].end_utc
    happened.write_until(tmp_path, now)
    told = told_of(shots, Asked(now=now, images=tmp_path), "x")
    under_way = happened.under_way(now)
    assert under_way is not None
    over = {each.step.step for each in happened.over(now)}
    rest = rest_of(shots, told, "0" * 64, limit_s=LIMIT_S)
    assert set(rest.standing.done) == over - {12, 13, 40}
    begin = rest.standing.begin
    assert (begin.utc, begin.target, begin.pier_side) == (
        now,
        under_way.step.target,
        under_way.step.pier_side,
    )
    assert rest.violations == ()
