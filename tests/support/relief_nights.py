"""Short invented nights in which one rule keeps a goal short, and what one easier step makes of them."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any, NamedTuple

from optimizer.models.request import Request
from optimizer.models.shots import ReliefKey, ShotList, UnplannedReason
from optimizer.night import Night
from tests.support.timeline_nights import CRADLE, a_request, goal

FORK = {"kind": "fork"}
EXACT = {"gap": 0.0, "workers": 1, "time_limit_s": 4.0}


class Case(NamedTuple):
    """`made` gives the request with a value of the key; a step leads from `old` to `new`."""

    reason: UnplannedReason
    key: ReliefKey
    old: Any
    new: Any
    made: Callable[[Any], Request]


def cradle(*goals: dict[str, Any], **keys: Any) -> dict[str, Any]:
    return {**CRADLE, "goals": list(goals) or [goal(frames=60)], **keys}


def setting(floor_deg: float) -> Request:
    """In the west from 04:00 UTC on, until it meets its floor."""
    return a_request(cradle(floor_deg=floor_deg), clear=("03:00", "06:00"), mount=FORK, aim=EXACT)


def setting_below_the_sites(floor_deg: float) -> Request:
    """The same where the site alone has a floor."""
    target = cradle() if floor_deg == 40 else cradle(floor_deg=floor_deg)
    return a_request(target, site={"floor_deg": 40.0}, clear=("03:00", "06:00"), mount=FORK, aim=EXACT)


def never_so_high(floor_deg: float) -> Request:
    """It culminates at 82.5 degrees, not at its floor."""
    return a_request(
        cradle(goal(exposure_s=60.0), floor_deg=floor_deg), clear=("23:00", "01:00"), mount=FORK, aim=EXACT
    )


def filtered(darkness: Any = "nautical", **rules: Any) -> list[dict[str, Any]]:
    return [{"name": "L", "darkness": darkness, **rules}]


def moonlit(**rules: Any) -> Request:
    """The night before the full Moon of 24 November 2026: 46.3 to 48 degrees from it, brightened by 2.9 mag."""
    return a_request(
        cradle(goal(frames=600), ra_deg=0.0, dec_deg=10.0),
        night={
            "evening": "2026-11-23",
            "clear": [["2026-11-23T19:30:00Z", "2026-11-23T23:30:00Z"]],
        },
        filters=filtered(**rules),
        mount=FORK,
        aim=EXACT,
    )


def evening(darkness: Any) -> Request:
    """Clear from sunset on for two hours, with a target high in the south."""
    return a_request(
        cradle(ra_deg=330.0),
        clear=("17:00", "19:00"),
        filters=filtered(darkness),
        mount=FORK,
        aim=EXACT,
    )


def midsummer(darkness: Any) -> Request:
    """At 55 degrees north the Sun sinks to 11.6 degrees below the horizon."""
    return a_request(
        cradle(goal(frames=9), ra_deg=270.0, dec_deg=50.0),
        site={"latitude_deg": 55.0, "longitude_deg": 12.9},
        night={"evening": "2026-06-20"},
        filters=filtered(darkness),
        mount=FORK,
        aim=EXACT,
    )


def two_targets(weight: float) -> Request:
    """The Wheel is worth a little less than the Cradle, and there is no time for both."""
    return a_request(
        cradle(goal(frames=9)),
        cradle(goal(frames=9), name="Wheel", weight=weight),
        clear=("21:00", "21:40"),
        mount=FORK,
        aim=EXACT,
    )


def shortly_clear(least_min: float) -> Request:
    return a_request(cradle(least_min=least_min), clear=("22:00", "22:30"), mount=FORK, aim=EXACT)


def past_its_transit(sides: str) -> Request:
    return a_request(cradle(goal(frames=5), ra_deg=300.0, dec_deg=40.0, sides=sides), mount=FORK, aim=EXACT)


TIGHT = {"contact_min": 10.0, "clearance_min": 15.0, "flip_from_min": 8.0, "centre_s": 10.0, "settle_s": 0.0}


def around_transit(exposure_s: float) -> Request:
    """Clear from 4 min before its transit to 13 min after; the mount may track in parts of it alone."""
    frames = round(2 * 400 / exposure_s)
    return a_request(
        cradle(goal(exposure_s=exposure_s, frames=frames)),
        clear=("00:02", "00:20"),
        mount=TIGHT,
        focus={"run_s": 10.0},
        aim=EXACT,
    )


def four_minutes(exposure_s: float) -> Request:
    """Too short for one exposure of 300 s."""
    frames = round(2 * 300 / exposure_s)
    return a_request(
        cradle(goal(exposure_s=exposure_s, frames=frames)),
        clear=("22:00", "22:04"),
        mount={**FORK, "centre_s": 0.0, "settle_s": 0.0},
        focus={"run_s": 10.0},
        aim=EXACT,
    )


NIGHTS = {
    "floor": Case("window_too_short", "floor_deg", 40.0, 38.0, setting),
    "floor of the site": Case("window_too_short", "floor_deg", 40.0, 38.0, setting_below_the_sites),
    "floor above all": Case("too_low", "floor_deg", 83.0, 81.0, never_so_high),
    "gap": Case("window_too_short", "moon_gap_deg", 47.0, 42.0, lambda deg: moonlit(moon_gap_deg=deg)),
    "gap all night": Case("moon_too_near", "moon_gap_deg", 50.0, 45.0, lambda deg: moonlit(moon_gap_deg=deg)),
    "light": Case("moonlight", "moonlight_mag", 2.5, 3.0, lambda mag: moonlit(moonlight_mag=mag)),
    "dusk": Case("window_too_short", "darkness", "astronomical", "nautical", evening),
    "dusk by a number": Case("window_too_short", "darkness", -13.0, "nautical", evening),
    "midsummer": Case("never_dark", "darkness", "nautical", -11.0, midsummer),
    "weight": Case("night_full", "weight", 0.8, 1.2, two_targets),
    "visit": Case("least_visit", "least_min", 40.0, 20.0, shortly_clear),
    "side": Case("wrong_side", "sides", "before", "either", past_its_transit),
    "zone": Case("forbidden_zone", "exposure_s", 400.0, 200.0, around_transit),
    "short": Case("window_too_short", "exposure_s", 300.0, 150.0, four_minutes),
}


@lru_cache
def first_of(name: str) -> tuple[ShotList, Night]:
    """The night as it stands, planned."""
    night = NIGHTS[name]
    return planned(night.made(night.old))


def planned(request: Request) -> tuple[ShotList, Night]:
    night = Night(request)
    return night.plan(), night


def anew(request: Request) -> ShotList:
    return Night(request).plan()
