"""Which easier settings deserve a search: a short list, each once, for all goals that it may help."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from optimizer.models.request import Request
from optimizer.models.shots import Unplanned
from optimizer.models.targets import Aim, Goal, Target
from optimizer.night import Night
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
from optimizer.sky.spans import NIGHT_BEGINS, NIGHT_ENDS, complement, intersect, total_s, windows_of
from optimizer.sky.windows import SkyWindows, sky_windows

STEP_S = 60.0  # for the Sun's lowest point, as the windows are sampled
LIKELY, ANOTHER, HARDLY = range(3)  # ranks
# What was closed by hand stays closed; what the mount forbids gives way to shorter exposures alone; what adds
# nothing to its filter set would add nothing under any sky.
NOT_THE_SKY = ("blocked", "least_visit", "wrong_side", "forbidden_zone", "set_held_back")


@dataclass(frozen=True)
class Question:
    """A change, and the entries of the list of what is short (by number) that it may help."""

    change: Change
    entries: tuple[int, ...]


def questions_of(night: Night, unplanned: Sequence[Unplanned]) -> tuple[Question, ...]:
    """All settings that may help: the likeliest for each goal first, and among those the most wanted time."""
    steps = _EasierSettings(night)
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


class _Opened(NamedTuple):
    """Seconds in which the shutter may be open: while the plan leaves the mount idle, and in all."""

    idle_s: float
    all_s: float


class _EasierSettings:
    """The easier settings for one goal after the other; windows under a change are computed once."""

    def __init__(self, night: Night) -> None:
        self._night, self._request = night, night.request
        times_s = np.append(np.arange(0.0, SPAN_S, STEP_S), SPAN_S)
        self._lowest_sun_deg = float(np.min(night.sky.sun.geometric_altitude_deg(times_s)))
        busy = [(visit.depart, visit.free) for visit in night.solution.schedule]
        self._idle = complement(windows_of(busy, NIGHT_BEGINS, NIGHT_ENDS), NIGHT_BEGINS, NIGHT_ENDS)
        self._open: dict[tuple[Change, str, str], _Opened] = {}

    def of(self, entry: Unplanned) -> Iterator[tuple[int, Change]]:
        """Settings with their rank for this goal: 0 likely, 1 another, 2 one that hardly helps."""
        request = self._request
        target = request.target_named(entry.target)
        yield from self._by_sky(entry, target)
        others = {
            "night_full": more_weight(target) if len(request.targets) > 1 else None,
            "least_visit": shorter_visits(target),
            "wrong_side": either_side(target),
            "window_too_short": either_side(target),
        }
        shorter = None
        if entry.reason == "forbidden_zone" or self._no_frame_fits(entry):
            shorter = halved_exposures(target, entry.filter, entry.exposure_s)
        yield from ((LIKELY, change) for change in (others.get(entry.reason), shorter) if change is not None)

    def _by_sky(self, entry: Unplanned, target: Target) -> Iterator[tuple[int, Change]]:
        """Settings that open the goal's windows further; in a full night what the plan leaves idle counts."""
        if entry.reason in NOT_THE_SKY:
            return
        chosen = self._request.filter_named(entry.filter)
        steps = (
            lower_floor(self._request, target),
            easier_darkness(chosen, self._lowest_sun_deg),
            nearer_moon(chosen),
            more_moonlight(chosen),
        )
        now = self._opened(self._night.windows, entry.target, entry.filter)
        more: dict[Change, _Opened] = {}
        for step in steps:
            if step is not None:
                then = self._opened_by(step, target, entry.filter)
                more[step] = _Opened(then.idle_s - now.idle_s, then.all_s - now.all_s)
        opening = [step for step in more if more[step].all_s >= 1]
        for number, step in enumerate(sorted(opening, key=lambda step: more[step], reverse=True)):
            taken = entry.reason == "night_full" and more[step].idle_s < 1
            yield HARDLY if taken else LIKELY if number == 0 else ANOTHER, step

    def _opened_by(self, change: Change, target: Target, filter_name: str) -> _Opened:
        key = change, target.name, filter_name
        if key not in self._open:
            changed = change.made_in(_only(self._request, target, filter_name))
            windows = sky_windows(changed, self._night.sky)
            self._open[key] = self._opened(windows, target.name, filter_name)
        return self._open[key]

    def _opened(self, windows: SkyWindows, target: str, filter_name: str) -> _Opened:
        shutter = intersect(windows[target].shutter[filter_name], windows[target].acquisition)
        return _Opened(total_s(intersect(shutter, self._idle)), total_s(shutter))

    def _no_frame_fits(self, entry: Unplanned) -> bool:
        if entry.reason != "window_too_short":
            return False
        windows = self._night.windows[entry.target].shutter[entry.filter]
        longest_s = max(math.floor(window.end_s) - math.ceil(window.start_s) for window in windows)
        return longest_s < math.ceil(entry.exposure_s)


def _only(request: Request, target: Target, filter_name: str) -> Request:
    """The request with one target and one filter's goals alone, and hours as its aim."""
    goals: tuple[Goal, ...] = tuple(goal for goal in target.goals if goal.filter == filter_name)
    alone = target.model_copy(update={"goals": goals})
    return request.model_copy(update={"targets": (alone,), "aim": Aim(value="hours")})
