"""The schema of a season's JSON file, as plans/SEASON.md explains it."""

from __future__ import annotations

from optimizer.models.season import SEASON_SCHEMA, SeasonFile
from optimizer.schemas.files import schema_of_file
from optimizer.schemas.generator import Node

TITLE = "Season of many nights"
DESCRIPTION = (
    f"The plans of many nights together and what is known of them, as {SEASON_SCHEMA} has it; the CSV file"
    " has the subs of the nights alone. x-unit is the unit of a number, times are UTC."
)


def season_schema() -> Node:
    """Make the schema of a season's JSON file."""
    return schema_of_file(SeasonFile, "season_words.toml", title=TITLE, description=DESCRIPTION)
