"""Requests for the tests of the nights to come."""

from __future__ import annotations

from typing import Any

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request

BROADBAND = {"darkness": "astronomical", "moonlight_mag": 0.3, "moon_gap_deg": 40.0}
NARROWBAND = {
    "kind": "narrowband",
    "darkness": "nautical",
    "moon_gap_deg": 25.0,
    "moonlight_mag": 1.0,
    "moonlight_factor": 0.2,
}
FILTERS = [
    *({"name": name, **BROADBAND} for name in ("L", "R", "G", "B")),
    *({"name": name, **NARROWBAND} for name in ("Ha", "OIII")),
]


def goals(*names: str, frames: int = 30, exposure_s: float = 180.0) -> list[dict[str, Any]]:
    return [{"filter": name, "exposure_s": exposure_s, "frames": frames} for name in names]


def realistic(**aim: Any) -> Request:
    """An autumn list at 47 N in a bright fortnight: galaxies, a cluster that sets early, circumpolar nebulae."""
    return Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": "2026-10-20"},
            "site": {"latitude_deg": 47.0, "longitude_deg": 8.0, "elevation_m": 600.0, "floor_deg": 25.0},
            "mount": {"contact_min": 40.0, "clearance_min": 12.0},
            "filters": FILTERS,
            "targets": [
                {"name": "Whirl", "ra_deg": 23.46, "dec_deg": 30.66, "goals": goals("L", "R", "G", "B")},
                {"name": "Early cluster", "ra_deg": 283.4, "dec_deg": 33.03, "goals": goals("L", "B")},
                {"name": "Heart", "ra_deg": 38.2, "dec_deg": 61.45, "goals": goals("Ha", "OIII")},
                {"name": "Elephant", "ra_deg": 324.7, "dec_deg": 57.5, "goals": goals("Ha", "OIII", "L")},
            ],
            "aim": {**PLAIN_AIM, "scarcity": 0.5, "workers": 1, "time_limit_s": 1.0, **aim},
        }
    )


def at_the_pole(
    mount: dict[str, Any] | None = None, target: dict[str, Any] | None = None, **more: Any
) -> Request:
    """Polar night at 90 N: the Sun stays below -18 degrees from 1 December for 28 nights, stars stay level.

    Every target that stands above the floor of 25 degrees may be shot for 24 hours a night.
    """
    filters = more.pop("filters", [{"name": "L"}])
    named = [{"filter": each["name"], "exposure_s": 60.0, "frames": 10} for each in filters]
    return Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": "2026-12-01", **more.pop("night", {})},
            "site": {"latitude_deg": 90.0, "longitude_deg": 0.0, "floor_deg": 25.0, **more.pop("site", {})},
            "mount": {"kind": "fork", **(mount or {})},
            "filters": filters,
            "targets": [{"name": "A", "ra_deg": 60.0, "dec_deg": 50.0, "goals": named, **(target or {})}],
            "aim": {"scarcity": 0.5, **more.pop("aim", {})},
            **more,
        }
    )
