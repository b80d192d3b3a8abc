"""Random nights made for flips, as plain data: sites of both hemispheres, targets that cross in the dark.

Targets transit one after the other through the dark hours, each above its floor for little more than its share
of them, so that a plan has to follow it across the meridian. Everything else is drawn.
"""

from __future__ import annotations

import datetime as dt
import math
import random
from typing import Any

from benchmarks.plain_aim import PLAIN_AIM

# latitude, longitude, elevation, time zone: invented, none is anybody's
SITES = [
    (41.3, -3.2, 980.0, "Europe/Madrid"),
    (52.1, 10.4, 120.0, "Europe/Berlin"),
    (34.6, -111.9, 1600.0, "America/Phoenix"),
    (19.4, -155.6, 2900.0, "Pacific/Honolulu"),
    (39.2, 66.8, 1150.0, "Asia/Tashkent"),
    (2.7, 36.7, 1400.0, "Africa/Nairobi"),
    (-23.4, 16.3, 1750.0, "Africa/Windhoek"),
    (-31.3, 149.1, 860.0, "Australia/Sydney"),
    (-30.4, -70.7, 2200.0, "America/Santiago"),
    (-44.1, 170.2, 700.0, "Pacific/Auckland"),
]
FIRST_EVENING = dt.date(2024, 1, 1)
DAYS = 5 * 365


def random_night(seed: int) -> dict[str, Any]:
    """A request as TOML's or JSON's own types; the same for the same seed on every machine."""
    rng = random.Random(f"recheck {seed}")
    site = _site(rng)
    evening = FIRST_EVENING + dt.timedelta(days=rng.randrange(DAYS))
    midnight = dt.datetime.combine(evening, dt.time(), dt.UTC) + dt.timedelta(
        hours=24 - site["longitude_deg"] / 15
    )
    dark_h = _dark_half_h(evening, site["latitude_deg"])
    filters = _filters(rng)
    night: dict[str, Any] = {"evening": evening.isoformat(), **_spans(rng, midnight, dark_h)}
    if rng.random() < 0.2:
        night["ut1_utc_s"] = round(rng.uniform(-0.8, 0.8), 3)
    return {
        "schema": "darkfill-request/1",
        "night": night,
        "site": site,
        "mount": _mount(rng),
        "camera": {
            "download_s": rng.choice([0.0, 1.5, 3.0, 8.0]),
            "dither_every": rng.choice([0, 1, 2, 3, 5]),
            "dither_s": rng.choice([0.0, 7.5, 12.0, 20.0]),
            "overhead_s": random.Random(f"overhead {seed}").choice([0.0, 0.0, 0.8, 5.5, 31.0]),
        },
        "focus": {
            "run_s": float(rng.choice([60, 100, 150, 212])),
            "every_min": rng.choice([0.0, 0.0, 40.0, 62.5, 90.0]),
            "on_new_target": rng.random() < 0.7,
            "on_filter_change": rng.random() < 0.5,
            "leaves_target": rng.random() < 0.25,
        },
        "filters": filters,
        "targets": _targets(rng, site, midnight, dark_h, [each["name"] for each in filters]),
        "aim": {
            **PLAIN_AIM,
            "value": "depth" if rng.random() < 0.3 else "hours",
            "time_limit_s": rng.choice([1.0, 1.5, 2.0]),
            "workers": 1,
            "seed": rng.randrange(1000),
        },
    }


def _site(rng: random.Random) -> dict[str, Any]:
    latitude, longitude, elevation, zone = rng.choice(SITES)
    site: dict[str, Any] = {
        "latitude_deg": round(latitude + rng.uniform(-2, 2), 4),
        "longitude_deg": round(longitude + rng.uniform(-2, 2), 4),
        "elevation_m": elevation,
        "time_zone": zone,
        "floor_deg": float(rng.randrange(12, 26)),
    }
    if rng.random() < 0.3:
        azimuths = sorted(rng.sample(range(0, 360, 5), rng.randrange(3, 9)))
        site["skyline"] = [[float(azimuth), float(rng.randrange(2, 30))] for azimuth in azimuths]
    if rng.random() < 0.2:
        site["ceiling_deg"] = float(rng.randrange(68, 89))
    return site


def _mount(rng: random.Random) -> dict[str, Any]:
    mount: dict[str, Any] = {
        "slew_deg_s": rng.choice([0.8, 2.0, 3.0, 4.5]),
        "slew_extra_s": rng.choice([0.0, 5.0, 8.0, 12.5]),
        "centre_s": rng.choice([0.0, 30.0, 45.0]),
        "settle_s": rng.choice([0.0, 10.0, 15.5]),
        "contact_min": float(rng.randrange(12, 91)),
        "clearance_min": float(rng.randrange(5, 16)),
        "flip_from_min": float(rng.randrange(-30, 26)),
        "flip_by": rng.choices(["plan", "mount", "never"], [55, 30, 8])[0],
        "quiet_min": rng.choice([0.0, 0.0, 4.0, 9.0, 15.0]),
        "clock_error_s": rng.choice([0.0, 10.0, 25.5, 60.0]),
        "refocus_after_flip": rng.random() < 0.6,
        "turn_rotator_after_flip": rng.random() < 0.3,
        "rotator_deg_s": rng.choice([4.0, 6.5, 10.0]),
    }
    if rng.random() < 0.7:
        mount["contact_before_min"] = float(rng.randrange(0, 61))
    if rng.random() < 0.3:  # sides that hardly meet, or not
        mount["contact_min"] = (
            mount["clearance_min"] + max(0.0, mount["flip_from_min"]) + rng.randrange(-4, 5)
        )
    if rng.random() < 0.07:
        mount["kind"] = "fork"
    return mount


def _filters(rng: random.Random) -> list[dict[str, Any]]:
    filters = []
    for name in ("L", "Ha", "Blue")[: rng.randrange(1, 4)]:
        each: dict[str, Any] = {
            "name": name,
            "change_s": rng.choice([0.0, 0.0, 8.0, 12.5]),
            "darkness": rng.choice(["astronomical", "nautical", "civil", -15.5]),
        }
        if rng.random() < 0.4:
            each["moon_gap_deg"] = float(rng.randrange(15, 60))
        if rng.random() < 0.3:
            each["moonlight_mag"] = round(rng.uniform(0.3, 2.5), 2)
            each["moonlight_factor"] = rng.choice([1.0, 0.5, 0.1])
        filters.append(each)
    return filters


def _spans(rng: random.Random, midnight: dt.datetime, dark_h: float) -> dict[str, Any]:
    """Blocked spans on every third night, clear ones on every tenth."""

    def instant(hours: float) -> str:
        at = midnight + dt.timedelta(seconds=round(hours * 3600))
        return at.replace(microsecond=0).strftime("%Y-%m-%dT%H:%M:%SZ")

    spans: dict[str, Any] = {}
    if rng.random() < 0.35:
        starts = [rng.uniform(-dark_h, dark_h) for _ in range(rng.randrange(1, 4))]
        spans["blocked"] = [[instant(at), instant(at + rng.uniform(0.05, 0.6))] for at in starts]
    if rng.random() < 0.1:
        hole = rng.uniform(-dark_h / 2, dark_h / 2)
        spans["clear"] = [
            [instant(-dark_h - 1), instant(hole)],
            [instant(hole + 0.3), instant(dark_h + 1)],
        ]
    return spans


def _targets(
    rng: random.Random, site: dict[str, Any], midnight: dt.datetime, dark_h: float, names: list[str]
) -> list[dict[str, Any]]:
    many = rng.randrange(3, 7)
    share_h = 2 * dark_h / many
    targets = []
    for number in range(many):
        transit_h = -dark_h + share_h * (number + rng.uniform(0.3, 0.7))
        latitude = site["latitude_deg"]
        dec = max(-85.0, min(85.0, latitude + rng.choice([-1, 1]) * rng.uniform(1, 38)))
        half_h = min(5.0, share_h * rng.uniform(0.55, 1.2))
        floor = math.floor(_altitude_deg(latitude, dec, half_h))
        hours = share_h * rng.uniform(0.8, 1.6)
        target: dict[str, Any] = {
            "name": f"Field {number + 1}",
            "ra_deg": round(_sidereal_deg(midnight, site["longitude_deg"], transit_h) % 360, 4) % 360,
            "dec_deg": round(dec, 4),
            "position_angle_deg": float(rng.randrange(0, 360, 15)),
            "weight": rng.choice([0.7, 1.0, 1.0, 1.25, 2.0]),
            "floor_deg": float(max(10, min(75, floor))),
            "goals": _goals(rng, names, hours),
        }
        if rng.random() < 0.25:
            target["least_min"] = float(rng.randrange(5, 41))
        if rng.random() < 0.12:
            target["sides"] = rng.choice(["before", "after"])
        targets.append(target)
    return targets


def _goals(rng: random.Random, names: list[str], hours: float) -> list[dict[str, Any]]:
    chosen = rng.sample(names, rng.randrange(1, len(names) + 1))
    goals = []
    for name in chosen:
        exposure_s = rng.choice([60.0, 90.5, 120.0, 180.0, 300.0, 600.0])
        frames = max(1, round(hours * 3600 / len(chosen) / exposure_s))
        done = rng.choice([0, 0, 0, 2])
        goals.append({"filter": name, "exposure_s": exposure_s, "frames": frames + done, "done": done})
    return goals


def _dark_half_h(evening: dt.date, latitude_deg: float) -> float:
    """About half the time that the Sun is 14 degrees down or more; 2 h at least."""
    turn = 2 * math.pi * (evening.timetuple().tm_yday + 10) / 365.25
    dec, latitude = math.radians(-23.44 * math.cos(turn)), math.radians(latitude_deg)
    below = math.sin(math.radians(-14)) - math.sin(latitude) * math.sin(dec)
    cosine = max(-1.0, min(1.0, below / (math.cos(latitude) * math.cos(dec))))
    return max(2.0, 12 - math.degrees(math.acos(cosine)) / 15)


def _altitude_deg(latitude_deg: float, dec_deg: float, hour_angle_h: float) -> float:
    latitude, dec, hour = (math.radians(x) for x in (latitude_deg, dec_deg, 15 * hour_angle_h))
    sine = math.sin(latitude) * math.sin(dec) + math.cos(latitude) * math.cos(dec) * math.cos(hour)
    return math.degrees(math.asin(sine))


def _sidereal_deg(midnight: dt.datetime, longitude_deg: float, after_h: float) -> float:
    """Mean sidereal time at the site, so many hours after its mean midnight."""
    at = midnight + dt.timedelta(hours=after_h)
    days = (at - dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)).total_seconds() / 86400
    return (280.46062 + 360.98564737 * days + longitude_deg) % 360
