"""Random rigs for full nights: mounts, cameras, focusers and filters, loose and tight numbers alike."""

from __future__ import annotations

import random
from typing import Any

FILTER_NAMES = ("L", "Ha", "OIII", "β narrow", "R 1")


def mount(rng: random.Random) -> dict[str, Any]:
    """Three in four are German; half of these have numbers on which flips are easy."""
    motion = {
        "slew_deg_s": rng.choice([0.1, 0.7, 2, 3.5, 9, 30]),
        "slew_extra_s": rng.choice([0, 4.2, 8, 30]),
        "centre_s": rng.choice([0, 20, 45.5, 120]),
        "settle_s": rng.choice([0, 5, 15, 40.1]),
        "turn_rotator_after_flip": rng.random() < 0.3,
        "rotator_deg_s": rng.choice([1.5, 5, 60]),
        "refocus_after_flip": rng.random() < 0.6,
    }
    kind = rng.random()
    if kind < 0.25:
        return {"kind": "fork", **motion}
    if kind < 0.3:  # nobody measured anything
        return {}
    if kind < 0.65:
        return {
            **motion,
            "kind": "german",
            "contact_min": rng.choice([12, 25, 40]),
            "clearance_min": rng.choice([0, 3, 6]),
            "flip_from_min": rng.choice([-10, 0, 2.5, 5]),
            "contact_before_min": rng.choice([0, 15]),
            "flip_by": rng.choice(["plan", "plan", "mount"]),
            "quiet_min": rng.choice([0, 0, 5, 12]),
            "clock_error_s": rng.choice([0, 10, 45]),
        }
    return {
        **motion,
        "contact_min": rng.choice([-90, -30, -5, 0, 10, 60, 180, 360]),
        "clearance_min": rng.choice([0, 5.5, 15, 60]),
        "flip_from_min": rng.choice([-120, -30, -3, 0, 8, 45, 300]),
        "contact_before_min": rng.choice([0, 12, 60, 360]),
        "flip_by": rng.choice(["plan", "mount", "never"]),
        "quiet_min": rng.choice([0, 3, 20, 75]),
        "clock_error_s": rng.choice([0, 5, 60.5, 600]),
    }


def camera(rng: random.Random) -> dict[str, Any]:
    """From no download at all to a slow one."""
    return {
        "download_s": rng.choice([0, 0.4, 3, 11, 60]),
        "dither_every": rng.choice([0, 1, 2, 3, 5, 12]),
        "dither_s": rng.choice([0, 8, 12.5, 60]),
    }


def overhead(seed: int) -> dict[str, float]:
    """What each sub takes besides, on about half the nights; all else on them is as it was without it."""
    return {"overhead_s": random.Random(f"overhead {seed}").choice([0, 0, 0, 0.6, 1.4, 7, 45.5])}


def focus(rng: random.Random) -> dict[str, Any]:
    """Any mixture of the reasons to focus."""
    return {
        "run_s": rng.choice([20, 90.5, 150, 600]),
        "every_min": rng.choice([0, 0, 15, 40.5, 90, 240]),
        "on_new_target": rng.random() < 0.5,
        "on_filter_change": rng.random() < 0.5,
        "leaves_target": rng.random() < 0.4,
    }


def filters(rng: random.Random, darkest_sun_deg: float) -> list[dict[str, Any]]:
    """One to five; most may be used at that night's darkest."""
    found = []
    for name in FILTER_NAMES[: rng.randint(1, 5)]:
        chosen: dict[str, Any] = {"name": name, "change_s": rng.choice([0, 5, 8.5, 30])}
        limits = {"sunset": -0.8, "civil": -6, "nautical": -12, "astronomical": -18}
        dark = [word for word, limit in limits.items() if darkest_sun_deg < limit - 1]
        if dark and rng.random() < 0.9:
            chosen["darkness"] = rng.choice(dark)
        elif rng.random() < 0.5:
            chosen["darkness"] = round(max(-90.0, min(0.0, darkest_sun_deg + rng.uniform(-0.5, 8))), 3)
        if rng.random() < 0.25:
            chosen["moon_gap_deg"] = rng.choice([10, 30, 60.5, 110, 179])
        if rng.random() < 0.25:
            chosen["moonlight_mag"] = rng.choice([0.01, 0.2, 0.8, 2.5])
            chosen["moonlight_factor"] = rng.choice([1, 1, 0.3])
        found.append(chosen)
    return found
