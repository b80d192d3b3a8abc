"""One small night for every mode of a mount at every place that a mode could go wrong in.

Targets are put where a place wants them by the outside almanac (astropy), never by the planner's own sky.
"""

from __future__ import annotations

import datetime as dt
from functools import cache
from typing import Any, NamedTuple

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request
from optimizer.models.shots import ShotList
from optimizer.night import Night
from optimizer.reading.load import request_from_data
from tests.support.checks import there
from tests.support.hand_laid.night_builder import Almanac, R

CLEARANCE_MIN, ERROR_S = 10.0, 20.0
Keys = dict[str, dict[str, Any]]  # part of the request -> its keys
MODES: dict[str, Keys] = {
    "plan": {},
    "mount": {"mount": {"flip_by": "mount"}},
    "never": {"mount": {"flip_by": "never"}},
    "early": {"mount": {"flip_from_min": -12.0, "contact_before_min": 21.0}},
    "late": {"mount": {"flip_from_min": 20.0}},
    "quiet": {"mount": {"quiet_min": 12.0}, "focus": {"leaves_target": True, "every_min": 13.5}},
    "turned": {"mount": {"turn_rotator_after_flip": True, "rotator_deg_s": 6.5}},
    "fork": {"mount": {"kind": "fork"}},
}
NORTH = {"latitude_deg": 38.92, "longitude_deg": -3.11, "elevation_m": 640.0, "time_zone": "Europe/Madrid"}
SOUTH = {"latitude_deg": -31.27, "longitude_deg": 149.06, "time_zone": "Australia/Sydney"}
POLAR = {"latitude_deg": 78.22, "longitude_deg": 15.6, "time_zone": "Arctic/Longyearbyen"}


class Place(NamedTuple):
    """Where and when: the target stands at `hour_angle_min` at `instant`; `limits` names the mount's room.

    `clear_min` are spans around the instant, `dusk_deg` a Sun's altitude that takes the instant's place.
    """

    site: dict[str, Any]
    evening: str
    instant: str
    clear_min: tuple[tuple[float, float], ...]
    dec_deg: float
    hour_angle_min: float | None = 0.0
    limits: str = "roomy"
    dusk_deg: float | None = None
    darkness: str | float = "astronomical"


PLACES = {
    "north of the zenith": Place(SOUTH, "2026-11-14", "2026-11-14T13:50:00", ((-75, 75),), -9.5),
    "through the zenith": Place(NORTH, "2026-11-14", "2026-11-14T23:40:00", ((-75, 75),), 38.92),
    "lower culmination": Place(NORTH, "2026-11-14", "2026-11-14T23:10:00", ((-60, 60),), 76.5, 720.0),
    "two transits": Place(
        POLAR, "2026-12-20", "2026-12-20T10:59:30", ((-5, 70), (1365, 1440)), 41.0, darkness="civil"
    ),
    "transit in twilight": Place(
        NORTH, "2026-11-14", "2026-11-14T17:10:00", ((-60, 90),), 30.0, dusk_deg=-10.5, darkness="civil"
    ),
    "past the meridian at dusk": Place(
        NORTH, "2026-11-14", "2026-11-14T17:10:00", ((-60, 120),), 30.0, 2.5, "wide", dusk_deg=-18.0
    ),
    "begins in the forbidden zone": Place(
        NORTH, "2026-11-14", "2026-11-14T17:10:00", ((-60, 120),), 30.0, None, "tight", dusk_deg=-18.0
    ),
    "standstill": Place(NORTH, "2026-11-14", "2026-11-14T23:20:00", ((-75, 75),), 31.31, 0.0, "tight"),
    "two hours": Place(NORTH, "2026-11-14", "2026-11-14T23:20:00", ((-95, 85),), 31.31, 0.0, "two hours"),
}

MORE_PLACES = {
    "low in the south": Place(NORTH, "2026-11-14", "2026-11-14T23:20:00", ((-70, 70),), -5.0),
    "beside the pole": Place(NORTH, "2026-11-14", "2026-11-14T23:20:00", ((-70, 70),), 89.2),
    "below the pole": Place(NORTH, "2026-11-14", "2026-11-14T23:20:00", ((-70, 70),), 89.2, 720.0),
    "below the southern pole": Place(SOUTH, "2026-11-14", "2026-11-14T13:50:00", ((-70, 70),), -80.0, 720.0),
    "from the equator": Place(
        {**SOUTH, "latitude_deg": 0.0}, "2026-11-14", "2026-11-14T13:50:00", ((-70, 70),), -8.0
    ),
}
ALL_PLACES = {**PLACES, **MORE_PLACES}


def flip_from_min(mode: str) -> float:
    """What the mode says of the earliest flip."""
    return float(MODES[mode].get("mount", {}).get("flip_from_min", 5.0))


def _room(mode: str, limits: str) -> dict[str, Any]:
    """Contact and earliest flip: `roomy` 15 min of both sides, `tight` 8 min of neither."""
    earliest = flip_from_min(mode)
    if limits == "two hours":
        early = {} if mode in ("mount", "late") else {"flip_from_min": -120.0}
        return {"contact_min": 130.0, "contact_before_min": 130.0, **early}
    if limits == "wide":
        return {"contact_min": 60.0, "flip_from_min": earliest if mode == "early" else 20.0}
    return {"contact_min": earliest + CLEARANCE_MIN + (15.0 if limits == "roomy" else -8.0)}


def _data(mode: str, place: Place, where: tuple[float, float]) -> dict[str, Any]:
    keys = MODES[mode]
    mount = {"clearance_min": CLEARANCE_MIN, "flip_from_min": 5.0, "clock_error_s": ERROR_S}
    return {
        "schema": "darkfill-request/1",
        "night": {"evening": place.evening},
        "site": {**place.site, "floor_deg": 15.0},
        "mount": {**mount, **keys.get("mount", {}), **_room(mode, place.limits)},
        "camera": {"download_s": 3.0, "dither_every": 3},
        "focus": {"run_s": 100.0, **keys.get("focus", {})},
        "filters": [{"name": "L", "darkness": place.darkness}],
        "targets": [
            {
                "name": "Main",
                "ra_deg": where[0],
                "dec_deg": where[1],
                "position_angle_deg": 30.0,
                "goals": [{"filter": "L", "exposure_s": 180.0, "frames": 200}],
            },
            *([_other(place, where)] if mode == "never" else []),
        ],
        "aim": {**PLAIN_AIM, "time_limit_s": 3.0, "workers": 1, "seed": 1, "gap": 0.0},
    }


def _other(place: Place, where: tuple[float, float]) -> dict[str, Any]:
    """Work between the sides of a mount that never flips."""
    return {
        "name": "Other",
        "ra_deg": (where[0] + 40.0) % 360,
        "dec_deg": 15.0 if place.site["latitude_deg"] > 0 else -15.0,
        "position_angle_deg": 300.0,
        "weight": 0.4,
        "goals": [{"filter": "L", "exposure_s": 150.0, "frames": 8}],
    }


@cache
def instant_of(name: str) -> dt.datetime:
    """The place's instant; where it is a twilight, its first second, by halving."""
    place = ALL_PLACES[name]
    instant = dt.datetime.fromisoformat(place.instant).replace(tzinfo=dt.UTC)
    if place.dusk_deg is None:
        return instant
    almanac = Almanac(request_from_data(_data("plan", place, (0.0, 0.0)), name))
    low, high = 0, 3 * 3600
    while high - low > 1:
        middle = (low + high) // 2
        above = almanac.body_altitude_deg("sun", instant + dt.timedelta(seconds=middle))[0] > place.dusk_deg
        low, high = (middle, high) if above else (low, middle)
    return instant + dt.timedelta(seconds=high)


@cache
def _where(name: str, hour_angle_s: float) -> tuple[float, float]:
    """Catalogue place whose hour angle and declination of date are as wanted at the place's instant."""
    place, ra_deg, dec_deg = ALL_PLACES[name], 0.0, ALL_PLACES[name].dec_deg
    for _ in range(4):
        almanac = Almanac(request_from_data(_data("plan", place, (ra_deg, dec_deg)), name))
        ahead_s = float(almanac.hour_angle_s("Main", instant_of(name))[0]) - hour_angle_s
        ra_deg = (ra_deg + ((ahead_s + 43200) % 86400 - 43200) / 240) % 360
        dec_deg += place.dec_deg - float(almanac.declination_deg("Main", instant_of(name))[0])
    return ra_deg % 360, dec_deg


def cell_data(mode: str, name: str) -> dict[str, Any]:
    """The request of a cell as plain data, free to be changed."""
    place, instant = ALL_PLACES[name], instant_of(name)
    wanted_min = place.hour_angle_min
    if wanted_min is None:  # in the middle of the time in which neither side may track
        wanted_min = flip_from_min(mode) - (8.0 if mode != "early" else 6.0) / 2
    data = _data(mode, place, _where(name, wanted_min * 60))
    data["night"]["clear"] = [
        [utc_text(instant + dt.timedelta(minutes=edge)) for edge in span] for span in place.clear_min
    ]
    return data


def utc_text(instant: dt.datetime) -> str:
    return instant.strftime("%Y-%m-%dT%H:%M:%SZ")


@cache
def night_of(mode: str, name: str) -> Request:
    """The request of a cell."""
    return request_from_data(cell_data(mode, name), f"{mode}, {name}")


@cache
def plan_of(mode: str, name: str) -> ShotList:
    """The planner's list for a cell; one worker, proven."""
    return planned(night_of(mode, name))


def planned(request: Request) -> ShotList:
    return Night(request).plan()


class Edges(NamedTuple):
    """The law's limits in seconds of hour angle, written out once more."""

    first_until: float
    reach_until: float
    flipped_from: float


def edges_of(request: Request) -> Edges:
    """From the request's numbers alone."""
    mount = request.mount
    contact = (there(mount.contact_min) - mount.clearance_min) * 60 - mount.clock_error_s
    reach = min(contact, contact * R)
    own = mount.flip_from_min * 60 - mount.clock_error_s
    flipped = mount.flip_from_min * 60 + mount.clock_error_s
    if flipped < 0:
        touches = -mount.contact_before_min * 60 + mount.clearance_min * 60 + mount.clock_error_s
        flipped = max(flipped, touches)
    until = min(reach, own, own * R) if mount.flip_by == "mount" else reach
    return Edges(until, reach, max(flipped, flipped * R))


@cache
def unquiet_plan(name: str) -> ShotList:
    """The quiet mode's night without its quiet time."""
    request = night_of("quiet", name)
    loud = request.model_copy(update={"mount": request.mount.model_copy(update={"quiet_min": 0.0})})
    return planned(loud)
