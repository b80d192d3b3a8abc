"""The third judge: a written list held against the law's text, with a sky and code of its own.

It reads the files alone and imports nothing of the package that wrote them. The law is the part "The rules,
exactly" of DEVELOPERS.md. Not judged: the value of a plan and its bound, columns that only inform (airmass,
position angle), refracted altitudes, and whether a goal had another window where the list goes straight back.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from recheck_facts import Facts, Finding
from recheck_files import csv_findings, read_shots
from recheck_latest import checked, latest_findings
from recheck_motion import motion_findings
from recheck_order import order_findings
from recheck_sky import NightSky
from recheck_step import IN_DOWNLOAD, step_breaks


def judge(shots: dict[str, Any], sky: NightSky | None = None) -> list[Finding]:
    """Everything that is broken in a list; empty where nothing is."""
    facts = Facts(shots, sky)
    found = order_findings(facts)
    for index, row in enumerate(facts.rows):
        for rule in dict.fromkeys(step_breaks(facts, index, facts.start[index])):
            name = "download" if rule.endswith(IN_DOWNLOAD) else rule
            detail = f"{row['kind']} of {row['target']} from {row['start_utc']} breaks {rule}"
            found.append(Finding(name, row["step"], detail))
    found += motion_findings(facts)
    return [*found, *latest_findings(facts), *_places(facts)]


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
        off = {
            "hour_angle_h": (row["hour_angle_h"] * 3600 - star.hour_angle_s[second] + 43200) % 86400 - 43200,
            "altitude_deg": (row["altitude_deg"] - star.altitude_deg[second]) * 3600,
            "moon_separation_deg": (row["moon_separation_deg"] - facts.moon_gap_deg(row["target"])[second])
            * 3600,
        }
        most = {"hour_angle_h": 1.0, "altitude_deg": 1.0, "moon_separation_deg": 15.0}  # s of time, ", "
        found += [
            Finding("places", row["step"], f"{key} off by {off[key]:.3g}")
            for key in off
            if abs(off[key]) > most[key]
        ]
    return found
