"""Which sub of a list each frame is, and how late it was taken.

A list is run in order, so frames and subs are laid beside each other without crossing. Among all ways to do
that, the one is taken that needs the least to have gone wrong: each jump in how late the list runs, each sub
without a frame and each frame without a sub has a cost, and a search that goes from frame to frame keeps the
few cheapest ways so far. What comes later mends what was a guess: a frame too many at the end of a run tells
that nothing was missing before.

The costs are those of chance (about minus its logarithm), so they need not be exact. A jump is weighed by
what usually varies: a few seconds a sub, a fifth of what is planned for slews, dithers and the like. A longer
one is a stall, whatever its length: hence a frame is its goal's next sub, unless a later one would be no
later than the frame before it was, and the subs between are missing. A list becomes less late at no cost only
where it waits, or skips subs whose latest start has passed. A stall of just so many subs cannot be told from
as many lost files until a run has more frames than subs.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from statistics import median
from typing import NamedTuple

from optimizer.models.shots import ShotList, Step
from optimizer.models.site import night_span
from optimizer.models.targets import GoalKey, goal_key
from optimizer.tally.counts import CALIBRATION, matched_goal
from optimizer.tally.frames import Frame
from optimizer.tally.matching import Matcher

EARLIEST_S = -60.0  # by which the camera's clock may be behind the list's, which is never early
ALIKE_S = 1.0  # frames of a goal that began no further apart are copies: some programs round the instant
OVERLAP_S = 2.0  # by which the exposure of a header may be longer than the shutter was open

JITTER_S = 3.0  # usual difference of one sub's length from the planned, where the frames do not tell it
ACTS = 0.2  # the same of all other acts, as a part of their planned length
# What costs how much. A jump that is more than usual: a stall, a list begun late, or one that got ahead by
# what it neither waited nor skipped. Subs of which no frame is there. A frame that is no sub; one before the
# first sub is hardly any surprise.
STALL, BEGINS_LATE, AHEAD = 6.0, 2.5, 8.0
MISSING, OTHER, BEFORE = 3.0, 12.0, 1.0
WORSE, WAYS = 14.0, 12  # ways that cost so much more than the best, or of lower rank, are given up


@dataclass(frozen=True)
class Taken:
    """A sub of the list and the frame of it; `late_s` is when it was taken less when it was planned."""

    step: Step
    frame: Frame
    late_s: float


@dataclass(frozen=True)
class Aligned:
    """The frames of a night beside the subs of its list.

    `taken` is in the order of the list. `missing` are subs before the last one taken of which no frame is
    there. `others` are light frames of a goal that are no sub of the list, copies of one taken included.
    """

    taken: tuple[Taken, ...]
    missing: tuple[Step, ...]
    others: tuple[Frame, ...]


def aligned(shots: ShotList, frames: Iterable[Frame]) -> Aligned:
    """Find which sub of a list each of the frames of its night is; the frames may come in any order.

    Calibration frames, frames without a date, of no goal or of another night are left out. Frames that began
    more than a minute before the list's first sub are of an older list: they are among the `others`. Two
    frames of a goal that began within a second are copies of one sub.
    """
    subs = _Subs(shots.steps)
    seen, others = _seen(shots, frames, subs)
    laid = _laid(subs, seen, _Pace())
    pace = _pace_of(subs, laid)
    if pace != _Pace():  # the frames tell how fast the camera usually is: with that they are laid anew
        laid = _laid(subs, seen, pace)
    shown = {each.place: Taken(subs.steps[each.place], each.seen.frame, each.late_s) for each in laid}
    missing = tuple(subs.steps[place] for place in range(max(shown, default=0)) if place not in shown)
    used = {id(each.seen.frame) for each in laid}
    others += [each.frame for each in seen if id(each.frame) not in used]
    return Aligned(tuple(shown.values()), missing, tuple(sorted(others, key=_order)))


class _Seen(NamedTuple):
    """A frame of a goal, in seconds after the list's first step; `shut_s` is when its shutter had closed."""

    frame: Frame
    key: GoalKey
    begins_s: float
    shut_s: float


class _Pace(NamedTuple):
    """By how much a sub usually lasts longer than planned, and how much that varies."""

    more_s: float = 0.0
    jitter_s: float = JITTER_S


class _Laid(NamedTuple):
    """A frame laid beside the sub at a place, and the one laid before it."""

    place: int
    late_s: float
    seen: _Seen
    before: _Laid | None


class _Way(NamedTuple):
    """A way to lay the frames so far: its cost, and the latest sub with a frame; none at `place` -1.

    `least_s` is the least lateness so far, which tells by how much the clocks differ.
    """

    cost: float = 0.0
    place: int = -1
    late_s: float = 0.0
    least_s: float = 0.0
    laid: _Laid | None = None


class _Subs:
    """The subs of a list, and what lies before each: seconds of waits, and of acts that are no subs."""

    def __init__(self, steps: Sequence[Step]) -> None:
        self.steps: list[Step] = []
        self.starts: list[float] = []
        self.latest: list[float] = []
        self.waits: list[float] = []
        self.acts: list[float] = []
        self.seconds: list[float] = []
        self.by_key: dict[GoalKey, list[int]] = {}
        waits = acts = 0.0
        for step in steps:
            if step.kind == "wait":
                waits += step.seconds
            elif step.kind != "expose":
                acts += step.seconds
            else:
                self.by_key.setdefault(step.goal_key, []).append(len(self.steps))
                self.steps.append(step)
                self.starts.append((step.start_utc - steps[0].start_utc).total_seconds())
                latest = step.latest_start_utc
                after = math.inf if latest is None else (latest - steps[0].start_utc).total_seconds()
                self.latest.append(after)
                self.waits.append(waits)
                self.acts.append(acts)
                self.seconds.append(step.seconds)
        # the soonest latest start of a sub and all after it: mostly none has passed
        self.soonest = list(accumulate(reversed(self.latest), min))[::-1]

    def candidates(self, way: _Way, seen: _Seen) -> Iterator[int]:
        """Places of subs of the frame's goal that it may be: not all, but those that can be cheapest.

        These are the next one; those that are as late as the latest frame, also after all that the list
        waits between; those on time; and the first that may still begin.
        """
        own = self.by_key.get(seen.key, [])
        first = bisect_right(own, way.place)
        end = bisect_right(own, seen.begins_s - EARLIEST_S, lo=first, key=self.starts.__getitem__)
        if first >= end:
            return
        found = {first}
        waited = 0.0 if way.place < 0 else self.waits[way.place]

        def worked(place: int) -> float:
            return self.starts[place] - self.waits[place] + waited

        for late_s in (way.late_s, way.least_s):
            place = bisect_left(own, seen.begins_s - late_s, lo=first, hi=end, key=self.starts.__getitem__)
            found |= set(range(place - 4, place + 1))
        place = bisect_left(own, seen.begins_s - way.late_s, lo=first, hi=end, key=worked)
        found |= {place - 1, place}
        found.add(
            next((each for each in range(first, end) if self.latest[own[each]] >= seen.begins_s), first)
        )
        for place in sorted(found):
            if first <= place < end:
                yield own[place]

    def cost(self, way: _Way, place: int, seen: _Seen, pace: _Pace) -> float:
        """What it costs that a frame is the sub at this place, after the frames of a way.

        Between `least_s` and `most_s` nothing is odd: waits take up what is late, or not, where it is the
        clocks that differ; and after a stall subs may have been skipped that would not be late without it.
        """
        late_s, more, begins = seen.begins_s - self.starts[place], place - way.place, way.place < 0
        most_s = least_s = way.late_s + (0.0 if begins else pace.more_s * more)
        on_time_s = min(most_s, way.least_s)  # no less late than this, whatever it waits or skips
        acts_s = self.acts[place] - (0.0 if begins else self.acts[way.place])
        waits_s, lost, perhaps_s = 0.0 if begins else self.waits[way.place], more - 1, 0.0
        if more > 1 and self.soonest[way.place + 1] < max(seen.begins_s, self.starts[place] + most_s):
            for each in range(way.place + 1, place):
                least_s, waits_s = max(on_time_s, least_s - (self.waits[each] - waits_s)), self.waits[each]
                if self.starts[each] + least_s > self.latest[each]:  # skipped, as it must be
                    lost -= 1
                    most_s = max(on_time_s, most_s - self.seconds[each])
                    least_s = max(on_time_s, least_s - self.seconds[each])
                elif self.latest[each] < seen.begins_s:
                    perhaps_s += self.seconds[each]
        least_s = max(on_time_s, least_s - (self.waits[place] - waits_s) - perhaps_s)
        off_s = max(late_s - most_s, least_s - late_s, 0.0)
        usually_s = pace.jitter_s * math.sqrt(more) + ACTS * acts_s
        accident = (AHEAD if late_s < least_s else BEGINS_LATE if begins else STALL) + math.log1p(off_s / 60)
        jump = min((off_s / usually_s) ** 2 / 2, accident)
        return jump + (MISSING + math.log(lost) if lost else 0.0)


def _order(frame: Frame) -> tuple[object, ...]:
    return frame.taken_utc, str(frame.path)


def _seen(shots: ShotList, frames: Iterable[Frame], subs: _Subs) -> tuple[list[_Seen], list[Frame]]:
    """The frames that may be subs of the list, in order, and those of its goals that are none."""
    request, matcher = shots.request, Matcher(shots.request)
    begins, ends = night_span(request.night, request.site.longitude_deg, request.site.time_zone)
    lights = [
        frame
        for frame in frames
        if frame.kind not in CALIBRATION and frame.taken_utc is not None and begins <= frame.taken_utc < ends
    ]
    seen: list[_Seen] = []
    others: list[Frame] = []
    latest: dict[GoalKey, float] = {}
    for frame in sorted(lights, key=_order):
        found = matched_goal(matcher, frame)
        if isinstance(found, str):
            continue
        assert frame.taken_utc is not None
        key = goal_key(found.target, found.goal)
        begins_s = (frame.taken_utc - shots.steps[0].start_utc).total_seconds() if shots.steps else 0.0
        is_copy = begins_s - latest.get(key, -math.inf) <= ALIKE_S
        if is_copy or not subs.steps or begins_s < subs.starts[0] + EARLIEST_S:
            others.append(frame)
            continue
        latest[key] = begins_s
        exposure_s = frame.exposure_s or 0.0
        seen.append(_Seen(frame, key, begins_s, begins_s + exposure_s - max(OVERLAP_S, 0.05 * exposure_s)))
    return seen, others


def _laid(subs: _Subs, frames: Sequence[_Seen], pace: _Pace) -> list[_Laid]:
    """Lay frames beside subs at the least cost; frames that are no sub are left out."""
    ways = [_Way()]
    for seen in frames:
        other = BEFORE if seen.begins_s < subs.starts[0] else OTHER
        # one way for each latest sub: on what lies before it hardly any cost to come depends
        best = {way.place: way._replace(cost=way.cost + other) for way in ways}
        least = min(way.cost for way in best.values())
        for way in ways:
            if way.cost > least + WORSE:
                break
            if way.laid is not None and seen.begins_s < way.laid.seen.shut_s:
                continue  # two shutters are never open at once
            for place in subs.candidates(way, seen):
                cost = way.cost + subs.cost(way, place, seen, pace)
                if place not in best or cost < best[place].cost:
                    late_s = seen.begins_s - subs.starts[place]
                    laid = _Laid(place, late_s, seen, way.laid)
                    best[place] = _Way(cost, place, late_s, min(way.least_s, late_s), laid)
                    least = min(least, cost)
        ranked = sorted(best.values(), key=lambda each: each.cost)[:WAYS]
        ways = [way for way in ranked if way.cost <= least + WORSE]
    found: list[_Laid] = []
    last = ways[0].laid
    while last is not None:
        found.append(last)
        last = last.before
    return found[::-1]


def _pace_of(subs: _Subs, laid: Sequence[_Laid]) -> _Pace:
    """How fast the camera usually is, by subs that directly follow one another."""
    more_s = [
        after.late_s - each.late_s
        for each, after in pairwise(laid)
        if after.place == each.place + 1
        and (subs.acts[after.place], subs.waits[after.place])
        == (subs.acts[each.place], subs.waits[each.place])
    ]
    if len(more_s) < 5:
        return _Pace()
    usual_s = median(more_s)
    spread_s = 1.5 * median(abs(each - usual_s) for each in more_s)  # of a normal spread, its deviation
    return _Pace(usual_s, max(JITTER_S, spread_s))
