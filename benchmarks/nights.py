"""Invented nights for comparing planners: a number and a size always give the same night.

Latitude, season, phase of the Moon, mount and how much is wanted go round in fixed cycles, so that any 24
nights in a row cover them all; the rest is drawn. No site, rig or target exists: coordinates are drawn such
that each target culminates in or near the dark hours and well above the floor.
"""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import dataclass, replace
from typing import Any

from benchmarks.rough_sky import (
    hours_below,
    local_midnight,
    moon_age,
    sidereal_deg,
    sun_midnight_altitude_deg,
)

NIGHTS = 24
LATITUDES_DEG = (-45.0, 65.0)
LEAST_DARK_H, DUSK_DEG = 4.0, -12.0
BROAD, NARROW = ("L", "R", "G", "B"), ("Ha", "OIII", "SII", "NII")
FILTER_SETS = (("L", "R", "G", "B"), ("L", "Ha", "OIII", "SII"), ("R", "G", "B", "Ha"))
BROAD_S, NARROW_S = (60.0, 90.0, 120.0, 180.0, 240.0), (300.0, 480.0, 600.0)
# Hours wanted, as a multiple of the hours that are dark.
WANTED = {"under": (0.7, 0.9), "even": (0.95, 1.3), "over": (2.0, 4.0)}
MOST_IN_HAND = 0.8  # of a goal's frames, where some are
MOUNTS: dict[str, dict[str, Any]] = {
    "roomy": {"contact_min": 60, "clearance_min": 15, "flip_from_min": 2},
    "fork": {"kind": "fork"},
    "tight": {"contact_min": 22, "clearance_min": 12, "flip_from_min": 5, "quiet_min": 5},
    "standstill": {"contact_min": 10, "clearance_min": 12, "flip_from_min": 5},
    "both sides": {
        "contact_min": 75,
        "clearance_min": 10,
        "contact_before_min": 70,
        "flip_from_min": -45,
    },
    "turning": {
        "contact_min": 40,
        "clearance_min": 12,
        "flip_from_min": 3,
        "turn_rotator_after_flip": True,
    },
}
PHASES = ("new", "first quarter", "full", "last quarter")
MONTHS = ("January", "April", "July", "October")


@dataclass(frozen=True)
class Size:
    """How large a night is; exposures are drawn from between the two lengths where they are given."""

    targets: int = 8
    filters: int = 4
    exposures_s: tuple[float, float] | None = None
    long_night: bool = False  # about 14 h with the Sun below -12 degrees, in a December of the north

    def words(self) -> str:
        return f"{self.targets}x{self.filters}" + (" long" if self.long_night else "")


STANDARD = Size()


@dataclass(frozen=True)
class Night:
    """A request as plain data, and what the generator says of it."""

    number: int
    size: Size
    facts: dict[str, Any]
    request: dict[str, Any]


def night(number: int, size: Size = STANDARD) -> Night:
    """The night of that number, from 1."""
    rng = random.Random(f"night {number}")
    turn = number - 1
    mount_name, load = list(MOUNTS)[turn % 6], list(WANTED)[(turn + turn // 6) % 3]
    latitude_deg, evening = _place_and_date(rng, turn, size)
    longitude_deg = rng.uniform(-120, 150)
    darkest_deg = sun_midnight_altitude_deg(evening, latitude_deg)
    names = _filter_names(rng, size.filters)
    filters = [_filter(rng, name, darkest_deg) for name in names]
    dark_h = hours_below(evening, latitude_deg, _sun_limit_deg(darkest_deg))
    floor_deg = rng.choice([25, 28, 30, 35])
    focus = {
        "run_s": rng.choice([90, 150, 200]),
        "every_min": rng.choice([0, 60, 90, 120]),
        "on_filter_change": rng.random() < 0.7,
    }
    wanted = rng.uniform(*WANTED[load])
    sky = _Sky(latitude_deg, sidereal_deg(local_midnight(evening, longitude_deg), longitude_deg), dark_h)
    hours = _shares(rng, size.targets, wanted * dark_h)
    targets = [_target(rng, at, sky, floor_deg, names, share_h, size) for at, share_h in enumerate(hours, 1)]
    return Night(
        number=number,
        size=size,
        facts={
            "latitude_deg": round(latitude_deg, 1),
            "evening": evening.isoformat(),
            "month": evening.strftime("%B"),
            "moon": PHASES[round(4 * moon_age(evening)) % 4],
            "mount": mount_name,
            "load": load,
            "dark_h": round(dark_h, 2),
            "wanted_h": round(sum(_hours(target) for target in targets), 2),
        },
        request={
            "schema": "darkfill-request/1",
            "night": {"evening": evening.isoformat()},
            "site": {
                "name": f"Invented hill {number}",
                "latitude_deg": round(latitude_deg, 4),
                "longitude_deg": round(longitude_deg, 4),
                "elevation_m": rng.choice([0, 300, 1200]),
                "floor_deg": floor_deg,
            },
            "mount": {
                "slew_deg_s": rng.choice([1.5, 3, 6]),
                "centre_s": rng.choice([20, 45, 60]),
                "settle_s": rng.choice([8, 15, 25]),
                "clock_error_s": rng.choice([0, 15]),
                **MOUNTS[mount_name],
            },
            "camera": {
                "download_s": rng.choice([1, 3, 8]),
                "dither_every": rng.choice([0, 1, 2, 3, 5]),
                "dither_s": rng.choice([8, 12, 20]),
            },
            "focus": focus,
            "filters": filters,
            "targets": targets,
        },
    )


@dataclass(frozen=True)
class _Sky:
    latitude_deg: float
    sidereal_at_midnight_deg: float
    dark_h: float


def with_frames_in_hand(night: Night) -> Night:
    """The same night with uneven frames of its goals in hand: of each up to four fifths, drawn."""
    rng = random.Random(f"in hand {night.number}")
    targets = []
    for target in night.request["targets"]:
        shares = [MOST_IN_HAND * rng.random() for _ in target["goals"]]
        goals = [
            {**goal, "done": int(share * goal["frames"])}
            for goal, share in zip(target["goals"], shares, strict=True)
        ]
        targets.append({**target, "goals": goals})
    return replace(night, request={**night.request, "targets": targets})


def _place_and_date(rng: random.Random, turn: int, size: Size) -> tuple[float, dt.date]:
    """Latitudes in bands, seasons and phases in turn; a season without dark gives way to its opposite."""
    bands = list(range(NIGHTS))
    random.Random(f"bands {turn // NIGHTS}").shuffle(bands)
    low, high = LATITUDES_DEG
    latitude_deg = low + (high - low) * (bands[turn % NIGHTS] + rng.random()) / NIGHTS
    season, phase = turn % 4, (turn + turn // 4) % 4
    months: tuple[int, ...] = (1 + 3 * season, 1 + (3 * season + 6) % 12)
    if size.long_night:
        latitude_deg, months = rng.uniform(57, 62), (12,)
    for month in months:
        first = dt.date(rng.randrange(2024, 2031), month, 1)
        days = [first + dt.timedelta(days=day) for day in range(30)]
        evening = min(days, key=lambda day: abs((moon_age(day) - phase / 4 + 0.5) % 1 - 0.5))
        if hours_below(evening, latitude_deg, DUSK_DEG) >= LEAST_DARK_H:
            break
    return latitude_deg, evening


def _sun_limit_deg(darkest_deg: float) -> float:
    return -18.0 if darkest_deg < -20 else -12.0


def _filter_names(rng: random.Random, count: int) -> list[str]:
    usual = list(rng.choice(FILTER_SETS))
    return (usual + [name for name in BROAD + NARROW if name not in usual])[:count]


def _filter(rng: random.Random, name: str, darkest_deg: float) -> dict[str, Any]:
    """Narrow filters bear more twilight and more Moon."""
    deep = _sun_limit_deg(darkest_deg) == -18
    found: dict[str, Any] = {"name": name, "change_s": rng.choice([5, 8, 15])}
    if name in NARROW:
        found |= {"darkness": "nautical" if deep else -11, "moon_gap_deg": rng.choice([20, 30, 40])}
        return found
    found |= {"darkness": "astronomical" if deep else "nautical", "moon_gap_deg": rng.choice([40, 50, 60])}
    if rng.random() < 0.5:
        found["moonlight_mag"] = rng.choice([0.8, 1.5, 2.5])
    return found


def _shares(rng: random.Random, count: int, hours: float) -> list[float]:
    """Hours by target: the largest asks for about four times as much as the smallest."""
    parts = [rng.uniform(0.5, 2) for _ in range(count)]
    return [hours * part / sum(parts) for part in parts]


def _target(
    rng: random.Random,
    number: int,
    sky: _Sky,
    floor_deg: float,
    names: list[str],
    hours: float,
    size: Size,
) -> dict[str, Any]:
    """It transits in the dark or up to two hours beside it, at least 12 degrees above the floor."""
    transit_h = rng.uniform(-sky.dark_h / 2 - 2, sky.dark_h / 2 + 2)
    reach_deg = 78 - floor_deg
    declination_deg = sky.latitude_deg + rng.uniform(-reach_deg, reach_deg)
    parts = [rng.uniform(0.6, 1.5) for _ in names]
    goals = []
    for name, part in zip(names, parts, strict=True):
        wanted_s = hours * 3600 * part / sum(parts)
        exposure_s = _exposure_s(rng, name, size, wanted_s)
        frames = max(1, round(wanted_s / exposure_s))
        goals.append({"filter": name, "exposure_s": exposure_s, "frames": frames})
    return {
        "name": f"Invented {number}",
        "ra_deg": round((sky.sidereal_at_midnight_deg + 15.041 * transit_h) % 360, 4) % 360,
        "dec_deg": round(max(-88.0, min(88.0, declination_deg)), 4),
        "weight": rng.choice([1, 1, 1, 1.5, 2, 0.5]),
        "goals": goals,
    }


def _exposure_s(rng: random.Random, name: str, size: Size, wanted_s: float) -> float:
    """A usual length; where little is wanted not so long that a frame or two would be all."""
    if size.exposures_s is not None:
        return float(round(rng.uniform(*size.exposures_s)))
    usual = NARROW_S if name in NARROW else BROAD_S
    return rng.choice([seconds for seconds in usual if seconds <= wanted_s / 3] or usual[:1])


def _hours(target: dict[str, Any]) -> float:
    return float(sum(goal["exposure_s"] * goal["frames"] for goal in target["goals"]) / 3600)
