"""The nights of a season as lanes: one a target, with its visits on a clock that all nights share."""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from optimizer.models.season import GoalFrames, SeasonNight, SeasonVisit
from optimizer.report.picture.shapes import fitted
from optimizer.report.season_page.facts import HOUR_S, SeasonFacts, open_shutter_s
from optimizer.report.words import clock, duration, name, run_text

NAME_PX = 330.0  # a phone's width, less its edges
LEAST_LETTER = 4.0  # percent of the width that a bar needs for its letter


@dataclass(frozen=True)
class Bar:
    """A visit: from where to how far, in percent of the width, and the pier side if the mount has two."""

    x: str
    width: str
    middle: str | None
    side: str | None


@dataclass(frozen=True)
class Lane:
    """A target's visits of one night; `number` is its row of the map, `short` its name where many stand."""

    number: int
    name: str
    short: str
    frames: str
    bars: tuple[Bar, ...]


@dataclass(frozen=True)
class VisitRow:
    """A visit in words, for the table; `number` is the target's row of the map."""

    number: int
    begins: str
    ends: str
    target: str
    side: str
    frames: str
    open_shutter: str


@dataclass(frozen=True)
class NightLanes:
    """What a night shows: which axis it has, what is not dark, its lanes and its visits in words."""

    axis: int
    twilight: tuple[tuple[str, str], ...]
    lanes: tuple[Lane, ...]
    visits: tuple[VisitRow, ...]


@dataclass(frozen=True)
class Axis:
    """Hours of the clock with where they stand, in percent of the width."""

    hours: tuple[tuple[str, str], ...]


def frames_words(frames: Iterable[GoalFrames]) -> str:
    """The frames by filter: `L 22×180s, Ha 34×300s`, frames of one goal added up."""
    counts: dict[tuple[str, float], int] = {}
    for each in frames:
        key = (each.filter, each.exposure_s)
        counts[key] = counts.get(key, 0) + each.frames
    return ", ".join(run_text(name(key[0], 12), number, key[1]) for key, number in counts.items())


def night_lanes(facts: SeasonFacts) -> tuple[tuple[Axis, ...], tuple[dict[int, NightLanes], ...]]:
    """The lanes of the nights of each evening, by rig, under as few axes as their clocks need.

    There is one more where the clocks change, and for each further time zone.
    """
    zones = [zoneinfo.ZoneInfo(rig.request.site.time_zone) for rig in facts.rigs]
    nights = [
        (column.number, rig, night, _noon(column.evening, zones[rig]))
        for column in facts.columns
        for rig, night in column.nights.items()
    ]
    spans = [_hours(noon, instant) for _, _, night, noon in nights for instant in _instants(night)]
    first, last = (math.floor(min(spans)), math.ceil(max(spans))) if spans else (6, 18)
    last = max(last, first + 1)
    numbers = {row.project.target: row.number for row in facts.rows}
    axes: list[Axis] = []
    found: tuple[dict[int, NightLanes], ...] = tuple({} for _ in facts.columns)
    for column, rig, night, noon in nights:
        axis = _axis(noon, zones[rig], first, last)
        if axis not in axes:
            axes.append(axis)
        scale = _Scale(noon, first, last)
        found[column][rig] = NightLanes(
            axes.index(axis),
            scale.twilight(night),
            _lanes(night.visits, scale, numbers),
            tuple(_visit_row(visit, zones[rig].key, numbers) for visit in night.visits),
        )
    return tuple(axes), found


def _noon(evening: dt.date, zone: zoneinfo.ZoneInfo) -> dt.datetime:
    return dt.datetime.combine(evening, dt.time(12), tzinfo=zone).astimezone(dt.UTC)


@dataclass(frozen=True)
class _Scale:
    """Where an instant stands between two hours after noon, in percent."""

    noon: dt.datetime
    first_h: int
    last_h: int

    def at(self, instant: dt.datetime) -> float:
        share = (_hours(self.noon, instant) - self.first_h) / (self.last_h - self.first_h)
        return 100 * min(1.0, max(0.0, share))

    def span(self, begins: dt.datetime, ends: dt.datetime) -> Bar:
        x, end = self.at(begins), self.at(ends)
        middle = _percent((x + end) / 2) if end - x >= LEAST_LETTER else None
        return Bar(_percent(x), _percent(max(0.2, end - x)), middle, None)

    def twilight(self, night: SeasonNight) -> tuple[tuple[str, str], ...]:
        if night.dusk_utc is None or night.dawn_utc is None:
            return (("0%", "100%"),) if night.dark_s <= 0 else ()
        dusk, dawn = self.at(night.dusk_utc), self.at(night.dawn_utc)
        return (("0%", _percent(dusk)), (_percent(dawn), _percent(100 - dawn)))


def _instants(night: SeasonNight) -> list[dt.datetime]:
    ends = [instant for visit in night.visits for instant in (visit.start_utc, visit.end_utc)]
    return [*ends, *(each for each in (night.dusk_utc, night.dawn_utc) if each is not None)]


def _hours(noon: dt.datetime, instant: dt.datetime) -> float:
    return (instant - noon).total_seconds() / HOUR_S


def _percent(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0") + "%"


def _axis(noon: dt.datetime, zone: zoneinfo.ZoneInfo, first: int, last: int) -> Axis:
    hours = []
    for hour in range(first + 1, last):
        local = (noon + dt.timedelta(hours=hour)).astimezone(zone)
        words = f"{local.hour}" if local.minute == 0 else f"{local:%H:%M}"
        hours.append((_percent(100 * (hour - first) / (last - first)), words))
    return Axis(tuple(hours))


def _lanes(visits: Sequence[SeasonVisit], scale: _Scale, numbers: dict[str, int]) -> tuple[Lane, ...]:
    """One lane a target, in the order of their first visits."""
    of_target: dict[str, list[SeasonVisit]] = {}
    for visit in visits:
        of_target.setdefault(visit.target, []).append(visit)
    return tuple(
        Lane(
            numbers[target],
            fitted(target, NAME_PX, 13.0),
            name(target, 24),
            frames_words(each for visit in own for each in visit.frames),
            tuple(_bar(visit, scale) for visit in own),
        )
        for target, own in of_target.items()
    )


def _bar(visit: SeasonVisit, scale: _Scale) -> Bar:
    bar = scale.span(visit.start_utc, visit.end_utc)
    return Bar(bar.x, bar.width, bar.middle, visit.pier_side)


def _visit_row(visit: SeasonVisit, zone: str, numbers: dict[str, int]) -> VisitRow:
    return VisitRow(
        numbers[visit.target],
        clock(visit.start_utc, zone),
        clock(visit.end_utc, zone),
        name(visit.target, 60),
        visit.pier_side or "",
        frames_words(visit.frames),
        duration(open_shutter_s(visit.frames)),
    )
