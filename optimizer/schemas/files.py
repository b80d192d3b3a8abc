"""The schema of a JSON file that darkfill writes, its keys explained as one of the pages in plans/ does."""

from __future__ import annotations

import tomllib
from importlib.resources import files

from optimizer.models.base import Frozen
from optimizer.schemas.generator import Node, nodes_of, schema_of, with_titles
from optimizer.schemas.request import KEYS_OF_REQUEST, with_patterns_of_names
from optimizer.schemas.written import WHOLE_INSTANT

_TOOL = {
    "name": "name of the software",
    "version": "its version",
    "ortools": "version of the solver",
    "astropy": "version of what the sky comes from",
    "numpy": "version of what numbers are counted with",
}


def schema_of_file(model: type[Frozen], words_file: str, *, title: str, description: str) -> Node:
    """Make the schema of a file that carries its request, its keys described by a file of words in this room.

    The table of words for the file itself has the name of its model, less `Written` before it.
    """
    made = schema_of(model)
    parts: dict[str, Node] = made["$defs"]
    words = tomllib.loads(files(__package__).joinpath(words_file).read_text(encoding="utf-8"))
    tables = {**words, "Tool": _TOOL, "Request": KEYS_OF_REQUEST, "Target": {"goals": "its goals"}}
    for name, meanings in tables.items():
        keys = (made if name == model.__name__.removeprefix("Written") else parts[name])["properties"]
        for key, meaning in meanings.items():
            keys[key].setdefault("description", meaning)
    for node in nodes_of(made):
        if node.get("format") == "date-time":
            node["pattern"] = WHOLE_INSTANT
    with_patterns_of_names(made)
    with_titles(made)
    made.update(title=title, description=description)
    return made
