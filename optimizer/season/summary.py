"""What is told of a night's sky, so that no process needs all nights at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from optimizer.models.season import TargetOnNight
from optimizer.models.shots import NightFacts
from optimizer.season.desk import Desk, NightRef
from optimizer.season.reach import most_frames, open_s


@dataclass(frozen=True)
class NightSummary:
    """A night of a rig in short.

    `unit_s` are the weighted seconds in one unit of its profit, `most` [tasks] how many frames of each goal
    it could hold at most, `open_s` by target in how many seconds some goal that lacks frames may be shot,
    `shutter_s` [tasks] whole seconds of an exposure. `targets` are those that lack frames.
    """

    evening: dt.date
    facts: NightFacts
    dark_s: float
    moonless_dark_s: float
    unit_s: Fraction
    most: tuple[int, ...]
    shutter_s: tuple[int, ...]
    open_s: Mapping[str, int]
    targets: tuple[TargetOnNight, ...]

    @property
    def is_moonlit(self) -> bool:
        """Whether the Moon is up for more than half of the dark."""
        return self.moonless_dark_s < self.dark_s / 2


def summarised(desk: Desk, refs: Sequence[NightRef]) -> list[NightSummary]:
    """Have some nights prepared, as they are needed for prices, and tell them in short. A job."""
    return [_summary(desk, ref) for ref in refs]


def _summary(desk: Desk, ref: NightRef) -> NightSummary:
    night, projects = desk.priced(ref), desk.group((ref,)).projects
    problem, seconds = night.problem, night.openings.open_s.sum(axis=1)
    lacking: dict[str, list[int]] = {}
    for task, goal in enumerate(desk.numbers(ref).tolist()):
        if projects.goals[goal].left:
            lacking.setdefault(projects.goals[goal].target, []).append(task)
    return NightSummary(
        evening=night.evening,
        facts=night.facts,
        dark_s=night.dark_s,
        moonless_dark_s=night.moonless_dark_s,
        unit_s=problem.profit_unit,
        most=tuple(most_frames(problem, task.index) for task in problem.tasks),
        shutter_s=tuple(task.shutter_s for task in problem.tasks),
        open_s={target: open_s(problem, own) for target, own in lacking.items()},
        targets=tuple(
            TargetOnNight(
                target=target,
                open_s=float(seconds[own].max()),
                moonless_s=float(night.openings.moonless_s[own].max()),
            )
            for target, own in lacking.items()
        ),
    )
