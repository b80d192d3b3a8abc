"""Random tiny seasons of two rigs: alike, with nothing in common, sharing goals or parts of filter sets."""

from __future__ import annotations

import copy
import datetime as dt
import random
from typing import Any

from tests.support.scenarios.small_season import MOST_WANTED, ODDS, small_season

Data = dict[str, Any]
KINDS = ("alike", "apart", "mixed", "split", "mixed")
MOST_DEC_DEG = 80.0
ADDED_S = 150  # an exposure that no goal of the first rig has


def kind_of(seed: int) -> str:
    """What the two rigs of that seed have in common."""
    return KINDS[seed % len(KINDS)]


def small_pair(seed: int) -> tuple[Data, Data]:
    """The requests of that seed as plain data, always valid and agreeing with each other."""
    rng, kind = random.Random(f"pair {seed}"), kind_of(seed)
    one = {**small_season(seed + 1000), "rig": "one"}
    for target in one["targets"]:  # nearer to a pole the third judge's sky has other hour angles
        target["dec_deg"] = max(-MOST_DEC_DEG, min(MOST_DEC_DEG, target["dec_deg"]))
    other = {**copy.deepcopy(one), "rig": "other"}
    if kind == "alike":
        return one, other
    source = small_season(seed + 5000)
    other["camera"] = source["camera"]
    other["focus"] = {**source["focus"], "every_min": one["focus"]["every_min"]}
    if rng.random() < 0.4:  # 20 km away at least, with weather of its own
        other["site"]["longitude_deg"] = (one["site"]["longitude_deg"] + 180.4) % 360 - 180
        other["season"] = _odds(rng, one)
    most = 6 if one["aim"]["value"] == "depth" and one["aim"]["balance"] else 9
    if kind == "apart":
        for target in other["targets"]:
            target["name"] = f"U{target['name'][1:]}"
            target["weight"] = rng.choice([1, 0.5, 1.25])
    elif kind == "split":
        _split(rng, one["targets"], other["targets"])
    else:
        other["targets"] = _mixed(rng, other["targets"], most)
    return one, other


def _odds(rng: random.Random, one: Data) -> Data:
    first, nights = dt.date.fromisoformat(one["night"]["evening"]), one["season"]["nights"]
    table = [
        [(first + dt.timedelta(days=number)).isoformat(), rng.choice(ODDS[:-1])] for number in range(nights)
    ]
    return {"nights": nights, "clear_odds": 0.5, "clear_odds_by_evening": table}


def _split(rng: random.Random, ones: list[Data], others: list[Data]) -> None:
    """Share out the goals of each target that has several, one perhaps to both."""
    for one, other in zip(ones, others, strict=True):
        if len(one["goals"]) > 1:
            first = rng.randint(1, len(one["goals"]) - 1)
            other["goals"] = other["goals"][first - rng.choice([0, 0, 1]) :]
            one["goals"] = one["goals"][:first]


def _mixed(rng: random.Random, targets: list[Data], most: int) -> list[Data]:
    """Some targets as they are, of others some goals and one of its own; one may be another target."""
    mixed = []
    for target in targets:
        turn = rng.random()
        if turn < 0.55 and len(target["goals"]) > 1:
            target["goals"] = rng.sample(target["goals"], rng.randint(1, len(target["goals"]) - 1))
        elif turn > 0.85:
            target["name"] = f"U{target['name'][1:]}"
        mixed.append(target)
    left = [max(0, goal["frames"] - goal["done"]) for target in mixed for goal in target["goals"]]
    room = min(3, most - sum(left))
    if room > 0 and sum(map(bool, left)) < MOST_WANTED and rng.random() < 0.7:
        done = rng.choice([0, 1, 2])
        mixed[0]["goals"].append(
            {
                "filter": rng.choice(["L", "Ha"]),
                "exposure_s": ADDED_S,
                "frames": done + rng.randint(1, room),
                "done": done,
                "in_set": True,
            }
        )
    return mixed
