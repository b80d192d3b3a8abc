"""What the picture draws, as numbers: courses through the sky, windows, zones, steps; no geometry yet.

Times are seconds after the night's origin.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from optimizer.models.request import Request
from optimizer.models.rig import TWILIGHT_LIMIT_DEG, PierSide
from optimizer.models.shots import NightFacts, Step
from optimizer.models.targets import Target
from optimizer.mount.sides import permitted_sides, side_windows
from optimizer.mount.zones import time_of_hour_angle
from optimizer.report.picture.shown import ShownPlan
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.clock import SPAN_S, FloatArray, NightClock
from optimizer.sky.crossings import Interval, Sampled
from optimizer.sky.facts import night_facts
from optimizer.sky.moonlight import brightening_mag
from optimizer.sky.skyline import Skyline
from optimizer.sky.spans import Windows
from optimizer.sky.tracks import Track
from optimizer.sky.transits import upper_transits
from optimizer.sky.windows import SkyWindows, sky_windows

STEP_S = 600.0  # between points of a course: 2.5° of turning, straight to within 0.06°
SUN_LIMITS_DEG = tuple(TWILIGHT_LIMIT_DEG.values())  # the Sun ever lower
EDGE_S = 1200  # shown before sunset and after sunrise

Course = tuple[tuple[float, float], ...]  # time and value, ascending


@dataclass(frozen=True)
class PlacedStep:
    """A step with its index in the list, from 0 (numbers of a list typed by hand may come twice)."""

    index: int
    step: Step
    start_s: float
    end_s: float


@dataclass(frozen=True)
class OpenSpan:
    """A stretch in which the shutter may be open through these filters and no others."""

    start_s: float
    end_s: float
    filters: tuple[str, ...]


@dataclass(frozen=True)
class LaneFacts:
    """What one target's lane shows; `target` is None for steps on what the request does not know."""

    name: str
    target: Target | None
    placed_steps: tuple[PlacedStep, ...]
    course: Course = ()
    floor_deg: float = 0.0
    skyline: Course = ()
    transits: tuple[tuple[float, float], ...] = ()  # time, altitude
    contacts_s: tuple[float, ...] = ()
    sides: tuple[tuple[PierSide, tuple[Interval, ...]], ...] = ()
    open_spans: tuple[OpenSpan, ...] = ()

    @property
    def exposures(self) -> tuple[PlacedStep, ...]:
        """The exposures on the target, in order."""
        return tuple(placed for placed in self.placed_steps if placed.step.kind == "expose")


@dataclass(frozen=True)
class SkyFacts:
    """Spans with the Sun below each limit of `SUN_LIMITS_DEG`, and the Moon's course and light."""

    sun_below: tuple[tuple[Interval, ...], ...]
    moon: Course
    moonlight: Course  # magnitudes by which it brightens the zenith
    lit: float  # share of the disc, at the middle of the night
    waxing: bool


@dataclass(frozen=True)
class PictureFacts:
    """All that is drawn, from `start_s` to `end_s`."""

    plan: ShownPlan
    clock: NightClock
    night: NightFacts
    start_s: float
    end_s: float
    sky: SkyFacts
    targets: tuple[LaneFacts, ...]
    placed_steps: tuple[PlacedStep, ...]  # those of this night
    odds: Course = ()  # of clear sky in per cent, where they are given

    @property
    def steps_outside(self) -> int:
        """How many steps lie outside this night and cannot be drawn."""
        return len(self.plan.steps) - len(self.placed_steps)


def picture_facts(plan: ShownPlan) -> PictureFacts:
    """Everything for one picture, from request and steps; the sky is computed anew, by the planner's code."""
    request = plan.request
    sky = night_sky(request)
    windows = sky_windows(request, sky)
    clock = sky.clock
    night = night_facts(request, sky)
    placed_steps = tuple(
        placed
        for index, step in enumerate(plan.steps)
        if (
            placed := PlacedStep(index, step, clock.seconds(step.start_utc), clock.seconds(step.end_utc))
        ).end_s
        > 0
        and placed.start_s < SPAN_S
    )
    start_s, end_s = _stretch(night, windows, clock, placed_steps)
    times = np.arange(start_s, end_s + STEP_S / 2, STEP_S)
    times[-1] = end_s
    return PictureFacts(
        plan=plan,
        clock=clock,
        night=night,
        start_s=start_s,
        end_s=end_s,
        sky=_sky_facts(sky, times),
        targets=_targets(request, sky, windows, placed_steps, times),
        placed_steps=placed_steps,
        odds=_odds(request, clock, start_s, end_s),
    )


def _odds(request: Request, clock: NightClock, start_s: float, end_s: float) -> Course:
    """The odds of clear sky where they bend within the stretch shown, and at both of its ends."""
    given = request.night.clear_odds
    if not given:
        return ()
    at_s = [clock.seconds(instant) for instant, _ in given]
    times = np.array([start_s, *(t for t in at_s if start_s < t < end_s), end_s])
    return _course(times, np.interp(times, at_s, [percent for _, percent in given]))


def _stretch(
    night: NightFacts, windows: SkyWindows, clock: NightClock, placed_steps: Sequence[PlacedStep]
) -> Interval:
    """The stretch shown: sunset to sunrise and a little more, or what there is, else the whole day."""
    edges: list[float] = []
    if night.sunset_utc and night.sunrise_utc and night.sunset_utc < night.sunrise_utc:
        edges += [clock.seconds(night.sunset_utc) - EDGE_S, clock.seconds(night.sunrise_utc) + EDGE_S]
    else:
        for window in windows.sun_down:
            edges += [window.start_s - EDGE_S, window.end_s + EDGE_S]
        if not edges:
            edges = [0.0, float(SPAN_S)]
    for placed in placed_steps:
        edges += [placed.start_s, placed.end_s]
    start_s, end_s = max(0.0, min(edges)), min(float(SPAN_S), max(edges))
    return (start_s, end_s) if end_s - start_s >= STEP_S else (0.0, float(SPAN_S))


def _course(times: FloatArray, values: FloatArray) -> Course:
    return tuple((float(t), float(v)) for t, v in zip(times, values, strict=True))


def _sky_facts(sky: NightSky, times: FloatArray) -> SkyFacts:
    sun = Sampled(sky.sun.geometric_altitude_deg)
    altitude = sky.moon.geometric_altitude_deg(times)
    phase = sky.moon.phase_angle_deg(times)
    zenith_mag = brightening_mag(
        phase,
        90.0 - altitude,
        np.minimum(90.0 - altitude, 90.0),
        0.0,
        sky.site.zenith_sky_mag,
        sky.site.extinction_mag,
    )
    middle = SPAN_S / 2
    return SkyFacts(
        sun_below=tuple(tuple(sun.at_most(limit)) for limit in SUN_LIMITS_DEG),
        moon=_course(times, altitude),
        moonlight=_course(times, np.where(altitude >= 0.0, zenith_mag, 0.0)),
        lit=float(sky.moon.illuminated(middle)),
        waxing=bool(sky.moon.illuminated(middle + 3600.0) > sky.moon.illuminated(middle - 3600.0)),
    )


def _targets(
    request: Request,
    sky: NightSky,
    windows: SkyWindows,
    placed_steps: Sequence[PlacedStep],
    times: FloatArray,
) -> tuple[LaneFacts, ...]:
    """The lanes in the order of the plan; targets not planned tonight follow in the order of the request."""
    by_name: dict[str | None, list[PlacedStep]] = {}
    for placed in placed_steps:
        by_name.setdefault(placed.step.target, []).append(placed)
    known = {target.name: target for target in request.targets}
    order = [name for name in by_name if name in known]
    order += [name for name in known if name not in by_name]
    lanes = [
        _target(request, sky, windows, known[name], tuple(by_name.get(name, ())), times)
        for name in order
        if name is not None
    ]
    strange = [
        placed
        for placed in placed_steps
        if placed.step.target is not None and placed.step.target not in known
    ]
    if strange:
        lanes.append(LaneFacts("not in the request", None, tuple(strange)))
    return tuple(lanes)


def _target(
    request: Request,
    sky: NightSky,
    windows: SkyWindows,
    target: Target,
    placed_steps: tuple[PlacedStep, ...],
    times: FloatArray,
) -> LaneFacts:
    track = windows[target.name].track
    transits = upper_transits(track)
    at = np.unique(np.concatenate([times, [t for t in transits if times[0] <= t <= times[-1]]]))
    sides = permitted_sides(request, target)
    side_of = {side: side_windows(request, windows, target, side) for side in sides}
    skyline: Course = ()
    if request.site.skyline:
        skyline = _course(at, Skyline(request.site.skyline).altitude_deg(track.azimuth_deg(at)))
    shutters = {
        name: [side_of[side].shutter[name] for side in sides]
        for name in dict.fromkeys(goal.filter for goal in target.goals)
    }
    return LaneFacts(
        name=target.name,
        target=target,
        placed_steps=placed_steps,
        course=_course(at, track.altitude_deg(at)),
        floor_deg=request.floor_deg(target),
        skyline=skyline,
        transits=tuple((t, float(track.altitude_deg(np.array([t]))[0])) for t in transits),
        contacts_s=_contacts_s(request, track, transits),
        sides=tuple(
            (side, tuple((each.start_s, each.end_s) for each in side_of[side].zone))
            for side in sides
            if side is not None
        ),
        open_spans=_open_spans(shutters),
    )


def _contacts_s(request: Request, track: Track, transits: Sequence[float]) -> tuple[float, ...]:
    """Seconds at which the target would be at contact on pier side west; none if never measured."""
    contact_min = request.mount.contact_min
    if not request.mount.flips or contact_min is None:
        return ()
    contact_s = contact_min * 60
    return tuple(time_of_hour_angle(track, contact_s, t + contact_s) for t in transits)


def _open_spans(shutters: dict[str, list[Windows]]) -> tuple[OpenSpan, ...]:
    """The night cut wherever some filter opens or closes, without pieces in which none is open."""
    spans = {
        name: [
            (math.ceil(window.start_s), math.floor(window.end_s))
            for windows in lists
            for window in windows
            if math.floor(window.end_s) > math.ceil(window.start_s)
        ]
        for name, lists in shutters.items()
    }
    cuts = sorted({edge for pairs in spans.values() for pair in pairs for edge in pair})
    open_spans: list[OpenSpan] = []
    for start, end in pairwise(cuts):
        names = tuple(
            name for name, pairs in spans.items() if any(low <= start and end <= high for low, high in pairs)
        )
        if open_spans and names == open_spans[-1].filters and open_spans[-1].end_s == start:
            open_spans[-1] = OpenSpan(open_spans[-1].start_s, float(end), names)
        elif names:
            open_spans.append(OpenSpan(float(start), float(end), names))
    return tuple(open_spans)
