"""When the shutter may be open and the telescope may work, as far as the sky alone says; no mount yet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from optimizer.models.request import Request
from optimizer.models.rig import TWILIGHT_LIMIT_DEG, Filter
from optimizer.models.targets import Target
from optimizer.sky.bodies import NightSky
from optimizer.sky.clock import SPAN_S, NightClock
from optimizer.sky.crossings import Sampled, spans_where
from optimizer.sky.depth import SkyAt
from optimizer.sky.gathered import GatheredCurve
from optimizer.sky.moonlight import brightening_if_up_mag, full_brightening_mag
from optimizer.sky.odds import odds_curve
from optimizer.sky.skyline import Skyline
from optimizer.sky.spans import (
    WHOLE_NIGHT,
    Cause,
    Edge,
    Window,
    Windows,
    complement,
    intersect,
    intersect_all,
    total_s,
    unite,
    windows_of,
)
from optimizer.sky.tracks import Track
from optimizer.sky.transits import lower_transits, upper_transits

__all__ = [
    "WHOLE_NIGHT",
    "Cause",
    "Edge",
    "SkyWindows",
    "TargetWindows",
    "Window",
    "Windows",
    "complement",
    "intersect",
    "intersect_all",
    "sky_windows",
    "total_s",
    "unite",
    "windows_of",
]
SUNSET_DEG = TWILIGHT_LIMIT_DEG["sunset"]


@dataclass(frozen=True)
class TargetWindows:
    """The track of one target and its windows as far as the sky allows.

    `shutter[filter]`: the shutter may be open. `shutter_causes[filter][cause]`: the windows of that one rule
    alone. `acquisition`: the telescope may work with the shutter closed. `acquisition_causes[cause]`: the
    windows of that one rule alone. `depth[filter]`: the depth that open shutter gathers, where the request's
    aim asks for it. `odds`: what it may be expected to gather by the odds of clear sky, where given.
    """

    track: Track
    shutter: Mapping[str, Windows]
    shutter_causes: Mapping[str, Mapping[Cause, Windows]]
    acquisition: Windows
    acquisition_causes: Mapping[Cause, Windows]
    depth: Mapping[str, GatheredCurve]
    odds: GatheredCurve | None

    def counted(self, filter_name: str) -> GatheredCurve | None:
        """What open shutter counts for the value of a plan; None where every second counts alike."""
        depth = self.depth.get(filter_name)
        if depth is None or self.odds is None:
            return self.odds if depth is None else depth
        return depth.times(self.odds)


@dataclass(frozen=True)
class SkyWindows:
    """The night's windows: `targets` by name; `sun_down`, `dark` within clear and outside blocked spans.

    `odds`: what open shutter may be expected to gather by the odds of clear sky, where these are given; they
    close no window.
    """

    targets: Mapping[str, TargetWindows]
    sun_down: Windows
    dark: Windows
    odds: GatheredCurve | None

    @property
    def by_depth(self) -> bool:
        """Whether the request's aim asks for depth."""
        return any(each.depth for each in self.targets.values())

    def __getitem__(self, name: str) -> TargetWindows:
        """The target of that name; KeyError where there is none."""
        return self.targets[name]


def sky_windows(request: Request, sky: NightSky) -> SkyWindows:
    """All windows of a request under its sky.

    Raises KeyError where a goal uses a filter that the request lacks.
    """
    tracks = sky.stars([(target.ra_deg, target.dec_deg) for target in request.targets])
    night = _SharedWindows(request, sky)
    targets = {
        target.name: night.target(target, track)
        for target, track in zip(request.targets, tracks, strict=True)
    }
    used = {goal.filter for target in request.targets for goal in target.goals}
    highest = max(request.filter_named(name).sun_limit_deg for name in used)
    dark = intersect_all([*night.darkness(highest).values(), *night.weather.values()])
    return SkyWindows(targets, intersect_all([night.sun_down, *night.weather.values()]), dark, night.odds)


class _SharedWindows:
    """The windows that all targets share, computed once: Sun, Moon, spans given by hand, local horizon."""

    def __init__(self, request: Request, sky: NightSky) -> None:
        self._request, self._sky = request, sky
        # 60 s: the Sun's altitude is smooth, grazing dips below a limit are caught at their vertex.
        self._sun = Sampled(sky.sun.geometric_altitude_deg)
        self.sun_down = windows_of(
            self._sun.at_most(SUNSET_DEG), Edge("sun", "Sun sets"), Edge("sun", "Sun rises")
        )
        self._moon_down: Windows | None = None
        self._moon_centre_down: Windows | None = None
        self._skyline = Skyline(request.site.skyline) if request.site.skyline else None
        self.weather = _weather(request, sky.clock)
        given = request.night.clear_odds
        self.odds = odds_curve(given, sky.clock) if given else None
        self._darkness: dict[float, dict[Cause, Windows]] = {}

    def darkness(self, limit_deg: float) -> Mapping[Cause, Windows]:
        """The windows with the Sun at or below the limit, and set where the limit is above sunset."""
        if limit_deg not in self._darkness:
            words = _degrees(limit_deg)
            windows = windows_of(
                self._sun.at_most(limit_deg),
                Edge("darkness", f"Sun below {words}"),
                Edge("darkness", f"Sun above {words}"),
            )
            causes: dict[Cause, Windows] = {"darkness": windows}
            if limit_deg > SUNSET_DEG:
                causes["sun"] = self.sun_down
            self._darkness[limit_deg] = causes
        return self._darkness[limit_deg]

    def moon_down(self) -> Windows:
        """The windows in which the Moon's upper limb is below −34′."""
        if self._moon_down is None:
            spans = spans_where(lambda t: -self._sky.moon.limb_above_deg(t))
            self._moon_down = windows_of(spans, Edge("moon_gap", "Moon sets"), Edge("moon_gap", "Moon rises"))
        return self._moon_down

    def moon_centre_down(self) -> Windows:
        """The windows in which the Moon's centre is below 0°, so that the formula has no moonlight."""
        if self._moon_centre_down is None:
            spans = Sampled(self._sky.moon.geometric_altitude_deg).at_most(0.0)
            self._moon_centre_down = windows_of(
                spans, Edge("moonlight", "Moon sets"), Edge("moonlight", "Moon rises")
            )
        return self._moon_centre_down

    def target(self, target: Target, track: Track) -> TargetWindows:
        """The windows of one target."""
        request = self._request
        # A star has one highest and one lowest point a turn: sampled, no crossing of a floor can hide.
        altitude = Sampled(track.altitude_deg, extra_s=[*upper_transits(track), *lower_transits(track)])
        above: dict[Cause, Windows] = {}
        if self._skyline is not None:
            above["skyline"] = windows_of(
                self._skyline.spans_clear(track),
                Edge("skyline", "clears local horizon"),
                Edge("skyline", "sets behind local horizon"),
            )
        if request.site.ceiling_deg < 90.0:
            above["ceiling"] = _ceiling(altitude, request.site.ceiling_deg)
        floor = _floor(altitude, request.floor_deg(target))
        acquisition_floor = _floor(altitude, request.acquisition_floor_deg(target))
        acquisition: dict[Cause, Windows] = {
            "sun": self.sun_down,
            **self.weather,
            "floor": acquisition_floor,
            **above,
        }
        moon = _MoonAt(self, self._sky, track)
        causes: dict[str, Mapping[Cause, Windows]] = {}
        for name in dict.fromkeys(goal.filter for goal in target.goals):
            chosen = request.filter_named(name)
            causes[name] = {
                **self.darkness(chosen.sun_limit_deg),
                **self.weather,
                "floor": floor,
                **above,
                **moon.rules(chosen),
            }
        shutter = {name: intersect_all(rules.values()) for name, rules in causes.items()}
        depth: dict[str, GatheredCurve] = {}
        if request.aim.value == "depth":
            seen = SkyAt(track, self._sky.moon)
            depth = {name: seen.curve(request.filter_named(name).moonlight_factor) for name in causes}
        windows = intersect_all(acquisition.values())
        return TargetWindows(track, shutter, causes, windows, acquisition, depth, self.odds)


class _MoonAt:
    """The Moon's rules for one target; each quantity is sampled once, and only if a filter asks."""

    def __init__(self, night: _SharedWindows, sky: NightSky, track: Track) -> None:
        self._night, self._sky, self._track = night, sky, track
        self._gap: Sampled | None = None
        self._light: Sampled | None = None

    def rules(self, chosen: Filter) -> Mapping[Cause, Windows]:
        """The windows of the Moon's rules that the filter sets."""
        causes: dict[Cause, Windows] = {}
        if chosen.moon_gap_deg is not None:
            # The gap changes by half a degree an hour: a minute hides nothing.
            if self._gap is None:
                self._gap = Sampled(lambda t: self._track.separation_deg(self._sky.moon, t))
            words = _degrees(chosen.moon_gap_deg)
            far = windows_of(
                self._gap.at_least(chosen.moon_gap_deg),
                Edge("moon_gap", f"Moon beyond {words}"),
                Edge("moon_gap", f"Moon within {words}"),
            )
            causes["moon_gap"] = unite(far, self._night.moon_down())
        if chosen.moonlight_mag is not None:
            if self._light is None:
                self._light = Sampled(lambda t: brightening_if_up_mag(self._track, self._sky.moon, t))
            limit = f"{chosen.moonlight_mag:g} mag"
            faint = windows_of(
                self._light.at_most(full_brightening_mag(chosen.moonlight_mag, chosen.moonlight_factor)),
                Edge("moonlight", f"moonlight under {limit}"),
                Edge("moonlight", f"moonlight over {limit}"),
            )
            causes["moonlight"] = unite(faint, self._night.moon_centre_down())
        return causes


def _floor(altitude: Sampled, floor_deg: float) -> Windows:
    words = _degrees(floor_deg)
    return windows_of(
        altitude.at_least(floor_deg),
        Edge("floor", f"rises above {words}"),
        Edge("floor", f"sinks below {words}"),
    )


def _ceiling(altitude: Sampled, ceiling_deg: float) -> Windows:
    words = _degrees(ceiling_deg)
    return windows_of(
        altitude.at_most(ceiling_deg),
        Edge("ceiling", f"sinks below the ceiling, {words}"),
        Edge("ceiling", f"rises above the ceiling, {words}"),
    )


def _weather(request: Request, clock: NightClock) -> dict[Cause, Windows]:
    """The windows that clear and blocked spans leave, by cause; empty where none are given."""
    weather: dict[Cause, Windows] = {}
    if request.night.clear:
        weather["clear"] = _given(
            request.night.clear, clock, Edge("clear", "clear span begins"), Edge("clear", "clear span ends")
        )
    if request.night.blocked:
        begins, ends = Edge("blocked", "blocked span begins"), Edge("blocked", "blocked span ends")
        weather["blocked"] = complement(_given(request.night.blocked, clock, begins, ends), ends, begins)
    return weather


def _given(
    spans: Sequence[tuple[dt.datetime, dt.datetime]], clock: NightClock, opens: Edge, closes: Edge
) -> Windows:
    """Windows within the night made of spans of instants, which may overlap and come in any order."""
    inside: Iterable[tuple[float, float]] = (
        (max(clock.seconds(start), 0.0), min(clock.seconds(end), float(SPAN_S))) for start, end in spans
    )
    united: Windows = ()
    for span in inside:
        united = unite(united, windows_of([span], opens, closes))
    return united


def _degrees(value: float) -> str:
    return f"{round(value, 2):g}°".replace("-", "−")
