"""Angles and instants as the views tell them: sexagesimal text, local time, angles within one turn."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from typing import Any

from optimizer.views.models import FRAME
from optimizer.words import sexagesimal

SAME_DEG = 0.01  # angles as near to each other as this are the same: lists give them to four decimals


def local_text(instant: dt.datetime, zone: str) -> str:
    """Write an instant in local time with its offset: `2026-10-10T20:09:43+02:00`."""
    return instant.astimezone(zoneinfo.ZoneInfo(zone)).isoformat(timespec="seconds")


def instants(zone: str, **given: dt.datetime | None) -> dict[str, Any]:
    """Tell each instant `name` twice, as `name_utc` and as the text `name_local`; None stays None."""
    told: dict[str, Any] = {}
    for name, instant in given.items():
        told[f"{name}_utc"] = instant
        told[f"{name}_local"] = None if instant is None else local_text(instant, zone)
    return told


def place(ra_deg: float | None, dec_deg: float | None) -> dict[str, Any]:
    """Tell ICRS coordinates in degrees and as sexagesimal text; what is not known stays None."""
    return {
        "ra_deg": ra_deg,
        "dec_deg": dec_deg,
        "ra_hms": None if ra_deg is None else sexagesimal(ra_deg / 15, "h", decimals=2),
        "dec_dms": None if dec_deg is None else sexagesimal(dec_deg, "d", signed=True, decimals=1),
        "frame": FRAME,
    }


def within_turn(angle_deg: float) -> float:
    """The same angle from 0 to below 360 degrees."""
    turned = angle_deg % 360.0
    return 0.0 if turned >= 360.0 else turned  # −1e-17 % 360 is 360


def is_turned(from_deg: float | None, to_deg: float | None) -> bool | None:
    """Whether one position angle is the other turned by 180 degrees.

    False where they are the same; None where one is not known, or where they differ by another angle.
    """
    if from_deg is None or to_deg is None:
        return None
    apart = abs((to_deg - from_deg + 180.0) % 360.0 - 180.0)
    if apart <= SAME_DEG:
        return False
    return True if apart >= 180.0 - SAME_DEG else None


def position_angles(wanted_deg: float | None, angle_deg: float | None) -> dict[str, Any]:
    """Tell apart the position angle that is wanted and the camera's own, and whether the field is turned."""
    return {
        "position_angle_wanted_deg": wanted_deg,
        "position_angle_deg": angle_deg,
        "field_turned": is_turned(wanted_deg, angle_deg),
    }
