"""Tonight's windows as data: for each target, filter and pier side, with what opens and closes them."""

from __future__ import annotations

import math
from typing import Annotated, Final, Literal

import numpy as np
from pydantic import Field

from optimizer.models.base import FromList, Frozen
from optimizer.models.request import Request
from optimizer.models.rig import PierSide
from optimizer.models.shots import NightFacts
from optimizer.models.site import Utc
from optimizer.models.targets import Target
from optimizer.mount.sides import SideWindows, permitted_sides, side_windows
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.clock import SPAN_S
from optimizer.sky.crossings import spans_where
from optimizer.sky.facts import night_facts
from optimizer.sky.moonlight import moonlight_mag, through_filter_mag
from optimizer.sky.spans import Window
from optimizer.sky.tracks import Track
from optimizer.sky.transits import upper_transits
from optimizer.sky.windows import SkyWindows, sky_windows
from optimizer.timeline.unplanned import why_no_window

MINUTE_S = 60.0
WINDOWS_SCHEMA: Final = "darkfill-windows/1"


class OpenWindow(Frozen):
    """A window in which the shutter may be open, from start (rounded up) to end (rounded down)."""

    start_utc: Utc
    end_utc: Utc
    opened_by: str
    opened_cause: str
    closed_by: str
    closed_cause: str
    moonlight_least_mag: float
    moonlight_most_mag: float


class FilterWindows(Frozen):
    """The windows of one filter on one pier side; `why_none` says why there are none."""

    filter: str
    pier_side: PierSide | None
    windows: Annotated[tuple[OpenWindow, ...], FromList]
    why_none: str


class Transit(Frozen):
    """An upper transit within the night, with the altitude there."""

    utc: Utc
    altitude_deg: float


class TimeSpan(Frozen):
    """A span of time."""

    start_utc: Utc
    end_utc: Utc


class BestHour(Frozen):
    """The hour in which a target stands highest while some filter is open."""

    start_utc: Utc
    mean_altitude_deg: float


class TargetWindowFacts(Frozen):
    """The windows of one target; `above_floor` tells when it is above its floor, from noon to noon."""

    name: str
    ra_deg: float
    dec_deg: float
    above_floor: Annotated[tuple[TimeSpan, ...], FromList]
    best_hour: BestHour | None
    transits: Annotated[tuple[Transit, ...], FromList]
    filters: Annotated[tuple[FilterWindows, ...], FromList]


class WindowsReport(Frozen):
    """The windows of a night (`darkfill-windows/1`), from one solar noon to the next."""

    schema_: Literal["darkfill-windows/1"] = Field(alias="schema")
    night: NightFacts
    first_noon_utc: Utc
    second_noon_utc: Utc
    moon_up: Annotated[tuple[TimeSpan, ...], FromList]
    targets: Annotated[tuple[TargetWindowFacts, ...], FromList]


def windows_report(request: Request) -> WindowsReport:
    """All windows of a request's night."""
    sky = night_sky(request)
    windows = sky_windows(request, sky)
    return WindowsReport(
        schema_=WINDOWS_SCHEMA,
        night=night_facts(request, sky),
        first_noon_utc=sky.clock.utc(0),
        second_noon_utc=sky.clock.utc(SPAN_S),
        moon_up=tuple(
            TimeSpan(start_utc=sky.clock.utc(round(start)), end_utc=sky.clock.utc(round(end)))
            for start, end in spans_where(sky.moon.limb_above_deg)
        ),
        targets=tuple(_target(request, sky, windows, target) for target in request.targets),
    )


def _target(request: Request, sky: NightSky, windows: SkyWindows, target: Target) -> TargetWindowFacts:
    track = windows[target.name].track
    transits = tuple(
        Transit(
            utc=sky.clock.utc(round(at_s)),
            altitude_deg=round(float(track.altitude_deg(np.array([at_s]))[0]), 4),
        )
        for at_s in upper_transits(track)
    )
    entries = [
        _filter(request, sky, windows, target, side_windows(request, windows, target, side), name)
        for name in dict.fromkeys(goal.filter for goal in target.goals)
        for side in permitted_sides(request, target)
    ]
    return TargetWindowFacts(
        above_floor=_above_floor(sky, windows, target),
        best_hour=_best_hour(sky, windows, target),
        name=target.name,
        ra_deg=target.ra_deg,
        dec_deg=target.dec_deg,
        transits=transits,
        filters=tuple(entries),
    )


def _filter(
    request: Request, sky: NightSky, windows: SkyWindows, target: Target, side: SideWindows, name: str
) -> FilterWindows:
    track, factor = windows[target.name].track, request.filter_named(name).moonlight_factor
    open_windows = tuple(
        entry for window in side.shutter[name] if (entry := _open(sky, window, track, factor)) is not None
    )
    why_none = ""
    if not windows[target.name].shutter[name]:
        why_none = why_no_window(request, sky, windows, target, name)[1]
    elif not open_windows:
        why_none = (
            "while the sky allows it, it is on the other side of the meridian"
            if side.side is None
            else "while the sky allows it, the mount may not track it on this pier side"
        )
    return FilterWindows(filter=name, pier_side=side.side, windows=open_windows, why_none=why_none)


def _above_floor(sky: NightSky, windows: SkyWindows, target: Target) -> tuple[TimeSpan, ...]:
    causes = windows[target.name].shutter_causes[target.goals[0].filter]
    return tuple(
        TimeSpan(
            start_utc=sky.clock.utc(math.ceil(each.start_s)), end_utc=sky.clock.utc(math.floor(each.end_s))
        )
        for each in causes["floor"]
    )


def _best_hour(sky: NightSky, windows: SkyWindows, target: Target) -> BestHour | None:
    """The best hour, sampled every minute; None where no filter is open for a whole hour."""
    times = np.arange(0.0, SPAN_S + 1, MINUTE_S)
    open_now = np.zeros(times.shape, dtype=bool)
    for spans in windows[target.name].shutter.values():
        for each in spans:
            open_now |= (times >= each.start_s) & (times <= each.end_s)
    whole = np.convolve(open_now, np.ones(61), "valid") == 61
    if not whole.any():
        return None
    mean_deg = np.convolve(windows[target.name].track.altitude_deg(times), np.ones(61) / 61, "valid")
    best = int(np.argmax(np.where(whole, mean_deg, -90.0)))
    return BestHour(
        start_utc=sky.clock.utc(round(float(times[best]))), mean_altitude_deg=round(float(mean_deg[best]), 2)
    )


def _open(sky: NightSky, window: Window, track: Track, factor: float) -> OpenWindow | None:
    start, end = math.ceil(window.start_s), math.floor(window.end_s)
    if end <= start:
        return None
    times = np.append(np.arange(start, end, MINUTE_S), float(end))
    light = through_filter_mag(moonlight_mag(track, sky.moon, times), factor)
    return OpenWindow(
        start_utc=sky.clock.utc(start),
        end_utc=sky.clock.utc(end),
        opened_by=window.opened_by.words,
        opened_cause=window.opened_by.cause,
        closed_by=window.closed_by.words,
        closed_cause=window.closed_by.cause,
        moonlight_least_mag=round(float(np.min(light)), 3),
        moonlight_most_mag=round(float(np.max(light)), 3),
    )
