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

    The new list takes over when what is under way is expected to end; where nothing is taken to be, as soon
    as it can (`by_clock`), or at the instant that was asked about.
    """
    words = ["darkfill", "replan", _as_argument(list_name)]
    takes_over = told.let_end[-1].end_utc if told.let_end else None if by_clock else told.now_utc
    if takes_over is not None:
        words += ["--now", _local(shots, _rounded_up(takes_over))]
    if not told.done:
        return (*words, "--images", _as_argument(folder))
    return (*words, "--done", ranges_of((*told.done, *(each.step.step for each in told.let_end))))


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
