"""Slews and flips: how long the axes take, no shutter open meanwhile, and when a flip begins."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from tests.support.recheck.facts import MOTIONS, SUNSET_DEG, Facts, Finding, whole
from tests.support.recheck.step import step_breaks, visits_of

# What 1 s of time and 1" make on an axis, degrees: 15" of the sky's motion for each end, and the 1".
AXIS_DEG = 31 / 3600


class Change(NamedTuple):
    """A flip with what lies before it."""

    flip: int
    left: int  # second at which the visit before it ends (waits left out)
    waits: list[int]  # rows between


def motion_findings(facts: Facts) -> list[Finding]:
    found = [*_lengths(facts), *_shutter(facts)]
    for change in changes(facts):
        found += _when(facts, change)
    return found


def axes_deg(facts: Facts, target: str, side: str | None, second: int) -> tuple[float, float]:
    """Hour axis and declination axis of the law."""
    star = facts.star(target)
    up = float(star.dec_deg[second]) * (-1 if facts.site["latitude_deg"] < 0 else 1)
    hours = float(star.hour_angle_s[second]) / 3600
    if side == "west":
        hours = (hours + 18) % 24 - 18
        return (hours + 6) * 15, 90 - up
    if side == "east":
        hours = (hours + 6) % 24 - 6
        return (hours - 6) * 15, -(90 - up)
    return hours * 15, 90 - up


def _lengths(facts: Facts) -> Iterator[Finding]:
    at = (0.0, 0.0)
    tracked: tuple[str, str | None, int] | None = None
    for index, row in enumerate(facts.rows):
        if row["kind"] in (*MOTIONS, "park"):
            if tracked:
                at = axes_deg(facts, *tracked)
            to = (0.0, 0.0)
            if row["kind"] != "park":
                to = axes_deg(facts, row["target"], row["pier_side"], facts.start[index])
            hour = abs(to[0] - at[0])
            if not facts.german:
                hour = min(hour % 360, 360 - hour % 360)
            way = max(hour, abs(to[1] - at[1])) - AXIS_DEG
            least = whole(facts.mount["slew_extra_s"] + max(0.0, way) / facts.mount["slew_deg_s"])
            if facts.end[index] - facts.start[index] < least:
                length = facts.end[index] - facts.start[index]
                yield Finding("motion_length", row["step"], f"{row['kind']} {length} s, least {least} s")
        if row["tracking"] and row["target"] in facts.targets:
            tracked = (row["target"], row["pier_side"], facts.end[index])


def _shutter(facts: Facts) -> Iterator[Finding]:
    """Asked of instants alone, whatever the rows' order."""
    moves = [i for i, row in enumerate(facts.rows) if row["kind"] in (*MOTIONS, "park")]
    for index, row in enumerate(facts.rows):
        if row["kind"] != "expose":
            continue
        for move in moves:
            if facts.start[index] < facts.end[move] and facts.start[move] < facts.closes(index):
                number = facts.rows[move]["step"]
                yield Finding("shutter_in_motion", row["step"], f"open during step {number}")


def changes(facts: Facts) -> list[Change]:
    """The flips that lead from a visit of their own target."""
    found = []
    visits = visits_of(facts)
    for before, visit in pairwise(visits):
        if facts.rows[visit.arrival]["kind"] != "flip":
            continue
        last = max(i for i in before.rows if facts.rows[i]["kind"] != "wait")
        found.append(Change(visit.arrival, facts.end[last], list(range(last + 1, visit.arrival))))
    return found


def end_of_zone(facts: Facts, target: str, side: str | None, second: int) -> int:
    """The last second, from that one on, at which the side may still track the target."""
    ends = np.flatnonzero(~facts.zone(target, side).flags[second + 1 :])
    return second + int(ends[0]) if len(ends) else len(facts.zone(target, side).flags) - 1


def must_leave(facts: Facts, change: Change) -> int:
    """When the first side must be left at the latest."""
    return end_of_zone(facts, facts.rows[change.flip]["target"], "west", change.left)


def workable(facts: Facts, target: str, first: int, last: int) -> bool:
    """Whether the telescope may surely work on the target in all that span, the mount's zone set aside."""
    return (
        facts.sun_below(SUNSET_DEG).surely(first, last)
        and facts.above(target, facts.acquisition_deg(target)).surely(first, last)
        and facts.over_skyline(target).surely(first, last)
        and facts.under_ceiling(target).surely(first, last)
        and facts.clear(first, last)
        and facts.unblocked(first, last)
    )


def _when(facts: Facts, change: Change) -> Iterator[Finding]:
    """A flip is not put off, and the mount does not stand before one that could be tracked to."""
    row, began = facts.rows[change.flip], facts.start[change.flip]
    target = row["target"]
    east = facts.zone(target, "east")
    for second in range(change.left, began - 1):
        if step_breaks(facts, change.flip, second, sure=True):
            continue
        # what follows is tracked as well: the flip's block, and then the wait
        if east.surely(second, began) and workable(facts, target, second, facts.end[change.flip]):
            yield Finding("flip_put_off", row["step"], f"may begin {began - second} s sooner")
        break
    for index in change.waits:
        wait = facts.rows[index]
        if wait["tracking"]:
            continue
        if facts.mount["flip_by"] == "mount":
            yield Finding("standing_wait", wait["step"], "the mount flips by itself, if it tracks")
        elif facts.zone(target, "west").surely(change.left, began) and workable(
            facts, target, change.left, began
        ):
            yield Finding("standing_wait", wait["step"], "the flip can be tracked to")
