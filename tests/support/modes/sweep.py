"""Random rigs at places that are hard for a mount: odd limits, towers, blocked spells, slow slews."""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request
from optimizer.reading.load import request_from_data
from tests.support.hand_laid.night_builder import Almanac
from tests.support.modes.nights import ALL_PLACES, MODES, cell_data, instant_of, utc_text


def random_rig(seed: int) -> Request:
    """The night of that seed."""
    rng = random.Random(f"sweep {seed}")
    name, mode = rng.choice(list(ALL_PLACES)), rng.choice(list(MODES))
    data = cell_data(mode, name)
    instant = instant_of(name)
    data["mount"] |= _mount(rng)
    data["focus"] |= {
        "leaves_target": rng.random() < 0.4,
        "every_min": rng.choice([0, 0, 14, 35]),
        "on_new_target": rng.random() < 0.6,
        "on_filter_change": rng.random() < 0.6,
    }
    data["camera"] = {"download_s": rng.choice([0, 3, 40]), "dither_every": rng.choice([0, 1, 3])}
    data["camera"]["overhead_s"] = random.Random(f"overhead {seed}").choice([0, 0, 1.5, 25])
    main = data["targets"][0]
    if len(data["targets"]) == 1 and rng.random() < 0.5:
        data["targets"].append(_beside(rng, main))
    if rng.random() < 0.3:
        begins = instant + dt.timedelta(minutes=rng.uniform(-40, 40))
        ends = begins + dt.timedelta(minutes=rng.uniform(0.2, 9))
        data["night"]["blocked"] = [[utc_text(begins), utc_text(ends)]]
    if rng.random() < 0.3:
        data["filters"].append({"name": "Ha", "change_s": rng.choice([0, 20])})
        main["goals"].append({"filter": "Ha", "exposure_s": 240, "frames": rng.choice([2, 8])})
    if rng.random() < 0.3:
        from_min = rng.uniform(-15, 25)
        tower(data, name, from_min, from_min + rng.uniform(0.3, 8))
    main["sides"] = rng.choice(["either"] * 8 + ["before", "after"])
    main["least_min"] = rng.choice([0] * 8 + [7, 20])
    data["aim"] = {**PLAIN_AIM, "time_limit_s": 0.5, "workers": 1, "seed": 1, "gap": 0.03}
    return request_from_data(data, f"sweep {seed}: {mode}, {name}")


def _mount(rng: random.Random) -> dict[str, Any]:
    earliest = rng.choice([-30, -12, -3, 0, 2.5, 5, 20, 45])
    keys: dict[str, Any] = {
        "flip_from_min": earliest,
        "clock_error_s": rng.choice([0, 5.5, 20, 90]),
        "contact_min": earliest + rng.choice([-20, -3, 0, 1, 6, 12, 20, 60]),
        "clearance_min": rng.choice([0, 4, 10]),
        "contact_before_min": rng.choice([0, 5, 20, 50]),
        "slew_deg_s": rng.choice([0.5, 2, 6]),
        "slew_extra_s": rng.choice([0, 8]),
        "settle_s": rng.choice([0, 15]),
        "centre_s": rng.choice([0, 45.5]),
        "refocus_after_flip": rng.random() < 0.5,
        "quiet_min": rng.choice([0, 0, 3, 12, 40]),
    }
    if rng.random() < 0.4:
        keys["flip_by"] = rng.choice(["mount", "mount", "plan", "never"])
    return keys


def _beside(rng: random.Random, main: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": "Other",
        "ra_deg": (main["ra_deg"] + rng.choice([0, 5, 20, -20])) % 360,
        "dec_deg": rng.choice([15.0, -15.0]),
        "weight": rng.choice([0.4, 1, 1.5]),
        "goals": [{"filter": "L", "exposure_s": 150.0, "frames": 8}],
    }


def tower(data: dict[str, Any], name: str, from_min: float, to_min: float) -> None:
    """A tower that hides the target between two times around the place's instant (not across north)."""
    almanac = Almanac(request_from_data(data, name))
    instants = [instant_of(name) + dt.timedelta(minutes=minutes) for minutes in (from_min, to_min)]
    low, high = sorted(float(each) for each in almanac.azimuth_deg("Main", *instants))
    if high - low < 180 and low > 0.01 and high < 359.9:
        data["site"]["skyline"] = [[0, 0], [low, 0], [low, 89], [high, 89], [high, 0]]
