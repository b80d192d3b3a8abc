"""Small requests for the audit's own parts."""

from __future__ import annotations

from typing import Any

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request


def a_request(
    places: list[tuple[float, float]],
    evening: str = "2026-11-14",
    site: dict[str, Any] | None = None,
    **mount: Any,
) -> Request:
    """A request with targets T0, T1... at these right ascensions and declinations (degrees)."""
    return Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": evening},
            "site": {"latitude_deg": 38.92, "longitude_deg": -3.11, "floor_deg": 20.0, **(site or {})},
            "mount": mount,
            "aim": PLAIN_AIM,
            "filters": [{"name": "L"}],
            "targets": [
                {
                    "name": f"T{number}",
                    "ra_deg": ra_deg,
                    "dec_deg": dec_deg,
                    "goals": [{"filter": "L", "exposure_s": 120.0, "frames": 500}],
                }
                for number, (ra_deg, dec_deg) in enumerate(places)
            ],
        }
    )
