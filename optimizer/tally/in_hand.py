"""Rows of a tally -> subs in hand of each goal of a request."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from optimizer.models.request import Request
from optimizer.models.targets import Goal
from optimizer.tally.matching import Asked, Matched, Matcher
from optimizer.tally.tally_file import Counts, Row

MOST_DONE = 100_000  # as the request has it

_USED = {"exposure_s": "exposure_s", "gain": "gain", "offset": "offset", "binning": "binning"}


@dataclass
class GoalCount:
    """What a tally holds for one goal: exact seconds of open shutter, and the counts of each evening.

    Both are without what was rejected in `seconds`, with it in `nights`; an evening that no person wrote down
    is empty text.
    """

    seconds: Fraction = Fraction(0)
    frames: int = 0
    nights: dict[str, Counts] = field(default_factory=dict)

    def add(self, row: Row) -> None:
        """Add a row that counts for this goal."""
        good = row.counts.frames - row.counts.rejected
        self.frames += good
        self.seconds += good * Fraction(repr(row.key.exposure_s))
        before = self.nights.get(row.key.evening, Counts(0))
        self.nights[row.key.evening] = Counts(
            before.frames + row.counts.frames, before.rejected + row.counts.rejected
        )

    def subs(self, goal: Goal) -> int:
        """How many subs of the goal are in hand; of one in hours as many whole ones as the seconds make.

        The number is negative where a person took off more than there is.
        """
        return self.frames if goal.hours is None else self.seconds // Fraction(repr(goal.exposure_s))


GoalAt = tuple[int, int]  # the places of a target in the request, and of a goal in the target


@dataclass
class InHand:
    """The counts of all goals that have rows, and the rows that count for no goal, each with the reason."""

    goals: dict[GoalAt, GoalCount] = field(default_factory=dict)
    ignored: list[tuple[Row, str]] = field(default_factory=list)


def in_hand(request: Request, rows: Iterable[Row]) -> InHand:
    """Count the rows of a tally for the goals of a request."""
    matcher = Matcher(request)
    places = {target.name: index for index, target in enumerate(request.targets)}
    result = InHand()
    for row in rows:
        found = goal_of(matcher, row)
        if isinstance(found, str):
            result.ignored.append((row, found))
        else:
            result.goals.setdefault((places[found.target.name], found.index), GoalCount()).add(row)
    return result


def goal_of(matcher: Matcher, row: Row) -> Matched | str:
    """The goal that a row of a tally counts for, or a sentence that says why there is none."""
    key = row.key
    return matcher.match(
        Asked(
            key.target,
            key.filter,
            key.exposure_s,
            None if key.gain < 0 else key.gain,
            None if key.offset < 0 else key.offset,
            key.binning,
            used=_USED,
            exact=True,
        )
    )


def with_counts(request: Request, counted: InHand) -> Request:
    """The same request with what a tally counts added to `done` of its goals; never below 0."""
    targets = []
    for t, target in enumerate(request.targets):
        goals = []
        for g, goal in enumerate(target.goals):
            more = counted.goals.get((t, g))
            done = goal.done if more is None else goal.done + more.subs(goal)
            goals.append(goal.model_copy(update={"done": min(MOST_DONE, max(0, done))}))
        targets.append(target.model_copy(update={"goals": tuple(goals)}))
    return request.model_copy(update={"targets": tuple(targets)})
