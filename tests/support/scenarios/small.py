"""Random small nights: an hour at most, two or three targets, few frames; all modes of the request mixed.

Small enough for an exact oracle, yet near enough to the meridian, the Moon and twilight that every rule binds
in some of them.
"""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

from benchmarks.plain_aim import PLAIN_AIM
from tests.support.scenarios.sky import local_midnight, meridian_wall, sidereal_deg, sun_altitude_deg

TWILIGHTS = {"sunset": -50 / 60, "civil": -6.0, "nautical": -12.0, "astronomical": -18.0}
MOST_FRAMES_IN_ALL = 12


def small_night(seed: int) -> dict[str, Any]:
    """The request of that seed as plain data, always valid."""
    rng = random.Random(seed)
    place, evening = (rng.uniform(-60, 65), rng.uniform(-180, 180)), _evening(rng)
    flipping = rng.random() < 0.5
    middle = local_midnight(evening, place[1]) + dt.timedelta(minutes=rng.randint(-150, 150))
    minutes = rng.choice([40, 50, 60]) if flipping else rng.choice([20, 30, 40, 50, 60])
    length = dt.timedelta(minutes=minutes, seconds=rng.randint(0, 59))
    start, end = middle - length / 2, middle + length / 2
    start, end = start.replace(microsecond=0), end.replace(microsecond=0)
    every_min = rng.choice([0, 0, 8, 10, 12.5, 15, 25])
    sidereal = sidereal_deg(middle, place[1])
    filters = _filters(rng, sun_altitude_deg(middle, evening, place))
    return {
        "schema": "darkfill-request/1",
        "night": {
            "evening": evening.isoformat(),
            "clear": [_span(start, end)],
            "blocked": _blocked(rng, start, end),
        },
        "site": _site(rng, place),
        "mount": _flipping_mount(rng) if flipping else _mount(rng),
        "camera": {
            "download_s": rng.choice([0, 1.5, 3, 9, 20]),
            "dither_every": rng.choice([0, 0, 1, 2, 3]),
            "dither_s": rng.choice([0, 7.5, 12, 30]),
            "overhead_s": random.Random(f"overhead {seed}").choice([0, 0, 0, 0.5, 1.7, 6, 25]),
        },
        "focus": {
            "run_s": rng.choice([25, 60.5, 100, 180]),
            "every_min": every_min,
            "on_new_target": rng.random() < 0.45,
            "on_filter_change": rng.random() < 0.45,
            "leaves_target": rng.random() < 0.4,
        },
        "filters": filters,
        "targets": _targets(rng, place[0], sidereal, [each["name"] for each in filters], flipping),
        "aim": {**PLAIN_AIM, "gap": 0, "workers": 1, "seed": 1, "time_limit_s": 6},
    }


def _evening(rng: random.Random) -> dt.date:
    return dt.date(2021, 1, 1) + dt.timedelta(days=rng.randrange(8 * 365))


def _span(start: dt.datetime, end: dt.datetime) -> list[str]:
    return [start.strftime("%Y-%m-%dT%H:%M:%SZ"), end.strftime("%Y-%m-%dT%H:%M:%SZ")]


def _blocked(rng: random.Random, start: dt.datetime, end: dt.datetime) -> list[list[str]]:
    if rng.random() < 0.75:
        return []
    begins = start + rng.uniform(0.1, 0.9) * (end - start)
    return [_span(begins, begins + dt.timedelta(seconds=rng.randint(20, 600)))]


def _site(rng: random.Random, place: tuple[float, float]) -> dict[str, Any]:
    site: dict[str, Any] = {
        "latitude_deg": place[0],
        "longitude_deg": place[1],
        "floor_deg": rng.choice([0, 15, 25]),
    }
    if rng.random() < 0.2:
        azimuths = sorted(rng.uniform(0, 360) for _ in range(rng.randint(1, 6)))
        site["skyline"] = [[azimuth, rng.uniform(0, 50)] for azimuth in azimuths]
    elif rng.random() < 0.1:
        site["skyline"] = meridian_wall(place[0], rng.choice([0.3, 1, 4]), rng.choice([40, 70]))
    if rng.random() < 0.1:
        site["ceiling_deg"] = rng.choice([60, 75, 85])
    return site


def _mount(rng: random.Random) -> dict[str, Any]:
    if rng.random() < 0.2:
        return {"kind": "fork", **_motion(rng)}
    return {
        **_motion(rng),
        "contact_min": rng.choice([-12, 0, 6, 15, 30]),
        "clearance_min": rng.choice([0, 4, 10]),
        "flip_from_min": rng.choice([-15, -6, 0, 3, 8]),
        "contact_before_min": rng.choice([0, 8, 20]),
        "flip_by": rng.choice(["plan", "plan", "mount", "never"]),
        "quiet_min": rng.choice([0, 0, 4, 9]),
        "clock_error_s": rng.choice([0, 0, 5, 40]),
    }


def _flipping_mount(rng: random.Random) -> dict[str, Any]:
    """One on which it pays to carry a target across the meridian."""
    return {
        **_motion(rng),
        "slew_deg_s": rng.choice([2, 6]),
        "contact_min": rng.choice([0, 5, 12, 25]),
        "clearance_min": rng.choice([0, 2]),
        "flip_from_min": rng.choice([-4, 0, 1, 2.5, 6]),
        "contact_before_min": rng.choice([0, 8]),
        "flip_by": rng.choice(["plan", "mount"]),
        "quiet_min": rng.choice([0, 0, 3, 6]),
        "clock_error_s": rng.choice([0, 0, 4, 30]),
    }


def _motion(rng: random.Random) -> dict[str, Any]:
    return {
        "slew_deg_s": rng.choice([0.5, 1, 3, 6]),
        "slew_extra_s": rng.choice([0, 2.5, 8]),
        "centre_s": rng.choice([0, 20, 45]),
        "settle_s": rng.choice([0, 5.5, 15]),
        "turn_rotator_after_flip": rng.random() < 0.3,
        "rotator_deg_s": rng.choice([2.5, 5, 20]),
        "refocus_after_flip": rng.random() < 0.5,
    }


def _filters(rng: random.Random, sun_deg: float) -> list[dict[str, Any]]:
    filters = []
    for name in ("L", "Ha"):
        chosen: dict[str, Any] = {"name": name, "change_s": rng.choice([0, 8, 21.5])}
        dark = [word for word, limit in TWILIGHTS.items() if sun_deg < limit] or ["sunset"]
        chosen["darkness"] = rng.choice(dark)
        if rng.random() < 0.2:  # ends or begins within the hour
            chosen["darkness"] = max(-90.0, min(0.0, sun_deg + rng.uniform(-2, 2)))
        if rng.random() < 0.2:
            chosen["moon_gap_deg"] = rng.uniform(5, 90)
        if rng.random() < 0.2:
            chosen["moonlight_mag"] = rng.uniform(0.02, 2)
        filters.append(chosen)
    return filters


def _targets(
    rng: random.Random, latitude_deg: float, sidereal: float, filters: list[str], flipping: bool
) -> list[dict[str, Any]]:
    targets = []
    in_all = 0
    for number in range(2 if flipping else rng.choice([2, 2, 3])):
        crosses = flipping and number == 0
        reach_deg = 3 if crosses else rng.choice([6, 60])
        hour_angle = rng.uniform(-reach_deg, reach_deg)
        away_deg = 25 if crosses else 50
        declination = max(-89.0, min(89.0, latitude_deg + rng.uniform(-away_deg, away_deg)))
        target: dict[str, Any] = {
            "name": f"T{number}",
            "ra_deg": (sidereal - hour_angle) % 360 % 360,
            "dec_deg": declination,
            "weight": 4 if crosses else rng.choice([1, 1, 0.5, 2, 1.25, 0.333]),
            "least_min": rng.choice([0, 0, 0, 3, 7.5]),
            "sides": "either" if crosses else rng.choice(["either"] * 5 + ["before", "after"]),
            "goals": [],
        }
        if not crosses and rng.random() < 0.2:
            target["floor_deg"] = rng.choice([10, 35, 50])
        lengths = [150, 180.5, 240, 300] if crosses else [45, 60.4, 90, 120, 180.5, 240, 300]
        for exposure_s in rng.sample(lengths, rng.choice([1, 2, 2])):
            frames = (
                rng.randint(4, 6) if crosses else rng.randint(1, max(1, min(3, MOST_FRAMES_IN_ALL - in_all)))
            )
            in_all += frames
            done = rng.choice([0, 0, 0, 1])
            target["goals"].append(
                {
                    "filter": rng.choice(filters),
                    "exposure_s": exposure_s,
                    "frames": frames + done,
                    "done": done,
                }
            )
        targets.append(target)
    return targets
