"""Rules that let every sub be counted for one goal alone: names, aliases, exposures; on the raw data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from optimizer.diagnostics.document import Document
from optimizer.diagnostics.goal_places import other_goal, place_of_pair
from optimizer.diagnostics.tables import is_number, tables
from optimizer.errors import InputProblem
from optimizer.models.targets import same_exposure
from optimizer.words import KeyPath, folded, number

ALIKE = "case and blanks make no difference"


def countable_problems(document: Document, root: KeyPath) -> Iterator[InputProblem]:
    """Find every alias that clashes, and goals of a target whose subs could not be told apart."""
    yield from _aliases(document, root, "filters")
    yield from _aliases(document, root, "targets")
    for target, _ in tables(document, (*root, "targets")):
        goals = [(path, goal) for path, goal in tables(document, (*target, "goals")) if _is_fit(goal)]
        yield from _goals_too_near(document, goals)
        yield from _hours_beside_others(document, goals)


def _is_fit(goal: dict[str, Any]) -> bool:
    return isinstance(goal.get("filter"), str) and is_number(goal.get("exposure_s"))


def _aliases(document: Document, root: KeyPath, holder: str) -> Iterator[InputProblem]:
    rows = list(tables(document, (*root, holder)))
    first: dict[str, KeyPath] = {}  # where a name or alias stands first; names before all aliases
    for path, row in rows:
        if isinstance(row.get("name"), str):
            first.setdefault(folded(row["name"]), (*path, "name"))
    for path, row in rows:
        aliases = row.get("aliases")
        for index, alias in enumerate(aliases if isinstance(aliases, list | tuple) else ()):
            at: KeyPath = (*path, "aliases", index)
            if not isinstance(alias, str) or not folded(alias):
                continue
            other = first.setdefault(folded(alias), at)
            if other is at:
                continue
            what = f"{document.place(other, at)} is this name too ({ALIKE})"
            yield document.problem(at, what, f"leave it out, or give it to one of the {holder} alone")


def _settings(goal: dict[str, Any]) -> tuple[Any, ...]:
    return goal["filter"], goal.get("gain"), goal.get("offset"), goal.get("binning", 1)


def _in_hours(goal: dict[str, Any]) -> bool:
    return goal.get("hours") is not None  # a list's request has every key, those left out as null


def _goals_too_near(
    document: Document, goals: list[tuple[KeyPath, dict[str, Any]]]
) -> Iterator[InputProblem]:
    for later, (path, goal) in enumerate(goals):
        if _in_hours(goal):
            continue
        for earlier, other in goals[:later]:
            one, two = other["exposure_s"], goal["exposure_s"]
            if _in_hours(other) or one == two or _settings(other) != _settings(goal):
                continue  # goals that are the same altogether are told elsewhere
            if same_exposure(max(one, two), min(one, two)):
                yield document.problem(
                    place_of_pair(document, path, "exposure_s", earlier),
                    f"{other_goal(document, path, earlier)} asks for {number(one)} s with the same filter, "
                    "gain, offset and binning: too near to tell their subs apart",
                    "let them differ by more than 1 % and 0.5 s, or join the two into one goal",
                )
                break


def _hours_beside_others(
    document: Document, goals: list[tuple[KeyPath, dict[str, Any]]]
) -> Iterator[InputProblem]:
    told: set[str] = set()
    for path, goal in goals:
        if not _in_hours(goal) or goal["filter"] in told:
            continue
        other = next((at for at, each in goals if at != path and each["filter"] == goal["filter"]), None)
        if other is not None:
            told.add(goal["filter"])
            yield document.problem(
                place_of_pair(document, path, "hours", other),
                f"{other_goal(document, path, other)} is for the same filter, and a goal in hours counts "
                "subs of any length",
                "give both in frames, or make one goal of them",
            )
