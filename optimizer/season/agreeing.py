"""Requests of several rigs -> the rigs of one season, or all in which they do not agree.

The first request says what holds for the whole season: its nights and its aim. What a later one says of that
must be the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path

from optimizer.diagnostics.document import Document, Source
from optimizer.diagnostics.object_places import separation_deg
from optimizer.errors import InputError, InputProblem
from optimizer.models.base import as_json_data
from optimizer.models.request import Request
from optimizer.models.season import SeasonAsked
from optimizer.models.targets import Goal, Target, goal_key, same_exposure
from optimizer.reading.given import season_requests_given
from optimizer.reading.load import LoadedRequest
from optimizer.reading.tally import TallyRead
from optimizer.season.asked import RigAsked, evenings_of
from optimizer.season.in_hand import Counting, in_all
from optimizer.season.places import distance_km, places_of
from optimizer.season.shared import SharedKey, shared_keys
from optimizer.season.told import RIG
from optimizer.words import KeyPath, folded, number, quoted, shown

SAME = "give both the same"
APART_DEG = 0.1  # targets of one name are not farther apart


@dataclass(frozen=True)
class Agreed:
    """The rigs of a season, a line for each thing worth a second look, and warnings that another rig answers.

    The latter are of single requests: that rows of a tally count for no goal, which count for another rig's.
    """

    rigs: tuple[RigAsked, ...]
    lines: tuple[str, ...] = ()
    answered: frozenset[str] = frozenset()


@dataclass(frozen=True)
class _Rig:
    """A rig's request, with `done` as it is written as well, and the document that knows its lines."""

    name: str
    request: Request
    written: Request
    document: Document
    tally: TallyRead | None

    @property
    def file(self) -> str:
        """The name of its file for people."""
        return self.document.source(()).file

    @property
    def season(self) -> SeasonAsked:
        return self.request.season or SeasonAsked()

    def at(self, path: KeyPath) -> str:
        """The file and line of a key."""
        written = self.document.written(path)
        source = self.document.source(written)
        line = source.line(written)
        return source.file if line is None else f"{source.file}:{line}"


def rigs_given(asked: object, caller: str) -> Agreed:
    """Make the rigs of a season of the request or requests that were given; a single one is taken as it is.

    One of several that was not read from a file names its rig itself. Raises InputError with every problem
    where requests cannot be used or do not agree, `caller` standing for the file of what has none; TypeError
    where something else is given.
    """
    given = season_requests_given(asked, caller)
    if len(given) == 1:
        return Agreed((RigAsked(given[0].request.rig or given[0].rig or RIG, given[0].request),))
    rigs = [_rig(each, caller, place) for place, each in enumerate(given)]
    keys = shared_keys([[goal_key(*each) for each in rig.request.goals()] for rig in rigs])
    problems = [*_names(rigs), *_aims(rigs), *_nights(rigs), *_targets(rigs), *_goals(rigs, keys)]
    problems += [] if problems else _odds(rigs)
    if problems:
        raise InputError(_in_file_order(problems, rigs))
    counted = in_all([Counting(rig.written, own, rig.tally) for rig, own in zip(rigs, keys, strict=True)])
    found = []
    for rig, own in zip(rigs, keys, strict=True):
        more = tuple(
            counted.done[key] - goal.done for key, (_, goal) in zip(own, rig.request.goals(), strict=True)
        )
        found.append(RigAsked(rig.name, _with_season(rig, rigs[0]), more if any(more) else ()))
    lines = (*_near_targets(rigs), *_near_goals(rigs), *_aliases(rigs), *_copies(rigs))
    return Agreed(tuple(found), lines, frozenset(counted.hushed))


def _in_file_order(problems: Sequence[InputProblem], rigs: Sequence[_Rig]) -> list[InputProblem]:
    """The problems by file and line, each once, though several rigs include it; requests' own files first."""
    files = list(dict.fromkeys([*(rig.file for rig in rigs), *(problem.file for problem in problems)]))
    once = dict.fromkeys(problems)
    return sorted(once, key=lambda problem: (files.index(problem.file), problem.line or 0))


def _rig(given: LoadedRequest, caller: str, place: int) -> _Rig:
    request, origin = given.request, given.origin
    name = request.rig or given.rig
    if not name:
        what = "several rigs are planned together, and this one has no name"
        remedy = 'give each request its own, like rig = "north"'
        raise InputError([InputProblem(f"{caller}, request {place + 1}", "rig", what, remedy)])
    if origin is not None and request.targets == origin.targets:  # else what was read says nothing of it
        return _Rig(name, request, origin.as_written, origin.document, origin.tally)
    source = Source(f"{caller}, rig {quoted(name)}", "json")
    return _Rig(name, request, request, Document(as_json_data(request), {(): source}), None)


def _with_season(rig: _Rig, first: _Rig) -> Request:
    """The request with a season: its own, or that of the first rig."""
    if rig.request.season is not None:
        return rig.request
    evening = evenings_of(first.season, first.request)[0]
    return rig.request.model_copy(update={"season": first.season.model_copy(update={"first": evening})})


def _differs(
    rig: _Rig,
    path: KeyPath,
    here: object,
    other: _Rig,
    there: KeyPath,
    value: object,
    why: str,
    remedy: str = SAME,
) -> InputProblem:
    """Say that two requests differ in a key, which the first of them or both may leave out."""
    mine = "" if rig.document.has(path) else f"not given, so {shown(here)}, and "
    given = other.document.has(there)
    theirs = f"{other.at(there)} has {shown(value)}" if given else f"{other.file} leaves it at {shown(value)}"
    return rig.document.problem(path, f"{mine}{theirs}, {why}", remedy)


def _names(rigs: Sequence[_Rig]) -> Iterator[InputProblem]:
    first: dict[str, _Rig] = {}
    for rig in rigs:
        other = first.setdefault(rig.name, rig)
        if other is not rig:
            what = f"{other.file} is that of the rig {quoted(rig.name)} too"
            remedy = 'give each its own name, like rig = "north" above its first [table]'
            yield rig.document.problem(("rig",), what, remedy)


def _aims(rigs: Sequence[_Rig]) -> Iterator[InputProblem]:
    first = rigs[0]
    for rig in rigs[1:]:
        for key in ("value", "balance"):
            here, there = (getattr(each.request.aim, key) for each in (rig, first))
            if here != there:
                why = "and all rigs of a season count value alike"
                yield _differs(rig, ("aim", key), here, first, ("aim", key), there, why)


def _nights(rigs: Sequence[_Rig]) -> Iterator[InputProblem]:
    first = rigs[0]
    evening = evenings_of(first.season, first.request)[0]
    why = "and this is the same for all rigs of a season"
    remedy = f"{SAME}, or leave [season] out of this request"
    for rig in rigs[1:]:
        if rig.request.season is None:
            continue
        own = evenings_of(rig.season, rig.request)[0]
        if own != evening:
            path: KeyPath = ("night", "evening") if rig.season.first is None else ("season", "first")
            what = f"the season of {first.file} begins on {evening}, {why}"
            yield rig.document.problem(path, what, remedy)
        for key in ("nights", "persistence", "discount_per_night"):
            here, there = (getattr(each.season, key) for each in (rig, first))
            if here != there:
                at: KeyPath = ("season", key)
                yield _differs(rig, at, here, first, at, there, why, remedy)


def _odds(rigs: Sequence[_Rig]) -> Iterator[InputProblem]:
    """Rigs that have their weather from one place, and other odds of clear sky than the first rig there."""
    evenings = evenings_of(rigs[0].season, rigs[0].request)
    odds = [(rigs[0] if rig.request.season is None else rig).season.odds(evenings) for rig in rigs]
    places = places_of([rig.request.site for rig in rigs])
    for own, (rig, place) in enumerate(zip(rigs, places, strict=True)):
        first = places.index(place)
        differ = [at for at, share in enumerate(odds[own]) if share != odds[first][at]]
        if not differ:
            continue
        here, there = (number(odds[each][differ[0]]) for each in (own, first))
        apart_km = distance_km(rig.request.site, rigs[first].request.site)
        what = (
            f"this site is {apart_km:.0f} km from that of {rigs[first].file}, so both have the same weather, "
            f"and for {evenings[differ[0]]} the odds are {here} here and {there} there"
        )
        yield rig.document.problem(("season", "clear_odds"), what, SAME)


def _targets(rigs: Sequence[_Rig]) -> Iterator[InputProblem]:
    first: dict[str, tuple[_Rig, int, Target]] = {}
    for rig in rigs:
        for place, target in enumerate(rig.request.targets):
            other, there, same = first.setdefault(target.name, (rig, place, target))
            if other is rig:
                continue
            far_deg = _apart_deg(target, same)
            if far_deg > APART_DEG:
                what = f"{other.at(('targets', there))} has a target of this name {far_deg:.2f} degrees away"
                remedy = "give each target its own name, or both the same place"
                yield rig.document.problem(("targets", place, "name"), what, remedy)
            if target.weight != same.weight:
                why = f"and both are the project {quoted(target.name)}"
                at, its = (("targets", each, "weight") for each in (place, there))
                yield _differs(rig, at, target.weight, other, its, same.weight, why)


def _goals(rigs: Sequence[_Rig], keys: Sequence[Sequence[SharedKey]]) -> Iterator[InputProblem]:
    first: dict[SharedKey, tuple[_Rig, KeyPath, Goal]] = {}
    for rig, own in zip(rigs, keys, strict=True):
        places = [
            ("targets", place, "goals", number)
            for place, target in enumerate(rig.request.targets)
            for number in range(len(target.goals))
        ]
        for key, at, (_, goal) in zip(own, places, rig.written.goals(), strict=True):
            other, there, same = first.setdefault(key, (rig, at, goal))
            if other is not rig:
                yield from _goal(rig, at, goal, other, there, same)


def _goal(
    rig: _Rig, at: KeyPath, goal: Goal, other: _Rig, there: KeyPath, same: Goal
) -> Iterator[InputProblem]:
    """In what two rigs do not agree of a goal that they share."""
    if goal.frames != same.frames or (goal.hours is None) != (same.hours is None):
        wanted = f"{same.frames} subs" if same.hours is None else f"{number(same.hours)} hours"
        key, its = ("frames" if each.hours is None else "hours" for each in (goal, same))
        what = f"{other.at((*there, its))} wants {wanted}, and both gather for this goal together"
        remedy = f"{SAME}, or another exposure if these are two goals"
        yield rig.document.problem((*at, key), what, remedy)
    for key, why in (
        ("in_set", "and both gather for this goal together"),
        ("done", "and done is what all rigs together have in hand of a goal, beside their tallies"),
    ):
        mine, theirs = getattr(goal, key), getattr(same, key)
        if mine != theirs:
            yield _differs(rig, (*at, key), mine, other, (*there, key), theirs, why)


def _near_targets(rigs: Sequence[_Rig]) -> Iterator[str]:
    """A line for each target of another name so near to that of another rig that it may be the same."""
    named = [{target.name for target in rig.request.targets} for rig in rigs]
    told: set[tuple[str, str]] = set()  # two names are told once, whichever rigs have them
    for later, rig in enumerate(rigs):
        for earlier, other in enumerate(rigs[:later]):
            mine, theirs = (
                [(at, each) for at, each in enumerate(one.request.targets) if each.name not in those]
                for one, those in ((rig, named[earlier]), (other, named[later]))
            )
            for (at, target), (there, same) in product(mine, theirs):
                if abs(target.dec_deg - same.dec_deg) > APART_DEG or _apart_deg(target, same) > APART_DEG:
                    continue
                if {(target.name, same.name), (same.name, target.name)} & told:
                    continue
                told.add((target.name, same.name))
                place = other.at(("targets", there, "name"))
                what = f"{quoted(same.name)} of {place} is within {APART_DEG:g} degrees of it: two projects"
                remedy = "give both the same name if they are one"
                yield str(rig.document.problem(("targets", at, "name"), what, remedy))


def _near_goals(rigs: Sequence[_Rig]) -> Iterator[str]:
    """A line for each goal whose exposure is nearly that of another rig's: the same subs count for both.

    Of goals in hours any other exposure is told: what is wanted is wanted twice, and any sub counts for both.
    """
    first: dict[tuple[str, str], list[tuple[float, _Rig, KeyPath, bool]]] = {}
    for rig in rigs:
        for index, target in enumerate(rig.request.targets):
            for place, goal in enumerate(target.goals):
                at: KeyPath = ("targets", index, "goals", place, "exposure_s")
                here, by_hours = goal.exposure_s, goal.hours is not None
                those = first.setdefault((target.name, goal.filter), [])
                if here in (each for each, *_ in those):
                    continue
                for there, other, its, hours_there in those:
                    near = (by_hours and hours_there) or same_exposure(max(here, there), min(here, there))
                    if other is not rig and near:
                        what = f"{other.at(its)} has {number(there)} s for this target and filter: two goals"
                        remedy = "give both the same if they are one"
                        yield str(rig.document.problem(at, what, remedy))
                        break
                those.append((here, rig, at, by_hours))


def _aliases(rigs: Sequence[_Rig]) -> Iterator[str]:
    """A line for each alias that is the name of another target of another rig: its subs count for both."""
    named: dict[str, tuple[_Rig, KeyPath, str]] = {}
    for rig in rigs:
        for index, target in enumerate(rig.request.targets):
            named.setdefault(folded(target.name), (rig, ("targets", index, "name"), target.name))
    for rig in rigs:
        for index, target in enumerate(rig.request.targets):
            for alias in target.aliases:
                other, its, name = named.get(folded(alias), (rig, (), target.name))
                if other is not rig and name != target.name:
                    what = f"{other.at(its)} has a target {quoted(name)}: subs of this name count for both"
                    remedy = "give both the same name if they are one, or take the alias out"
                    yield str(rig.document.problem(("targets", index, "aliases"), what, remedy))


def _copies(rigs: Sequence[_Rig]) -> Iterator[str]:
    """A line for each tally whose rows are those of another file: both count, though one may be a copy."""
    first: dict[frozenset[str], tuple[_Rig, Path]] = {}
    for rig in rigs:
        if rig.tally is None or not rig.tally.rows:
            continue
        rows = frozenset(row.text for row in rig.tally.rows)
        other, real = first.setdefault(rows, (rig, rig.tally.real))
        if real != rig.tally.real:
            what = f"it has the same rows as the tally of {other.file}, and both count"
            remedy = "name one file in both requests if these are the same subs"
            yield str(rig.document.problem(("tally",), what, remedy))


def _apart_deg(target: Target, other: Target) -> float:
    return separation_deg(target.ra_deg, target.dec_deg, other.ra_deg, other.dec_deg)
