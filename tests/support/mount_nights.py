"""A night with one target that transits at midnight, for tests of what happens around the meridian."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request, sha256_of
from optimizer.mount.zones import times_within
from optimizer.reading.load import LoadedRequest
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows

EVENING = "2026-11-14"


def a_request(
    *,
    night: dict[str, Any] | None = None,
    mount: dict[str, Any] | None = None,
    targets: list[dict[str, Any]] | None = None,
    **parts: dict[str, Any],
) -> Request:
    """One target with 10-minute exposures; an arrival takes 45 + 15 + 8 + 150 s after its slew."""
    goals = [{"filter": "L", "exposure_s": 600.0, "frames": 1}]
    return Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": EVENING, "ut1_utc_s": 0.0, **(night or {})},
            "site": {"latitude_deg": 38.92, "longitude_deg": -3.11, "floor_deg": 25.0},
            "mount": mount or {},
            "filters": [{"name": "L"}],
            "targets": targets or [{"name": "Cradle", "ra_deg": 52.297, "dec_deg": 31.31, "goals": goals}],
            "aim": {**PLAIN_AIM, "workers": 1, "time_limit_s": 5.0},
            **parts,
        }
    )


def loaded(request: Request) -> LoadedRequest:
    return LoadedRequest(request, (), sha256_of(request))


def second_of(request: Request, hour_angle_s: float) -> int:
    """The last whole second after the night's origin before the first target reaches an hour angle."""
    track = sky_windows(request, night_sky(request))[request.targets[0].name].track
    ((_, end),) = [
        span for span in times_within(track, hour_angle_s - 3600, hour_angle_s, 86400.0) if span[1] > 20000
    ]
    return math.floor(end)


def instant(request: Request, second: int) -> str:
    return f"{night_sky(request).clock.utc(second):%Y-%m-%dT%H:%M:%SZ}"


def after_origin(request: Request, moment: dt.datetime) -> int:
    return round(night_sky(request).clock.seconds(moment))
