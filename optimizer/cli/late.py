"""The option that asks how a list goes that runs late: `--late 12` or `--late 12@01:20`."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from optimizer.cli.typed import ToCheck
    from optimizer.pace.late_by import LateBy

LateOption = Annotated[
    str | None,
    typer.Option(
        "--late",
        metavar="MIN[@TIME]",
        help="Ask what happens if all runs so many minutes late: from the first step on, or from a time on "
        "(12@01:20, by the site's clock).",
    ),
]
_LATE = re.compile(r"\s*([0-9]{1,4}(?:\.[0-9]{1,3})?)\s*(?:@\s*(.+?)\s*)?")
_MOST_MIN = 720.0
_LIKE = "write minutes like 12, or 12@01:20"


def late_answer(text: str, read: ToCheck) -> LateBy:
    """How a list goes that runs late as the option says. Raises InputError where that cannot be used.

    Latest starts that the list does not tell are worked out.
    """
    from optimizer.cli.loading import refused
    from optimizer.models.site import night_span
    from optimizer.pace.late_by import late_by
    from optimizer.reading.instants import instant_of
    from optimizer.typed.latest import told_or_worked_out

    request = read.request
    parts = _LATE.fullmatch(text)
    if parts is None:
        raise refused("--late", text, "this is no number of minutes", _LIKE)
    minutes = float(parts[1])
    if not 0 < minutes <= _MOST_MIN:
        raise refused("--late", text, "the minutes are out of range", f"give above 0, at most {_MOST_MIN:g}")
    since: dt.datetime | None = None
    if parts[2] is not None:
        site = request.site
        span = night_span(request.night, site.longitude_deg, site.time_zone)
        try:
            since = instant_of(parts[2], span, site.time_zone)
        except ValueError as error:
            message, _, remedy = str(error).partition("; ")
            raise refused("--late", text, message, remedy) from None
    by_mount = request.mount.flip_by == "mount"
    steps = told_or_worked_out(request, read.steps)
    answer = late_by(steps, round(minutes * 60), by_mount=by_mount, from_utc=since)
    if answer is None:
        raise refused("--late", text, "no step of the list begins then or later", "name an earlier time")
    return answer
