"""When the shutter may be open tonight, and what opens and closes each window."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from optimizer.report.plan_view import night_lines
from optimizer.report.tables import heading, plain_table
from optimizer.report.window_facts import FilterWindows, WindowsReport
from optimizer.report.words import clock, duration, name


def windows_view(report: WindowsReport) -> RenderableType:
    """One table for each target."""
    night = report.night
    parts: list[RenderableType] = [
        heading(f"Open windows on the night of {night.evening}"),
        *night_lines(night),
    ]
    zone = night.time_zone
    for target in report.targets:
        transits = ", ".join(f"{clock(at.utc, zone)} at {at.altitude_deg:.0f}°" for at in target.transits)
        parts += [Text(), Text(name(target.name), style="bold")]
        parts.append(
            Text(f"crosses the meridian {transits}" if transits else "does not cross the meridian tonight")
        )
        parts.append(_table(target.filters, zone))
    return Group(*parts)


def _table(filters: tuple[FilterWindows, ...], zone: str) -> Table:
    table = plain_table("filter", "side", "from", "to", "for", "opened by", "closed by", right=("for",))
    for entry in filters:
        if not entry.windows:
            table.add_row(
                Text(name(entry.filter, 12)), entry.pier_side or "-", "-", "-", "-", Text(entry.why_none)
            )
        for window in entry.windows:
            table.add_row(
                Text(name(entry.filter, 12)),
                entry.pier_side or "-",
                clock(window.start_utc, zone),
                clock(window.end_utc, zone),
                duration((window.end_utc - window.start_utc).total_seconds()),
                Text(window.opened_by),
                Text(window.closed_by),
            )
    return table
