"""What a page's script needs to follow the clock, beside the table of steps that the page has anyway."""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimizer.follow.moment import FlipBy, flip_maker
from optimizer.models.request import Request
from optimizer.models.shots import Step

DAY_S = 86_400
BEYOND_S = 2 * DAY_S  # before and after the steps, for a clock that is shown on another evening
HOUR_S = 3600


@dataclass(frozen=True)
class Following:
    """Numbers for the script: seconds are UTC's since 1970.

    `span` is when the list begins, and from when to when the drawings go. `flip_by` is who makes a flip, as
    `Moment` has it. `late_s` is by how much the latest start of a row is later than its start, for rows (from
    0) whose clock times alone would not say so.
    """

    span: tuple[int, int, int]
    flip_by: FlipBy
    late_s: Mapping[int, int]


def following(
    request: Request, steps: Sequence[Step], from_utc: dt.datetime, to_utc: dt.datetime
) -> Following | None:
    """What the script needs, where the drawings go from one instant to another.

    None where there are no steps, or where their times of day do not say on which day they are: the script
    takes each to be the next after the one before it.
    """
    if not steps or not _readable(steps):
        return None
    zone = zoneinfo.ZoneInfo(request.site.time_zone)
    late: dict[int, int] = {}
    for row, step in enumerate(steps):
        if step.latest_start_utc is None:
            continue
        start, latest = _epoch(step.start_utc), _epoch(step.latest_start_utc)
        if not 0 <= latest - start < DAY_S or _offset_s(zone, start) != _offset_s(zone, latest):
            late[row] = latest - start
    span = _epoch(steps[0].start_utc), _epoch(from_utc), _epoch(to_utc)
    return Following(span, flip_maker(request.mount), late)


def zone_offsets(name: str, from_utc: dt.datetime, to_utc: dt.datetime) -> list[int]:
    """The offset of a zone in seconds two days before a span, then until two days after it each change.

    A change is the instant in UTC's seconds since 1970, followed by the next offset.
    """
    zone = zoneinfo.ZoneInfo(name)
    begins, ends = _epoch(from_utc) - BEYOND_S, _epoch(to_utc) + BEYOND_S
    found = [_offset_s(zone, begins)]
    for hour in range(begins, ends, HOUR_S):
        before, after = _offset_s(zone, hour), _offset_s(zone, hour + HOUR_S)
        if before == after:
            continue
        least, most = hour, hour + HOUR_S
        while most - least > 1:
            middle = (least + most) // 2
            least, most = (middle, most) if _offset_s(zone, middle) == before else (least, middle)
        found += [most, after]
    return found


def _epoch(instant: dt.datetime) -> int:
    return math.floor(instant.timestamp())


def _readable(steps: Sequence[Step]) -> bool:
    """Whether each step lasts less than a day and begins less than half a day from the end before it."""
    spans = [(_epoch(step.start_utc), _epoch(step.end_utc)) for step in steps]
    return all(0 <= end - start < DAY_S for start, end in spans) and all(
        -DAY_S // 2 <= after[0] - before[1] < DAY_S // 2 for before, after in pairwise(spans)
    )


def _offset_s(zone: zoneinfo.ZoneInfo, epoch: int) -> int:
    found = dt.datetime.fromtimestamp(epoch, zone).utcoffset()
    return 0 if found is None else round(found.total_seconds())
