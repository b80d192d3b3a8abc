"""Nights laid by hand that break no rule; the broken plans are mutations of these. Each is built once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import lru_cache
from typing import Any, NamedTuple

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request
from optimizer.models.shots import Step
from tests.support.hand_laid.night_builder import Almanac, NightBuilder


class Night(NamedTuple):
    """A request and steps that keep it."""

    request: Request
    steps: tuple[Step, ...]


def at(text: str) -> dt.datetime:
    """An instant, UTC, from `2026-11-14T22:40:00`."""
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


SITE = {
    "name": "Dry Fork",
    "latitude_deg": 38.92,
    "longitude_deg": -3.11,
    "elevation_m": 640.0,
    "time_zone": "Europe/Madrid",
    "floor_deg": 25.0,
}
MOUNT = {
    "contact_min": 40.0,
    "clearance_min": 12.0,
    "flip_from_min": 5.0,
    "clock_error_s": 20.0,
    "quiet_min": 8.0,
    "centre_s": 45.0,
    "settle_s": 15.0,
}
FOCUS = {"run_s": 100.0, "every_min": 60.0}
CAMERA = {"download_s": 3.0, "dither_every": 2, "dither_s": 12.0}
CRADLE = {"name": "Cradle", "ra_deg": 52.297, "dec_deg": 31.31, "position_angle_deg": 30.0, "floor_deg": 30.0}
WHEEL = {"name": "Wheel", "ra_deg": 83.63, "dec_deg": 22.01, "position_angle_deg": 200.0, "weight": 0.5}


def request(
    targets: list[dict[str, Any]] | None = None,
    evening: str = "2026-11-14",
    filters: list[dict[str, Any]] | None = None,
    night: dict[str, Any] | None = None,
    **parts: dict[str, Any],
) -> Request:
    """A request whose parts (site, mount, camera, focus, aim) change the ones above by single keys."""
    defaults: dict[str, dict[str, Any]] = {"site": SITE, "mount": MOUNT, "camera": CAMERA, "focus": FOCUS}
    defaults["aim"] = PLAIN_AIM
    return Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": evening, **(night or {})},
            "filters": filters or [{"name": "L"}, {"name": "R", "change_s": 6.0}],
            "targets": targets or [target(CRADLE)],
            **{part: {**base, **parts.get(part, {})} for part, base in defaults.items()},
        }
    )


def target(base: dict[str, Any], *goals: dict[str, Any], **keys: Any) -> dict[str, Any]:
    """A target with goals; by default L 120 s and R 60 s, six frames each."""
    usual = (
        {"filter": "L", "exposure_s": 120.0, "frames": 8, "done": 2, "gain": 100, "offset": 30},
        {"filter": "R", "exposure_s": 60.0, "frames": 6, "binning": 2},
    )
    return {**base, "goals": list(goals or usual), **keys}


@lru_cache
def flipped() -> Night:
    """West of the pier up to the meridian, a flip in the permitted zone, on with the east side."""
    asked = request()
    night = NightBuilder(asked, at("2026-11-14T23:55:00")).slew("Cradle", "west")
    night.set_filter("L").focus().expose(3).set_filter("R").focus().expose(3, goal=1)
    night.until_hour_angle(330.0, tracking=True).flip().focus().expose(2, goal=1)
    night.set_filter("L").focus().expose(2).park()
    return Night(asked, night.steps())


@lru_cache
def standing() -> Night:
    """The night with a flip as somebody typed it: the mount stands before the flip, though it could track."""
    asked = flipped().request
    night = NightBuilder(asked, flipped().steps[0].start_utc).slew("Cradle", "west")
    night.set_filter("L").focus().expose(3).set_filter("R").focus().expose(3, goal=1)
    night.until_hour_angle(330.0).flip().focus().expose(2, goal=1)
    return Night(asked, night.set_filter("L").focus().expose(2).park().steps())


@lru_cache
def fork() -> Night:
    """A fork tracks through the meridian; it knows no sides."""
    asked = request(mount={"kind": "fork"}, targets=[target(CRADLE), target(WHEEL)])
    night = NightBuilder(asked, at("2026-11-14T23:50:00")).slew("Cradle")
    night.set_filter("L").focus().expose(5).slew("Wheel").set_filter("R").focus().expose(2, goal=1)
    return Night(asked, night.park().steps())


@lru_cache
def southern() -> Night:
    """South of the equator: two targets, one before its transit, one after."""
    place = {
        "latitude_deg": -30.24,
        "longitude_deg": -70.74,
        "elevation_m": 2200.0,
        "time_zone": "America/Santiago",
    }
    low = {"name": "Great Cloud", "ra_deg": 78.0, "dec_deg": -69.5, "position_angle_deg": 0.0}
    high = {"name": "Sculptor", "ra_deg": 11.9, "dec_deg": -25.3, "position_angle_deg": 350.0}
    asked = request(
        site=place, targets=[target(low, sides="before"), target(high, sides="after", least_min=4.0)]
    )
    night = NightBuilder(asked, at("2026-11-15T03:00:00")).slew("Great Cloud", "west")
    night.set_filter("L").focus().expose(3).slew("Sculptor", "east").set_filter("R").focus().expose(3, goal=1)
    night.set_filter("L").focus().expose(1).wait_until(night.now + dt.timedelta(minutes=5))
    night.slew("Great Cloud", "west").set_filter("R").focus().expose(2, goal=1)
    return Night(asked, night.park().steps())


@lru_cache
def tight() -> Night:
    """The first side ends before the second begins: an untracked wait lies between, then the flip."""
    asked = request(mount={"contact_min": 10.0, "clearance_min": 12.0, "flip_from_min": 6.0})
    night = NightBuilder(asked, at("2026-11-14T23:30:00")).slew("Cradle", "west")
    night.set_filter("L").focus().expose(4)
    night.until_hour_angle((6 * 60 + 20) * 1.0027379 + 0.1).flip().focus().expose(2)
    return Night(asked, night.park().steps())


@lru_cache
def early() -> Night:
    """The mount may flip before the meridian; the flip's own focus run may lie in the quiet time."""
    asked = request(
        mount={"contact_min": -1.0, "clearance_min": 2.0, "flip_from_min": -9.0, "contact_before_min": 12.0},
        focus={"leaves_target": True},
    )
    night = (
        NightBuilder(asked, at("2026-11-14T23:35:00"))
        .slew("Cradle", "west")
        .set_filter("L")
        .focus()
        .expose(4)
    )
    night.until_hour_angle(-8 * 60).flip().focus().expose(2)
    return Night(asked, night.park().steps())


@lru_cache
def under(then_west: bool = True) -> Night:
    """East of the pier down to the lower culmination, then a slew back to the first side just past it."""
    pole = {"name": "Polar Dust", "ra_deg": 230.0, "dec_deg": 76.0}
    asked = request(targets=[target(pole)], site={"floor_deg": 20.0})
    night = NightBuilder(asked, at("2026-11-14T23:00:00"))
    night.now = night.almanac.when_hour_angle("Polar Dust", 43200 - 900, night.now)
    night.slew("Polar Dust", "east").set_filter("L").focus().expose(3)
    if then_west:
        night.until_hour_angle(-43200 + 60).slew("Polar Dust", "west").set_filter("L").focus().expose(1)
    return Night(asked, night.park().steps())


@lru_cache
def dusk() -> Night:
    """From the very second of sunset on; narrow filters may look at a bright sky."""
    asked = request(
        targets=[target(WHEEL, ra_deg=310.0, dec_deg=44.0)],
        mount={"kind": "fork"},
        filters=[{"name": "L", "darkness": "sunset"}, {"name": "R", "darkness": "civil"}],
    )
    night = NightBuilder(asked, first_second(asked, "2026-11-14T16:55:00", lambda sun: sun <= -50 / 60))
    return Night(asked, night.slew("Wheel").set_filter("L").focus().expose(2).park().steps())


@lru_cache
def dawn() -> Night:
    """The shutter closes at the last second of the night."""
    asked = request(
        targets=[target(WHEEL)],
        mount={"kind": "fork"},
        filters=[{"name": "L", "darkness": "sunset"}, {"name": "R"}],
        site={"floor_deg": 15.0},
    )
    sunrise = first_second(asked, "2026-11-15T06:50:00", lambda sun: sun > -50 / 60)
    night = NightBuilder(asked, sunrise - dt.timedelta(minutes=10)).slew("Wheel").set_filter("L").focus()
    night.wait_until(sunrise - dt.timedelta(seconds=1 + 120), tracking=True).expose(1)
    return Night(asked, night.park().steps())


def first_second(asked: Request, start: str, wanted: Callable[[float], bool]) -> dt.datetime:
    """The first second of the hour after `start` at which the Sun's altitude is as wanted."""
    seconds = [at(start) + dt.timedelta(seconds=each) for each in range(3600)]
    altitudes = Almanac(asked).body_altitude_deg("sun", *seconds)
    return next(second for second, altitude in zip(seconds, altitudes, strict=True) if wanted(altitude))


@lru_cache
def by_itself() -> Night:
    """The mount flips by itself: the wait before it tracks, past the end of the first side's exposures."""
    asked = request(mount={"flip_by": "mount"})
    night = NightBuilder(asked, at("2026-11-14T23:40:00")).slew("Cradle", "west")
    night.set_filter("L").focus().expose(4).until_hour_angle(330.0, tracking=True).flip().focus().expose(2)
    return Night(asked, night.park().steps())


@lru_cache
def turned() -> Night:
    """The rotator turns wherever the side changes: at a flip, and at a slew to the other side."""
    asked = request(
        mount={"turn_rotator_after_flip": True, "rotator_deg_s": 6.0, "refocus_after_flip": False},
        targets=[target(CRADLE), target(WHEEL)],
    )
    night = (
        NightBuilder(asked, at("2026-11-14T23:45:00"))
        .slew("Cradle", "west")
        .set_filter("L")
        .focus()
        .expose(2)
    )
    night.until_hour_angle(330.0, tracking=True).flip().expose(2)
    night.slew("Wheel", "west").set_filter("R").focus().expose(3, goal=1)
    return Night(asked, night.park().steps())


@lru_cache
def moonlit() -> Night:
    """Two days before full Moon, behind a skyline, in refracting air; moon rules on both filters."""
    asked = request(
        evening="2026-11-22",
        site={
            "skyline": [(0.0, 12.0), (90.0, 25.0), (100.0, 30.0), (110.0, 20.0), (270.0, 33.0)],
            "pressure_hpa": 940.0,
            "temperature_c": 4.0,
        },
        filters=[
            {"name": "L", "moonlight_mag": 4.0, "moon_gap_deg": 15.0},
            {"name": "R", "change_s": 6.0, "moon_gap_deg": 20.0, "darkness": -15.0},
        ],
        night={
            "clear": [
                ("2026-11-22T18:00:00Z", "2026-11-22T21:00:00Z"),
                ("2026-11-22T21:00:00Z", "2026-11-23T00:30:00Z"),
            ],
            "blocked": [("2026-11-22T19:00:00Z", "2026-11-22T19:30:00Z")],
        },
        focus={"leaves_target": True},
    )
    night = NightBuilder(asked, at("2026-11-22T20:52:00")).slew("Cradle", "west")
    night.set_filter("L").focus().expose(3).wait_until(night.now + dt.timedelta(seconds=90), tracking=True)
    night.set_filter("R").focus().expose(2, goal=1)
    return Night(asked, night.park().steps())


VALID = (flipped, standing, fork, southern, tight, early, under, by_itself, turned, moonlit, dusk, dawn)
