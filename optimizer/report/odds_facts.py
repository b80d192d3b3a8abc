"""What a plan may be expected to give by the odds of clear sky, and which part of it is a gamble."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimizer.models.request import Request
from optimizer.models.shots import Step
from optimizer.report.words import clock, duration
from optimizer.words import listing

GAMBLE_PERCENT = 50.0  # odds below which a stretch is called a gamble
MOST_STRETCHES = 3  # told one by one
Given = Sequence[tuple[dt.datetime, float]]


@dataclass(frozen=True)
class Stretch:
    """A stretch of odds below `GAMBLE_PERCENT`; None where it has no beginning or no end."""

    since: dt.datetime | None
    until: dt.datetime | None

    def shared_s(self, begins: dt.datetime, ends: dt.datetime) -> float:
        """Seconds that the stretch shares with a span."""
        first = begins if self.since is None else max(begins, self.since)
        last = ends if self.until is None else min(ends, self.until)
        return max(0.0, (last - first).total_seconds())

    def words(self, zone: str) -> str:
        """The stretch in local time."""
        if self.since is None:
            return "all night" if self.until is None else f"until {clock(self.until, zone)}"
        if self.until is None:
            return f"after {clock(self.since, zone)}"
        return f"from {clock(self.since, zone)} to {clock(self.until, zone)}"


def gambles(given: Given) -> list[Stretch]:
    """Stretches in which the odds, in per cent at instants that ascend, are below `GAMBLE_PERCENT`."""
    low = given[0][1] < GAMBLE_PERCENT
    edges: list[dt.datetime | None] = [None] if low else []
    for (since, before), (until, after) in pairwise(given):
        if (after < GAMBLE_PERCENT) != low:
            share = (GAMBLE_PERCENT - before) / (after - before)
            edges.append(since + share * (until - since))
            low = not low
    if low:
        edges.append(None)
    return [Stretch(since, until) for since, until in zip(edges[::2], edges[1::2], strict=True)]


def expected_words(open_s: float, expected_s: float) -> str:
    """Planned and expected open shutter side by side; expected is odds-weighted, and as good as the odds."""
    return (
        f"planned {duration(open_s)}, expected {duration(expected_s)} by the odds of clear sky given, "
        "as far as these hold"
    )


def gamble_words(request: Request, steps: Sequence[Step]) -> str | None:
    """Which part of the plan is a gamble; None where no odds are given or no shutter is open."""
    given, zone = request.night.clear_odds, request.site.time_zone
    opened = [
        (step.start_utc, step.start_utc + dt.timedelta(seconds=step.exposure_s))
        for step in steps
        if step.kind == "expose" and step.exposure_s is not None
    ]
    if not given or not opened:
        return None
    begins, ends = opened[0][0], opened[-1][1]
    met = [stretch for stretch in gambles(given) if stretch.shared_s(begins, ends) > 0]
    if not met:
        return f"from the first sub to the last the odds are never below {GAMBLE_PERCENT:g} %"
    open_s = sum(stretch.shared_s(*span) for stretch in met for span in opened)
    when = listing([stretch.words(zone) for stretch in met], "and", MOST_STRETCHES)
    planned = f"{duration(open_s)} of open shutter lie there" if open_s else "no shutter is open there"
    return f"{when} the odds are below {GAMBLE_PERCENT:g} %: {planned}"
