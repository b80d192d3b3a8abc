"""The schema of a shot list's JSON file, as plans/SHOTS.md explains it."""

from __future__ import annotations

import tomllib
from importlib.resources import files

from optimizer.models.shots import SHOTS_SCHEMA, WrittenShotList
from optimizer.schemas.generator import Node, nodes_of, schema_of, with_titles
from optimizer.schemas.request import KEYS_OF_REQUEST, with_patterns_of_names
from optimizer.schemas.written import WHOLE_INSTANT

TITLE = "Shot list of a night"
DESCRIPTION = (
    f"A plan and all that is known of it, as {SHOTS_SCHEMA} has it; its CSV file has the steps alone. x-unit"
    " is the unit of a number, times are UTC. Keys that have a default may be missing in lists of earlier"
    " versions. Whether a list is safe a schema cannot say: darkfill check does."
)
_TOOL = {
    "name": "name of the software",
    "version": "its version",
    "ortools": "version of the solver",
    "astropy": "version of what the sky comes from",
    "numpy": "version of what numbers are counted with",
}


def shots_schema() -> Node:
    """Make the schema of a shot list's JSON file."""
    made = schema_of(WrittenShotList)
    parts: dict[str, Node] = made["$defs"]
    words = tomllib.loads(files(__package__).joinpath("shots_words.toml").read_text(encoding="utf-8"))
    tables = {**words, "Tool": _TOOL, "Request": KEYS_OF_REQUEST, "Target": {"goals": "its goals"}}
    for name, meanings in tables.items():
        keys = (made if name == "ShotList" else parts[name])["properties"]
        for key, meaning in meanings.items():
            keys[key].setdefault("description", meaning)
    for node in nodes_of(made):
        if node.get("format") == "date-time":
            node["pattern"] = WHOLE_INSTANT
    with_patterns_of_names(made)
    with_titles(made)
    made.update(title=TITLE, description=DESCRIPTION)
    return made
