"""By how much the frames of a scarce goal count more, and those of a plentiful one less."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from optimizer.ahead.hours import Hours, hours_ahead
from optimizer.models.request import Request
from optimizer.models.shots import GoalValue
from optimizer.sky.bodies import NightSky

LEAST_H = 1.0  # fewer hours count as so many
LEAST_FACTOR, MOST_FACTOR = (
    0.001,
    1000.0,
)  # with weights of as many digits, sums of profits stay whole numbers
DECIMALS = 3


@dataclass(frozen=True)
class Scarcity:
    """How scarce the goals of a request are: hours ahead by the names of target and filter.

    `median_h` is the median of the goals not complete, `exponent` the request's `aim.scarcity`. With an
    exponent of 0 nothing is counted and `hours` is empty. `carried` tells that the hours are those of another
    night, of which this one was asked. `told` has factors that a list says of itself: they hold as they are.
    """

    exponent: float = 0.0
    hours: Hours = field(default_factory=dict)
    median_h: float = LEAST_H
    carried: bool = False
    told: Mapping[tuple[str, str], float] = field(default_factory=dict)

    def factor(self, target: str, filter_name: str) -> float:
        """By how much more a frame of the target through this filter counts, to three decimals.

        Where no hours were counted at all it is 1. None of such a goal can be planned, but its wanted frames
        are part of its filter set: counted as one hour it would outweigh all others there, and no plan would
        make progress in the set.
        """
        if (target, filter_name) in self.told:
            return self.told[target, filter_name]
        hours = self.hours.get((target, filter_name), 0.0)
        if hours == 0.0:
            return 1.0
        exact: float = (self.median_h / max(LEAST_H, hours)) ** self.exponent
        return round(min(MOST_FACTOR, max(LEAST_FACTOR, exact)), DECIMALS)

    def values(self, request: Request) -> tuple[GoalValue, ...]:
        """One row for each goal of the request, in its order; none where all goals count alike."""
        if not self.exponent:
            return ()
        return tuple(
            GoalValue(
                target=target.name,
                filter=goal.filter,
                exposure_s=goal.exposure_s,
                gain=goal.gain,
                offset=goal.offset,
                binning=goal.binning,
                hours_ahead=self.hours[target.name, goal.filter],
                factor=self.factor(target.name, goal.filter),
            )
            for target, goal in request.goals()
        )

    def factors(self, request: Request) -> Mapping[tuple[str, int], Fraction]:
        """The factors by the target's name and the goal's place in it; none where all goals count alike."""
        if not self.exponent:
            return {}
        return {
            (target.name, place): Fraction(repr(self.factor(target.name, goal.filter)))
            for target in request.targets
            for place, goal in enumerate(target.goals)
        }


def scarcity_of(request: Request, sky: NightSky) -> Scarcity:
    """Count the hours ahead of all goals of a request; `sky` is that of its night."""
    if not request.aim.scarcity:
        return Scarcity()
    hours = hours_ahead(request, sky)
    wanted = [hours[target.name, goal.filter] for target, goal in request.goals() if goal.frames_left > 0]
    return Scarcity(request.aim.scarcity, hours, _median_h(wanted))


def scarcity_carried(first: Scarcity, request: Request, sky: NightSky) -> Scarcity:
    """The scarcity of a night that was asked of another one, which keeps the other's hours and median.

    Were they counted anew, a floor put lower would make a target less scarce, and worth less for it. What
    the other night does not have is counted, and weighed against the same median.
    """
    if not request.aim.scarcity:
        return Scarcity()
    new = [
        target
        for target in request.targets
        if any((target.name, goal.filter) not in first.hours for goal in target.goals)
    ]
    hours = {**hours_ahead(request, sky, new), **first.hours} if new else first.hours
    return replace(first, hours=hours, carried=True)


def scarcity_told(values: Sequence[GoalValue], request: Request, sky: NightSky) -> Scarcity:
    """The scarcity that a list says of itself in its `values`, for a request that goes on with it.

    Its hours and factors hold as they are. Where it says nothing of a goal, all are counted anew.
    """
    hours = {(each.target, each.filter): each.hours_ahead for each in values}
    if not request.aim.scarcity:
        return Scarcity()
    if any((target.name, goal.filter) not in hours for target, goal in request.goals()):
        return scarcity_of(request, sky)
    told = {(each.target, each.filter): each.factor for each in values}
    return Scarcity(request.aim.scarcity, hours, carried=True, told=told)


def _median_h(hours: Iterable[float]) -> float:
    """The median of the goals that may be shot at all: others would only make the rest look plentiful."""
    return statistics.median([max(LEAST_H, each) for each in hours if each > 0.0] or [LEAST_H])
