"""Which nights a season has, and the request of each."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from optimizer.models.request import Request
from optimizer.models.season import SeasonAsked
from optimizer.models.site import Night
from optimizer.tally.in_hand import MOST_DONE


@dataclass(frozen=True)
class RigAsked:
    """One rig of a season as it is asked for: its name and its request.

    `elsewhere` has for each goal of the request, in its order, the subs in hand that other rigs took, which
    `done` leaves out; empty: none.
    """

    name: str
    request: Request
    elsewhere: tuple[int, ...] = ()

    @cached_property
    def in_all(self) -> Request:
        """The request with all that is in hand of its goals, whichever rig took it."""
        return with_more_done(self.request, self.elsewhere)


def with_more_done(request: Request, more: Sequence[int]) -> Request:
    """The request with so many more subs in hand of each goal, in its order; an empty sequence: no more.

    A negative number takes subs off, where a person's row in another rig's tally does; none is below 0 then.
    """
    if not any(more):
        return request
    rest = iter(more)
    targets = tuple(
        target.model_copy(
            update={
                "goals": tuple(
                    goal.model_copy(update={"done": min(MOST_DONE, max(0, goal.done + next(rest)))})
                    for goal in target.goals
                )
            }
        )
        for target in request.targets
    )
    return request.model_copy(update={"targets": targets})


def evenings_of(asked: SeasonAsked, request: Request) -> tuple[dt.date, ...]:
    """The evenings of a season in their order, from `first` on, or from the request's own evening."""
    return asked.evenings(request.night.evening)


def odds_of(asked: SeasonAsked, evenings: Sequence[dt.date]) -> tuple[Fraction, ...]:
    """The odds of clear sky of each evening, as exact shares from 0 to 1."""
    return tuple(Fraction(repr(each)) for each in asked.odds(tuple(evenings)))


def request_on(request: Request, evening: dt.date) -> Request:
    """The request of one night of the season: another evening, no odds within the night, no scarcity.

    What `clear`, `blocked` and `ut1_utc_s` say holds for the request's own evening alone.
    """
    night = Night(evening=evening)
    if evening == request.night.evening:
        night = request.night.model_copy(update={"clear_odds": ()})
    aim = request.aim.model_copy(update={"scarcity": 0.0})
    return request.model_copy(update={"night": night, "aim": aim, "season": None})


def without_counts(request: Request) -> Request:
    """The request as if nothing were in hand: what is prepared of a night serves it with any counts."""
    if not any(goal.done for _, goal in request.goals()):
        return request
    targets = tuple(
        target.model_copy(
            update={"goals": tuple(goal.model_copy(update={"done": 0}) for goal in target.goals)}
        )
        for target in request.targets
    )
    return request.model_copy(update={"targets": targets})
