"""The rows of a plan: their order, what each carries, and a latest start that has not a second to spare."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections.abc import Callable
from itertools import pairwise

import pytest

from optimizer.audit import audit_steps
from optimizer.export.json_file import json_text, shots_from_data
from optimizer.models.request import Request
from optimizer.models.rig import Camera
from optimizer.models.shots import ShotList, Step
from optimizer.models.targets import Goal
from optimizer.problem.tasks import frame_s
from tests.support.timeline_nights import (
    NIGHTS,
    by_itself,
    crossing,
    dusk,
    fork,
    later,
    of_kind,
    planned,
    southern,
    tight,
)

Night = Callable[[], ShotList]
every_night = pytest.mark.parametrize("night", NIGHTS, ids=lambda night: night.__name__)

LETTERS = {
    "slew": "S",
    "flip": "F",
    "centre": "c",
    "settle": "s",
    "rotate": "r",
    "filter": "f",
    "focus": "o",
    "expose": "X",
    "dither": "d",
    "wait": "w",
    "park": "P",
}
# The law: an arrival, then runs of exposures with dithers and focus runs inside, waits before runs, park.
VISIT = r"(Scsr?w?fo?|w?Fcsr?w?f?o?)X(X|dX|od?X|w?fo?X|w?oX|w?X)*"
WHOLE_NIGHT = re.compile(rf"({VISIT}w?)*P")


def outline(shots: ShotList) -> str:
    return "".join(LETTERS[step.kind] for step in shots.steps)


@every_night
def test_steps_come_in_the_order_of_the_law(night: Night) -> None:
    assert WHOLE_NIGHT.fullmatch(outline(night()))


def test_nights_hold_every_kind_of_step() -> None:
    """Otherwise the tests here would say nothing about some."""
    assert {kind for night in NIGHTS for kind in outline(night())} == set(LETTERS.values())


@every_night
def test_steps_are_numbered_and_contiguous(night: Night) -> None:
    shots = night()
    assert [step.step for step in shots.steps] == list(range(1, len(shots.steps) + 1))
    for step, following in pairwise(shots.steps):
        assert step.end_utc == following.start_utc
        assert step.seconds > 0 or step.kind in ("filter", "dither")


@every_night
def test_plan_passes_its_audit(night: Night) -> None:
    assert night().audit_report.violations == ()


@every_night
def test_latest_starts_are_exact(night: Night) -> None:
    """As told they break nothing; one second later each of them does, of that very step."""
    shots = night()
    moved = [
        step.model_copy(update={"latest_start_utc": later(step.latest_start_utc, 1)})
        if step.latest_start_utc
        else step
        for step in shots.steps
    ]
    broken = {
        violation.step
        for violation in audit_steps(shots.request, moved).violations
        if violation.rule == "latest_start"
    }
    assert broken == {step.step for step in shots.steps if step.latest_start_utc}


@every_night
def test_latest_start_is_empty_only_where_nothing_tracks(night: Night) -> None:
    shots = night()
    for step in shots.steps:
        idle = step.kind == "park" or (step.kind == "wait" and not step.tracking)
        sideless = not shots.request.mount.flips
        assert (step.latest_start_utc is None) == (idle and sideless)
        if step.latest_start_utc:
            assert step.latest_start_utc >= step.start_utc


@every_night
def test_only_park_and_waits_between_visits_do_not_track(night: Night) -> None:
    shots = night()
    for step, following in pairwise(shots.steps):
        # the first side must be left before the flip may begin on the tight night alone
        to_flip = following.kind == "flip" and night is not tight
        between = step.kind == "wait" and following.kind in ("slew", "flip") and not to_flip
        assert step.tracking is not between
    assert shots.steps[-1].tracking is False


@every_night
def test_columns_follow_from_the_kind(night: Night) -> None:
    shots = night()
    goals = {(t.name, g.filter, g.exposure_s): g for t, g in shots.request.goals()}
    for step in shots.steps:
        pointing = (step.ra_deg, step.dec_deg, step.position_angle_deg, step.hour_angle_h, step.altitude_deg)
        sky = (step.azimuth_deg, step.airmass, step.moon_separation_deg)
        if step.tracking:
            target = shots.request.target_named(step.target or "")
            assert (step.ra_deg, step.dec_deg) == (target.ra_deg, target.dec_deg)
            assert None not in (*pointing, *sky)
        else:
            assert step.target is None
            assert {*pointing, *sky, step.pier_side} == {None}
        assert (step.filter is not None) == (step.kind in ("filter", "focus", "expose", "dither"))
        if step.kind == "expose":
            goal = goals[step.target or "", step.filter or "", step.exposure_s or 0]
            assert (step.gain, step.offset, step.binning) == (goal.gain, goal.offset, goal.binning)
        else:
            assert (step.exposure_s, step.gain, step.offset, step.binning) == (None, None, None, None)


def test_exposures_carry_what_their_goal_says() -> None:
    by_filter = {step.filter: step for step in of_kind(crossing(), "expose")}
    assert (by_filter["L"].gain, by_filter["L"].offset, by_filter["L"].binning) == (100, 30, 1)
    assert (by_filter["R"].gain, by_filter["R"].offset, by_filter["R"].binning) == (None, None, 2)


def sides(shots: ShotList) -> dict[str | None, float]:
    return {step.pier_side: step.position_angle_deg or 0.0 for step in shots.steps if step.target}


def test_camera_turns_over_with_the_flip() -> None:
    """Wanted at -30 degrees: 330, and 150 where the tube stands on the other side, unless a rotator turns."""
    assert sides(crossing()) == {"west": 330.0, "east": 150.0}
    assert sides(tight()) == {"west": 330.0, "east": 330.0}
    assert {step.target: step.position_angle_deg for step in fork().steps if step.target} == {
        "Cradle": 330.0,
        "Wheel": 200.0,
    }
    assert sides(southern()) == {"west": 0.0, "east": 180.0}


def test_untracked_wait_before_a_flip() -> None:
    """Contact 10 - 12 of clearance: left 2 min before the meridian; the flip no sooner than 6 min past."""
    (wait,) = of_kind(tight(), "wait")
    assert (wait.tracking, wait.target, wait.note) == (False, None, "tracking off")
    (flip,) = of_kind(tight(), "flip")
    assert flip.start_utc == wait.end_utc
    # the flip begins within a second after hour angle 360 s, read by the clock: 360 x 1.00273790935 s
    assert 0 <= (flip.hour_angle_h or 0) * 3600 - 360 * 1.00273790935 < 1.01
    # the mount must be stopped at hour angle -120 s, and it stops sooner
    before = [step for step in of_kind(tight(), "expose") if step.pier_side == "west"][-1]
    since = ((wait.latest_start_utc or wait.start_utc) - before.start_utc).total_seconds()
    stopped_s = (before.hour_angle_h or 0) * 3600 + since * 1.0027379
    assert stopped_s == pytest.approx(-120 * 1.00273790935, abs=1.01)


def test_mount_that_flips_by_itself_tracks_until_it_does() -> None:
    (wait,) = of_kind(by_itself(), "wait")
    (flip,) = of_kind(by_itself(), "flip")
    assert (wait.tracking, wait.target, wait.pier_side) == (True, "Cradle", "west")
    assert wait.note == "the mount tracks on until it flips by itself"
    # it flips at 5 min past, its clock up to 20 s late, read by the clock
    assert 0 <= (flip.hour_angle_h or 0) * 3600 - 320 * 1.00273790935 < 1.01
    # no shutter is open once it might: 5 min less 20 s
    last = [step for step in of_kind(by_itself(), "expose") if step.pier_side == "west"][-1]
    closes_s = (last.hour_angle_h or 0) * 3600 + 300 * 1.0027379
    assert closes_s <= 280.0


def test_wait_on_the_target_for_its_dark_tracks() -> None:
    (wait,) = of_kind(dusk(), "wait")
    assert (wait.tracking, wait.target, wait.note) == (True, "Cradle", "until the window opens")


def test_wait_between_visits_ends_where_the_gap_in_the_sky_ends() -> None:
    (wait,) = of_kind(fork(), "wait")
    assert wait.end_utc.strftime("%H:%M:%S") == "01:00:00"
    assert (wait.tracking, wait.note, wait.latest_start_utc) == (False, "tracking off", None)


@every_night
def test_people_are_told_of_moves(night: Night) -> None:
    steps = night().steps
    assert "limits" in (steps[0].note or "")
    assert steps[-1].note == "to home: telescope at the pole, counterweight down, tracking off"
    for flip in of_kind(night(), "flip"):
        assert "west to east" in (flip.note or "")
    assert all(step.note is None for step in steps if step.kind in ("expose", "focus", "centre", "dither"))


def test_park_follows_the_last_download_and_takes_the_way_home() -> None:
    """From the axes of the last target: p = H - 90 and q = 90 - dec (east), at 3 degrees a second and 8 s."""
    shots = crossing()
    last, park = shots.steps[-2:]
    assert (last.kind, last.pier_side) == ("expose", "east")
    left_deg = ((last.hour_angle_h or 0) + last.seconds / 3600) * 15 - 90
    way_deg = max(abs(left_deg), 90 - 31.4)
    assert park.seconds in (math.ceil(8 + way_deg / 3 - 0.05), math.ceil(8 + way_deg / 3 + 0.05))


def test_exposure_rows_hold_their_download() -> None:
    for step in of_kind(crossing(), "expose"):
        assert step.seconds == math.ceil((step.exposure_s or 0) + 3.0)


def test_exposure_rows_hold_their_overhead() -> None:
    """1.2 and 0.4 s are 2 s after a sub of whole seconds."""
    request = crossing().request
    camera = request.camera.model_copy(update={"download_s": 1.2, "overhead_s": 0.4})
    shots = planned(request.model_copy(update={"camera": camera}))
    rows = of_kind(shots, "expose")
    assert {(step.exposure_s, step.seconds) for step in rows} == {(240.0, 242), (120.0, 122)}
    assert shots.audit_report.violations == ()


def test_list_written_before_there_was_an_overhead_reads_as_one_without() -> None:
    data = json.loads(json_text(crossing()))
    del data["request"]["camera"]["overhead_s"]
    older = shots_from_data(data, "older.json")
    assert older.request.camera.overhead_s == 0
    assert audit_steps(older.request, older.steps).violations == ()


def test_whole_sum_of_fractions_is_no_second_longer() -> None:
    """1.1 + 1.3 + 0.6 is 3, though not as a sum of binary fractions; a thousandth more takes a fourth second."""
    goal = Goal(filter="L", exposure_s=1.1, frames=1)
    assert 1.1 + 1.3 + 0.6 > 3
    assert frame_s(goal, Camera(download_s=1.3, overhead_s=0.6)) == 3
    assert frame_s(goal, Camera(download_s=1.3, overhead_s=0.601)) == 4


def test_night_without_a_plan_has_no_steps_at_all() -> None:
    """Not even a park: nothing is moved."""
    request: Request = crossing().request
    night = request.night.model_copy(update={"clear": (), "blocked": (day_of(request),)})
    shots = planned(request.model_copy(update={"night": night}))
    assert shots.steps == ()
    assert shots.audit_report.violations == ()
    assert shots.totals.open_shutter_s == 0
    assert (shots.totals.dark_s, shots.totals.share) == (0, 0.0)
    assert shots.proof.status == "optimal"
    assert {each.reason for each in shots.unplanned} == {"blocked"}


def day_of(request: Request) -> tuple[dt.datetime, dt.datetime]:
    noon = dt.datetime.combine(request.night.evening, dt.time(10), dt.UTC)
    return noon, noon + dt.timedelta(days=1, hours=4)


def steps_of(shots: ShotList, kind: str) -> int:
    return sum(step.seconds for step in shots.steps if step.kind == kind)


@every_night
def test_totals_are_sums_over_the_steps(night: Night) -> None:
    shots = night()
    exposures: list[Step] = of_kind(shots, "expose")
    assert shots.totals.open_shutter_s == pytest.approx(sum(step.exposure_s or 0 for step in exposures))
    assert shots.totals.seconds_by_kind == {
        kind: steps_of(shots, kind) for kind in {s.kind for s in shots.steps}
    }
    for total, (target, goal) in zip(shots.totals.goals, shots.request.goals(), strict=True):
        taken = [
            step
            for step in exposures
            if (step.target, step.filter, step.exposure_s) == (target.name, goal.filter, goal.exposure_s)
        ]
        assert (total.target, total.filter, total.exposure_s) == (target.name, goal.filter, goal.exposure_s)
        assert (total.frames_wanted, total.frames_done) == (goal.frames, goal.done)
        assert total.frames_planned == len(taken)
        assert total.frames_left == goal.frames - goal.done - len(taken)
        assert total.seconds_planned == len(taken) * goal.exposure_s
    left = {(total.target, total.filter, total.exposure_s): total.frames_left for total in shots.totals.goals}
    told = {(each.target, each.filter, each.exposure_s): each.frames for each in shots.unplanned}
    assert told == {key: frames for key, frames in left.items() if frames}


def test_dark_seconds_are_those_of_the_span_given_by_hand() -> None:
    """Cleared from 22:30 to 01:30, all of it dark: 3 h."""
    assert crossing().totals.dark_s == 3 * 3600
    assert crossing().totals.share == pytest.approx(crossing().totals.open_shutter_s / 10800, abs=5e-5)
    # 23:00 to 01:40 less 20 min blocked
    assert fork().totals.dark_s == 160 * 60 - 20 * 60


@every_night
def test_proof_agrees_with_the_frames(night: Night) -> None:
    shots = night()
    profit = sum(
        shots.request.target_named(step.target or "").weight * (step.exposure_s or 0)
        for step in of_kind(shots, "expose")
    )
    assert shots.proof.objective == pytest.approx(profit)
    assert shots.proof.bound >= shots.proof.objective
    assert shots.proof.gap == pytest.approx((shots.proof.bound - profit) / profit, abs=2e-6)
    assert (shots.proof.status == "optimal") == (shots.proof.bound == shots.proof.objective)
    assert shots.proof.workers == 1
