"""Whole shot lists around nights laid by hand: totals, night facts and a proof, counted here anew."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Mapping
from typing import Any

import numpy as np

from optimizer.models.shots import (
    AuditReport,
    GoalTotal,
    NightFacts,
    Proof,
    ShotList,
    TargetTotal,
    Tool,
    Totals,
)
from optimizer.models.targets import Target
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


Taken = Mapping[tuple[str | None, str | None, float | None], int]  # frames by target, filter and exposure


def set_share(target: Target, taken: Taken) -> float | None:
    """Mean share of the slowest half of a set: the goals' half seconds, each with its share, slowest first."""
    shares: list[float] = []
    for goal in (goal for goal in target.goals if goal.in_set):
        frames = goal.done + taken.get((target.name, goal.filter, goal.exposure_s), 0)
        shares += [min(1.0, frames / goal.frames)] * round(2 * goal.frames * goal.exposure_s)
    slowest = sorted(shares)[: len(shares) // 2]
    return sum(slowest) / len(slowest) if slowest else None


def value_and_set_s(night: Night) -> tuple[float, float]:
    """Value of a night by hours, and the progress of its filter sets, in weighted seconds."""
    taken = Counter(
        (step.target, step.filter, step.exposure_s) for step in night.steps if step.kind == "expose"
    )
    balance, value, progress = night.request.aim.balance, 0.0, 0.0
    for target in night.request.targets:
        own = [goal for goal in target.goals if goal.in_set]
        before, after = set_share(target, {}), set_share(target, taken)
        for goal in target.goals:
            seconds = goal.exposure_s * taken[target.name, goal.filter, goal.exposure_s]
            part = 1 - balance if goal in own and len(own) > 1 else 1
            value += target.weight * part * seconds
        if len(own) > 1:
            assert before is not None
            assert after is not None
            whole = sum(goal.frames * goal.exposure_s for goal in own)
            progress += target.weight * whole * (after - before)
    return value + balance * progress, progress


def rounded_down(number: float, decimals: int) -> float:
    scale = 10.0**decimals
    return math.floor(number * scale + 1e-6) / scale


def share_rounded_down(share: float | None) -> float | None:
    return None if share is None else rounded_down(share, 6)


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
    value_s, set_s = value_and_set_s(night)
    spare = [
        (round((step.latest_start_utc - step.start_utc).total_seconds()), step.step)
        for step in night.steps
        if step.latest_start_utc
        and step.kind not in ("wait", "park", "flip" if night.request.mount.flip_by == "mount" else "")
    ]
    return Totals(
        goals=tuple(goals),
        targets=tuple(
            TargetTotal(
                target=target.name,
                set_share_before=share_rounded_down(set_share(target, {})),
                set_share_after=share_rounded_down(set_share(target, exposures)),
            )
            for target in night.request.targets
        ),
        open_shutter_s=opened,
        value_s=rounded_down(value_s, 3),
        set_s=rounded_down(set_s, 3),
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
    profit = rounded_down(value_and_set_s(night)[0], 3)
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
