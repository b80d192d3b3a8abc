"""Where to tell of a goal that may have parts of it elsewhere: in a set, under its filter."""

from __future__ import annotations

from optimizer.diagnostics.document import Document
from optimizer.diagnostics.nodes import Nodes
from optimizer.diagnostics.unknown_keys import nearest
from optimizer.models.short_forms import AMOUNTS
from optimizer.words import KeyPath, listing


def place_of_pair(document: Document, goal: KeyPath, key: str, other: KeyPath) -> KeyPath:
    """Where to tell that a goal does not go with another one: at its key, if one is named and typed there.

    Two goals of one set are told once, for all targets that take it.
    """
    taken, at = document.written(goal), document.written((*goal, key))
    here = (*goal, key) if key and at[: len(taken)] == taken else goal
    return document.written(here) if _in_one_list(document, goal, other) and taken != goal else here


def other_goal(document: Document, goal: KeyPath, other: KeyPath) -> str:
    """Name another goal of a target: by its number in the same list, else by its place."""
    if _in_one_list(document, goal, other) and document.source(other).kind != "csv":
        return f"goals[{document.written(other)[-1]}]"
    return document.place(other, goal)


def _in_one_list(document: Document, goal: KeyPath, other: KeyPath) -> bool:
    return document.written(goal)[:-1] == document.written(other)[:-1]


def lacking(document: Document, nodes: Nodes, path: KeyPath, remedy: str) -> tuple[str, str] | None:
    """What to say of a key that a goal lacks and its set and its filter lack as well, with all their places.

    None where the goal names no filter. The words are empty where another problem says as much: that there is
    no such filter, that the key is misspelt in one of the places, that `hours` are of no use.
    """
    goal_at, key = path[:-1], str(path[-1])
    goal = document.value(goal_at)
    if not isinstance(goal, dict) or (key in AMOUNTS and goal.keys() & set(AMOUNTS)):
        return "", ""
    if not isinstance(goal.get("filter"), str):
        return None
    filter_at = _filter_named(document, goal_at[:-4], goal["filter"])
    if filter_at is None:
        return "", ""
    taken = document.written(goal_at)
    places = {"in this goal": taken}
    if taken[0] == "sets":
        places[f"in its set ({document.place(taken[:2], taken)})"] = taken[:2]
    places[f"under its filter ({document.place(filter_at, taken)})"] = filter_at
    if any(_is_misspelt(document, nodes, place, key) for place in places.values()):
        return "", ""
    add, colon, what = remedy.partition("add it: ")
    remedy = f"add it to one of them: {what}" if colon else f"{add} to one of them"
    return f"given neither {listing(places, 'nor')}", remedy


def _is_misspelt(document: Document, nodes: Nodes, place: KeyPath, key: str) -> bool:
    table = document.typed_value(place)
    unknown = table.keys() - set(nodes.keys(place)) if isinstance(table, dict) else ()
    return any(nearest(nodes, (*place, name), table[name]) == key for name in unknown)


def _filter_named(document: Document, root: KeyPath, name: object) -> KeyPath | None:
    rows = document.value((*root, "filters"))
    for index, row in enumerate(rows if isinstance(rows, list | tuple) else ()):
        if isinstance(row, dict) and isinstance(name, str) and row.get("name") == name:
            return (*root, "filters", index)
    return None
