"""When the shutter may be open tonight, and what opens and closes each window."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from optimizer.report.lanes import Lanes, Part, Scale, night_scale, sky_lane
from optimizer.report.plan_view import night_lines
from optimizer.report.tables import heading, plain_table
from optimizer.report.window_facts import FilterWindows, OpenWindow, TargetFacts, WindowsReport
from optimizer.report.words import clock, duration, name


def windows_view(report: WindowsReport) -> RenderableType:
    """The night in lanes, then one table for each target."""
    night = report.night
    parts: list[RenderableType] = [heading(f"Open windows on the night of {night.evening}")]
    parts += [*night_lines(night), Text(), _lanes(report)]
    for target in report.targets:
        parts += [Text(), Text(name(target.name), style="bold"), Text(_course(target, night.time_zone))]
        parts.append(_table(target.filters, night.time_zone))
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


def _target_lane(scale: Scale, target: TargetFacts) -> Text:
    parts: list[Part] = [(each.start_utc, each.end_utc, "·") for each in target.above_floor]
    parts += [(window.start_utc, window.end_utc, "█") for window in _windows(target)]
    half = scale.cell / 2
    parts += [(at.utc - half, at.utc + half, "|") for at in target.transits]
    return scale.lane(name(target.name), parts)


def _windows(target: TargetFacts) -> list[OpenWindow]:
    return [window for entry in target.filters for window in entry.windows]


def _course(target: TargetFacts, zone: str) -> str:
    """Rise, transit, set and best hour, in the order of the night."""
    events = [
        (each.start_utc, f"above its floor from {clock(each.start_utc, zone)}") for each in target.above_floor
    ]
    events += [(each.end_utc, f"to {clock(each.end_utc, zone)}") for each in target.above_floor]
    events += [
        (at.utc, f"crosses the meridian {clock(at.utc, zone)} at {at.altitude_deg:.0f}°")
        for at in target.transits
    ]
    words = ", ".join(text for _, text in sorted(events)) or "never above its floor"
    if target.best_hour is None:
        return words
    hour = target.best_hour
    return f"{words}; best hour from {clock(hour.start_utc, zone)} (at {hour.mean_altitude_deg:.0f}°)"


def _table(filters: tuple[FilterWindows, ...], zone: str) -> Table:
    table = plain_table(
        "filter",
        "side",
        "from",
        "to",
        "for",
        "moonlight",
        "opened by",
        "closed by",
        right=("for", "moonlight"),
    )
    for entry in filters:
        label, side = Text(name(entry.filter, 12)), entry.pier_side or "-"
        if not entry.windows:
            table.add_row(label, side, "-", "-", "-", "-", Text(entry.why_none))
        for window in entry.windows:
            table.add_row(
                label,
                side,
                clock(window.start_utc, zone),
                clock(window.end_utc, zone),
                duration((window.end_utc - window.start_utc).total_seconds()),
                _moonlight(window),
                Text(window.opened_by),
                Text(window.closed_by),
            )
    return table


def _moonlight(window: OpenWindow) -> str:
    """Magnitudes by which the Moon brightens the sky at the target within the window."""
    least, most = f"{window.moonlight_least_mag:.1f}", f"{window.moonlight_most_mag:.1f}"
    return least if least == most else f"{least} to {most}"
