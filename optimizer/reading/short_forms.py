"""What is typed short in a request, written out on the raw data: filters' defaults, sets, local times.

Everything behind reading sees whole goals and instants in UTC, and neither sets nor defaults. The document
remembers where each value is typed, so that messages are about that place.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any

from pydantic import ValidationError

from optimizer.diagnostics.document import Document
from optimizer.diagnostics.explain import explain
from optimizer.diagnostics.names import remedy_for
from optimizer.models.base import FromList, Frozen, Name
from optimizer.models.short_forms import AMOUNTS, DEFAULTS, Defaults, GoalSet, TypedRequest
from optimizer.reading.local_times import resolve_local_times
from optimizer.words import KeyPath, key_text

Table = dict[str, Any]
Level = tuple[KeyPath, Table]  # where defaults are typed, and they


class _SetTaken(Frozen):
    set: Name | None = None


class _ShortForms(Frozen):
    """The keys that are gone once a request is written out; all others are another model's."""

    filters: Annotated[tuple[Defaults, ...], FromList]
    sets: dict[str, GoalSet]
    targets: Annotated[tuple[_SetTaken, ...], FromList]


def write_out(document: Document) -> None:
    """Write out all that is typed short in a request; its problems are added to the document's.

    The data is replaced, never changed: it may be the caller's own.
    """
    document.typed = document.data
    document.data = dict(document.data)
    _check_short_forms(document)
    _Goals(document).write_out()
    resolve_local_times(document)


def _rows(data: Any) -> list[Any]:
    return list(data) if isinstance(data, list | tuple) else []


def _check_short_forms(document: Document) -> None:
    """Check sets and defaults by themselves: no target may take them, or many."""
    data = document.data
    sets = data.get("sets", {})
    if isinstance(sets, dict):
        sets = {name: _with_goal_tables(document, name, table) for name, table in sets.items()}
        document.data["sets"] = sets
    short = {
        "filters": [_some_of(row, DEFAULTS) for row in _rows(data.get("filters"))],
        "targets": [_some_of(row, ("set",)) for row in _rows(data.get("targets"))],
        "sets": sets,
    }
    try:
        _ShortForms.model_validate(short)
    except ValidationError as error:
        document.problems += explain(error, document, TypedRequest)


def _some_of(row: Any, keys: tuple[str, ...]) -> Table:
    return {key: row[key] for key in keys if key in row} if isinstance(row, dict) else {}


def _with_goal_tables(document: Document, name: str, table: Any) -> Any:
    """A set with a table for each of its goals."""
    if not isinstance(table, dict) or not isinstance(table.get("goals"), list | tuple):
        return table
    return {**table, "goals": _goal_tables(document, ("sets", name, "goals"), table["goals"])}


def _goal_tables(document: Document, at: KeyPath, goals: Any) -> list[Any]:
    """A list of goals with a table for each that is the name of a filter alone."""
    found = []
    for index, goal in enumerate(goals):
        if isinstance(goal, str):
            document.taken[(*at, index, "filter")] = (*at, index)
            goal = {"filter": goal}
        found.append(goal)
    return found


class _Goals:
    """Writes out the goals of all targets."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.filters: dict[str, Level] = {}  # by name, of equal ones the first
        sets = document.data.pop("sets", {})
        self.sets: Table | None = sets if isinstance(sets, dict) else None

    def write_out(self) -> None:
        data = self.document.data
        if isinstance(data.get("filters"), list | tuple):
            data["filters"] = [self._bare_filter(index, row) for index, row in enumerate(data["filters"])]
        if isinstance(data.get("targets"), list | tuple):
            data["targets"] = [self._whole_target(index, row) for index, row in enumerate(data["targets"])]

    def _bare_filter(self, index: int, row: Any) -> Any:
        if not isinstance(row, dict):
            return row
        if isinstance(row.get("name"), str):
            self.filters.setdefault(row["name"], (("filters", index), row))
        return {key: value for key, value in row.items() if key not in DEFAULTS}

    def _whole_target(self, index: int, row: Any) -> Any:
        if not isinstance(row, dict):
            return row
        at: KeyPath = ("targets", index)
        whole = {key: value for key, value in row.items() if key != "set"}
        taken = self._taken(at, row.get("set"))
        if not isinstance(row.get("goals", []), list | tuple) or ("goals" not in row and not taken):
            return whole
        goals = _goal_tables(self.document, (*at, "goals"), row.get("goals", []))
        whole["goals"] = [
            self._whole_goal((*at, "goals", number), goal, ()) for number, goal in enumerate(goals)
        ]
        for place, goal, level in taken:
            here: KeyPath = (*at, "goals", len(whole["goals"]))
            self.document.taken[here] = place
            if isinstance(goal, dict) and self.document.written((*place, "filter")) == place:
                self.document.taken[(*here, "filter")] = place
            whole["goals"].append(self._whole_goal(here, goal, (level,)))
        return whole

    def _taken(self, at: KeyPath, name: Any) -> list[tuple[KeyPath, Any, Level]]:
        """The goals of the set that a target takes, each with its place and what its set has for it."""
        if not isinstance(name, str) or self.sets is None:
            return []
        if name not in self.sets:
            if not self.document.incomplete and name.strip():
                self.document.problems.append(self._no_such_set((*at, "set"), name))
            return []
        table, place = self.sets[name], ("sets", name)
        goals = table.get("goals") if isinstance(table, dict) else None
        return [((*place, "goals", number), goal, (place, table)) for number, goal in enumerate(_rows(goals))]

    def _no_such_set(self, at: KeyPath, name: str) -> Any:
        opened = f"[{key_text(('sets', name))}]" if len(name) <= 30 else "[sets.NAME]"
        remedy = remedy_for(name, list(self.sets or ()), f"add {opened} with its goals")
        return self.document.problem(at, "there is no set of this name", remedy)

    def _whole_goal(self, at: KeyPath, goal: Any, levels: tuple[Level, ...]) -> Any:
        """A goal with what it leaves to its set and its filter; a null stands for nothing given."""
        if not isinstance(goal, dict):
            return goal
        whole = {key: value for key, value in goal.items() if value is not None or key not in DEFAULTS}
        name = goal.get("filter")
        if isinstance(name, str) and name in self.filters:
            levels = (*levels, self.filters[name])
        for place, table in levels:
            for key, value in _left_to(table, whole):
                whole[key] = value
                self.document.taken[(*at, key)] = (*place, key)
        return whole


def _left_to(table: Table, goal: Table) -> Iterator[tuple[str, Any]]:
    """What a table has for a goal that lacks it; frames and hours stand for one another."""
    for key in DEFAULTS:
        given = goal.keys() & set(AMOUNTS) if key in AMOUNTS else key in goal
        if table.get(key) is not None and not given:
            yield key, table[key]
