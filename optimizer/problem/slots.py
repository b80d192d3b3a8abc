"""Slots, the possible visits: one target, one pier side, one span in which the telescope may work on it.

All times are seconds after the night's origin. A span is a pair (first, last) of instants: something may
begin at `first` and must have ended by `last`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.models.request import Request
from optimizer.models.rig import PierSide
from optimizer.models.targets import Target
from optimizer.mount.axes import SECONDS_PER_DEGREE, Axes, axes_at
from optimizer.mount.sides import permitted_sides, side_windows
from optimizer.mount.zones import FULL_TURN_S, HALF_TURN_S, SIDEREAL_RATE
from optimizer.problem.tasks import Task
from optimizer.sky.clock import SPAN_S
from optimizer.sky.spans import Windows, intersect
from optimizer.sky.tracks import Track
from optimizer.sky.windows import SkyWindows

Span = tuple[int, int]
VISITS_PER_SIDE = 2
COURSE_SAMPLES = 9  # over a night, of departures that change smoothly within a day


@dataclass(frozen=True)
class Slot:
    """A possible visit: one target, one pier side, one span in which the telescope may work on it.

    `stretch` is the span in which the sky lets the telescope work on the target on any pier side, `motion`
    the one in which a slew to it may lie, `shutter` the spans per task, `quiet` the span that optional slews
    must avoid. Slots with the same `twin` number are interchangeable, `copy` counts them.
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
    request: Request, sky: SkyWindows, target: Target, own: Sequence[Task], first: int
) -> list[Slot]:
    """Make all slots of a target for its tasks `own`, numbered from `first` on."""
    slots: list[Slot] = []
    stretches = _whole(intersect(sky[target.name].acquisition, sky.sun_down))
    for side in permitted_sides(request, target):
        windows = side_windows(request, sky, target, side)
        for work in _whole(windows.work):
            shutter = {}
            for task in own:
                spans = _within(_whole(windows.shutter[task.goal.filter]), work)
                # the last download must be over when the night is
                spans = [(first, min(last, SPAN_S - task.download_s)) for first, last in spans]
                fitting = tuple(span for span in spans if span[1] - span[0] >= task.shutter_s)
                if fitting:
                    shutter[task.index] = fitting
            motion = next(
                (span for span in _whole(windows.motion) if span[0] <= work[0] and span[1] >= work[1]), None
            )
            stretch = next((span for span in stretches if span[0] <= work[0] and span[1] >= work[1]), None)
            if not shutter or motion is None or stretch is None:
                continue
            hour_angle_s, declination_deg, uneven_deg = _evenly(sky[target.name].track, motion, work)
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
                    quiet=_quiet(windows.quiet, motion),
                    twin=twin,
                    copy=copy,
                    hour_angle_s=hour_angle_s,
                    declination_deg=declination_deg,
                    uneven_deg=uneven_deg,
                )
                for copy in range(VISITS_PER_SIDE)
            )
    return slots


def _whole(windows: Windows) -> list[Span]:
    """Round starts up and ends down; windows without a whole second vanish."""
    rounded = [(math.ceil(window.start_s), math.floor(window.end_s)) for window in windows]
    return [span for span in rounded if span[1] > span[0]]


def _within(spans: Sequence[Span], outer: Span) -> list[Span]:
    return [span for span in spans if span[0] >= outer[0] and span[1] <= outer[1]]


def _quiet(windows: Windows, motion: Span) -> Span | None:
    """The quiet time that touches the span of motion (work may begin after it), rounded outward."""
    for window in windows:
        if window.start_s < motion[1] and window.end_s > motion[0]:
            return math.floor(window.start_s), math.ceil(window.end_s)
    return None


def _evenly(track: Track, motion: Span, work: Span) -> tuple[float, float, float]:
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
