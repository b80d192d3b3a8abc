"""Whole shot lists around nights laid by hand: totals, night facts and a proof, counted here anew."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from typing import Any

import numpy as np

from optimizer.models.shots import AuditReport, GoalTotal, NightFacts, Proof, ShotList, Tool, Totals
from optimizer.sky.orientation import earth_orientation
from tests.support.hand_laid.night_builder import Almanac
from tests.support.hand_laid.night_cases import Night

DUSKS = {"sunset": -50 / 60, "civil_dusk": -6.0, "nautical_dusk": -12.0, "astronomical_dusk": -18.0}
DAWNS = {"sunrise": -50 / 60, "civil_dawn": -6.0, "nautical_dawn": -12.0, "astronomical_dawn": -18.0}


def origin(night: Night) -> dt.datetime:
    """Mean solar noon of the sites used here, whose zones keep near their longitude."""
    request = night.request
    noon = dt.datetime.combine(request.night.evening, dt.time(12), tzinfo=dt.UTC)
    return noon - dt.timedelta(seconds=round(240 * request.site.longitude_deg))


def limb_deg(almanac: Almanac, *instants: dt.datetime) -> np.ndarray:
    """Altitude of the Moon's upper limb."""
    moon = almanac._look("moon", list(instants), almanac_altaz())
    return np.asarray(moon.alt.deg + np.degrees(np.arcsin(1737.4 / moon.distance.to_value("km"))))


def almanac_altaz() -> Any:
    from astropy.coordinates import AltAz

    return AltAz


def facts(night: Night) -> NightFacts:
    """Edges to the second, by a look at every minute and then at every second of the one that matters."""
    almanac, start = Almanac(night.request), origin(night)
    minutes = [start + dt.timedelta(minutes=minute) for minute in range(24 * 60 + 1)]

    def sun(*instants: dt.datetime) -> np.ndarray:
        return almanac.body_altitude_deg("sun", *instants)

    def moon(*instants: dt.datetime) -> np.ndarray:
        return limb_deg(almanac, *instants)

    def edge(look: Any, coarse: np.ndarray, limit: float, rising: bool) -> dt.datetime | None:
        sign = 1 if rising else -1
        above = sign * (coarse - limit) > 0
        found = np.flatnonzero(~above[:-1] & above[1:])
        if not found.size:
            return None
        seconds = [minutes[int(found[0])] + dt.timedelta(seconds=second) for second in range(61)]
        return seconds[int(np.argmin(np.abs(look(*seconds) - limit)))]

    suns, moons = sun(*minutes), moon(*minutes)
    edges = {name: edge(sun, suns, limit, False) for name, limit in DUSKS.items()}
    edges |= {name: edge(sun, suns, limit, True) for name, limit in DAWNS.items()}
    edges |= {"moonrise": edge(moon, moons, -34 / 60, True), "moonset": edge(moon, moons, -34 / 60, False)}
    middle = minutes[12 * 60]
    one, other = (
        almanac._look(body, [middle], almanac_altaz()).cartesian.xyz.to_value("km").T[0]
        for body in ("moon", "sun")
    )
    phase = np.arccos(np.dot(-one, other - one) / np.linalg.norm(one) / np.linalg.norm(other - one))
    return NightFacts(
        evening=night.request.night.evening.isoformat(),
        time_zone=night.request.site.time_zone,
        moon_illuminated=float((1 + np.cos(phase)) / 2),
        ut1_utc_s=earth_orientation(middle, night.request.night.ut1_utc_s)[0],
        **{f"{name}_utc": value for name, value in edges.items()},
    )


def totals(night: Night, dark_s: int) -> Totals:
    """Sums over the steps."""
    exposures = Counter(
        (step.target, step.filter, step.exposure_s) for step in night.steps if step.kind == "expose"
    )
    goals = []
    for target, goal in night.request.goals():
        planned, seconds = exposures[target.name, goal.filter, goal.exposure_s], goal.exposure_s
        left = goal.frames - goal.done - planned
        goals.append(
            GoalTotal(
                target=target.name,
                filter=goal.filter,
                exposure_s=seconds,
                frames_wanted=goal.frames,
                frames_done=goal.done,
                frames_planned=planned,
                frames_left=left,
                seconds_wanted=goal.frames * seconds,
                seconds_planned=planned * seconds,
                seconds_left=left * seconds,
            )
        )
    by_kind: Counter[str] = Counter()
    for step in night.steps:
        by_kind[step.kind] += step.seconds
    opened = sum(goal.seconds_planned for goal in goals)
    spare = [
        (round((step.latest_start_utc - step.start_utc).total_seconds()), step.step)
        for step in night.steps
        if step.latest_start_utc
        and step.kind not in ("wait", "park", "flip" if night.request.mount.flip_by == "mount" else "")
    ]
    return Totals(
        goals=tuple(goals),
        open_shutter_s=opened,
        least_slack_s=min(spare)[0] if spare else None,
        least_slack_step=min(spare)[1] if spare else None,
        dark_s=dark_s,
        share=round(opened / dark_s, 4),
        seconds_by_kind=dict(by_kind),
    )


def shot_list(night: Night) -> ShotList:
    """A list that is true in everything, for filters that want astronomical darkness under a clear sky."""
    told = facts(night)
    assert told.astronomical_dusk_utc is not None
    assert told.astronomical_dawn_utc is not None
    dark_s = round((told.astronomical_dawn_utc - told.astronomical_dusk_utc).total_seconds())
    weights = {target.name: target.weight for target in night.request.targets}
    profit = sum(
        weights[step.target or ""] * (step.exposure_s or 0) for step in night.steps if step.kind == "expose"
    )
    return ShotList(
        schema_="darkfill-shots/1",
        tool=Tool(name="by hand", version="0", ortools="0", astropy="0", numpy="0"),
        created_utc=night.steps[0].start_utc,
        request_sha256="0" * 64,
        request=night.request,
        night=told,
        steps=night.steps,
        totals=totals(night, dark_s),
        proof=Proof(
            status="feasible",
            objective=profit,
            bound=profit * 1.5,
            gap=0.5,
            seconds=1.0,
            seed=1,
            workers=1,
        ),
        unplanned=(),
        audit=AuditReport(rules=(), violations=(), least_margin_min=None),
    )
