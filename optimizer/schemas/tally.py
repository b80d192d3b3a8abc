"""The schema of a tally, a CSV file, as the list of its rows."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field

from optimizer.models.base import Frozen
from optimizer.schemas.generator import Node, schema_of
from optimizer.tally.tally_file import MOST_IN_ROW

TITLE = "Tally of subs in hand"
DESCRIPTION = (
    "The rows of a tally, which is a CSV file, as data: one object a row, its keys the columns in their"
    " order, numbers as numbers, an empty cell as null or left out. Frames less those rejected are in"
    " hand. x-unit is the unit of a number."
)
Text = Annotated[str, Field(min_length=1, pattern=r"\S")]


class TallyRow(Frozen):
    """How many subs of one goal, night and folder there are."""

    target: Text = Field(description="name of the target, as the request has it")
    filter: Text = Field(description="name of the filter, as the request has it")
    exposure_s: Annotated[float, Field(gt=0, le=86400)] = Field(
        description="of the goal; of a goal in hours, that of the subs"
    )
    gain: Annotated[int, Field(ge=0, le=100_000)] | None = Field(
        default=None, description="camera gain; empty: the goal leaves it to the camera"
    )
    offset: Annotated[int, Field(ge=0, le=100_000)] | None = Field(
        default=None, description="camera offset; empty: the goal leaves it to the camera"
    )
    binning: Annotated[int, Field(ge=1, le=16)] | None = Field(
        default=1, description="pixels binned in each direction; empty: 1"
    )
    evening: Annotated[str, Field(pattern=r"^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$")] | None = (
        Field(default=None, description="date on which the night began; may be empty in rows of your own")
    )
    frames: Annotated[int, Field(ge=0, le=MOST_IN_ROW)] = Field(description="subs taken")
    rejected: Annotated[int, Field(ge=0, le=MOST_IN_ROW)] | None = Field(
        default=0, description="of these, subs taken off; more than frames only in rows of your own"
    )
    source: str | None = Field(
        default=None, description="folder that was counted: written anew each time; empty: a row of your own"
    )


def tally_schema() -> Node:
    """Make the schema of a tally's rows."""
    row: dict[str, Any] = schema_of(TallyRow)
    dialect = row.pop("$schema")
    return {
        "$schema": dialect,
        "title": TITLE,
        "description": DESCRIPTION,
        "type": "array",
        "items": {"$ref": "#/$defs/TallyRow"},
        "$defs": {"TallyRow": {**row, "title": "Row of a tally"}},
    }
