"""The third judge: a written list held against the law's text, with a sky and code of its own.

It reads the files alone and imports nothing of the package that wrote them. The law is optimizer/audit/LAW.md. Not judged: the value of a plan and its bound, columns that only inform (airmass,
position angle), and refracted altitudes.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from tests.support.recheck.facts import Facts, Finding
from tests.support.recheck.files import csv_findings, read_shots
from tests.support.recheck.latest import checked, latest_findings
from tests.support.recheck.motion import motion_findings
from tests.support.recheck.order import order_findings
from tests.support.recheck.sky import NIGHT_S, NightSky
from tests.support.recheck.step import step_breaks, visits_of


def judge(shots: dict[str, Any], sky: NightSky | None = None) -> list[Finding]:
    """Everything that is broken in a list; empty where nothing is."""
    facts = Facts(shots, sky)
    found = order_findings(facts)
    for index, row in enumerate(facts.rows):
        for rule in dict.fromkeys(step_breaks(facts, index, facts.start[index])):
            detail = f"{row['kind']} of {row['target']} from {row['start_utc']} breaks {rule}"
            found.append(Finding(rule, row["step"], detail))
    found += motion_findings(facts)
    return [*found, *latest_findings(facts), *_places(facts), *_straight_back(facts)]


def judge_files(json_path: Path) -> tuple[list[Finding], dict[str, int]]:
    """What is broken in the two written files, and what was looked at."""
    shots = read_shots(json_path)
    sky = NightSky(shots["request"], shots["night"]["ut1_utc_s"])
    found = [*judge(shots, sky), *csv_findings(shots, json_path.with_suffix(".csv"))]
    kinds = [row["kind"] for row in shots["steps"]]
    looked = {"exposures": kinds.count("expose"), "flips": kinds.count("flip")}
    looked |= {"steps": len(kinds), "latest_starts": checked(Facts(shots, sky))}
    looked["standing_before_flip"] = sum(
        row["kind"] == "wait" and not row["tracking"] and after == "flip"
        for row, after in zip(shots["steps"], kinds[1:], strict=False)
    )
    return found, looked


def _places(facts: Facts) -> list[Finding]:
    """Hour angle, altitude, and distance to the Moon, as the rows tell them of their starts."""
    found = []
    for index, row in enumerate(facts.rows):
        if row["target"] not in facts.targets or row["hour_angle_h"] is None:
            continue
        star, second = facts.star(row["target"]), facts.start[index]
        gap_deg = facts.moon_gap_deg(row["target"])[second]
        off = {
            "hour_angle_h": (row["hour_angle_h"] * 3600 - star.hour_angle_s[second] + 43200) % 86400 - 43200,
            "altitude_deg": (row["altitude_deg"] - star.altitude_deg[second]) * 3600,
            "moon_separation_deg": (row["moon_separation_deg"] - gap_deg) * 3600,
        }
        most = {"hour_angle_h": 1.0, "altitude_deg": 1.0, "moon_separation_deg": 15.0}  # s of time, ", "
        found += [
            Finding("places", row["step"], f"{key} off by {off[key]:.3g}")
            for key in off
            if abs(off[key]) > most[key]
        ]
    return found


def _straight_back(facts: Facts) -> list[Finding]:
    """A slew to the target and side just left, though each goal has one window there at most."""
    found = []
    for before, visit in pairwise(visits_of(facts)):
        one, other = facts.rows[before.arrival], facts.rows[visit.arrival]
        target, side = other["target"], other["pier_side"]
        if (one["target"], one["pier_side"]) != (target, side) or target not in facts.targets:
            continue
        if all(_windows(facts, target, side, goal["filter"]) <= 1 for goal in facts.targets[target]["goals"]):
            found.append(Finding("straight_back", other["step"], f"{target} {side} again"))
    return found


def _windows(facts: Facts, target: str, side: str | None, name: str) -> int:
    """How many stretches of the night the shutter may be open in."""
    rules = (
        facts.dark(name),
        facts.above(target, facts.floor_deg(target)),
        facts.over_skyline(target),
        facts.under_ceiling(target),
        facts.far_from_moon(target, name),
        facts.little_moonlight(target, name),
        facts.zone(target, side),
    )
    seconds = np.arange(NIGHT_S)
    free = np.logical_and.reduce([rule.flags[:NIGHT_S] for rule in rules])
    inside = np.zeros(NIGHT_S, dtype=bool) if facts.clear_spans else np.ones(NIGHT_S, dtype=bool)
    for first, last in facts.clear_spans:
        inside |= (first <= seconds) & (seconds < last)
    for first, last in facts.blocked_spans:
        inside &= ~((first <= seconds) & (seconds < last))
    free &= inside
    return int(np.count_nonzero(free[1:] & ~free[:-1])) + int(free[0])
