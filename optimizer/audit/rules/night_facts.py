"""The night's edges in the list: each is where the sky has it, or empty where there is none."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

import numpy as np

from optimizer.audit.clock import NIGHT_S
from optimizer.audit.rules.moon import MOON_UP_DEG
from optimizer.audit.rules.sun import SUNSET_DEG
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import ANGLE_DEG
from optimizer.audit.types import Floats, Ints
from optimizer.models.shots import NightFacts, Violation

NAME = "night_facts"
# A body passes an edge and returns within 300 s only where it grazes it by less than 13 arcsec.
GRID_S = 300
GRAZE_DEG = 13 / 3600
UT1_S = 1e-3  # UT1-UTC drifts by less than this within a night
ILLUMINATED = 0.005  # given to two decimals or better
DUSKS = {"sunset": SUNSET_DEG, "civil_dusk": -6.0, "nautical_dusk": -12.0, "astronomical_dusk": -18.0}
DAWNS = {"sunrise": SUNSET_DEG, "civil_dawn": -6.0, "nautical_dawn": -12.0, "astronomical_dawn": -18.0}


def check_night(scene: Scene, facts: NightFacts) -> Iterator[Violation]:
    """Wrong values of evening, zone, UT1-UTC, day, twilight, and the Moon's rise, set and phase."""
    night, site = scene.request.night, scene.request.site
    if facts.evening != night.evening.isoformat():
        yield scene.violation(
            NAME, None, 1, "dates", f"evening says {facts.evening}; the request, {night.evening}"
        )
    if facts.time_zone != site.time_zone:
        yield scene.violation(
            NAME, None, 1, "zones", f"time_zone says {facts.time_zone}; the request, {site.time_zone}"
        )
    orientation = scene.book.orientation
    off = min(abs(facts.ut1_utc_s - each) for each in (orientation.before_s, orientation.after_s))
    if off > UT1_S:
        yield scene.violation(
            NAME, None, off, "s", f"ut1_utc_s says {facts.ut1_utc_s:g}; it is {orientation.before_s:.4f}"
        )
    grid = np.arange(0, NIGHT_S + 1, GRID_S, dtype=np.int64)
    sun = scene.book.bodies(grid).sun_altitude_deg
    for names, rising in ((DUSKS, False), (DAWNS, True)):
        for name, limit in names.items():
            yield from _edge(scene, name, getattr(facts, f"{name}_utc"), _sun, sun - limit, limit, rising)
    limb = scene.book.bodies(grid).moon_limb_deg - MOON_UP_DEG
    for name, rising in (("moonrise", True), ("moonset", False)):
        yield from _edge(scene, name, getattr(facts, f"{name}_utc"), _moon, limb, MOON_UP_DEG, rising)
    lit = (1 + np.cos(np.radians(scene.book.bodies(grid).phase_angle_deg))) / 2
    beyond = max(float(lit.min()) - facts.moon_illuminated, facts.moon_illuminated - float(lit.max()))
    if beyond > ILLUMINATED:
        yield scene.violation(
            NAME,
            None,
            beyond,
            "fraction",
            f"moon_illuminated says {facts.moon_illuminated:g}; tonight it goes from "
            f"{lit[0]:.4f} to {lit[-1]:.4f}",
        )


def _sun(scene: Scene, seconds: Ints) -> Floats:
    return scene.book.bodies(seconds).sun_altitude_deg


def _moon(scene: Scene, seconds: Ints) -> Floats:
    return scene.book.bodies(seconds).moon_limb_deg


def _edge(
    scene: Scene,
    name: str,
    given: dt.datetime | None,
    look: Callable[[Scene, Ints], Floats],
    above: Floats,
    limit_deg: float,
    rising: bool,
) -> Iterator[Violation]:
    """Check one event; `look` gives the body's altitude, `above` its height over the edge on the grid."""
    crossings = (above[:-1] <= 0) & (above[1:] > 0) if rising else (above[:-1] > 0) & (above[1:] <= 0)
    if given is None:
        depth = float(min(above.max(), -above.min()))
        if crossings.any() and depth > GRAZE_DEG:
            at = int(np.flatnonzero(crossings)[0]) * GRID_S
            yield scene.violation(
                NAME, None, 1, "events", f"{name} is left empty; it happens near {scene.clock.text(at)}"
            )
        return
    second = scene.clock.seconds(given)
    if not 0 <= second <= NIGHT_S:
        yield scene.violation(
            NAME,
            None,
            max(-second, second - NIGHT_S),
            "s",
            f"{name} lies outside the night, at {scene.clock.text(second)}",
        )
        return
    before, after = look(scene, np.array([second - 1, second + 1], dtype=np.int64)) - limit_deg
    low, high = (before, after) if rising else (after, before)
    off = max(low, -high)
    if off > ANGLE_DEG:
        yield scene.violation(
            NAME,
            None,
            off,
            "deg",
            f"{name} says {scene.clock.text(second)}, where the body stands {off:.4f}° from the edge",
        )
