"""One planned night across the meridian, and how a view reads as plain text."""

from __future__ import annotations

import io
from functools import lru_cache
from typing import Any

from rich.console import RenderableType

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request
from optimizer.models.shots import ShotList
from optimizer.night import Night
from optimizer.report.tables import show


def a_request(**parts: Any) -> Request:
    goals = [
        {"filter": "L", "exposure_s": 300.0, "frames": 40, "done": 10},
        {"filter": "Ha", "exposure_s": 600.0, "frames": 3},
    ]
    return Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {
                "evening": "2026-11-14",
                "clear": [["2026-11-14T23:00:00Z", "2026-11-15T01:30:00Z"]],
                "ut1_utc_s": 0.0,
            },
            "site": {
                "name": "Heron Flat",
                "latitude_deg": 38.92,
                "longitude_deg": -3.11,
                "floor_deg": 25.0,
                "time_zone": "Europe/Madrid",
            },
            "mount": {"contact_min": 10.0, "clearance_min": 12.0, "flip_from_min": 6.0},
            "filters": [{"name": "L"}, {"name": "Ha"}],
            "targets": [{"name": "Cradle", "ra_deg": 52.297, "dec_deg": 31.31, "goals": goals}],
            "aim": {**PLAIN_AIM, "workers": 1, "time_limit_s": 3.0, "gap": 0.02},
            **parts,
        }
    )


def plan(request: Request) -> ShotList:
    return Night(request).plan()


@lru_cache
def planned() -> ShotList:
    """A tight zone: a wait without tracking, then the flip."""
    return plan(a_request())


def text(view: RenderableType) -> str:
    """As a pipe gets it."""
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    show(view, out)
    out.flush()
    return out.buffer.getvalue().decode()


def joined(view: RenderableType) -> str:
    """As a pipe gets it, with folded lines put together again."""
    return " ".join(text(view).split())
