"""Single changes of a list that may explain much of what is wrong with it: its order, its times, a move.

Each is tried by auditing the changed list: what the audit then no longer finds, the change explains.
"""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections import Counter
from collections.abc import Container, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from optimizer.findings.driven import Origin, Stands
from optimizer.findings.groups import Fault
from optimizer.models.continues import Continues
from optimizer.models.request import Request
from optimizer.models.shots import Step

SIDEREAL_PER_CLOCK = 1.00273790935
ROUND_MIN = (10, 20, 30, 45, 90, 120, 180, 240)
LEAST_STRETCH = 3  # rows on another target or pier side: fewer are a slip, if the list then goes on as before
LEAST_ROWS = 3  # whose positions fit another instant, all the same one, before a shift is believed


@dataclass(frozen=True)
class Moved:
    """Rows from place `first` to place `last` moved by `seconds` (positive: they were too early).

    `with_latest`: with their latest starts. `told`: the positions in the list say so.
    """

    first: int
    last: int
    seconds: int
    with_latest: bool
    told: bool = True

    def applied(self, rows: Sequence[Origin]) -> list[Origin]:
        """The rows with those times."""
        by = dt.timedelta(seconds=self.seconds)
        return [
            replace(row, step=_later(row.step, by, latest=self.with_latest))
            if row.place is not None and self.first <= row.place <= self.last
            else row
            for row in rows
        ]


def _later(step: Step, by: dt.timedelta, *, latest: bool) -> Step:
    times = {"start_utc": step.start_utc + by, "end_utc": step.end_utc + by}
    if latest and step.latest_start_utc is not None:
        times["latest_start_utc"] = step.latest_start_utc + by
    return step.model_copy(update=times)


def in_order_of_time(rows: Sequence[Origin]) -> list[Origin]:
    """The rows by their starts; those that start together by their ends and then by their numbers."""
    return sorted(rows, key=lambda row: (row.step.start_utc, row.step.end_utc, row.step.step))


def out_of_order(rows: Sequence[Origin]) -> list[int]:
    """Places of the fewest rows that have to be put elsewhere for the rest to stand in the order of time."""
    rank = {id(row): number for number, row in enumerate(in_order_of_time(rows))}
    ranks = [rank[id(row)] for row in rows]
    best: list[int] = []  # length of the longest rising series that ends with each row
    came: list[int | None] = []
    tops: list[int] = []  # the row with which the best series of each length ends
    for place, own in enumerate(ranks):
        low = sum(1 for top in tops if ranks[top] < own)
        came.append(tops[low - 1] if low else None)
        tops[low : low + 1] = [place]
        best.append(low + 1)
    kept, at = set(), tops[-1] if tops else None
    while at is not None:
        kept.add(at)
        at = came[at]
    return [place for place in range(len(rows)) if place not in kept]


def shifts_by_positions(rows: Sequence[Origin], faults: Sequence[Fault]) -> list[Moved]:
    """Moves that the hour angles speak for: those of many rows fit instants that are off by the same."""
    off = {
        fault.place: round(fault.violation.amount * 3600 / SIDEREAL_PER_CLOCK)
        for fault in faults
        if fault.rule == "columns" and fault.violation.unit == "h" and fault.place is not None
    }
    counts = Counter(seconds for seconds in off.values() if seconds)
    if not counts:
        return []
    seconds, many = counts.most_common(1)[0]
    if many < LEAST_ROWS:
        return []
    places = [place for place, each in off.items() if each == seconds]
    first, last = min(places), max(places)
    told = [row.place for row in rows if row.place is not None and row.step.hour_angle_h is not None]
    if all(place <= last for place in told):
        last = len(rows) - 1  # what follows has no positions: it is part of the rest
    if all(place >= first for place in told):
        first = 0
    return [Moved(first, last, by, latest) for by in (-seconds, seconds) for latest in (False, True)]


def shifts_by_the_clock(request: Request, rows: Sequence[Origin], broken: Container[str]) -> list[Moved]:
    """Moves to be tried where no position tells: a mistaken zone or summer time first, then round spans.

    Of the rules that are `broken`, those of the zone say which way.
    """
    offset = rows[0].step.start_utc.astimezone(zoneinfo.ZoneInfo(request.site.time_zone)).utcoffset()
    zone_s = round(offset.total_seconds()) if offset is not None else 0
    earlier = "contact" in broken or "flip_from" not in broken
    later = "flip_from" in broken or "contact" not in broken
    spans = [abs(zone_s), 3600, *(60 * minutes for minutes in ROUND_MIN)]
    tried = dict.fromkeys(by for span in spans for by, may in ((-span, earlier), (span, later)) if by and may)
    last = max((row.place for row in rows if row.place is not None), default=0)
    return [Moved(0, last, by, with_latest=True, told=False) for by in tried]


@dataclass(frozen=True)
class Arrival:
    """A slew or flip that the list lacks before the row at `place`."""

    place: int
    kind: str
    target: str
    rows: tuple[int, ...]


def with_arrivals(
    rows: Sequence[Origin], continues: Continues | None
) -> tuple[list[Origin], tuple[Arrival, ...]]:
    """The rows with a slew or flip wherever one must have been left out, and which these are.

    One is missing where rows are on another target or pier side than the mount, unless they are few and the
    list goes on where the mount was.
    """
    stands, until = Stands.at_start(continues), None
    made: list[Origin] = []
    missing: list[Arrival] = []
    for index, row in enumerate(rows):
        step = row.step
        lost = step.target is not None and not (stands.carries(step) and stands.tracks)
        if lost and row.place is not None and step.kind not in ("slew", "flip", "park", "wait"):
            stretch, returns = _stretch(rows[index:], stands)
            if len(stretch) >= LEAST_STRETCH or not returns:
                flips = (stands.target, stands.side, step.pier_side) == (step.target, "west", "east")
                kind = "flip" if flips else "slew"
                begins = step.start_utc if until is None else min(until, step.start_utc)
                arrival = step.model_copy(
                    update={
                        "kind": kind,
                        "start_utc": begins,
                        "end_utc": step.start_utc,
                        "latest_start_utc": None,
                        "filter": None,
                        "exposure_s": None,
                        "tracking": True,
                    }
                )
                made.append(Origin(arrival, None))
                stands = stands.after(arrival)
                places = tuple(each.place for each in stretch if each.place is not None)
                missing.append(Arrival(row.place, kind, str(step.target), places))
        made.append(row)
        stands = stands.after(step)
        until = step.end_utc if until is None else max(until, step.end_utc)
    return made, tuple(missing)


def _stretch(rows: Sequence[Origin], stands: Stands) -> tuple[list[Origin], bool]:
    """The rows that go on like the first, and whether what follows is where the mount stands already."""
    first = rows[0].step
    found: list[Origin] = []
    for row in rows:
        step = row.step
        if step.kind in ("slew", "flip", "park") or (step.kind == "wait" and not step.tracking):
            return found, False
        if step.target not in (None, first.target) or step.pier_side not in (None, first.pier_side):
            return found, stands.tracks and stands.carries(step)
        found.append(row)
    return found, False


def places_of_gaps(rows: Sequence[Origin], *, numbered: bool) -> list[int]:
    """Places of rows before which time is not told or, where the list is `numbered`, numbers are missing."""
    places = []
    for before, row in pairwise(rows):
        jumps = before.place is not None and row.step.step - before.step.step > 1
        if row.place is not None and (row.step.start_utc > before.step.end_utc or (numbered and jumps)):
            places.append(row.place)
    return places
