"""Random tiny seasons: two to four nights of less than an hour each, two or three targets, few frames.

Nights are short because the Sun reaches the filters' limit for some minutes only, near a solstice, so that the
nights of a season differ, and some have no dark at all. All else is as on small nights: flips, quiet times,
sets, frames in hand.
"""

from __future__ import annotations

import datetime as dt
import math
import random
from typing import Any

from benchmarks.plain_aim import PLAIN_AIM
from tests.support.scenarios.sky import altitude_deg, local_midnight, sidereal_deg
from tests.support.scenarios.small import _flipping_mount, _mount, _site

ODDS = (1, 1, 0.9, 0.75, 0.5, 0.333, 0.25, 0.1, 0)
BALANCES = (0.0, 0.0, 0.3, 0.3, 0.3, 0.125, 0.5, 1.0)
MOST_WANTED = 4  # goals that are not whole: the oracle tells apart all numbers of frames of each
OBLIQUITY = math.radians(23.4375)


def small_season(seed: int) -> dict[str, Any]:
    """The request of that seed as plain data, always valid."""
    rng = random.Random(f"season {seed}")
    place = rng.uniform(-60, 62), rng.uniform(-180, 180)
    solstice = rng.choice([(6, 21), (12, 21)])
    first = dt.date(rng.randint(2021, 2030), *solstice) + dt.timedelta(days=rng.randint(-8, 8))
    nights = rng.choice([2, 2, 3, 3, 4])
    middle, declination = sun_below(first + dt.timedelta(days=nights // 2), place[1])
    flipping, by_depth = rng.random() < 0.4, rng.random() < 0.4
    balance = rng.choice(BALANCES)
    filters = []
    for name in ("L", "Ha"):
        half_min = rng.uniform(12, 28)
        limit = altitude_deg(place[0], declination, 180 - half_min / 4)
        filters.append({"name": name, "change_s": rng.choice([0, 8, 21.5]), "darkness": min(0.0, limit)})
        if rng.random() < 0.2:
            filters[-1]["moon_gap_deg"] = rng.uniform(5, 90)
    most = 6 if by_depth and balance else 9
    return {
        "schema": "darkfill-request/1",
        "night": {"evening": first.isoformat()},
        "site": _site(rng, place),
        "mount": _flipping_mount(rng) if flipping else _mount(rng),
        "camera": {
            "download_s": rng.choice([0, 1.5, 3, 9, 20]),
            "dither_every": rng.choice([0, 0, 1, 2, 3]),
            "dither_s": rng.choice([0, 7.5, 12, 30]),
            "overhead_s": rng.choice([0, 0, 0, 0.5, 6]),
        },
        "focus": {
            "run_s": rng.choice([25, 60.5, 100, 180]),
            "every_min": 0 if by_depth else rng.choice([0, 0, 8, 12.5, 25]),
            "on_new_target": rng.random() < 0.45,
            "on_filter_change": rng.random() < 0.45,
            "leaves_target": rng.random() < 0.4,
        },
        "filters": filters,
        "targets": _targets(rng, place[0], sidereal_deg(middle, place[1]), flipping, most),
        "aim": {
            **PLAIN_AIM,
            "value": "depth" if by_depth else "hours",
            "balance": balance,
            "gap": 0,
            "workers": 1,
            "seed": 1,
            "time_limit_s": 2,
        },
        "season": _season(rng, first, nights),
    }


def _season(rng: random.Random, first: dt.date, nights: int) -> dict[str, Any]:
    if rng.random() < 0.2:
        return {"nights": nights, "clear_odds": 1}
    if rng.random() < 0.3:
        return {"nights": nights, "clear_odds": [rng.choice(ODDS) for _ in range(12)]}
    return {
        "nights": nights,
        "clear_odds": 0.5,
        "clear_odds_by_evening": [
            [(first + dt.timedelta(days=number)).isoformat(), rng.choice(ODDS)]
            for number in range(nights)
            if rng.random() < 0.9
        ],
    }


def _targets(
    rng: random.Random, latitude_deg: float, sidereal: float, flipping: bool, most: int
) -> list[dict[str, Any]]:
    """Targets near to the meridian, or anywhere; what is left of all goals together is at most `most` frames."""
    targets, room, wanted = [], most, 0
    for number in range(rng.choice([2, 2, 3])):
        crosses = flipping and number == 0
        hour_angle = rng.uniform(-3, 3) if crosses else rng.uniform(-50, 50)
        away_deg = 25 if crosses else 50
        declination = max(-89.0, min(89.0, latitude_deg + rng.uniform(-away_deg, away_deg)))
        goals = []
        for exposure_s in rng.sample([60.4, 90, 120, 180.5, 240, 300, 420], rng.choice([1, 2, 2, 3])):
            left = min(room, rng.choice([0, 1, 1, 2, 3, 4, 5])) if wanted < MOST_WANTED else 0
            room, wanted = room - left, wanted + (left > 0)
            done = rng.choice([0, 0, 1, 2, 6, 11])
            goals.append(
                {
                    "filter": rng.choice(["L", "Ha"]),
                    "exposure_s": exposure_s,
                    "frames": max(1, left + done),
                    "done": max(1, left + done) - left + (rng.randint(0, 2) if not left else 0),
                    "in_set": rng.random() < 0.85,
                }
            )
        targets.append(
            {
                "name": f"T{number}",
                "ra_deg": (sidereal - hour_angle) % 360 % 360,
                "dec_deg": declination,
                "weight": rng.choice([1, 1, 0.5, 2, 1.25, 0.333]),
                "least_min": rng.choice([0, 0, 0, 3]),
                "sides": "either" if crosses else rng.choice(["either"] * 5 + ["before", "after"]),
                "goals": goals,
            }
        )
    return targets


def sun_below(evening: dt.date, longitude_deg: float) -> tuple[dt.datetime, float]:
    """When the Sun is lowest in the night after an evening, and its declination then; to a hundredth of a degree.

    By the low-precision formulas of the Astronomical Almanac, page C5.
    """
    midnight = local_midnight(evening, longitude_deg)
    days = (midnight - dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)) / dt.timedelta(days=1)
    mean, anomaly = 280.460 + 0.9856474 * days, math.radians(357.528 + 0.9856003 * days)
    longitude = math.radians(mean + 1.915 * math.sin(anomaly) + 0.020 * math.sin(2 * anomaly))
    declination = math.asin(math.sin(OBLIQUITY) * math.sin(longitude))
    right_ascension = math.degrees(math.atan2(math.cos(OBLIQUITY) * math.sin(longitude), math.cos(longitude)))
    ahead_deg = (mean - right_ascension + 180) % 360 - 180  # equation of time
    return midnight - dt.timedelta(minutes=4 * ahead_deg), math.degrees(declination)
