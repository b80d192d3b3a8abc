"""Easier settings: one key of one target, goal or filter, a little easier than the request has it.

None touches what was measured at the mount (`contact_min`, `clearance_min` and their kin): equipment comes
before hours. Nor does one advise a brighter sky than civil twilight, or exposures too short to be of use.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimizer.models.request import Request
from optimizer.models.rig import TWILIGHT_LIMIT_DEG, Filter
from optimizer.models.shots import ReliefKey
from optimizer.models.targets import Goal, Target

FLOOR_STEP_DEG, MOON_GAP_STEP_DEG, MOONLIGHT_STEP_MAG = 2.0, 5.0, 0.5
WEIGHT_FACTOR = 1.5
MOST_WEIGHT, MOST_MOONLIGHT_MAG, MOST_FRAMES = 1000.0, 20.0, 100_000  # as the models have them
LEAST_EXPOSURE_S = 10.0
DARKNESS_STEPS = ("astronomical", "nautical", "civil")


@dataclass(frozen=True)
class Change:
    """A key of a target (and of its goals of one filter and exposure) or, where that is None, of a filter."""

    key: ReliefKey
    old: float | str
    new: float | str
    target: str | None = None
    filter: str | None = None

    @property
    def words(self) -> str:
        """What is changed, in words for people, who read elsewhere which target it is."""
        old, new = (value if isinstance(value, str) else f"{value:g}" for value in (self.old, self.new))
        return {
            "floor_deg": f"floor {new}° instead of {old}°",
            "darkness": f"darkness of {self.filter} {_limit(self.new)} instead of {_limit(self.old)}",
            "moon_gap_deg": f"Moon gap of {self.filter} {new}° instead of {old}°",
            "moonlight_mag": f"moonlight of {self.filter} up to {new} instead of {old} mag",
            "weight": f"weight {new} instead of {old}",
            "least_min": f"least visit {new} instead of {old} min",
            "sides": f"both sides of the transit instead of {old} it only",
            "exposure_s": f"{self.filter} subs of {new} s instead of {old} s, twice as many",
        }[self.key]

    def made_in(self, request: Request) -> Request:
        """The request with this change."""
        if self.target is None:
            filters = (self._filter(each) if each.name == self.filter else each for each in request.filters)
            return request.model_copy(update={"filters": tuple(filters)})
        targets = (self._target(each) if each.name == self.target else each for each in request.targets)
        return request.model_copy(update={"targets": tuple(targets)})

    def _filter(self, chosen: Filter) -> Filter:
        return chosen.model_copy(update={self.key: self.new})

    def _target(self, target: Target) -> Target:
        if self.key != "exposure_s":
            return target.model_copy(update={self.key: self.new})
        goals = (self._halved(goal) if self.concerns(goal) else goal for goal in target.goals)
        return target.model_copy(update={"goals": tuple(goals)})

    def concerns(self, goal: Goal) -> bool:
        """Whether this change of exposures means the goal."""
        return (goal.filter, goal.exposure_s) == (self.filter, self.old)

    def _halved(self, goal: Goal) -> Goal:
        return goal.model_copy(
            update={"exposure_s": self.new, "frames": 2 * goal.frames, "done": 2 * goal.done}
        )


def lower_floor(request: Request, target: Target) -> Change | None:
    """The change that puts the target's floor 2° lower; None where that lies at the horizon already."""
    old = request.floor_deg(target)
    return Change("floor_deg", old, max(0.0, old - FLOOR_STEP_DEG), target=target.name) if old > 0 else None


def nearer_moon(chosen: Filter) -> Change | None:
    """The change that makes the filter's gap to the Moon 5° smaller; None where it asks for none."""
    old = chosen.moon_gap_deg
    return Change("moon_gap_deg", old, max(0.0, old - MOON_GAP_STEP_DEG), filter=chosen.name) if old else None


def more_moonlight(chosen: Filter) -> Change | None:
    """The change that allows the filter half a magnitude more of moonlight; None where it sets no limit."""
    old = chosen.moonlight_mag
    if old is None or old >= MOST_MOONLIGHT_MAG:
        return None
    new = round(min(MOST_MOONLIGHT_MAG, old + MOONLIGHT_STEP_MAG), 6)
    return Change("moonlight_mag", old, new, filter=chosen.name)


def easier_darkness(chosen: Filter, lowest_sun_deg: float) -> Change | None:
    """The change to the next easier twilight, or to the whole degree that the Sun reaches.

    The latter where it is never dark enough for the filter.

    None where only a sky brighter than civil twilight would be left.
    """
    limit = chosen.sun_limit_deg
    if lowest_sun_deg > limit:
        reached = float(math.ceil(lowest_sun_deg))
        easier = reached <= TWILIGHT_LIMIT_DEG["civil"]
        return Change("darkness", chosen.darkness, reached, filter=chosen.name) if easier else None
    word = next((word for word in DARKNESS_STEPS if TWILIGHT_LIMIT_DEG[word] > limit), None)
    return None if word is None else Change("darkness", chosen.darkness, word, filter=chosen.name)


def more_weight(target: Target) -> Change | None:
    """The change that makes the target's weight half as great again; None where that would be too great."""
    new = round(target.weight * WEIGHT_FACTOR, 3)
    fits = target.weight < new <= MOST_WEIGHT
    return Change("weight", target.weight, new, target=target.name) if fits else None


def shorter_visits(target: Target) -> Change | None:
    """The change that halves the target's least visit; None where it asks for none."""
    old = target.least_min
    return Change("least_min", old, old / 2, target=target.name) if old > 0 else None


def either_side(target: Target) -> Change | None:
    """The change that allows both sides of the target's transit; None where they are allowed already."""
    return Change("sides", target.sides, "either", target=target.name) if target.sides != "either" else None


def halved_exposures(target: Target, filter_name: str, exposure_s: float) -> Change | None:
    """The change to half the exposure and twice the frames of those goals; None beyond what is sensible."""
    change = Change("exposure_s", exposure_s, exposure_s / 2, target=target.name, filter=filter_name)
    frames = max((goal.frames for goal in target.goals if change.concerns(goal)), default=0)
    fits = exposure_s / 2 >= LEAST_EXPOSURE_S and 0 < 2 * frames <= MOST_FRAMES
    return change if fits else None


def _limit(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g}°"
