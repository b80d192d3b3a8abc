"""The worked night of the README: what darkfill shows and counts is what is written there."""

from __future__ import annotations

import re
from typing import Any

import pytest

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.shots import ShotList
from optimizer.night import Night
from optimizer.reading.load import request_from_data
from optimizer.report.plan_view import plan_view
from tests.support.docs_files import README, fences, text
from tests.support.report_cases import text as shown

IN_HAND = {"L": (120, 120, 90), "R": (180, 40, 20), "G": (180, 40, 20), "B": (180, 40, 4)}


def planned(*dark: str) -> ShotList:
    """The night with these filters of use alone: the others want a sky that is never so dark."""
    goals = [
        {"filter": name, "exposure_s": exposure_s, "frames": frames, "done": done}
        for name, (exposure_s, frames, done) in IN_HAND.items()
    ]
    filters: list[dict[str, Any]] = [
        {"name": name, "darkness": "astronomical" if name in dark else -80} for name in IN_HAND
    ]
    data = {
        "schema": "darkfill-request/1",
        "night": {"evening": "2026-10-10", "clear": [["2026-10-10T22:00:00Z", "2026-10-10T23:10:00Z"]]},
        "site": {
            "latitude_deg": 44.61,
            "longitude_deg": 3.37,
            "time_zone": "Europe/Paris",
            "floor_deg": 30,
        },
        "mount": {"contact_min": 40},
        "filters": filters,
        "targets": [{"name": "Whirl in Triangulum", "object": "M 33", "goals": goals}],
        "aim": {**PLAIN_AIM, "balance": 0.3, "slack_s": 60, "workers": 1, "time_limit_s": 4.0},
    }
    return Night(request_from_data(data, "whirl")).plan()


def test_worked_night_of_the_readme_is_what_darkfill_shows_and_counts() -> None:
    shots = planned(*IN_HAND)
    (rows,) = fences(README, "text", mark="worth")
    for row in rows.splitlines():
        assert row in shown(plan_view(shots)), row
    told = " ".join(text(README).split())
    per_hour_min = 60 * shots.totals.value_s / shots.totals.open_shutter_s
    assert f"= {shots.totals.value_s / 60:.1f} min (`totals.value_s`, {shots.totals.value_s:.0f} s)" in told
    assert f"{per_hour_min:.0f} min for each hour" in told
    assert shots.totals.set_s == pytest.approx(111 * 60)


def test_last_hour_of_luminance_counts_what_the_readme_says() -> None:
    shots = planned("L")
    assert shots.totals.open_shutter_s == 3600
    minutes = re.search(r"would lift nothing and count ([0-9]+) min \(([0-9]+) s\)", text(README))
    assert minutes is not None
    assert [60 * int(minutes[1]), int(minutes[2])] == [shots.totals.value_s] * 2
    assert shots.totals.set_s == 0
