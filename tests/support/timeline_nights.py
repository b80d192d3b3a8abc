"""Real nights of two or three hours, each planned once, in which every kind of step and wait occurs."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from typing import Any

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request
from optimizer.models.shots import ShotList, Step
from optimizer.night import Night

CRADLE = {"name": "Cradle", "ra_deg": 52.297, "dec_deg": 31.31, "position_angle_deg": -30.0}
WHEEL = {"name": "Wheel", "ra_deg": 83.63, "dec_deg": 22.01, "position_angle_deg": 200.0}
SITE = {"latitude_deg": 38.92, "longitude_deg": -3.11, "floor_deg": 25.0, "time_zone": "Europe/Madrid"}


def goal(filter_name: str = "L", exposure_s: float = 300.0, frames: int = 30, **keys: Any) -> dict[str, Any]:
    return {"filter": filter_name, "exposure_s": exposure_s, "frames": frames, **keys}


def a_request(
    *targets: dict[str, Any],
    clear: tuple[str, str] | None = None,
    site: dict[str, Any] | None = None,
    night: dict[str, Any] | None = None,
    filters: list[dict[str, Any]] | None = None,
    **parts: dict[str, Any],
) -> Request:
    """The Cradle transits at 00:06 UTC. `clear`: UTC times of day of the evening or the morning after."""
    spans = [[instant(text) for text in clear]] if clear else []
    return Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": "2026-11-14", "ut1_utc_s": 0.0, "clear": spans, **(night or {})},
            "site": {**SITE, **(site or {})},
            "filters": filters or [{"name": "L"}, {"name": "R", "change_s": 6.0}],
            "targets": list(targets) or [{**CRADLE, "goals": [goal()]}],
            "aim": {**PLAIN_AIM, "workers": 1, "time_limit_s": 4.0, "gap": 0.02, **parts.pop("aim", {})},
            **parts,
        }
    )


def instant(text: str) -> str:
    day = "2026-11-14" if text >= "12" else "2026-11-15"
    return f"{day}T{text}:00Z"


def planned(request: Request) -> ShotList:
    return Night(request).plan()


MOUNT = {
    "contact_min": 40.0,
    "clearance_min": 12.0,
    "flip_from_min": 5.0,
    "clock_error_s": 20.0,
    "quiet_min": 8.0,
}


@lru_cache
def crossing() -> ShotList:
    """Across the meridian by flip, with dithers, focus runs by the cadence and for a star, two filters."""
    goals = [goal("L", 240.0, 20, gain=100, offset=30), goal("R", 120.0, 40, binning=2)]
    return planned(
        a_request(
            {**CRADLE, "goals": goals},
            clear=("22:30", "01:30"),
            mount=MOUNT,
            camera={"dither_every": 2},
            focus={"every_min": 40.0, "leaves_target": True},
        )
    )


@lru_cache
def tight() -> ShotList:
    """The first side ends before the flipped one begins: the mount stands and waits. The rotator turns."""
    return planned(
        a_request(
            clear=("23:20", "01:00"),
            mount={
                "contact_min": 10.0,
                "clearance_min": 12.0,
                "flip_from_min": 6.0,
                "turn_rotator_after_flip": True,
            },
        )
    )


@lru_cache
def by_itself() -> ShotList:
    """The mount flips at 5 min past; the wait before tracks."""
    return planned(a_request(clear=("23:20", "01:00"), mount={**MOUNT, "flip_by": "mount", "quiet_min": 0.0}))


@lru_cache
def fork() -> ShotList:
    """Two targets, one before its transit, one after the other's; a gap in the sky between."""
    return planned(
        a_request(
            {**CRADLE, "sides": "after", "goals": [goal("L", 60.0, 20)]},
            {**WHEEL, "sides": "before", "goals": [goal("R", 60.0, 20)], "floor_deg": 60.0},
            clear=("23:00", "01:40"),
            night={"blocked": [[instant("00:40"), instant("01:00")]]},
            mount={"kind": "fork"},
            focus={"on_new_target": False},
        )
    )


@lru_cache
def dusk() -> ShotList:
    """Narrow filters begin in twilight, the broad one waits on the target for the dark."""
    return planned(
        a_request(
            {**CRADLE, "ra_deg": 330.0, "goals": [goal("Ha", 600.0, 2), goal("L", 120.0, 30)]},
            filters=[{"name": "L", "darkness": -20.0}, {"name": "Ha", "darkness": "nautical"}],
            clear=("17:30", "19:30"),
            mount=MOUNT,
        )
    )


@lru_cache
def southern() -> ShotList:
    """South of the equator, a target that turns the other way round the pole."""
    return planned(
        a_request(
            {"name": "Great Cloud", "ra_deg": 78.0, "dec_deg": -69.5, "goals": [goal("L", 300.0, 30)]},
            {"name": "Sculptor", "ra_deg": 11.9, "dec_deg": -25.3, "goals": [goal("R", 180.0, 12)]},
            site={
                "latitude_deg": -30.24,
                "longitude_deg": -70.74,
                "time_zone": "America/Santiago",
            },
            clear=("03:00", "06:00"),
            mount={**MOUNT, "quiet_min": 0.0},
        )
    )


NIGHTS = (crossing, tight, by_itself, fork, dusk, southern)


def of_kind(shots: ShotList, *kinds: str) -> list[Step]:
    return [step for step in shots.steps if step.kind in kinds]


def later(moment: dt.datetime, seconds: int) -> dt.datetime:
    return moment + dt.timedelta(seconds=seconds)
