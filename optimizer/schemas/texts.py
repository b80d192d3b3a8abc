"""The schemas as text: what `darkfill schema` prints and plans/schemas keeps."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Literal

from optimizer.schemas.generator import Node
from optimizer.schemas.request import request_schema
from optimizer.schemas.season import season_schema
from optimizer.schemas.shots import shots_schema
from optimizer.schemas.tally import tally_schema

Kind = Literal["request", "shots", "season", "tally"]

SCHEMAS: dict[Kind, Callable[[], Node]] = {
    "request": request_schema,
    "shots": shots_schema,
    "season": season_schema,
    "tally": tally_schema,
}


def schema_text(kind: Kind) -> str:
    """Write a schema as JSON in ASCII, which every terminal and file takes, with a line feed at its end."""
    return json.dumps(SCHEMAS[kind](), indent=2) + "\n"


def file_name(kind: Kind) -> str:
    """The name of a schema's file, wherever it lies."""
    return f"darkfill-{kind}.schema.json"
