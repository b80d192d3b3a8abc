"""Lists that begin within a night: contiguous from there, the first act the safe one, its latest start right."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from typing import Any

from optimizer.models.continues import Begin, Continues
from optimizer.models.request import Request
from optimizer.models.shots import ShotList, Step
from optimizer.night import Night
from optimizer.timeline.steps import BEGIN_NOTE
from tests.support.checks import there
from tests.support.timeline_nights import CRADLE, MOUNT, WHEEL, a_request, goal

# Its first side must be left at 00:34:30; the flip may begin from 00:12:11 on.
ON_CRADLE: dict[str, Any] = {
    "target": "Cradle",
    "pier_side": "west",
    "acquired": True,
    "filter": "L",
}
MUST_LEAVE = "00:34"


def at(text: str) -> dt.datetime:
    day = "2026-11-14" if text >= "12" else "2026-11-15"
    return dt.datetime.fromisoformat(f"{day}T{text}:00Z" if len(text) == 5 else f"{day}T{text}Z")


def cradle(frames: int = 30, done: int = 0) -> dict[str, Any]:
    return {**CRADLE, "goals": [goal(frames=frames, done=done)]}


def rest_of(request: Request, begins: str, **begin: Any) -> ShotList:
    """The list that goes on with a night of this request at that time."""
    now = at(begins)
    blocked = (*request.night.blocked, (now - dt.timedelta(days=1), now))
    night = request.night.model_copy(update={"blocked": blocked})
    continues = Continues(
        sha256="0" * 64, now_utc=now, steps_done=(), begin=Begin.model_validate({"utc": now, **begin})
    )
    shots = Night(request.model_copy(update={"night": night}), continues).plan()
    steps = shots.steps
    assert shots.continues == continues
    assert steps[0].start_utc == now
    assert BEGIN_NOTE in there(steps[0].note)
    assert all(before.end_utc == after.start_utc for before, after in pairwise(steps))
    assert steps[-1].kind == "park"
    return shots


def must_leave(step: Step) -> bool:
    """Whether the step must have begun in the minute in which the Cradle's first side must be left."""
    return f"{there(step.latest_start_utc):%H:%M}" == MUST_LEAVE


def test_a_visit_goes_on_without_a_slew_and_its_dither_tells_the_filter_that_is_in() -> None:
    request = a_request(
        {**CRADLE, "goals": [goal("R", frames=30)]},
        mount=MOUNT,
        camera={"dither_every": 2},
        focus={"on_filter_change": False},
    )
    first, second, *_ = rest_of(request, "22:50", **ON_CRADLE, undithered=1).steps
    assert (first.kind, first.target, first.pier_side, first.filter) == ("dither", "Cradle", "west", "L")
    assert (second.kind, second.filter) == ("filter", "R")
    assert first.tracking
    assert first.latest_start_utc is not None


def test_near_the_end_of_its_zone_the_first_act_is_a_flip_that_may_not_wait() -> None:
    first = rest_of(a_request(cradle(), mount=MOUNT), "00:32", **ON_CRADLE).steps[0]
    assert first.kind == "flip"
    assert must_leave(first)


def test_beyond_its_zone_the_first_act_may_not_be_a_second_late() -> None:
    first = rest_of(a_request(cradle(), mount=MOUNT), "00:40", **ON_CRADLE).steps[0]
    assert first.kind == "flip"
    assert first.latest_start_utc == first.start_utc


def test_where_nothing_may_be_done_yet_the_mount_stops_tracking_before_its_zone_ends() -> None:
    """The Wheel's own night begins at 02:00; on the Cradle nothing is left to do."""
    request = a_request(
        cradle(9, 9), {**WHEEL, "goals": [goal(frames=9)]}, mount=MOUNT, clear=("02:00", "04:30")
    )
    for begins in ("00:20", "00:40"):
        wait, slew, *_ = rest_of(request, begins, **ON_CRADLE).steps
        assert (wait.kind, wait.target, wait.tracking) == ("wait", None, False)
        assert there(wait.note).startswith("tracking off; ")
        assert must_leave(wait) if begins == "00:20" else wait.latest_start_utc == at(begins)
        assert (slew.kind, slew.target) == ("slew", "Wheel")
        assert there(slew.latest_start_utc) > at("02:30")
    still = {**ON_CRADLE, "acquired": False, "stands_since_utc": at("00:10")}
    wait, *_ = rest_of(request, "00:20", **still).steps
    assert (wait.kind, wait.latest_start_utc) == ("wait", None)


def test_where_nothing_is_left_to_do_the_mount_is_parked() -> None:
    request = a_request(cradle(9, 9), mount=MOUNT)
    (park,) = rest_of(request, "00:20", **ON_CRADLE).steps
    assert must_leave(park)
    continues = Continues(sha256="0" * 64, now_utc=at("00:20"), steps_done=(), begin=Begin(utc=at("00:20")))
    assert Night(request, continues).plan().steps == ()  # it is parked already


def test_a_parked_mount_waits_from_the_begin_until_it_leaves() -> None:
    request = a_request(cradle(), mount=MOUNT, clear=("22:00", "23:59"))
    wait, slew, *_ = rest_of(request, "21:00").steps
    assert (wait.kind, wait.target, wait.tracking, wait.latest_start_utc) == ("wait", None, False, None)
    assert slew.kind == "slew"
    assert rest_of(request, "22:30").steps[0].kind == "slew"


def test_what_set_before_the_begin_is_told_as_over() -> None:
    """By 05:45 the Cradle has sunk below its floor."""
    (left,) = rest_of(
        a_request(cradle(), mount=MOUNT), "05:45", **{**ON_CRADLE, "pier_side": "east"}
    ).unplanned
    assert left.reason == "blocked"
    assert "from this list's begin on" in left.sentence
