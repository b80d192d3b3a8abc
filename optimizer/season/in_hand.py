"""What several rigs have in hand of the goals that they share: each tally's file counts once.

`done` as it is written is what all rigs together have in hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from optimizer.models.request import Request
from optimizer.models.targets import Goal
from optimizer.reading.tally import TallyRead, ignored_alike, ignored_line
from optimizer.season.shared import SharedKey
from optimizer.tally.in_hand import MOST_DONE, GoalCount, goal_of, in_hand
from optimizer.tally.matching import Matched, Matcher
from optimizer.tally.tally_file import Row


@dataclass(frozen=True)
class Counting:
    """A rig whose subs are counted: its request with `done` as it is written, its goals' keys, its tally."""

    written: Request
    keys: Sequence[SharedKey]  # in the order of the request's goals
    tally: TallyRead | None


@dataclass
class InAll:
    """What is in hand of each goal, whichever rig took it, and which lines on rows that do not count to drop.

    These rows do not count for the goals of one rig, but for those of another that names the same tally.
    """

    done: dict[SharedKey, int] = field(default_factory=dict)
    hushed: set[str] = field(default_factory=set)


def in_all(rigs: Sequence[Counting]) -> InAll:
    """Count the rows of all tallies, those of one file once, for the goals of the rigs that name it."""
    goals: dict[SharedKey, Goal] = {}
    for rig in rigs:
        for key, (_, goal) in zip(rig.keys, rig.written.goals(), strict=True):
            goals.setdefault(key, goal)
    of_file: dict[Path, list[Counting]] = {}
    for rig in rigs:
        if rig.tally is not None:
            of_file.setdefault(rig.tally.real, []).append(rig)
    counts: dict[SharedKey, GoalCount] = {}
    found = InAll()
    for own in of_file.values():
        counted = _count(own, counts)
        found.hushed |= _hushed(own, counted)
    for key, goal in goals.items():
        more = counts[key].subs(goal) if key in counts else 0
        found.done[key] = min(MOST_DONE, max(0, goal.done + more))
    return found


def _count(rigs: Sequence[Counting], counts: dict[SharedKey, GoalCount]) -> set[Row]:
    """Count the rows of a tally that some rigs name; a row counts once for a goal. Gives those that count."""
    assert rigs[0].tally is not None
    matchers = [(rig, Matcher(rig.written), _keys(rig)) for rig in rigs]
    counted: set[Row] = set()
    for row in rigs[0].tally.rows:
        own = [(goal_of(matcher, row), keys) for _, matcher, keys in matchers]
        for key in {keys[each.target.name, each.index] for each, keys in own if isinstance(each, Matched)}:
            counts.setdefault(key, GoalCount()).add(row)
            counted.add(row)
    return counted


def _keys(rig: Counting) -> dict[tuple[str, int], SharedKey]:
    """What the goals are known by, by the target's name and the goal's place in it."""
    places = [(target.name, place) for target in rig.written.targets for place in range(len(target.goals))]
    return dict(zip(places, rig.keys, strict=True))


def _hushed(rigs: Sequence[Counting], counted: set[Row]) -> set[str]:
    return {
        ignored_line(rows, why, rig.tally.file)
        for rig in rigs
        if rig.tally is not None
        for why, rows in ignored_alike(in_hand(rig.written, rig.tally.rows))
        if counted.issuperset(rows)
    }
