"""Frames of a folder -> the gaps between two that follow each other, and what kind of gap each can be."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from optimizer.models.request import Request
from optimizer.models.rig import PierSide
from optimizer.models.targets import Goal, Target
from optimizer.tally.counts import matched_goal
from optimizer.tally.evenings import evening_of
from optimizer.tally.frames import Frame
from optimizer.tally.matching import Matcher

ALIKE_S = 1.0  # two frames that began no further apart are of one exposure: some programs round the instant
BEFORE_OVER = "another exposure was going on during a sub before or after it"
TWO_CAMERAS = "in its night many subs overlap others, so it may be from one camera to another"
MOST_OVERLAP = 0.6  # of the subs of a night may overlap others, as where a clock was set back
A_FEW = 5  # that may in any case
FOREIGN = "a frame between that is no sub of the request"
BACK = "the pier side changes from east to west"
# `run`: one sub of a goal follows another. `goal`: another goal through the same filter follows. `filter`:
# one through another filter. `flip`: the same target on the other pier side. `slew`: another target.
GapKind = Literal["run", "goal", "filter", "flip", "slew"]


@dataclass(frozen=True)
class Sub:
    """A frame of a goal; `side` is None where its header does not tell it, or the mount has none."""

    frame: Frame
    target: Target
    goal: Goal
    begins_utc: dt.datetime
    exposure_s: float
    evening: dt.date
    side: PierSide | None

    @property
    def closes_utc(self) -> dt.datetime:
        """When the shutter closed."""
        return self.begins_utc + dt.timedelta(seconds=self.exposure_s)


@dataclass(frozen=True)
class Gap:
    """The time between the shutters of two subs of one night that follow each other.

    `broken` is a clause that says why it tells nothing.
    """

    before: Sub
    after: Sub
    seconds: float
    kind: GapKind
    broken: str | None = None


@dataclass(frozen=True)
class Gaps:
    """All gaps in the order of time; `whole_seconds`: no instant has a fraction of a second.

    `others` counts the light frames that are no sub of the request, by the clause that says why.
    """

    gaps: tuple[Gap, ...]
    subs: tuple[Sub, ...]
    whole_seconds: bool
    others: Counter[str]


def gaps_between(request: Request, frames: Iterable[Frame]) -> Gaps:
    """Find the gaps between the frames of a folder, in any order, of one night or more."""
    matcher = Matcher(request)
    dated = [(each.taken_utc, str(each.path), each) for each in frames if each.taken_utc is not None]
    subs: list[Sub] = []
    foreign: list[dt.datetime] = []
    others: Counter[str] = Counter()
    for taken_utc, _, frame in sorted(dated, key=lambda each: each[:2]):
        found = None if frame.kind in ("dark", "flat", "bias") else matched_goal(matcher, frame)
        if found is None or isinstance(found, str):
            foreign.append(taken_utc)
            others.update([found] if found else [])
            continue
        exposure_s = frame.exposure_s or 0.0
        sub = Sub(
            frame,
            found.target,
            found.goal,
            taken_utc,
            exposure_s,
            evening_of(taken_utc, request.site),
            frame.pier_side if request.mount.flips else None,
        )
        if not any(_are_copies(sub, other) for other in subs[-3:]):
            subs.append(sub)
    begun = {sub.begins_utc for sub in subs}
    foreign = [each for each in foreign if each not in begun]  # a stack bears the instant of its first sub
    whole = all(sub.begins_utc.microsecond == 0 for sub in subs)
    return Gaps(tuple(_gaps(subs, foreign)), tuple(subs), whole, others)


def _are_copies(sub: Sub, other: Sub) -> bool:
    apart_s = abs((sub.begins_utc - other.begins_utc).total_seconds())
    same = (sub.target.name, sub.goal) == (other.target.name, other.goal)
    return same and apart_s <= min(ALIKE_S, sub.exposure_s / 2)


def _gaps(subs: list[Sub], foreign: list[dt.datetime]) -> Iterable[Gap]:
    overlap = _overlapping(subs)
    taken = Counter(sub.evening for sub in subs)
    open_at_once = Counter(subs[place].evening for place in overlap)
    two = {
        evening
        for evening, count in open_at_once.items()
        if count > max(A_FEW, MOST_OVERLAP * taken[evening])
    }
    for place, (before, after) in enumerate(pairwise(subs)):
        if before.evening != after.evening:
            continue
        seconds = (after.begins_utc - before.closes_utc).total_seconds()
        kind, broken = _kind(before, after)
        # what begins while the shutter is open was taken by another camera
        first = bisect_right(foreign, before.closes_utc - dt.timedelta(seconds=ALIKE_S))
        if first < len(foreign) and foreign[first] < after.begins_utc:
            broken = FOREIGN
        elif before.evening in two:
            broken = TWO_CAMERAS
        elif place in overlap or place + 1 in overlap:
            broken = BEFORE_OVER
        yield Gap(before, after, seconds, kind, broken)


def _overlapping(subs: list[Sub]) -> set[int]:
    """The places of the subs during which another's shutter was open: two cameras, or a clock set back.

    What lies before or after one of these may be the time from one camera's shutter to another's.
    """
    found: set[int] = set()
    longest = 0  # the place of the sub so far that closes last
    for place, sub in enumerate(subs[1:], start=1):
        seconds = (sub.begins_utc - subs[longest].closes_utc).total_seconds()
        if seconds < -max(1.0, 0.01 * subs[longest].exposure_s):
            found |= {place, longest}
        if sub.closes_utc >= subs[longest].closes_utc:
            longest = place
    return found


def _kind(before: Sub, after: Sub) -> tuple[GapKind, str | None]:
    if before.target.name != after.target.name:
        return "slew", None
    if before.side and after.side and before.side != after.side:
        return "flip", None if before.side == "west" else BACK
    if before.goal == after.goal:
        return "run", None
    return ("goal" if before.goal.filter == after.goal.filter else "filter"), None
