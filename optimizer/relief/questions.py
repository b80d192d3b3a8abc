"""Which steps are worth a search: a short list, each step once, for all goals that it may help."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.models.request import Request
from optimizer.models.shots import Unplanned
from optimizer.models.targets import Aim, Goal, Target
from optimizer.relief.changes import (
    Change,
    easier_darkness,
    either_side,
    halved_exposures,
    lower_floor,
    more_moonlight,
    more_weight,
    nearer_moon,
    shorter_visits,
)
from optimizer.sky.clock import SPAN_S
from optimizer.sky.spans import intersect, total_s
from optimizer.sky.windows import SkyWindows, sky_windows
from optimizer.whatif import WhatIf

STEP_S = 60.0  # for the Sun's lowest point, as the windows are sampled
# What was closed by hand stays closed; what the mount forbids gives way to shorter exposures alone.
NOT_THE_SKY = ("blocked", "least_visit", "wrong_side", "forbidden_zone")


@dataclass(frozen=True)
class Question:
    """A change, and the entries of the list of what is short (by number) that it may help."""

    change: Change
    entries: tuple[int, ...]


def questions_of(night: WhatIf, unplanned: Sequence[Unplanned]) -> tuple[Question, ...]:
    """All steps that may help: each goal's best one first, and among those the most wanted time first."""
    steps = _Steps(night)
    entries: dict[Change, list[int]] = {}
    ranks: dict[Change, int] = {}
    for number, entry in enumerate(unplanned):
        for rank, change in steps.of(entry):
            entries.setdefault(change, []).append(number)
            ranks[change] = min(rank, ranks.get(change, rank))

    def order(change: Change) -> tuple[int, float]:
        short = (unplanned[number] for number in entries[change])
        return ranks[change], -sum(entry.frames * entry.exposure_s for entry in short)

    return tuple(Question(change, tuple(entries[change])) for change in sorted(entries, key=order))


class _Steps:
    """The steps for one goal after the other; windows under a change are computed once."""

    def __init__(self, night: WhatIf) -> None:
        self._night, self._request = night, night.first.request
        times_s = np.append(np.arange(0.0, SPAN_S, STEP_S), SPAN_S)
        self._lowest_sun_deg = float(np.min(night.sky.sun.geometric_altitude_deg(times_s)))
        self._open_s: dict[tuple[Change, str, str], float] = {}

    def of(self, entry: Unplanned) -> Iterator[tuple[int, Change]]:
        """Steps with their rank for this goal, 0 the best."""
        request = self._request
        target = request.target_named(entry.target)
        yield from enumerate(self._by_sky(entry, target))
        others = {
            "night_full": more_weight(target) if len(request.targets) > 1 else None,
            "least_visit": shorter_visits(target),
            "wrong_side": either_side(target),
            "window_too_short": either_side(target),
        }
        shorter = None
        if entry.reason == "forbidden_zone" or self._no_frame_fits(entry):
            shorter = halved_exposures(target, entry.filter, entry.exposure_s)
        yield from ((0, change) for change in (others.get(entry.reason), shorter) if change is not None)

    def _by_sky(self, entry: Unplanned, target: Target) -> list[Change]:
        """Steps that open the goal's windows further, the one that opens most first."""
        if entry.reason in NOT_THE_SKY:
            return []
        chosen = self._request.filter_named(entry.filter)
        steps = (
            lower_floor(self._request, target),
            easier_darkness(chosen, self._lowest_sun_deg),
            nearer_moon(chosen),
            more_moonlight(chosen),
        )
        now_s = _open_s(self._night.first.windows, entry.target, entry.filter)
        opened = {step: self._opened_s(step, target, entry.filter) - now_s for step in steps if step}
        return sorted((step for step in opened if opened[step] >= 1), key=lambda step: -opened[step])

    def _opened_s(self, change: Change, target: Target, filter_name: str) -> float:
        """Seconds in which the shutter may be open under a change."""
        key = change, target.name, filter_name
        if key not in self._open_s:
            changed = change.made_in(_only(self._request, target, filter_name))
            windows = sky_windows(changed, self._night.sky)
            self._open_s[key] = _open_s(windows, target.name, filter_name)
        return self._open_s[key]

    def _no_frame_fits(self, entry: Unplanned) -> bool:
        if entry.reason != "window_too_short":
            return False
        windows = self._night.first.windows[entry.target].shutter[entry.filter]
        longest_s = max(math.floor(window.end_s) - math.ceil(window.start_s) for window in windows)
        return longest_s < math.ceil(entry.exposure_s)


def _only(request: Request, target: Target, filter_name: str) -> Request:
    """The request with one target and one filter's goals alone, its light not weighed."""
    goals: tuple[Goal, ...] = tuple(goal for goal in target.goals if goal.filter == filter_name)
    alone = target.model_copy(update={"goals": goals})
    return request.model_copy(update={"targets": (alone,), "aim": Aim()})


def _open_s(windows: SkyWindows, target: str, filter_name: str) -> float:
    own = windows[target]
    return total_s(intersect(own.shutter[filter_name], own.acquisition))
