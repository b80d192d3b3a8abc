"""Tonight in view of the season: what each sub counts for, what tonight gives, why what is on or off.

All that is said of later nights is what the season's file says of them. Of several rigs the night is that of
one; the nights of the others, tonight's included, are as good as later ones.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from optimizer.ahead.factors import DECIMALS, LEAST_FACTOR, MOST_FACTOR
from optimizer.models.request import Request
from optimizer.models.season import RigOfSeason, SeasonFile, SeasonNight
from optimizer.models.season_tonight import GoalInSeason, InSeason, TargetInSeason
from optimizer.models.targets import GoalKey, Target, goal_key
from optimizer.packing.schedule import ScheduledVisit, gathered_by
from optimizer.problem import Problem
from optimizer.season.asked import with_more_done
from optimizer.season.projects import Projects, projects_of
from optimizer.season.shared import shared_keys
from optimizer.words import date_words, duration, listing, safe

THOUSANDTHS = 1000
MOST_NAMED = 3


@dataclass(frozen=True)
class InView:
    """A request whose night is planned in view of a season, which must be its own (`season.matching`).

    `request` is as it was given, with what is in hand now; `as_planned` is the one that is planned. `rig` is
    the number of its rig.
    """

    season: SeasonFile
    request: Request
    rig: int = 0

    @property
    def own(self) -> RigOfSeason:
        """What the season says of the request's rig."""
        return self.season.rigs[self.rig]

    @cached_property
    def in_all(self) -> Request:
        """The request with what other rigs had in hand besides, as the season was planned."""
        return with_more_done(self.request, self.own.elsewhere)

    @property
    def by_values(self) -> bool:
        """Whether subs count tonight by the season's values, not by scarce hours as without a season."""
        policy = self.season.policy
        return policy is not None and policy.name == "season values"

    @property
    def as_planned(self) -> Request:
        """The request whose night is planned: by the season's values balance and scarcity are left out."""
        if not self.by_values:
            return self.in_all
        aim = self.request.aim.model_copy(update={"balance": 0.0, "scarcity": 0.0})
        return self.in_all.model_copy(update={"aim": aim})

    @cached_property
    def _factor(self) -> Mapping[GoalKey, float]:
        """By how much more a sub of each goal counts than by itself."""
        return {
            value.goal_key: round(min(MOST_FACTOR, max(LEAST_FACTOR, value.worth_s / value.own_s)), DECIMALS)
            for value in self.season.values
            if value.rig == self.own.name
        }

    @property
    def factors(self) -> Mapping[tuple[str, int], Fraction] | None:
        """The factors by the target's name and the goal's place in it; None: those of scarce hours."""
        if not self.by_values:
            return None
        return {
            (target.name, place): Fraction(repr(self._factor[goal_key(target, goal)]))
            for target in self.request.targets
            for place, goal in enumerate(target.goals)
        }

    @cached_property
    def evening(self) -> str:
        """Tonight's date."""
        return self.request.night.evening.isoformat()

    @cached_property
    def later(self) -> tuple[SeasonNight, ...]:
        """The nights of the season after this one, and those of other rigs from tonight on."""
        return tuple(
            night
            for night in self.season.nights
            if night.evening > self.evening or (night.evening == self.evening and night.rig != self.own.name)
        )

    @cached_property
    def _own_keys(self) -> Mapping[str, Mapping[GoalKey, GoalKey]]:
        """By the name of a rig and what it knows a goal by: what this rig knows the goal by, if it has it."""
        found = [[goal_key(*each) for each in rig.request.goals()] for rig in self.season.rigs]
        keys = shared_keys(found)
        mine = dict(zip(keys[self.rig], found[self.rig], strict=True))
        return {
            rig.name: {own: mine[key] for own, key in zip(goals, shared, strict=True) if key in mine}
            for rig, goals, shared in zip(self.season.rigs, found, keys, strict=True)
        }

    @cached_property
    def _shortest_s(self) -> Mapping[tuple[str, str], float]:
        """By rig and target: the shortest exposure of those goals that lacked subs as it was planned."""
        found: dict[tuple[str, str], float] = {}
        for number, rig in enumerate(self.season.rigs):
            request = self.in_all if number == self.rig else with_more_done(rig.request, rig.elsewhere)
            for target, goal in request.goals():
                if goal.frames_left:
                    key = (rig.name, target.name)
                    found[key] = min(goal.exposure_s, found.get(key, math.inf))
        return found

    def told(self, problem: Problem, visits: Sequence[ScheduledVisit]) -> InSeason:
        """Say what tonight's plan gives the season, and of each target why it is on or off."""
        frames: Counter[int] = Counter(task for visit in visits for task, _ in visit.exposures)
        gathered = gathered_by(problem, visits)
        goals = self._goals(problem)
        projects = projects_of(self.in_all)
        tonight = {
            task.goal_key: (frames[task.index], problem.profit_unit * gathered[task.index] / task.factor)
            for task in problem.tasks
        }
        return InSeason(
            season_sha256=self.own.request_sha256,
            season_created_utc=self.season.created_utc,
            policy="season values"
            if self.by_values
            else "scarce hours"
            if self.request.aim.scarcity
            else "own weights",
            balance=self.request.aim.balance,
            rigs=len(self.season.rigs),
            nights_after=len(self.later),
            last_evening=self.season.nights[-1].evening,
            with_s=_rounded_down(_value_s(projects, goals, tonight)),
            without_s=_rounded_down(_value_s(projects, goals, {})),
            goals=tuple(goals[goal_key(target, goal)] for target, goal in self.request.goals()),
            targets=tuple(self._target(target, problem, frames) for target in self.request.targets),
        )

    def _goals(self, problem: Problem) -> dict[GoalKey, GoalInSeason]:
        """What a sub of each goal counts for, and what the later nights' plans are to bring of it."""
        frames: dict[GoalKey, float] = {}
        seconds: dict[GoalKey, float] = {}
        own_s = {value.goal_key: value.own_s for value in self.season.values if value.rig == self.own.name}
        for night in self.later:
            for each in night.plan:
                key = self._own_keys[night.rig].get(each.goal_key)
                if key is None:
                    continue  # a goal of another rig alone
                counted_s = each.frames * own_s.get(key, 0.0) if each.counted_s is None else each.counted_s
                frames[key] = frames.get(key, 0.0) + night.odds * each.frames
                seconds[key] = seconds.get(key, 0.0) + night.odds * counted_s
        factor = {task.goal_key: float(task.factor) for task in problem.tasks}
        return {
            key: GoalInSeason(
                target=target.name,
                filter=goal.filter,
                exposure_s=goal.exposure_s,
                gain=goal.gain,
                offset=goal.offset,
                binning=goal.binning,
                factor=factor[key],
                later_frames=round(frames.get(key, 0.0), 6),
                later_s=round(seconds.get(key, 0.0), 6),
            )
            for target, goal in self.request.goals()
            for key in (goal_key(target, goal),)
        }

    def _target(self, target: Target, problem: Problem, frames: Counter[int]) -> TargetInSeason:
        own = [task for task in problem.tasks if task.target.name == target.name]
        open_s = sum(frames[task.index] * task.goal.exposure_s for task in own)
        left = [task for task in own if task.frames_left > 0]
        serving = [night for night in self.later if left and self._serves(night, target)]
        moonlit = sum(night.moonless_dark_s < night.dark_s / 2 for night in serving)
        last = serving[-1].evening if serving else None
        if open_s:
            head = f"On, {duration(open_s)} of open shutter"
        elif not left:
            whose = "all subs of it that this rig may take" if len(self.season.rigs) > 1 else "all its subs"
            head = f"Off: {whose} are in hand"
        elif not any(problem.slots_by_task.get(task.index) for task in left):
            head = "Off: it cannot be shot tonight"
        else:
            head = "Off"
        parts = [head] if not left else [f"{head}; {self._left(serving, moonlit)}"]
        weighed = any(task.factor != 1 for task in problem.tasks)
        if left and weighed and (open_s or head == "Off"):
            parts.append(_counts([float(task.factor) for task in left]))
        if open_s:
            parts += self._beside(
                target, {task.goal_key: task.frames_left - frames[task.index] for task in left}
            )
        return TargetInSeason(
            target=target.name,
            on=open_s > 0,
            nights_left=len(serving),
            moonlit=moonlit,
            last_evening=last,
            sentence="; ".join(parts) + ".",
        )

    def _beside(self, target: Target, left: Mapping[GoalKey, int]) -> list[str]:
        """Which other rigs have a target in their plans of tonight, and of what there may be too much then.

        `left` are the subs of each goal that it lacks after this night's.
        """
        taken: Counter[GoalKey] = Counter()
        rigs: dict[str, None] = {}
        for night in self.later:
            for each in night.plan if night.evening == self.evening else ():
                key = self._own_keys[night.rig].get(each.goal_key)
                if each.target == target.name and key is not None:
                    taken[key] += each.frames
                    rigs[safe(night.rig)] = None
        if not rigs:
            return []
        words = f"the season's plans of tonight have it with {listing(rigs, 'and', most=MOST_NAMED)} too"
        over = dict.fromkeys(safe(key[1] or "") for key, frames in taken.items() if frames > left.get(key, 0))
        return [
            words + (f", with all of which it gets more {listing(over, 'and')} than it lacks" if over else "")
        ]

    def _serves(self, night: SeasonNight, target: Target) -> bool:
        """Whether some goal of a target that lacks subs may be shot on a night."""
        shortest_s = self._shortest_s.get((night.rig, target.name), math.inf)
        return any(each.target == target.name and each.open_s >= shortest_s for each in night.targets)

    def _left(self, serving: Sequence[SeasonNight], moonlit: int) -> str:
        """How many nights of the season are left for a target after tonight, and which is the last."""
        several = len(self.season.rigs) > 1
        if not serving:
            other = "other night of any rig" if several else "later night of the season"
            return f"no {other} can serve it" if self.later else "the season ends tonight"
        nights, last = len(serving), serving[-1].evening
        day = date_words(dt.date.fromisoformat(last))
        if nights == 1:
            lit = "moonlit" if moonlit else "not moonlit"
            if several:
                return f"one more night, that of {safe(serving[0].rig)} on {day}, can serve it, {lit}"
            return f"one later night can serve it, {day}, {lit}"
        of_them = "none" if not moonlit else "all" if moonlit == nights else str(moonlit)
        until = "the season's last" if last == self.season.nights[-1].evening else day
        more = "more nights of the rigs together" if several else "later nights"
        return f"{nights} {more}, up to {until}, can serve it, {of_them} of them moonlit"


def _counts(factors: Sequence[float]) -> str:
    """By how much its subs count tonight."""
    low, high = f"{min(factors):.2f}", f"{max(factors):.2f}"
    times = low if low == high else f"{low} to {high}"
    return f"its subs count {times} times their own worth"


def _value_s(
    projects: Projects, goals: Mapping[GoalKey, GoalInSeason], tonight: Mapping[GoalKey, tuple[int, Fraction]]
) -> Fraction:
    """Weighted seconds that tonight's frames and those of later nights are worth, no more than are wanted."""
    gathered = []
    for goal in projects.goals:
        frames, seconds = tonight.get(goal.key, (0, Fraction(0)))
        later = goals[goal.key]
        room = Fraction(max(0, goal.left - frames))
        planned = Fraction(repr(later.later_frames))
        share = min(Fraction(1), room / planned) if planned else Fraction(0)
        gathered.append(seconds + share * Fraction(repr(later.later_s)))
    return projects.value_s(gathered)


def _rounded_down(value: Fraction) -> float:
    return math.floor(value * THOUSANDTHS) / THOUSANDTHS
