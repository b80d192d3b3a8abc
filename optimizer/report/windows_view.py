"""When the shutter may be open tonight, and what opens and closes each window."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.models.rig import PierSide
from optimizer.report.fitted import Fitted
from optimizer.report.lanes import Lanes, Part, Scale, night_scale, sky_lane
from optimizer.report.plan_view import night_lines
from optimizer.report.tables import heading, indented, plain_table
from optimizer.report.window_facts import FilterWindows, OpenWindow, TargetWindowFacts, WindowsReport
from optimizer.report.words import clock, duration, minus, name, tied
from optimizer.words import listing


def windows_view(report: WindowsReport) -> RenderableType:
    """The night in lanes, then one table for each target."""
    night = report.night
    parts: list[RenderableType] = [heading(f"Open windows on the night of {night.evening}")]
    parts += [*night_lines(night), Text(), _lanes(report)]
    for target in report.targets:
        parts += [Text(), Text(name(target.name), style="bold"), Text(_course(report, target))]
        if any(entry.windows for entry in target.filters):
            parts.append(_table(report, target))
        parts += _closed(target.filters)
    return Group(*parts)


def _lanes(report: WindowsReport) -> Lanes:
    return Lanes(lambda width: _lines(report, width))


def _lines(report: WindowsReport, width: int) -> list[Text]:
    spans = [(window.start_utc, window.end_utc) for target in report.targets for window in _windows(target)]
    scale = night_scale(report.night, spans, width)
    lanes = [scale.axis(), sky_lane(scale, report.night)]
    moon: list[Part] = [(each.start_utc, each.end_utc, "▒") for each in report.moon_up]
    lanes.append(scale.lane("Moon", moon, style="dim"))
    lanes += [_target_lane(scale, target) for target in report.targets]
    legend = ["█ shutter may be open", "· above its floor, but closed", "| transit"]
    return [*lanes, *scale.legend(legend)]


def _target_lane(scale: Scale, target: TargetWindowFacts) -> Text:
    parts: list[Part] = [(each.start_utc, each.end_utc, "·") for each in target.above_floor]
    parts += [(window.start_utc, window.end_utc, "█") for window in _windows(target)]
    half = scale.cell / 2
    parts += [(at.utc - half, at.utc + half, "|") for at in target.transits]
    return scale.lane(name(target.name), parts)


def _windows(target: TargetWindowFacts) -> list[OpenWindow]:
    return [window for entry in target.filters for window in entry.windows]


def _course(report: WindowsReport, target: TargetWindowFacts) -> str:
    """When it is above its floor, its transits and its best hour."""
    zone = report.night.time_zone
    words = [
        _above_floor(report, target),
        *(
            f"crosses the meridian {clock(at.utc, zone)} at {minus(f'{at.altitude_deg:.0f}°')}"
            for at in target.transits
        ),
    ]
    if target.best_hour is not None:
        hour = target.best_hour
        words.append(f"best hour from {clock(hour.start_utc, zone)} (at {hour.mean_altitude_deg:.0f}°)")
    return "; ".join(words)


def _above_floor(report: WindowsReport, target: TargetWindowFacts) -> str:
    """When the target is above its floor, in words, between sunset and sunrise or else within 24 h."""
    zone, dusk, dawn = report.night.time_zone, report.night.sunset_utc, report.night.sunrise_utc
    if dusk is not None and dawn is not None and dusk < dawn:
        begin, end, whole, never = dusk, dawn, "all night", "never above its floor between sunset and sunrise"
    else:
        begin, end, whole = report.first_noon_utc, report.second_noon_utc, "for 24 h, from noon to noon"
        never = "never above its floor from noon to noon"
    words = []
    for each in target.above_floor:
        if each.end_utc <= begin or each.start_utc >= end:
            continue
        before, after = each.start_utc <= begin, each.end_utc >= end
        if before and after:
            words.append(whole)
        elif before:
            words.append(f"until {clock(each.end_utc, zone)}")
        elif after:
            words.append(f"from {clock(each.start_utc, zone)} on")
        else:
            words.append(f"from {clock(each.start_utc, zone)} to {clock(each.end_utc, zone)}")
    return f"above its floor {' and '.join(words)}" if words else never


def _table(report: WindowsReport, target: TargetWindowFacts) -> Fitted:
    """The table of a target, with one row for each window."""
    zone = report.night.time_zone
    whole = report.second_noon_utc - report.first_noon_utc
    table = plain_table(
        "filter",
        "pier side",
        "from",
        "to",
        "for",
        "moonlight",
        "opened by",
        "closed by",
        right=("for", "moonlight"),
    )
    stacked: list[RenderableType] = []
    for entry in target.filters:
        label, side = name(entry.filter, 12), entry.pier_side
        for window in entry.windows:
            lasts = window.end_utc - window.start_utc
            since, until = clock(window.start_utc, zone), clock(window.end_utc, zone)
            if lasts == whole:
                since, until = "all night", ""
            table.add_row(
                Text(label),
                side or "-",
                since,
                until,
                duration(lasts.total_seconds()),
                _moonlight(window),
                Text(window.opened_by),
                Text(window.closed_by),
            )
            where = f"{label}, pier side {side}" if side else label
            span = f"{since} to {until}" if until else since
            stacked += [
                Text(f"{where}: {span}, {tied(duration(lasts.total_seconds()))}"),
                indented(Text(f"opened by: {window.opened_by}; closed by: {window.closed_by}")),
                indented(Text(f"moonlight: {tied(_moonlight(window))} mag")),
            ]
    return Fitted(table, ("opened by", "closed by"), (), lambda: stacked)


def _closed(filters: Sequence[FilterWindows]) -> Iterator[Text]:
    """Why there is no window; filters and pier sides with the same reason share a line."""
    closed: dict[tuple[str, tuple[PierSide | None, ...]], list[str]] = {}
    for filter_name, group in groupby(filters, key=lambda entry: entry.filter):
        sides: dict[str, list[PierSide | None]] = {}
        for entry in group:
            if not entry.windows:
                sides.setdefault(entry.why_none, []).append(entry.pier_side)
        for why, where in sides.items():
            closed.setdefault((why, tuple(where)), []).append(name(filter_name, 12))
    for (why, both), names in closed.items():
        side = f" on pier side {both[0]}" if len(both) == 1 else " on either pier side"
        yield Text(f"No window for {listing(names, 'and')}{'' if None in both else side}: {why}.")


def _moonlight(window: OpenWindow) -> str:
    """Magnitudes by which the Moon brightens the sky at the target within the window."""
    least, most = f"{window.moonlight_least_mag:.1f}", f"{window.moonlight_most_mag:.1f}"
    return least if least == most else f"{least} to {most}"
