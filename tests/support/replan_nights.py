"""A small night with its list, and lists laid by hand for what only their steps decide."""

from __future__ import annotations

import datetime as dt
from functools import cache
from typing import Any

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.continues import Begin, Continues
from optimizer.models.request import Request
from optimizer.models.shots import ShotList, Step
from optimizer.night import Night
from optimizer.reading.load import request_from_data

DAY = dt.datetime(2026, 11, 14, tzinfo=dt.UTC)
DATA: dict[str, Any] = {
    "schema": "darkfill-request/1",
    "night": {
        "evening": "2026-11-14",
        "clear": [["2026-11-14T20:30:00Z", "2026-11-15T01:30:00Z"]],
        "ut1_utc_s": 0.0,
    },
    "site": {
        "name": "Heron Flat",
        "latitude_deg": 38.92,
        "longitude_deg": -3.11,
        "time_zone": "Europe/Madrid",
        "floor_deg": 25,
    },
    "mount": {"contact_min": 40, "clearance_min": 12, "flip_from_min": 5, "clock_error_s": 20},
    "camera": {"dither_every": 3, "dither_s": 12},
    "focus": {"every_min": 75},
    "filters": [{"name": "L", "change_s": 8}, {"name": "Ha", "change_s": 8, "kind": "narrowband"}],
    "targets": [
        {
            "name": "Cradle",
            "ra_deg": 52.297,
            "dec_deg": 31.31,
            "goals": [
                {"filter": "L", "exposure_s": 120, "frames": 40},
                {"filter": "Ha", "exposure_s": 300, "frames": 24, "done": 2},
            ],
        },
        {
            "name": "Iris",
            "ra_deg": 315.4,
            "dec_deg": 68.16,
            "goals": [{"filter": "L", "exposure_s": 180, "frames": 20}],
        },
    ],
    "aim": {**PLAIN_AIM, "slack_s": 60, "workers": 1, "time_limit_s": 0.2, "gap": 0.01},
}


def small_request(**changes: Any) -> Request:
    """The small night's request, parts of it exchanged."""
    return request_from_data({**DATA, **changes}, "small night")


@cache
def small_list() -> ShotList:
    """The plan of the small night, the same on every run."""
    return Night(small_request()).plan()


@cache
def flipping_list(contact_min: float = 40) -> ShotList:
    """The plan of a night that carries its one target across the meridian."""
    return Night(
        small_request(
            night={**DATA["night"], "clear": [["2026-11-14T22:30:00Z", "2026-11-15T02:30:00Z"]]},
            mount={**DATA["mount"], "contact_min": contact_min},
            targets=[DATA["targets"][0]],
        )
    ).plan()


def at(text: str) -> dt.datetime:
    """An instant of the night from a time of day in UTC."""
    hours, minutes, seconds = (int(part) for part in f"{text}:00".split(":")[:3])
    day = DAY + dt.timedelta(days=hours < 12)
    return day + dt.timedelta(hours=hours, minutes=minutes, seconds=seconds)


# kind, start, end (UTC), target, pier side, filter, seconds of exposure; a wait without a target stands still
LAID = """\
slew   20:40:00 20:41:00 Cradle west
centre 20:41:00 20:41:45 Cradle west
settle 20:41:45 20:42:00 Cradle west
filter 20:42:00 20:42:08 Cradle west L
focus  20:42:08 20:44:38 Cradle west L
expose 20:44:38 20:46:41 Cradle west L 120
expose 20:46:41 20:48:44 Cradle west L 120
expose 20:48:44 20:50:47 Cradle west L 120
dither 20:50:47 20:50:59 Cradle west L
expose 20:50:59 20:53:02 Cradle west L 120
focus  20:53:02 20:55:32 Cradle west L
dither 20:55:32 20:55:44 Cradle west L
expose 20:55:44 20:57:47 Cradle west L 120
wait   20:57:47 21:00:00 Cradle west
filter 21:00:00 21:00:08 Cradle west Ha
focus  21:00:08 21:02:38 Cradle west Ha
expose 21:02:38 21:07:41 Cradle west Ha 300
flip   21:07:41 21:08:30 Cradle east
centre 21:08:30 21:09:15 Cradle east
settle 21:09:15 21:09:30 Cradle east
rotate 21:09:30 21:10:06 Cradle east
expose 21:10:06 21:15:09 Cradle east Ha 300
wait   21:15:09 21:30:00
slew   21:30:00 21:31:00 Iris east
centre 21:31:00 21:31:45 Iris east
settle 21:31:45 21:32:00 Iris east
filter 21:32:00 21:32:08 Iris east L
focus  21:32:08 21:34:38 Iris east L
expose 21:34:38 21:37:41 Iris east L 180
park   21:37:41 21:39:00
"""


def laid_list(text: str = LAID, request: Request | None = None, begin: Begin | None = None) -> ShotList:
    """A list of steps laid by hand; of all else it has only what its steps say."""
    asked = small_request() if request is None else request
    steps = tuple(_step(number, row.split()) for number, row in enumerate(text.splitlines(), start=1))
    continues = None
    if begin is not None:
        continues = Continues(sha256="0" * 64, now_utc=begin.utc, steps_done=(), begin=begin)
    return small_list().model_copy(update={"request": asked, "steps": steps, "continues": continues})


def _step(number: int, cells: list[str]) -> Step:
    kind, start, end, *rest = cells
    target, side, filter_name, seconds = (*rest, None, None, None, None)[:4]
    return Step.model_validate(
        {
            "step": number,
            "kind": kind,
            "start_utc": at(start),
            "end_utc": at(end),
            "target": target,
            "pier_side": side,
            "filter": filter_name,
            "exposure_s": None if seconds is None else float(seconds),
            "tracking": target is not None,
            "binning": 1 if kind == "expose" else None,
        }
    )
