"""Slack to the second: every row may be as late as was asked for, and nothing is given away for more than that."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections.abc import Callable
from functools import cache

import pytest

from optimizer.audit import audit_steps
from optimizer.models.request import Request
from optimizer.models.shots import ShotList, Step
from optimizer.mount.flip import flip_times
from optimizer.packing.solve import solve
from optimizer.problem import Problem, Slot, build_problem, without_slack
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows
from optimizer.timeline.totals import frames_planned
from tests.support.timeline_nights import CRADLE, MOUNT, NIGHTS, a_request, goal, later, of_kind, planned
from tests.support.told_nights import cradle, told

Night = Callable[[], ShotList]
every_night = pytest.mark.parametrize("night", NIGHTS, ids=lambda night: night.__name__)
NAMES = {
    "slew": "slew",
    "flip": "flip",
    "centre": "plate solve",
    "settle": "settling",
    "rotate": "rotator turn",
    "filter": "filter change",
    "focus": "autofocus",
    "dither": "dither",
}


@cache
def with_slack(night: Night, slack_s: int) -> ShotList:
    return planned(night().request.with_aim(slack_s=slack_s))


def spare_s(step: Step) -> int:
    assert step.latest_start_utc is not None
    return round((step.latest_start_utc - step.start_utc).total_seconds())


def may_be_late(shots: ShotList) -> list[Step]:
    exempt = ("wait", "park", "flip" if shots.request.mount.flip_by == "mount" else "")
    return [step for step in shots.steps if step.latest_start_utc and step.kind not in exempt]


# --- rows ------------------------------------------------------------------------------------------------


@every_night
@pytest.mark.parametrize("slack_s", [1, 45, 300])
def test_every_row_may_be_so_late(night: Night, slack_s: int) -> None:
    shots = with_slack(night, slack_s)
    rows = may_be_late(shots)
    assert rows
    assert min(map(spare_s, rows)) >= slack_s
    least = min(rows, key=lambda step: (spare_s(step), step.step))
    assert (shots.totals.least_slack_s, shots.totals.least_slack_step) == (spare_s(least), least.step)
    assert shots.audit_report.violations == ()
    assert shots.audit_report.quality == ()


@every_night
def test_latest_starts_know_no_slack(night: Night) -> None:
    """As without any: a second later than told each of them breaks a rule."""
    shots = with_slack(night, 45)
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


def test_nights_have_every_kind_of_row_that_may_be_late() -> None:
    kinds = {step.kind for night in NIGHTS for step in may_be_late(with_slack(night, 45))}
    assert kinds == {*NAMES, "expose"}


# --- windows ---------------------------------------------------------------------------------------------


def frames(clear_s: int, slack_s: int) -> int:
    """Exposures of 60 s on a fork, clear from 22:00 UTC for so long."""
    request = a_request({**CRADLE, "goals": [goal(exposure_s=60.0)]}, mount={"kind": "fork"})
    start = dt.datetime.combine(request.night.evening, dt.time(22), dt.UTC)
    night = request.night.model_copy(update={"clear": ((start, later(start, clear_s)),)})
    problem = problem_of(request.model_copy(update={"night": night}).with_aim(slack_s=slack_s))
    return frames_planned(solve(problem).plan).total()


@cache
def just_four_s() -> int:
    """The shortest clear span that holds four exposures."""
    return 400 + bisect_left(range(400, 900), 4, key=lambda seconds: frames(seconds, 0))


@pytest.mark.parametrize("slack_s", [1, 60, 200])
def test_frame_fits_if_its_slack_does_and_not_with_a_second_less(slack_s: int) -> None:
    assert (frames(just_four_s() - 1, 0), frames(just_four_s(), 0)) == (3, 4)
    assert frames(just_four_s() + slack_s, slack_s) == 4
    assert frames(just_four_s() + slack_s - 1, slack_s) == 3


def slots(request: Request) -> dict[tuple[str, str | None, int], Slot]:
    problem = build_problem(request, sky_windows(request, night_sky(request)))
    return {(slot.target.name, slot.side, slot.index): slot for slot in problem.slots}


def test_slots_end_sooner_by_the_slack_and_begin_as_ever() -> None:
    request = next(night for night in NIGHTS if night.__name__ == "crossing")().request
    loose, tight = slots(request), slots(request.with_aim(slack_s=50))
    assert list(loose) == list(tight)
    for key, slot in tight.items():
        free = loose[key]
        assert slot.work == (free.work[0], free.work[1] - 50)
        assert (slot.motion, slot.stretch) == (free.motion, free.stretch)
        assert (slot.quiet is None) == (free.quiet is None)
        if slot.quiet and free.quiet:
            assert slot.quiet == (free.quiet[0] - 50, free.quiet[1])
            assert slot.quiet_from() == free.quiet_from() == free.quiet[0]
        for task, spans in slot.shutter.items():
            assert [span[0] for span in spans] == [span[0] for span in free.shutter[task]]
            for span, other in zip(spans, free.shutter[task], strict=True):
                # the first side ends with the zone: its tail, 3 s, must be over as well
                assert span[1] == other[1] - 50 - (3 if slot.side == "west" else 0)
                assert slot.ends_by(span[1], task) == free.ends_by(other[1], task) == other[1]


def problem_of(request: Request) -> Problem:
    return build_problem(request, sky_windows(request, night_sky(request)))


def test_night_without_slack_is_that_of_a_request_without_it() -> None:
    request = NIGHTS[0]().request
    windows = sky_windows(request, night_sky(request))
    loose = without_slack(problem_of(request.with_aim(slack_s=77)), request.with_aim(slack_s=77), windows)
    assert loose.slots == problem_of(request).slots


# --- the flip --------------------------------------------------------------------------------------------


def room_s(request: Request) -> int:
    """Whole seconds from the first to the last second at which the flip may begin."""
    (times,) = flip_times(request.mount, sky_windows(request, night_sky(request))["Cradle"].track)
    assert times.latest_s is not None
    return int(times.latest_s // 1 + -times.flipped_s // 1)


def narrow() -> Request:
    """Only some 40 s between the first and the last second of the flip."""
    mount = {**MOUNT, "contact_min": 18.3, "quiet_min": 0.0}
    return a_request(
        {**CRADLE, "goals": [goal(exposure_s=60.0, frames=200)]}, clear=("23:00", "01:00"), mount=mount
    )


def test_flip_keeps_its_slack_to_the_second() -> None:
    """Room for the slack: it begins with the zone. A second less: the mount stands still until that is over."""
    room = room_s(narrow())
    assert 20 <= room <= 60
    shots = planned(narrow().with_aim(slack_s=room))
    (flip,) = of_kind(shots, "flip")
    assert spare_s(flip) == shots.totals.least_slack_s == room
    assert shots.steps[flip.step - 2].tracking
    apart = planned(narrow().with_aim(slack_s=room + 1))
    (late,) = of_kind(apart, "flip")
    wait = apart.steps[late.step - 2]
    assert (wait.kind, wait.tracking) == ("wait", False)
    assert late.start_utc == later(flip.start_utc, room + 1)
    assert wait.latest_start_utc == later(flip.start_utc, room)
    assert spare_s(wait) >= room + 1
    for each in (shots, apart):
        assert each.audit_report.violations == each.audit_report.quality == ()


@pytest.mark.parametrize("overhead_s", [0.0, 8.0])
def test_last_tail_before_contact_is_over_in_time(overhead_s: float) -> None:
    """The mount leaves only then: download and overhead more than the slack before the side must be left."""
    request = narrow().with_aim(slack_s=20)
    camera = request.camera.model_copy(update={"overhead_s": overhead_s})
    request = request.model_copy(update={"camera": camera})
    west = [step for step in planned(request).steps if step.pier_side == "west" and step.kind == "expose"][-1]
    assert west.latest_start_utc is not None
    assert spare_s(west) >= 20 + 3 + overhead_s


# --- what is left out ------------------------------------------------------------------------------------


def test_goal_that_only_the_slack_leaves_out_says_so() -> None:
    """A clear span of 10 min holds two subs, with 400 s of slack none: no rule of the sky is blamed."""
    request = a_request(
        cradle(goal(exposure_s=120.0, frames=2)), clear=("22:00", "22:10"), mount={"kind": "fork"}
    )
    assert told(request).entries == ()
    entry = told(request.with_aim(slack_s=400)).only
    assert entry.reason == "window_too_short"
    assert entry.sentence == (
        "no plan was found that holds a sub of it with the slack of 400 s asked for; a smaller slack_s may make room"
    )


def test_goal_that_the_slack_cuts_short_says_so() -> None:
    request = a_request(
        cradle(goal(exposure_s=120.0, frames=3)), clear=("22:00", "22:10"), mount={"kind": "fork"}
    )
    entry = told(request.with_aim(slack_s=120)).only
    assert entry.sentence.startswith("no plan was found that holds more than")
    assert "slack of 120 s" in entry.sentence


def test_least_visit_is_not_blamed_for_the_slack() -> None:
    request = a_request(
        cradle(goal(exposure_s=60.0, frames=9), least_min=5.0),
        clear=("22:00", "22:11"),
        mount={"kind": "fork"},
    )
    assert all(entry.frames < 9 for entry in told(request).entries)
    assert "slack_s" in told(request.with_aim(slack_s=300)).only.sentence


def test_what_holds_without_slack_as_well_is_told_as_ever() -> None:
    for request in (
        a_request(cradle(), clear=("22:00", "22:04"), mount={"kind": "fork"}),
        a_request(cradle(least_min=60.0), clear=("22:00", "22:30")),
        a_request(cradle(dec_deg=-40.0)),
    ):
        assert told(request.with_aim(slack_s=60)).only == told(request).only
