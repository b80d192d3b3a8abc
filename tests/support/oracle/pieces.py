"""Acts of the law as operations on timetables.

A timetable tells for each second of the night whether the telescope can stand in some state then, and if so the
latest second at which its latest focus run can have ended. Among ways to be in the same state at the same
second, the one with the later focus end can do all that the others can: nothing else of the past matters.
So the timetable of a state stands for every way into it, and no delay, however odd, is left out.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from optimizer.models.continues import Begin
from optimizer.models.request import Request
from optimizer.models.site import night_span
from optimizer.mount.axes import SAFETY_S
from optimizer.problem import Problem, Slot, Span
from optimizer.problem.tasks import Task
from optimizer.sky.windows import SkyWindows, Windows
from tests.support.checks import there

Timetable = NDArray[np.int32]
Seconds = NDArray[np.int64]
NEVER = -(2**30)  # the state cannot be at this second
UNFOCUSED = -(2**29)  # it can, without any focus run so far
SIDEREAL = 1.00273790935


def latest(one: Timetable | None, other: Timetable) -> Timetable:
    """Both ways into one state."""
    return other if one is None else np.maximum(one, other)


def possible(timetable: Timetable) -> bool:
    """Whether the state can be at all."""
    return bool(timetable.max() > NEVER)


def later(timetable: Timetable, seconds: int) -> Timetable:
    """After an act of so many seconds."""
    if seconds == 0:
        return timetable
    moved = np.full_like(timetable, NEVER)
    moved[seconds:] = timetable[:-seconds]
    return moved


def waited(timetable: Timetable) -> Timetable:
    """After any wait in which the telescope tracks (whoever goes on from here keeps to the windows)."""
    return np.maximum.accumulate(timetable)


@dataclass(frozen=True)
class Night:
    """The acts of one problem, in seconds after `begin`."""

    request: Request
    problem: Problem
    sky: SkyWindows
    begin: int
    seconds: int
    clock: Timetable  # the second of each entry
    stands: Begin | None = None  # how mount and camera stand as the first entry comes; None: dusk
    ways: dict[tuple[int, int], Timetable] = field(default_factory=dict)  # arrivals by slots

    @classmethod
    def of(cls, request: Request, problem: Problem, sky: SkyWindows, stands: Begin | None = None) -> Night:
        """The stretch of time in which anything can happen."""
        longest = max(task.frame_s for task in problem.tasks)
        begin = min(slot.motion[0] for slot in problem.slots)
        if stands is not None:
            begin = _second(request, stands.utc)
        end = max(slot.work[1] for slot in problem.slots) + longest
        clock = np.arange(begin, end + 1, dtype=np.int32)
        return cls(request, problem, sky, begin, end - begin + 1, clock, stands)

    def first(self) -> Timetable:
        """Before the first slew from home, which may begin at any second; or as the mount stands on a target."""
        timetable = self.nothing_done()
        if self.stands is not None and self.stands.target is not None:
            timetable[1:] = NEVER  # the mount stops tracking at once, or the visit goes on
        return timetable

    def nothing_done(self) -> Timetable:
        """Nothing is in focus, but for a focus run that is told."""
        focused = UNFOCUSED
        if self.stands is not None and self.stands.focused_utc is not None:
            focused = _second(self.request, self.stands.focused_utc)
        return np.full(self.seconds, focused, dtype=np.int32)

    def goes_on(self, slot: Slot) -> bool:
        """Whether what the mount tracks at the first entry may go on as a visit of a slot."""
        stands = self.stands
        return (
            stands is not None
            and stands.acquired
            and (stands.target, stands.pier_side) == (slot.target.name, slot.side)
            and slot.work[0] <= self.begin <= slot.work[1]
        )

    def dither_before_s(self) -> int:
        """Seconds of the dither with which it then begins."""
        camera, stands = self.request.camera, there(self.stands)
        return math.ceil(camera.dither_s) if camera.dither_every and stands.undithered else 0

    def exposed(self, timetable: Timetable, task: Task, window: Span) -> Timetable:
        """After one exposure begun at once: shutter within the window, cadence kept."""
        first = max(0, window[0] - self.begin)
        end = max(first, window[1] - task.shutter_s + 1 - self.begin)
        kept = timetable[first:end]
        if self.problem.rules.focus_every_s is not None:
            fresh = kept >= self.clock[first:end] + (task.shutter_s - self.problem.rules.focus_every_s)
            kept = np.where(fresh, kept, NEVER)
        done = np.full_like(timetable, NEVER)
        done[first + task.frame_s : end + task.frame_s] = kept
        return done

    def focused(self, timetable: Timetable, slot: Slot, *, of_flip: bool) -> Timetable:
        """After a focus run begun at once; where it leaves the target, not in the quiet time."""
        run_s = self.problem.rules.focus_s
        ends = self.clock + run_s
        may = timetable > NEVER
        if self.problem.rules.focus_leaves_target and slot.quiet and not of_flip:
            may &= (ends <= slot.quiet[0]) | (ends - run_s >= slot.quiet[1])
        return later(np.where(may, ends, NEVER), run_s)

    def arrived(self, timetable: Timetable, before: Slot | None, after: Slot) -> Timetable:
        """At the end of the slew or flip, for each second of leaving the earliest end that the law allows.

        To arrive later is to wait on the target instead, so nothing is lost.
        """
        left = np.flatnonzero(timetable > NEVER)
        if before is None:
            left = left[:1]  # home does not turn with the sky; the earliest is as good as any
        arrive = self._arrivals(before, after)[left]
        found = np.full(self.seconds, NEVER, dtype=np.int32)
        np.maximum.at(found, arrive[arrive >= 0], timetable[left[arrive >= 0]])
        return found

    def _arrivals(self, before: Slot | None, after: Slot) -> Timetable:
        """For each second of leaving, the entry of the end of the slew or flip; -1 where the law allows none."""
        way = (-1 if before is None else before.index, after.index)
        if way not in self.ways:
            self.ways[way] = self._way(before, after)
        return self.ways[way]

    def _way(self, before: Slot | None, after: Slot) -> Timetable:
        flips, leave = self.flips(before, after), self.clock.astype(np.int64)
        depart = np.maximum(leave, after.motion[0])
        by_mount = flips and self.problem.rules.flip_by == "mount"
        still_s = self._stands_still_since(before)
        stops = leave if still_s is None else np.full_like(leave, still_s)
        if by_mount:
            stops = depart  # the mount tracks on to its own flip
        elif flips and still_s is None and self._has_acquired(before):
            assert before is not None
            stops = np.where(self._may_track(before, leave, depart), depart, leave)
        arrive = np.maximum(depart + self.motion_s(before, stops, after, depart), after.work[0])
        if after.quiet and not flips:
            clash = (depart < after.quiet[1]) & (arrive > after.quiet[0])
            depart = np.where(clash, np.maximum(depart, after.quiet[1]), depart)
            arrive = np.maximum(depart + self.motion_s(before, stops, after, depart), after.work[0])
        good = (arrive <= after.work[1]) & (arrive - self.begin < self.seconds)
        if by_mount:
            assert before is not None
            good &= self._reaches_flip(before, leave, depart) & (still_s is None)
            good &= self._has_acquired(before)
        return np.where(good, arrive - self.begin, -1)

    def _stands_still_since(self, before: Slot | None) -> int | None:
        """When the mount stopped tracking what it is on at the first entry; None: it tracks, or has left."""
        stands = self.stands
        if before is None or before.index >= 0 or stands is None or stands.stands_since_utc is None:
            return None
        return _second(self.request, stands.stands_since_utc)

    def _has_acquired(self, before: Slot | None) -> bool:
        """Whether what the mount tracks is centred: else it does not track on until a flip."""
        return before is None or before.index >= 0 or self.stands is None or self.stands.acquired

    def flips(self, before: Slot | None, after: Slot) -> bool:
        """West side directly followed by the east side of one target."""
        return (
            before is not None
            and before.target.name == after.target.name
            and (before.side, after.side) == ("west", "east")
        )

    def acquire_s(self, before: Slot | None, after: Slot) -> int:
        """Centring, settling and the rotator's turn."""
        mount = self.request.mount
        turns = mount.turn_rotator_after_flip and before is not None and before.side != after.side
        turn_s = math.ceil(180 / mount.rotator_deg_s) if turns else 0
        return math.ceil(mount.centre_s) + math.ceil(mount.settle_s) + turn_s

    def motion_s(self, before: Slot | None, stops: Seconds, after: Slot, depart: Seconds) -> Seconds:
        """Lengths of slews, as `Problem.slew_seconds` for many seconds at once."""
        mount, latitude_deg = self.request.mount, self.problem.rules.latitude_deg
        end = after.axes(depart, latitude_deg)  # type: ignore[arg-type]  # works on arrays as well
        hour_deg, declination_deg = end.hour_deg, end.declination_deg
        if before is not None:
            start = before.axes(stops, latitude_deg)  # type: ignore[arg-type]
            hour_deg, declination_deg = hour_deg - start.hour_deg, declination_deg - start.declination_deg
        hour_deg = np.abs(hour_deg)
        if mount.kind == "fork":
            hour_deg = np.minimum(hour_deg % 360, -hour_deg % 360)
        way_deg = np.maximum(hour_deg, abs(declination_deg)) + self.problem.uneven_deg(before, after)
        seconds: Seconds = np.ceil(mount.slew_extra_s + way_deg / mount.slew_deg_s + SAFETY_S).astype(
            np.int64
        )
        return seconds

    def _may_track(self, before: Slot, leave: Seconds, depart: Seconds) -> NDArray[np.bool_]:
        """Whether the first side need not be left before the flip, and the sky allows work until then."""
        mount, own = self.request.mount, self.sky[before.target.name]
        limit_s = -mount.clock_error_s
        if mount.contact_min is not None:
            limit_s += (mount.contact_min - mount.clearance_min) * 60
        hour_angles = own.track.hour_angle_s(depart.astype(np.float64))
        tracks = _same_window(own.acquisition, leave, depart) & _same_window(self.sky.sun_down, leave, depart)
        return tracks & (hour_angles <= min(_readings(limit_s)))

    def _reaches_flip(self, before: Slot, leave: Seconds, depart: Seconds) -> NDArray[np.bool_]:
        """Whether a mount that flips by itself can track on from the end of the last exposure to its flip.

        It flips where `flip_from_min` says, so the flipped side must be safe there, the first side must not yet be
        too near to contact, and sky and weather must let it track on to there.
        """
        mount, own = self.request.mount, self.sky[before.target.name]
        flip_s = max(_readings(mount.flip_from_min * 60 + mount.clock_error_s))
        touches_s = (mount.clearance_min - mount.contact_before_min) * 60 + mount.clock_error_s
        safe = mount.flip_from_min * 60 + mount.clock_error_s >= min(0.0, touches_s)
        clear = (
            min(_readings((there(mount.contact_min) - mount.clearance_min) * 60 - mount.clock_error_s))
            >= flip_s
        )
        tracks = _same_window(own.acquisition, leave, depart) & _same_window(self.sky.sun_down, leave, depart)
        near = (
            own.track.hour_angle_s(depart.astype(np.float64)) <= flip_s + 2
        )  # windows begin on whole seconds
        waits = leave < depart
        return (safe and clear) & (~waits | (tracks & near))


class DepthNight(Night):
    """Where the sky decides what a frame is worth: entries tell the greatest profit so far instead of the focus.

    Only for nights without a focus cadence, on which nothing but that profit and the time matters.
    """

    def nothing_done(self) -> Timetable:
        """Nothing is gathered yet."""
        assert self.problem.rules.focus_every_s is None
        return np.zeros(self.seconds, dtype=np.int32)

    def exposed(self, timetable: Timetable, task: Task, window: Span) -> Timetable:
        """As above, the frame's profit gained by the second at which it begins."""
        first = max(0, window[0] - self.begin)
        end = max(first, window[1] - task.shutter_s + 1 - self.begin)
        assert task.profit_by_start is not None
        gained = task.profit_by_start[first + self.begin : end + self.begin]
        kept = timetable[first:end]
        done = np.full_like(timetable, NEVER)
        done[first + task.frame_s : end + task.frame_s] = np.where(kept > NEVER, kept + gained, NEVER)
        return done

    def focused(self, timetable: Timetable, slot: Slot, *, of_flip: bool) -> Timetable:
        """As above."""
        ends = super().focused(timetable, slot, of_flip=of_flip)
        return np.where(ends > NEVER, later(timetable, self.problem.rules.focus_s), NEVER)


def _second(request: Request, instant: dt.datetime) -> int:
    """Whole seconds of an instant after the night's origin."""
    night, site = request.night, request.site
    origin, _ = night_span(night, site.longitude_deg, site.time_zone)
    return round((instant - origin).total_seconds())


def _readings(minutes_as_s: float) -> tuple[float, float]:
    """Minutes past the meridian: of hour angle, or of the clock."""
    return minutes_as_s, minutes_as_s * SIDEREAL


def _same_window(windows: Windows, first: Seconds, last: Seconds) -> NDArray[np.bool_]:
    found = np.zeros(len(first), dtype=np.bool_)
    for window in windows:
        found |= (window.start_s <= first) & (last <= window.end_s)
    return found
