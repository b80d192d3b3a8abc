"""Random full nights, anywhere from 60 south to 65 north, any season, every key of a request in use.

A seed always gives the same night, and every night is a valid request.
"""

from __future__ import annotations

import datetime as dt
import math
import random
from typing import Any

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.targets import same_exposure
from tests.support.scenarios import rig as scenario_rig
from tests.support.scenarios.sky import local_midnight, meridian_wall, sidereal_deg, sun_midnight_altitude_deg

ZONES = (
    "UTC",
    "Europe/Madrid",
    "Australia/Adelaide",
    "America/St_Johns",
    "Pacific/Kiritimati",
    "Asia/Kathmandu",
)
TIME_LIMIT_S = 0.5


def random_night(seed: int) -> dict[str, Any]:
    """The request of that seed as plain data."""
    rng = random.Random(f"night {seed}")
    evening = dt.date(2021, 1, 1) + dt.timedelta(days=rng.randrange(8 * 365))
    latitude_deg, longitude_deg = rng.uniform(-60, 65), rng.uniform(-180, 180)
    midnight = local_midnight(evening, longitude_deg)
    filters = scenario_rig.filters(rng, sun_midnight_altitude_deg(evening, latitude_deg))
    focus = scenario_rig.focus(rng)
    longest_s = focus["every_min"] * 60 if focus["every_min"] else 1200
    sidereal = sidereal_deg(midnight, longitude_deg)
    site = _site(rng, latitude_deg, longitude_deg)
    names = [each["name"] for each in filters]
    return {
        "schema": "darkfill-request/1",
        "night": _night(rng, evening, midnight),
        "site": site,
        "mount": scenario_rig.mount(rng),
        "camera": scenario_rig.camera(rng) | scenario_rig.overhead(seed),
        "focus": focus,
        "filters": filters,
        "targets": [
            _target(rng, number, site, sidereal, names, longest_s) for number in range(rng.randint(1, 6))
        ],
        "aim": {
            **PLAIN_AIM,
            "time_limit_s": TIME_LIMIT_S,
            "workers": 1,
            "seed": rng.randrange(2**31),
            "gap": rng.choice([0, 0.002, 0.05]),
        },
    }


def _night(rng: random.Random, evening: dt.date, midnight: dt.datetime) -> dict[str, Any]:
    night: dict[str, Any] = {"evening": evening.isoformat()}
    if rng.random() < 0.25:
        night["clear"] = [_span(rng, midnight, longest_h=6) for _ in range(rng.randint(1, 3))]
    if rng.random() < 0.25:
        night["blocked"] = [_span(rng, midnight, longest_h=1.5) for _ in range(rng.randint(1, 3))]
    if rng.random() < 0.2:
        night["ut1_utc_s"] = round(rng.uniform(-0.9, 0.9), 3)
    return night


def _span(rng: random.Random, midnight: dt.datetime, longest_h: float) -> list[str]:
    start = midnight + dt.timedelta(seconds=rng.randint(-8 * 3600, 8 * 3600))
    end = start + dt.timedelta(seconds=rng.randint(1, round(longest_h * 3600)))
    return [instant.strftime("%Y-%m-%dT%H:%M:%SZ") for instant in (start, end)]


def _site(rng: random.Random, latitude_deg: float, longitude_deg: float) -> dict[str, Any]:
    site: dict[str, Any] = {
        "name": "Übungsplatz",
        "latitude_deg": latitude_deg,
        "longitude_deg": longitude_deg,
        "elevation_m": rng.choice([-20, 0, 850, 4200]),
        "time_zone": rng.choice(ZONES),
        "floor_deg": rng.choice([0, 10, 20, 30, 45]),
        "zenith_sky_mag": rng.choice([18.5, 21.3, 22]),
        "extinction_mag": rng.choice([0.12, 0.2, 0.5]),
    }
    if rng.random() < 0.35:
        site |= {
            "pressure_hpa": rng.choice([650, 1013]),
            "temperature_c": rng.choice([-15, 10, 28]),
            "humidity": rng.choice([0, 0.5, 1]),
        }
    if rng.random() < 0.3:
        azimuths = sorted(round(rng.uniform(0, 360), 2) for _ in range(rng.randint(1, 12)))
        if len(azimuths) > 3 and rng.random() < 0.4:
            azimuths[2] = azimuths[1]  # an upright edge, as of a house
        site["skyline"] = [[azimuth, round(rng.uniform(-2, 40), 2)] for azimuth in azimuths]
    elif rng.random() < 0.15:
        site["skyline"] = meridian_wall(latitude_deg, rng.choice([1.5, 6, 20]), rng.choice([30, 60, 85]))
    if rng.random() < 0.15:
        site["ceiling_deg"] = rng.choice([55, 75, 84, 89])
    return site


def _target(
    rng: random.Random,
    number: int,
    site: dict[str, Any],
    sidereal: float,
    filters: list[str],
    longest_s: float,
) -> dict[str, Any]:
    """Most culminate well above the floor within a few hours of midnight; some are hopeless."""
    latitude_deg = site["latitude_deg"]
    reach_deg = 90 if rng.random() < 0.08 else max(10, 75 - site["floor_deg"])
    declination = max(-90.0, min(90.0, latitude_deg + rng.uniform(-reach_deg, reach_deg)))
    hour_angle = rng.gauss(0, 45)
    target: dict[str, Any] = {
        "name": f"Target {number}" + rng.choice(["", " «β»", ', the "odd" one', " = 1+1"]),
        "ra_deg": (sidereal - hour_angle) % 360,
        "dec_deg": declination,
        "position_angle_deg": rng.choice([0, 37.5, -90, 200, 359.9999]),
        "weight": rng.choice([1, 1, 1, 0.001, 0.35, 2, 7.125]),
        "least_min": rng.choice([0, 0, 0, 10, 33.3, 120]),
        "sides": rng.choice(["either"] * 6 + ["before", "after"]),
    }
    if target["ra_deg"] >= 360:
        target["ra_deg"] = 0.0
    if rng.random() < 0.3:
        target["floor_deg"] = rng.choice([0, 15, 25, 40])
    if rng.random() < 0.1:
        _as_text(target)
    target["goals"] = _goals(rng, filters, longest_s)
    return target


def _as_text(target: dict[str, Any]) -> None:
    """Write the place as people do."""
    minutes = target.pop("ra_deg") * 4
    target["ra"] = f"{int(minutes // 60):02d}h{int(minutes % 60):02d}m00s"
    dec = target.pop("dec_deg")
    target["dec"] = f"{'-' if dec < 0 else '+'}{int(abs(dec)):02d}°{int(abs(dec) % 1 * 60):02d}'"


def _goals(rng: random.Random, filters: list[str], longest_s: float) -> list[dict[str, Any]]:
    goals: list[dict[str, Any]] = []
    for _ in range(rng.choice([1, 2, 2, 3, 5])):
        exposure_s = rng.choice([15, 60, 120.5, 180, 300, 599.9, 1200])
        frames = rng.choice([1, 4, 15, 40, 200, 3000])
        goal: dict[str, Any] = {
            "filter": rng.choice(filters),
            "exposure_s": exposure_s if math.ceil(exposure_s) <= longest_s else math.floor(longest_s / 3),
            "frames": frames,
            "done": rng.choice([0, 0, 0, frames // 2, frames, frames + 3]),
            "binning": rng.choice([1, 1, 2]),
        }
        if rng.random() < 0.3:
            goal |= {"gain": rng.choice([0, 100]), "offset": rng.choice([0, 50])}
        if not any(_same_goal(goal, other) for other in goals):
            goals.append(goal)
    return goals


def _same_goal(one: dict[str, Any], other: dict[str, Any]) -> bool:
    longest_s = max(one["exposure_s"], other["exposure_s"])
    return same_exposure(longest_s, min(one["exposure_s"], other["exposure_s"])) and all(
        one.get(key) == other.get(key) for key in ("filter", "binning", "gain", "offset")
    )
