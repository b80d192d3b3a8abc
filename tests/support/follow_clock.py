"""A night that is followed by a fake clock, on the stored list of the first night."""

from __future__ import annotations

import datetime as dt
import io
import random
import zoneinfo
from collections.abc import Callable
from itertools import takewhile

import pytest

from optimizer.cli import following
from optimizer.cli.following import Follower
from optimizer.models.shots import Step
from optimizer.pace.late import LEAVES
from optimizer.reading import evening
from optimizer.report.follow_view import follow_view
from optimizer.report.tables import show
from tests.support.cli_cases import Ran, darkfill
from tests.support.picture_cases import shots_path, stored
from tests.support.run_night import Happened, run_night

FIRST = stored("first-night")
PATH = shots_path("first-night")
ZONE = zoneinfo.ZoneInfo(FIRST.night.time_zone)
LEAST_BEFORE, LEAST_AFTER = 20, 5  # subs of the run that is interrupted by `FOCUS`


def run_of(step: Step) -> tuple[list[Step], list[Step]]:
    """The subs of the run that an autofocus interrupts: those before it, and those after it."""
    before = [*takewhile(lambda each: each.kind not in LEAVES, reversed(FIRST.steps[: step.step - 1]))][::-1]
    after = [*takewhile(lambda each: each.kind not in LEAVES, FIRST.steps[step.step :])]
    subs = [[each for each in part if each.kind == "expose"] for part in (before, after)]
    goals = {each.goal_key for part in subs for each in part}
    return (subs[0], subs[1]) if len(goals) == 1 else ([], [])


def _focus() -> Step:
    for step in FIRST.steps:
        if step.kind == "focus":
            before, after = run_of(step)
            if len(before) >= LEAST_BEFORE and len(after) >= LEAST_AFTER:
                return step
    raise AssertionError("the stored list has no run long enough")


FOCUS = _focus()
BEFORE, AFTER = run_of(FOCUS)
FLIP = next(step for step in FIRST.steps[FOCUS.step :] if step.kind == "flip")
BUSY = FOCUS.end_utc - dt.timedelta(seconds=122)  # in the middle of the night, while the autofocus runs
HUNG, LOST = BEFORE[len(BEFORE) // 3], BEFORE[len(BEFORE) // 6]
HANG_S = round(3.3 * HUNG.seconds)  # as long as no whole number of subs


def local(instant: dt.datetime) -> str:
    """What the site's clock shows."""
    return instant.astimezone(ZONE).strftime("%H:%M:%S")


NOW = local(BUSY)


def night(**keys: object) -> Happened:
    return run_night(FIRST, random.Random(1), **keys)  # type: ignore[arg-type]


def follow(*options: object, columns: int = 110) -> Ran:
    return darkfill("follow", *options, env={"COLUMNS": str(columns)})


class Hours:
    """A clock that goes on by so many seconds at each wait, and says that Ctrl-C has come at its end."""

    def __init__(self, begin: dt.datetime, end: dt.datetime, tick_s: float = 20.0) -> None:
        self.now, self.end, self.tick = begin, end, dt.timedelta(seconds=tick_s)
        self.at_each: list[Callable[[], None]] = []

    def clock(self) -> dt.datetime:
        return self.now

    def wait(self, seconds: float) -> bool:
        del seconds
        self.now += self.tick
        for each in self.at_each:
            each()
        return self.now >= self.end


def follow_hours(monkeypatch: pytest.MonkeyPatch) -> Hours:
    """Make ten minutes from `BUSY` on the command's clock."""
    made = Hours(BUSY, BUSY + dt.timedelta(minutes=10))
    monkeypatch.setattr(evening, "utc_now", made.clock)
    monkeypatch.setattr(following, "wait_for_ctrl_c", made.wait)
    return made


def view(follower: Follower, now: dt.datetime) -> str:
    """What is shown at an instant, 110 wide."""
    told = follower.told(now)
    out = io.StringIO()
    show(follow_view(told.shots, told.moment, told.followed), out)
    return out.getvalue()
