"""Small requests and skies for the tests of the sky."""

from __future__ import annotations

import datetime as dt
from typing import Any

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request
from optimizer.models.site import Night, Site
from optimizer.sky.bodies import NightSky
from optimizer.sky.clock import night_clock
from optimizer.sky.orientation import earth_orientation


def a_site(latitude_deg: float = 50.0, longitude_deg: float = 0.0, **more: Any) -> Site:
    return Site(latitude_deg=latitude_deg, longitude_deg=longitude_deg, **{"floor_deg": 20.0, **more})


def a_sky(date: str, site: Site) -> NightSky:
    clock = night_clock(Night(evening=dt.date.fromisoformat(date)), site)
    return NightSky(site, clock, earth_orientation(clock.middle))


def a_request(
    *,
    evening: str = "2026-11-14",
    site: dict[str, Any] | None = None,
    night: dict[str, Any] | None = None,
    filters: list[dict[str, Any]] | None = None,
    targets: list[dict[str, Any]] | None = None,
    aim: dict[str, Any] | None = None,
) -> Request:
    filters = filters or [{"name": "L"}]
    goals = [{"filter": one["name"], "exposure_s": 60.0, "frames": 10} for one in filters]
    targets = targets or [{"name": "A", "ra_deg": 60.0, "dec_deg": 30.0}]
    return Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": evening, **(night or {})},
            "site": {"latitude_deg": 50.0, "longitude_deg": 0.0, "floor_deg": 20.0, **(site or {})},
            "filters": filters,
            "targets": [{"goals": goals, **target} for target in targets],
            "aim": {**PLAIN_AIM, **(aim or {})},
        }
    )
