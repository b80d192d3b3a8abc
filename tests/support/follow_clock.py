"""A night that is followed by a fake clock, on the stored list of the first night."""

from __future__ import annotations

import datetime as dt
import io
import random
from collections.abc import Callable

import pytest

from optimizer.cli import following
from optimizer.cli.following import Follower
from optimizer.reading import evening
from optimizer.report.follow_view import follow_view
from optimizer.report.tables import show
from tests.support.cli_cases import Ran, darkfill
from tests.support.picture_cases import shots_path, stored
from tests.support.run_night import Happened, run_night

FIRST = stored("first-night")
PATH = shots_path("first-night")
BUSY = dt.datetime(2026, 10, 10, 23, 20, tzinfo=dt.UTC)  # 01:20 local time


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
    """Make ten minutes from 01:20 local time on the command's clock."""
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
