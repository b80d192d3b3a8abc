"""Slots, the possible visits: one target, one pier side, one span in which the telescope may work on it.

All times are seconds after the night's origin. A span is a pair (first, last) of instants: something may
begin at `first` and must have ended by `last`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from optimizer.models.request import Request
from optimizer.models.rig import SIDES, PierSide
from optimizer.models.targets import Target
from optimizer.mount.axes import SECONDS_PER_DEGREE, Axes, axes_at
from optimizer.mount.sides import SideWindows, permitted_sides, side_windows
from optimizer.mount.zones import FULL_TURN_S, HALF_TURN_S, SIDEREAL_RATE
from optimizer.problem.tasks import Task
from optimizer.sky.clock import SPAN_S
from optimizer.sky.spans import Windows, intersect
from optimizer.sky.tracks import Track
from optimizer.sky.windows import SkyWindows

Span = tuple[int, int]
VISITS_PER_SIDE = 2
PRECESSED_DEG = 2.0  # more than twice what a declination moves in a century
COURSE_SAMPLES = 9  # over a night, of departures that change smoothly within a day


@dataclass(frozen=True)
class Slot:
    """A possible visit: one target, one pier side, one span in which the telescope may work on it.

    `stretch` is the span in which the sky lets the telescope work on the target on any pier side, `motion`
    the one in which a slew to it may lie, `shutter` the spans per task, `quiet` the span that optional slews
    must avoid. Slots with the same `twin` number are interchangeable, `copy` counts them.

    Where slack is asked for, `work` and `shutter` end `slack_s` seconds before sky and mount would end them,
    and `quiet` begins as much sooner. `closes` has the true ends of the spans in `shutter`.
    """

    index: int
    target: Target
    side: PierSide | None
    stretch: Span
    motion: Span
    work: Span
    shutter: dict[int, tuple[Span, ...]]
    quiet: Span | None
    twin: int
    copy: int
    hour_angle_s: float  # at time 0, carried on evenly from inside `work`
    declination_deg: float
    uneven_deg: float = 0.0  # most that either axis departs from this even course
    slack_s: int = 0
    closes: Mapping[int, tuple[int, ...]] = field(default_factory=dict)

    def ends_by(self, second: int, task: int | None) -> int:
        """Tell the true last second of what the slack ends at `second`: a task's span, None: the work."""
        if task is not None and task in self.closes:
            for span, closes in zip(self.shutter[task], self.closes[task], strict=True):
                if span[1] == second:
                    return closes
        return second + self.slack_s

    def quiet_from(self) -> int | None:
        """The second at which the quiet time truly begins; None where there is none."""
        return None if self.quiet is None else self.quiet[0] + self.slack_s

    def transits_s(self) -> list[int]:
        """Whole seconds at which the target stands in the meridian, within half a turn of the work."""
        first, turn_s = -self.hour_angle_s / SIDEREAL_RATE, FULL_TURN_S / SIDEREAL_RATE
        low, high = self.work[0] - turn_s / 2, self.work[1] + turn_s / 2
        return [round(first + k * turn_s) for k in range(-3, 4) if low < first + k * turn_s < high]

    def transit_s(self) -> int:
        """The second of the transit that is nearest to the middle of the work."""
        return min(self.transits_s(), key=lambda transit: abs(2 * transit - self.work[0] - self.work[1]))

    def axes(self, time_s: float, latitude_deg: float) -> Axes:
        """Where the axes stand on this target at a time (the sky's turn carried on evenly)."""
        hour_angle_s = self.hour_angle_s + SIDEREAL_RATE * time_s
        return axes_at(hour_angle_s, self.declination_deg, self.side, latitude_deg)


def slots_of(
    request: Request,
    sky: SkyWindows,
    target: Target,
    own: Sequence[Task],
    first: int,
    *,
    flipped: bool = False,
) -> list[Slot]:
    """Make all slots of a target for its tasks `own`, numbered from `first` on.

    `flipped`: the mount is on the flipped side of this target already as the plan begins.
    """
    slots: list[Slot] = []
    slack_s = request.aim.slack_s
    stretches = stretches_of(sky, target)
    sides = {side: side_windows(request, sky, target, side) for side in permitted_sides(request, target)}
    for side, windows in sides.items():
        left = _lefts(request, sides) if side == SIDES[1] and not flipped else ()
        for true_work in whole(windows.work):
            motion = around(true_work, whole(windows.motion))
            stretch = around(true_work, stretches)
            if motion is None or stretch is None:
                continue
            opens = _flip_apart(request, target, left, motion[0], true_work[0])
            work = (max(true_work[0], opens), true_work[1] - slack_s)
            shutter, closes = _shutter(windows, own, true_work, work, slack_s)
            if not shutter:
                continue
            hour_angle_s, declination_deg, uneven_deg = evenly(sky[target.name].track, motion, true_work)
            motion = (max(motion[0], opens), motion[1])
            twin = first + len(slots)
            slots.extend(
                Slot(
                    index=twin + copy,
                    target=target,
                    side=side,
                    stretch=stretch,
                    motion=motion,
                    work=work,
                    shutter=shutter,
                    quiet=_quiet(windows.quiet, motion, slack_s),
                    twin=twin,
                    copy=copy,
                    hour_angle_s=hour_angle_s,
                    declination_deg=declination_deg,
                    uneven_deg=uneven_deg,
                    slack_s=slack_s,
                    closes=closes,
                )
                for copy in range(VISITS_PER_SIDE)
            )
    return slots


def stretches_of(sky: SkyWindows, target: Target) -> list[Span]:
    """The spans in which the sky lets the telescope work on a target, on any pier side."""
    return whole(intersect(sky[target.name].acquisition, sky.sun_down))


def _shutter(
    windows: SideWindows, own: Sequence[Task], true_work: Span, work: Span, slack_s: int
) -> tuple[dict[int, tuple[Span, ...]], dict[int, tuple[int, ...]]]:
    """The spans of each task that hold one exposure, and the seconds at which they truly end.

    With slack the last tail must be over so long before the side has to be left, for the mount leaves
    only then; without any it may run on.
    """
    shutter, closes = {}, {}
    zone_ends = next(
        (last for first, last in whole(windows.zone) if first <= true_work[0] and last >= true_work[1]), None
    )
    for task in own:
        spans = []
        for first, last in _within(whole(windows.shutter[task.goal.filter]), true_work):
            truly = min(last, SPAN_S - task.tail_s)  # the last tail must be over when the night is
            ends = truly - slack_s
            if slack_s and windows.side is not None and zone_ends is not None:
                ends = min(ends, zone_ends - slack_s - task.tail_s)
            spans.append((max(first, work[0]), ends, truly))
        fitting = [span for span in spans if span[1] - span[0] >= task.shutter_s]
        if fitting:
            shutter[task.index] = tuple(span[:2] for span in fitting)
            closes[task.index] = tuple(span[2] for span in fitting)
    return shutter, closes


def _lefts(request: Request, sides: Mapping[PierSide | None, SideWindows]) -> tuple[int, ...]:
    """The seconds at which the first side must be left, where a flip that the plan asks for may follow."""
    if request.mount.flip_by != "plan" or SIDES[0] not in sides:
        return ()
    return tuple(last for _, last in whole(sides[SIDES[0]].zone))


def _flip_apart(request: Request, target: Target, lefts: Sequence[int], opens: int, work_opens: int) -> int:
    """The second from which the mount may move to the flipped side, so that a flip keeps its slack; 0: any.

    A flip that begins before the first side must be left has only the time until then. Where the flipped side
    opens so late that a flip could have less than the slack, nothing moves there until the first side had to
    be left. That side is then left with its slack, and the mount stands still until the flip.
    """
    slack_s, mount = request.aim.slack_s, request.mount
    from_pole_deg = axes_at(0, target.dec_deg, SIDES[0], request.site.latitude_deg).declination_deg
    longest_s = math.ceil(
        mount.slew_extra_s + (2 * max(90, from_pole_deg) + PRECESSED_DEG) / mount.slew_deg_s
    )
    for left in lefts:
        if slack_s and max(opens, work_opens) > left - slack_s and max(opens, work_opens - longest_s) <= left:
            return left + 1
    return 0


def around(inner: Span, spans: Sequence[Span]) -> Span | None:
    """The first of some spans that holds a whole other one; None where none does."""
    return next((span for span in spans if span[0] <= inner[0] and span[1] >= inner[1]), None)


def whole(windows: Windows) -> list[Span]:
    """Round starts up and ends down; windows without a whole second vanish."""
    rounded = [(math.ceil(window.start_s), math.floor(window.end_s)) for window in windows]
    return [span for span in rounded if span[1] > span[0]]


def _within(spans: Sequence[Span], outer: Span) -> list[Span]:
    return [span for span in spans if span[0] >= outer[0] and span[1] <= outer[1]]


def _quiet(windows: Windows, motion: Span, slack_s: int) -> Span | None:
    """The quiet time that touches the span of motion (work may begin after it), rounded outward.

    It begins sooner by the slack, so that what is over before it may also be so much later.
    """
    for window in windows:
        if window.start_s < motion[1] and window.end_s > motion[0]:
            return math.floor(window.start_s) - slack_s, math.ceil(window.end_s)
    return None


def evenly(track: Track, motion: Span, work: Span) -> tuple[float, float, float]:
    """Fit an even course: hour angle in seconds at time 0, declination and largest departure in degrees.

    The hour angle is carried back evenly from the middle of the work, where the declination is taken. The
    largest departure from both over the motion is aberration, which is large only near the pole.
    """
    times_s = np.array([(work[0] + work[1]) / 2, *np.linspace(*motion, COURSE_SAMPLES)])
    hour_angles_s = track.hour_angle_s(times_s) - SIDEREAL_RATE * times_s
    declinations_deg = track.declination_deg(times_s)
    ahead_s = (hour_angles_s - hour_angles_s[0] + HALF_TURN_S) % FULL_TURN_S - HALF_TURN_S
    uneven_deg = max(
        float(np.abs(ahead_s).max()) / SECONDS_PER_DEGREE,
        float(np.abs(declinations_deg - declinations_deg[0]).max()),
    )
    return float(hour_angles_s[0]), float(declinations_deg[0]), uneven_deg
