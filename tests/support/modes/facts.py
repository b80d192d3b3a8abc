"""What a list does around the meridian, by the outside almanac; times in seconds after its first step."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from optimizer.models.request import Request
from optimizer.models.shots import ShotList, Step
from tests.support.hand_laid.night_builder import Almanac, R
from tests.support.modes.nights import Edges, edges_of


@dataclass(frozen=True)
class Stay:
    """A contiguous stay of the mount on one target: rows from the arrival to the last one that tracks."""

    target: str
    side: str | None
    rows: tuple[Step, ...]

    @property
    def arrival(self) -> Step:
        return self.rows[0]

    @property
    def exposures(self) -> tuple[Step, ...]:
        return tuple(row for row in self.rows if row.kind == "expose")


class Facts:
    """A list with the sky beside it."""

    def __init__(self, shots: ShotList, name: str = "Main") -> None:
        self.shots, self.name = shots, name
        self.request: Request = shots.request
        self.steps = shots.steps
        self.edges: Edges = edges_of(self.request)
        self.almanac = Almanac(self.request)
        self.zero = self.steps[0].start_utc
        # a fixed star's hour angle runs evenly; over a day nutation and aberration bend it by 0.02 s
        times = [self.zero + dt.timedelta(hours=hours) for hours in range(-25, 26)]
        self._known_s = np.array([self.after(each) for each in times])
        turned = self.almanac.hour_angle_s(name, *times)
        self._turned = np.unwrap(turned, period=86400.0)

    def after(self, instant: dt.datetime) -> float:
        return (instant - self.zero).total_seconds()

    def shut(self, step: Step) -> float:
        """When a step needs the sky no more: an exposure's shutter closes, any other ends."""
        if step.kind == "expose":
            return self.after(step.start_utc) + math.ceil(step.exposure_s or 0)
        return self.after(step.end_utc)

    def turned_s(self, after_s: float) -> float:
        """Hour angle, carried on through whole turns."""
        return float(np.interp(after_s, self._known_s, self._turned))

    def hour_angle_s(self, after_s: float) -> float:
        return (self.turned_s(after_s) + 43200) % 86400 - 43200

    def when_s(self, hour_angle_s: float, near_s: float) -> float:
        """The time nearest to `near_s` at which the target has this hour angle."""
        ahead_s = (hour_angle_s - self.turned_s(near_s) + 43200) % 86400 - 43200
        found = near_s + ahead_s / R
        return found + (hour_angle_s - self.turned_s(found) + 43200) % 86400 / R - 43200 / R

    @property
    def stays(self) -> list[Stay]:
        found: list[list[Step]] = []
        tracks = False
        for step in self.steps:
            if step.kind in ("slew", "flip"):
                found.append([step])
                tracks = True
            elif step.kind == "park" or (step.kind == "wait" and not step.tracking):
                tracks = False
            elif tracks:
                found[-1].append(step)
        return [Stay(rows[0].target or "", rows[0].pier_side, tuple(rows)) for rows in found]

    @property
    def mine(self) -> list[Stay]:
        return [stay for stay in self.stays if stay.target == self.name]

    @property
    def flips(self) -> list[Step]:
        return [step for step in self.steps if step.kind == "flip"]

    def before(self, step: Step) -> Step:
        return self.steps[step.step - 2]

    def shapes(self) -> str:
        """W, E: exposures of the target on the first and the flipped side; F: a flip; T: tracked through."""
        found = {
            "W": any(stay.side == "west" and stay.exposures for stay in self.mine),
            "E": any(stay.side == "east" and stay.exposures for stay in self.mine),
            "F": bool(self.flips),
            "T": any(self._through(stay) for stay in self.mine),
        }
        return " ".join(letter for letter, there in found.items() if there)

    def _through(self, stay: Stay) -> bool:
        """Whether the sign of the hour angle changes in a stay: at the transit or opposite to it."""
        if stay.side is not None or not stay.exposures:
            return False
        first = self.hour_angle_s(self.after(stay.exposures[0].start_utc))
        last = self.hour_angle_s(self.shut(stay.exposures[-1]))
        return first * last < 0

    def open_shutters(self) -> list[tuple[float, float]]:
        return [(self.after(step.start_utc), self.shut(step)) for step in self.steps if step.kind == "expose"]

    def sun_deg(self, after_s: float) -> float:
        instant = self.zero + dt.timedelta(seconds=after_s)
        return float(self.almanac.body_altitude_deg("sun", instant)[0])


def successive(facts: Facts) -> list[tuple[Stay, Stay]]:
    return list(pairwise(facts.stays))
