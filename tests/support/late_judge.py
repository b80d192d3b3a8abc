"""What a simulated night did, judged by the almanac and by the list; knows nothing of the executor's rules."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from functools import cache

import numpy as np

from benchmarks.executor import Night, Span
from optimizer.models.shots import Step
from tests.support.modes.facts import Facts
from tests.support.modes.nights import ERROR_S, plan_of

PLANS = (
    ("plan", "through the zenith"),
    ("plan", "standstill"),
    ("mount", "through the zenith"),
    ("early", "standstill"),
    ("late", "past the meridian at dusk"),
    ("never", "north of the zenith"),
    ("quiet", "two hours"),
    ("turned", "lower culmination"),
    ("plan", "two transits"),
)


@cache
def facts(mode: str, place: str, target: str = "Main") -> Facts:
    return Facts(plan_of(mode, place), target)


def deeds(night: Night, mode: str, place: str) -> list[str]:
    """Everything that went wrong at the mount, in words; empty on a good night."""
    return [
        *_tracked_too_far(night, mode, place),
        *_shutters(night, mode, place),
        *_by_day(night, mode, place),
    ]


def _tracked_too_far(night: Night, mode: str, place: str) -> Iterator[str]:
    """Beyond the clearance, before the flipped side may be, or through the lower culmination."""
    for span in night.tracked:
        if span.end <= span.start:
            continue
        known = facts(mode, place, span.target or "")
        first, last = _zone(known, span)
        if span.start < first - 0.1:
            yield f"tracks {span.target} on the {span.side} side {first - span.start:.1f} s before its zone"
        if span.end > last + 0.1:
            yield f"tracks {span.target} on the {span.side} side {span.end - last:.1f} s beyond its zone"


def _zone(known: Facts, span: Span) -> tuple[float, float]:
    """The turn of the side's zone that holds the beginning of the span."""
    if span.side == "west":
        opens, closes = -43200 + ERROR_S, known.edges.reach_until
    else:
        opens, closes = known.edges.flipped_from, 43200 - ERROR_S
    turned = (known.turned_s(span.start) - opens + 0.5) % 86400 - 0.5
    opened_s = known.when_s(opens, span.start - turned)
    return opened_s, known.when_s(closes, opened_s + closes - opens)


def _by_day(night: Night, mode: str, place: str) -> Iterator[str]:
    """No slew and no flip begins between sunrise and sunset."""
    for motion in night.moved:
        if motion.kind != "park" and sun_deg(mode, place, motion.start) > -50 / 60 + 0.02:
            yield f"{motion.kind} to {motion.target} by day"


def sun_deg(mode: str, place: str, after_s: float) -> float:
    """The Sun's altitude, straight between looks ten minutes apart (0.02 degrees off at most)."""
    times, altitudes = _sun(mode, place)
    return float(np.interp(after_s, times, altitudes))


@cache
def _sun(mode: str, place: str) -> tuple[np.ndarray, np.ndarray]:
    known = facts(mode, place)
    after = np.arange(-3600, 48 * 3600, 600)
    instants = [known.zero + dt.timedelta(seconds=int(second)) for second in after]
    return after, known.almanac.body_altitude_deg("sun", *instants)


def _shutters(night: Night, mode: str, place: str) -> Iterator[str]:
    known = facts(mode, place)
    for shot in night.opened:
        held = [
            span
            for span in night.tracked
            if (span.target, span.side) == (shot.target, shot.side)
            and span.start <= shot.start
            and shot.end <= span.end + 1e-6
        ]
        if not held:
            yield f"a shutter opens on {shot.target} at {shot.start:.0f} s, which nothing tracks throughout"
        for motion in night.moved:
            if shot.start < motion.end and motion.start < shot.end:
                yield f"a shutter is open during a {motion.kind}"
        if mode == "mount" and shot.side == "west":
            due = min(known.request.mount.flip_from_min * 60 - ERROR_S, known.edges.reach_until)
            if known.hour_angle_s(shot.end) > due + 0.1:
                yield "a shutter is open as the mount flips by itself"


def rows_of(span: Span, known: Facts) -> list[Step]:
    """Rows that an executed exposure or motion may have been."""
    return [
        row
        for row in known.steps
        if (row.kind, row.target, row.pier_side) == (span.kind, span.target, span.side)
    ]


def late_exposures(night: Night, mode: str, place: str) -> list[Span]:
    """Shutters that opened after the latest start of every row that they can be."""
    known, found = facts(mode, place), []
    for shot in night.opened:
        rows = rows_of(shot, known)
        latest = max(
            (known.after(row.latest_start_utc) for row in rows if row.latest_start_utc), default=-math.inf
        )
        if shot.start > latest:
            found.append(shot)
    return found
