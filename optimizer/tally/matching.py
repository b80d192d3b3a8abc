"""What a sub was taken for: its goal in the request, or why it counts for none."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Generic, Protocol, TypeVar

from optimizer.models.request import Request
from optimizer.models.rig import Filter
from optimizer.models.targets import Goal, Target, same_exposure
from optimizer.words import folded, listing, number, place_words, quoted

SETTINGS = ("gain", "offset", "binning")


@dataclass(frozen=True)
class Asked:
    """What is known of a sub, or of a row of a tally; None where nothing is.

    `exposure_s` is in seconds, `icrs_deg` right ascension and declination in degrees. `used` names the
    keyword behind each, for people. With `exact` a setting that is None was left to the camera, as in a row
    of a tally; else it is not known.
    """

    target: str | None
    filter: str | None
    exposure_s: float | None
    gain: float | None = None
    offset: float | None = None
    binning: float | None = None
    icrs_deg: tuple[float, float] | None = None
    used: Mapping[str, str] = field(default_factory=dict)
    exact: bool = False

    def key(self, name: str, word: str) -> str:
        """The keyword that was read for this, else a word for it."""
        return self.used.get(name, word)


@dataclass(frozen=True)
class Matched:
    """The goal that a sub counts for: its target, its place among the target's goals, and how it was found.

    `by` are the keywords that decided, in the order of target, filter, exposure and settings.
    """

    target: Target
    index: int
    by: tuple[str, ...] = ()

    @property
    def goal(self) -> Goal:
        """The goal itself."""
        return self.target.goals[self.index]


class _HasNames(Protocol):
    @property
    def name(self) -> str: ...
    @property
    def aliases(self) -> tuple[str, ...]: ...


LONGEST_S = 86400  # as the request has it
_Named = TypeVar("_Named", bound=_HasNames)


class _Names(Generic[_Named]):
    """Targets or filters by their names and aliases."""

    def __init__(self, rows: Sequence[_Named]) -> None:
        self._exact: dict[str, list[_Named]] = {}
        self._folded: dict[str, list[_Named]] = {}
        for row in rows:
            names = (row.name, *row.aliases)
            for key in dict.fromkeys(names):
                self._exact.setdefault(key, []).append(row)
            for key in dict.fromkeys(map(folded, names)):
                self._folded.setdefault(key, []).append(row)

    def named(self, name: str | None) -> list[_Named]:
        """Those of this very name, else of a name or alias that differs in case and blanks alone."""
        if name is None:
            return []
        return self._exact.get(name) or self._folded.get(folded(name), [])


class Matcher:
    """Finds the goal of a request for a sub, by names, then by place; see `match`."""

    def __init__(self, request: Request) -> None:
        """Keep the names and places of the request's targets and filters."""
        self.request = request
        self._targets, self._filters = _Names(request.targets), _Names(request.filters)
        self._places = [(target, *_unit(target.ra_deg, target.dec_deg)) for target in request.targets]

    def targets_named(self, name: str) -> list[Target]:
        """The targets of this very name or alias, else those whose name differs in case and blanks alone."""
        return self._targets.named(name)

    def filters_named(self, name: str) -> list[Filter]:
        """The filters of this very name or alias, else those whose name differs in case and blanks alone."""
        return self._filters.named(name)

    def match(self, asked: Asked) -> Matched | str:
        """The goal that is meant, or a sentence that says why there is none."""
        found = self._target(asked)
        if isinstance(found, str):
            return found
        target, by = found
        filter_found = self._filter(asked)
        if isinstance(filter_found, str):
            return filter_found
        chosen, by_filter = filter_found
        goals = [index for index, goal in enumerate(target.goals) if goal.filter == chosen.name]
        if not goals:
            return f"target {quoted(target.name)} has no goal through filter {quoted(chosen.name)}"
        if asked.exposure_s is None:
            return "the header tells no time of exposure"
        if not 0 < asked.exposure_s <= LONGEST_S:
            what = f"{asked.key('exposure_s', 'the exposure')} = {_written(asked.exposure_s)} s"
            return f"{what} is that of no sub"
        index = _exposed(asked, target, goals)
        if isinstance(index, str):
            return index
        told = (by, by_filter, *index[1])
        return Matched(target, index[0], tuple(word for word in told if word))

    def _target(self, asked: Asked) -> tuple[Target, str] | str:
        named = self._targets.named(asked.target)
        if len(named) == 1:
            return named[0], asked.key("object", "")
        if named:
            both = listing((quoted(target.name) for target in named), "and")
            return f"{_told(asked, 'object', asked.target)} may mean {both}"
        why = (
            "the header names no object"
            if asked.target is None
            else f"{_told(asked, 'object', asked.target)} is no name or alias of a target"
        )
        if asked.exact:
            return why
        if asked.icrs_deg is None:
            return f"{why}, and the header tells no place"
        near = self._near(*asked.icrs_deg)
        if len(near) == 1:
            return near[0], asked.key("ra_deg", "the place")
        place = place_words(*asked.icrs_deg)
        radius = f"{number(self.request.tally_radius_deg)} degrees"
        if near:
            both = listing((quoted(target.name) for target in near), "and")
            return f"{why}, and {both} lie within {radius} of its place ({place})"
        return f"{why}, and no target lies within {radius} of its place ({place})"

    def _near(self, ra_deg: float, dec_deg: float) -> list[Target]:
        x, y, z = _unit(ra_deg, dec_deg)
        chord = 2 * math.sin(math.radians(self.request.tally_radius_deg) / 2)
        return [
            target for target, *place in self._places if math.dist((x, y, z), place) <= chord * (1 + 1e-12)
        ]

    def _filter(self, asked: Asked) -> tuple[Filter, str] | str:
        if asked.filter is None:
            if len(self.request.filters) == 1 and not asked.exact:
                return self.request.filters[0], ""  # a camera without a wheel: nothing else is meant
            return "the header names no filter"
        named = self._filters.named(asked.filter)
        if len(named) == 1:
            return named[0], asked.key("filter", "")
        if named:
            both = listing((quoted(each.name) for each in named), "and")
            return f"{_told(asked, 'filter', asked.filter)} may mean {both}"
        return f"{_told(asked, 'filter', asked.filter)} is no name or alias of a filter"


def _exposed(asked: Asked, target: Target, goals: list[int]) -> tuple[int, tuple[str, ...]] | str:
    """The goal of the nearest exposure among those of the right settings, with the keywords that decided."""
    assert asked.exposure_s is not None
    exposure_s, by = asked.exposure_s, [asked.key("exposure_s", "")]
    if target.goals[goals[0]].hours is not None:
        return goals[0], tuple(by)  # it counts any exposure, and stands alone
    near = [index for index in goals if same_exposure(target.goals[index].exposure_s, exposure_s)]
    if not near:
        wanted = listing(number(target.goals[index].exposure_s) for index in goals)
        what = f"{asked.key('exposure_s', 'the exposure')} = {number(exposure_s)} s"
        return f"{what}, and the goals of target {quoted(target.name)} ask for {wanted} s"
    for name in SETTINGS:
        values = {index: getattr(target.goals[index], name) for index in near}
        if len(set(values.values())) == 1:
            continue
        value = getattr(asked, name)
        if value is None and not asked.exact:
            return f"the header tells no {name}, in which goals of target {quoted(target.name)} differ"
        fit = [index for index in near if values[index] == value]
        # a goal that leaves the setting to the camera takes what no other goal asks for
        near = fit or [index for index in near if values[index] is None]
        if not near:
            told = listing(number(each) for each in sorted(set(values.values())))
            what = f"{asked.key(name, name)} = {_written(value)}" if value is not None else f"no {name}"
            return f"{what}, and the goals of target {quoted(target.name)} ask for {told}"
        by.append(asked.key(name, ""))
    return min(near, key=lambda index: abs(target.goals[index].exposure_s - exposure_s)), tuple(by)


def _written(value: float) -> str:
    return number(value) if math.isfinite(value) else str(value)


def _told(asked: Asked, name: str, value: str | None) -> str:
    return f"{asked.used[name]} = {quoted(value or '')}" if name in asked.used else quoted(value or "")


def _unit(ra_deg: float, dec_deg: float) -> tuple[float, float, float]:
    ra, dec = math.radians(ra_deg), math.radians(dec_deg)
    return math.cos(dec) * math.cos(ra), math.cos(dec) * math.sin(ra), math.sin(dec)
