"""What the images say -> the command that plans the rest of the night anew, ready to paste."""

from __future__ import annotations

import datetime as dt
import os
import zoneinfo

from optimizer.follow.seen import Seen
from optimizer.models.shots import ShotList
from optimizer.models.site import iso_utc, night_span
from optimizer.pace.ranges import ranges_of
from optimizer.reading.instants import instant_of


def replan_arguments(
    shots: ShotList, told: Seen, list_name: str, folder: str, *, by_clock: bool
) -> tuple[str, ...]:
    """The words of the command: `list_name` and `folder` are as a person gave them.

    The new list takes over when the running sub is expected to end; where none is taken to run, as soon as
    it can (`by_clock`), or at the instant that was asked about.
    """
    words = ["darkfill", "replan", _as_argument(list_name)]
    takes_over = told.running_ends_utc
    if takes_over is None and not by_clock:
        takes_over = told.now_utc
    if takes_over is not None:
        takes_over = _rounded_up(takes_over)
        words += ["--now", _local(shots, takes_over)]
    if not told.done:
        return (*words, "--images", _as_argument(folder))
    words += ["--done", ranges_of(told.done)]
    if takes_over is not None and told.running is not None and _next_would_run(shots, told, takes_over):
        words.append("--drop-current")
    return tuple(words)


def plain_arguments(shots: ShotList, list_name: str, takes_over: dt.datetime | None) -> tuple[str, ...]:
    """The words of the command where no image tells anything: the list is taken to have gone as planned."""
    words = ("darkfill", "replan", _as_argument(list_name))
    return words if takes_over is None else (*words, "--now", _local(shots, takes_over))


def _as_argument(name: str) -> str:
    """A name that no option can be mistaken for."""
    return os.path.join(".", name) if name.startswith("-") else name  # noqa: PTH118


def _rounded_up(instant: dt.datetime) -> dt.datetime:
    whole = instant.replace(microsecond=0)
    return whole if whole == instant else whole + dt.timedelta(seconds=1)


def _local(shots: ShotList, instant: dt.datetime) -> str:
    """A time of day of the night; in UTC, with the date, where that could be read as another instant."""
    site = shots.request.site
    text = instant.astimezone(zoneinfo.ZoneInfo(site.time_zone)).strftime("%H:%M:%S")
    try:
        span = night_span(shots.request.night, site.longitude_deg, site.time_zone)
        if instant_of(text, span, site.time_zone) == instant:
            return text
    except ValueError:
        pass  # it comes twice that night
    return iso_utc(instant)


def _next_would_run(shots: ShotList, told: Seen, takes_over: dt.datetime) -> bool:
    """Whether by the older list a sub runs as the new one takes over, which a late list has not begun."""
    done = set(told.done)
    subs = (step for step in shots.steps if step.kind == "expose")
    under_way = next((step for step in subs if step.start_utc <= takes_over < step.end_utc), None)
    return under_way is not None and under_way.step not in done and under_way.step - 1 in done
