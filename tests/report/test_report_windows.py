"""When a target is above its floor, in sentences that are true of the night; and why a window is missing."""

from __future__ import annotations

from typing import Any

import pytest

from optimizer.report.window_facts import windows_report
from optimizer.report.windows_view import windows_view
from tests.support.report_cases import a_request, joined

GOALS = [{"filter": "L", "exposure_s": 300.0, "frames": 4}]
NIGHT = {"evening": "2026-11-14", "ut1_utc_s": 0.0}


def words(dec_deg: float, ra_deg: float = 52.297, **parts: Any) -> str:
    target = {"name": "T", "ra_deg": ra_deg, "dec_deg": dec_deg, "goals": GOALS, **parts.pop("target", {})}
    shown = joined(windows_view(windows_report(a_request(**{"night": NIGHT, "targets": [target], **parts}))))
    return shown[shown.index(" T above" if " T above" in shown else " T never") + 3 :]


def far_north(latitude_deg: float) -> dict[str, Any]:
    return {"latitude_deg": latitude_deg, "longitude_deg": 15.0, "floor_deg": 25.0}


def test_circumpolar_target_is_above_its_floor_all_night() -> None:
    assert words(75.0).startswith("above its floor all night; crosses the meridian ")


@pytest.mark.parametrize(
    ("ra_deg", "told"),
    [
        (52.297, "above its floor from 19:40 to 06:33; crosses the meridian 01:06 "),
        (310.0, "above its floor until 23:44; crosses the meridian 18:18 "),  # rose by day
        (170.0, "above its floor from 03:30 on; crosses the meridian 08:56 "),  # sinks by day
    ],
)
def test_edges_by_day_are_not_told(ra_deg: float, told: str) -> None:
    """cos H = (sin 25 - sin 38.92 sin 31.31) / (cos 38.92 cos 31.31): 5 h 26 min on each side of transit."""
    assert words(31.31, ra_deg).startswith(told)


def test_target_above_its_floor_by_day_alone() -> None:
    """It culminates at noon."""
    assert words(0.0, 231.0).startswith("never above its floor between sunset and sunrise; crosses")


def test_target_that_never_reaches_its_floor() -> None:
    assert words(-60.0).startswith("never above its floor between sunset and sunrise; ")


@pytest.mark.parametrize("evening", ["2026-06-20", "2026-12-20"])
def test_without_sunset_the_day_is_told_from_noon_to_noon(evening: str) -> None:
    told = words(75.0, night={**NIGHT, "evening": evening}, site=far_north(80.0))
    assert told.startswith("above its floor for 24 h, from noon to noon; ")


def test_window_of_24_hours_has_no_clock() -> None:
    """In a polar night a mount without sides need never close: "from 12:00 to 12:00" would say nothing."""
    told = words(
        75.0,
        night={**NIGHT, "evening": "2026-12-20"},
        site=far_north(89.0),
        mount={"kind": "fork"},
    )
    assert "L - all night 24 h 00 min" in told


def test_missing_windows_with_one_reason_are_told_once() -> None:
    goals = [{**GOALS[0], "filter": name} for name in ("L", "Ha")]
    told = words(31.31, 310.0, target={"goals": goals})
    assert told.count("No window for") == 1
    assert (
        "No window for L and Ha on pier side west: while the sky allows it, "
        "the mount may not track it on this pier side." in told
    )
    never = words(-60.0, target={"goals": goals})
    assert "No window for L and Ha on either pier side: " in never
    fork = words(31.31, 310.0, target={"goals": goals, "sides": "before"}, mount={"kind": "fork"})
    assert "No window for L and Ha: while the sky allows it, it is on the other side of the meridian." in fork


def test_a_transit_below_the_horizon_has_a_minus_sign() -> None:
    """Declination -60 culminates 9 degrees below the horizon of latitude 38.92."""
    assert "at −9°" in words(-60.0)
