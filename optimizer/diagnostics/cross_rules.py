"""Rules between the parts of a request, checked on the raw data: what is unfit elsewhere is passed over."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from pydantic import ValidationError

from optimizer.diagnostics.countable import countable_problems
from optimizer.diagnostics.document import Document
from optimizer.diagnostics.goal_places import other_goal, place_of_pair
from optimizer.diagnostics.names import remedy_for
from optimizer.diagnostics.nights import night_asked
from optimizer.diagnostics.tables import is_number, tables
from optimizer.errors import InputProblem
from optimizer.models.season_asked import SeasonAsked
from optimizer.models.site import Night, night_span
from optimizer.words import KeyPath, number, quoted


def cross_problems(document: Document, request_at: KeyPath = ()) -> list[InputProblem]:
    """Find every broken rule between the parts of the request that stands at a path of the document."""
    if not isinstance(document.value(request_at), dict):
        return []
    return [
        *_unique_names(document, request_at, "filters"),
        *_unique_names(document, request_at, "targets"),
        *_known_filters(document, request_at),
        *_distinct_goals(document, request_at),
        *countable_problems(document, request_at),
        *_exposures_between_focus_runs(document, request_at),
        *_odds_of_another_night(document, request_at),
        *_season_beyond_tables(document, request_at),
    ]


def _goals(document: Document, root: KeyPath) -> Iterator[tuple[KeyPath, dict[str, Any]]]:
    for path, _ in tables(document, (*root, "targets")):
        yield from tables(document, (*path, "goals"))


def _unique_names(document: Document, root: KeyPath, holder: str) -> Iterator[InputProblem]:
    first: dict[str, KeyPath] = {}
    for path, row in tables(document, (*root, holder)):
        name = row.get("name")
        if not isinstance(name, str) or not name:
            continue
        if name in first:
            source = document.source(first[name])
            line = source.line((*first[name], "name"))
            place = source.called(first[name]) + (f" on line {line}" if line else "")
            if source != document.source(path):
                place = document.place(first[name], path)
            yield document.problem((*path, "name"), f"{place} has this name too", "give each its own name")
        first.setdefault(name, path)


def _known_filters(document: Document, root: KeyPath) -> Iterator[InputProblem]:
    filters = document.value((*root, "filters"))
    if not isinstance(filters, list) or document.incomplete:
        return
    names = [row.get("name") if isinstance(row, dict) else None for row in filters]
    known = list(dict.fromkeys(name for name in names if isinstance(name, str) and name))
    if (
        not all(isinstance(name, str) and name for name in names) or not known
    ):  # the one that is meant may be among those that cannot be read
        return
    for path, goal in _goals(document, root):
        name = goal.get("filter")
        if not isinstance(name, str) or not name or name in known:
            continue
        remedy = remedy_for(name, known, f"add a filter named {quoted(name)}")
        at = document.written((*path, "filter"))
        yield document.problem(at, "there is no filter of this name", remedy)


def _distinct_goals(document: Document, root: KeyPath) -> Iterator[InputProblem]:
    for target, _ in tables(document, (*root, "targets")):
        first: dict[tuple[Any, ...], tuple[int, dict[str, Any]]] = {}
        for path, goal in tables(document, (*target, "goals")):
            same = (
                goal.get("filter"),
                goal.get("exposure_s"),
                goal.get("gain"),
                goal.get("offset"),
                goal.get("binning", 1),
            )
            if not isinstance(same[0], str) or not all(is_number(part) or part is None for part in same[1:]):
                continue
            if same[1] is None:
                continue
            index, other = first.setdefault(same, (int(path[-1]), goal))
            if other is goal:
                continue
            frames = [row.get("frames") for row in (other, goal)]
            whole = all(isinstance(count, int) and not isinstance(count, bool) for count in frames)
            total = f" with frames = {sum(frames)}" if whole else ""  # type: ignore[arg-type]
            yield _same_goals(document, path, (*target, "goals", index), total)


def _same_goals(document: Document, later: KeyPath, earlier: KeyPath, total: str) -> InputProblem:
    what = "asks for the same filter, exposure, gain, offset and binning"
    if document.written(later) != later and document.written(earlier) == earlier:
        # and may be right for others
        other = f"{document.place(later, earlier)}, which this target takes too, {what}"
        return document.problem(earlier, other, "leave one of the two out")
    at = place_of_pair(document, later, "", earlier)
    return document.problem(
        at, f"{other_goal(document, later, earlier)} {what}", f"join the two into one goal{total}"
    )


def _exposures_between_focus_runs(document: Document, root: KeyPath) -> Iterator[InputProblem]:
    every = document.value((*root, "focus", "every_min"))
    if not is_number(every) or every <= 0:
        return
    for path, goal in _goals(document, root):
        exposure = goal.get("exposure_s")
        if is_number(exposure) and math.ceil(exposure) > every * 60:
            yield document.problem(
                document.written((*path, "exposure_s")),
                f"the exposure is longer than the time between two autofocus runs, {number(every)} min",
                f"shorten it to {number(math.floor(every * 60))} s at most, or raise focus.every_min",
            )


def _odds_of_another_night(document: Document, root: KeyPath) -> Iterator[InputProblem]:
    at = (*root, "night", "clear_odds")
    rows, asked = document.value(at), night_asked(document, root)
    if asked is None or not isinstance(rows, list | tuple) or not rows:
        return
    try:
        instants = [
            instant
            for instant, _ in Night.model_validate({"evening": "2000-01-01", "clear_odds": rows}).clear_odds
        ]
    except ValidationError:
        return
    night, site = asked
    begin, end = night_span(night, site.longitude_deg, site.time_zone)
    if instants[-1] < begin or instants[0] > end:
        when = "before" if instants[-1] < begin else "after"
        yield document.problem(
            at,
            f"all its instants lie {when} the night of {night.evening}, which lasts from "
            f"{begin:%Y-%m-%dT%H:%M}Z to {end:%Y-%m-%dT%H:%M}Z: these are the odds of another night",
            "give those of this night, or leave the key out",
        )


def _season_beyond_tables(document: Document, root: KeyPath) -> Iterator[InputProblem]:
    season, night = (document.value((*root, key)) for key in ("season", "night"))
    if not isinstance(season, dict) or not isinstance(night, dict):
        return
    try:
        evening = Night.model_validate({"evening": night.get("evening")}).evening
        asked = {key: season[key] for key in ("first", "nights") if key in season}
        beyond = SeasonAsked.model_validate(asked).beyond_tables(evening)
    except ValidationError:
        return
    if beyond is not None:
        yield document.problem((*root, "season", "nights"), *beyond)
