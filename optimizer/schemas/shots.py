"""The schema of a shot list's JSON file, as plans/SHOTS.md explains it."""

from __future__ import annotations

from optimizer.models.shots import SHOTS_SCHEMA, WrittenShotList
from optimizer.schemas.files import schema_of_file
from optimizer.schemas.generator import Node

TITLE = "Shot list of a night"
DESCRIPTION = (
    f"A plan and all that is known of it, as {SHOTS_SCHEMA} has it; its CSV file has the steps alone. x-unit"
    " is the unit of a number, times are UTC. Keys that have a default may be missing in lists of earlier"
    " versions. Whether a list is safe a schema cannot say: darkfill check does."
)


def shots_schema() -> Node:
    """Make the schema of a shot list's JSON file."""
    return schema_of_file(WrittenShotList, "shots_words.toml", title=TITLE, description=DESCRIPTION)
