"""Scarce hours, gathered for people: which goals count more tonight, and how few hours they have."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from optimizer.models.request import Request
from optimizer.models.shots import GoalValue, NightFacts, Step
from optimizer.report.words import count, duration, name

MOST_ROWS = 12  # a tired reader's; of more, as many of both ends are shown
NO_HOURS = "0 h"
COUNTS = "counts"  # the heading of the factors, and what the sentences call them


@dataclass(frozen=True)
class ScarceRow:
    """Filters of one target that may be shot in the same hours, and by how much more their subs count."""

    target: str
    filters: str
    hours: str
    counts: str


@dataclass(frozen=True)
class ScarceFacts:
    """What is scarce, first what counts most, and sentences on it; `between` rows were left out in `at`."""

    heading: str
    rows: list[ScarceRow]
    at: int
    between: str
    notes: list[str]


def scarce_facts(
    request: Request, night: NightFacts, steps: Sequence[Step], values: Sequence[GoalValue], *, carried: bool
) -> ScarceFacts | None:
    """What is told of the goals that are not complete; None where all of them count alike.

    `carried`: the values are those of another night, of which this one was asked.
    """
    wanted = [row for row, (_, goal) in zip(values, request.goals(), strict=False) if goal.frames_left > 0]
    if all(row.factor == 1.0 for row in wanted):
        return None
    nights = count(request.aim.look_ahead_nights, "night")
    grouped: dict[tuple[str, float, float], list[str]] = {}
    for row in wanted:
        filters = grouped.setdefault((row.target, row.hours_ahead, row.factor), [])
        if (filter_name := name(row.filter, 12)) not in filters:
            filters.append(filter_name)
    rows = [
        ScarceRow(name(target), ", ".join(filters), _hours(hours), f"{factor:.2f} ×")
        for (target, hours, factor), filters in sorted(grouped.items(), key=lambda pair: -pair[0][2])
    ]
    any_hours = [row for row in rows if row.hours != NO_HOURS]
    left_out = max(0, len(rows) - MOST_ROWS)
    half = MOST_ROWS // 2
    notes = [_scarcest(any_hours[0], any_hours[-1], f"the {nights} from {night.evening} on", carried=carried)]
    if any(row.hours_ahead == 0 for row in wanted):
        notes.append("What has no such hours counts as it is.")
    notes += _by_moon(night, steps)
    return ScarceFacts(
        heading=f"Scarce hours, next {nights}",
        rows=rows[:half] + rows[half + left_out :] if left_out else rows,
        at=half if left_out else 0,
        between=f"{left_out} more between" if left_out else "",
        notes=notes,
    )


def _hours(hours: float) -> str:
    return f"{hours:.1f} h" if 0 < hours < 9.95 else f"{hours:.0f} h"


def _scarcest(first: ScarceRow, last: ScarceRow, nights: str, *, carried: bool) -> str:
    """What counts most beside what counts least, and why; of a night asked of another one row may be all."""
    beside = "" if first is last else f", {last.target} through {last.filters} for {last.hours}"
    whose = "Kept from the plan before this one: were" if carried else "Were"
    return (
        f"{whose} the sky always clear, {first.target} could be shot through {first.filters} for "
        f"{first.hours} in {nights}{beside}: the fewer hours, the more a sub counts tonight."
    )


def _by_moon(night: NightFacts, steps: Iterable[Step]) -> list[str]:
    """What the shutter is open for with the Moon down and with it up, as far as both occur; else nothing."""
    open_s: dict[bool, dict[str, float]] = {True: {}, False: {}}  # by whether the Moon is down
    for step in steps:
        if step.kind != "expose" or step.exposure_s is None:
            continue
        down_s = _down_s(night, step.start_utc, step.exposure_s)
        if down_s is None:
            return []
        for down, seconds in ((True, down_s), (False, step.exposure_s - down_s)):
            if seconds > 0:
                through = name(step.filter or "", 12)
                open_s[down][through] = open_s[down].get(through, 0.0) + seconds
    if not all(open_s.values()):
        return []
    words = [
        ", ".join(
            f"{through} {duration(seconds)}"
            for through, seconds in sorted(open_s[down].items(), key=lambda pair: -pair[1])
        )
        for down in (True, False)
    ]
    return [f"Open shutter tonight with the Moon down: {words[0]}; with the Moon up: {words[1]}."]


def _down_s(night: NightFacts, start: dt.datetime, length_s: float) -> float | None:
    """Seconds of a span in which the Moon is down; None where the night has no edge to tell it by."""
    rises, sets = night.moonrise_utc, night.moonset_utc
    if rises is None and sets is None:
        return None

    def before(instant: dt.datetime) -> float:
        """Seconds of the span that lie before an instant."""
        return min(length_s, max(0.0, (instant - start).total_seconds()))

    if sets is None:
        assert rises is not None
        return before(rises)
    if rises is None:
        return length_s - before(sets)
    down_s = before(rises) - before(sets)
    return down_s if sets < rises else length_s + down_s
