"""`darkfill schema request|shots|season|tally`: what editors and programs need to know of the files."""

from __future__ import annotations

import sys
from enum import StrEnum
from typing import Annotated

import typer

from optimizer.cli.failures import ExitCode

EXAMPLE = (
    "Example: darkfill schema request > darkfill-request.schema.json   writes the schema of a request. An"
    " editor that knows TOML schemas takes it from the first line of a request beside it: "
    "#:schema ./darkfill-request.schema.json"
)


class Kind(StrEnum):
    """What a schema describes."""

    REQUEST = "request"
    SHOTS = "shots"
    SEASON = "season"
    TALLY = "tally"


def command(
    kind: Annotated[
        Kind,
        typer.Argument(
            metavar="request|shots|season|tally",
            help="A request as it is typed, the JSON file of a shot list or season, or the rows of a tally.",
        ),
    ],
) -> ExitCode:
    """Print the JSON Schema of a request, a shot list, a season or a tally, with the unit of each number."""
    from optimizer.schemas.texts import schema_text

    sys.stdout.write(schema_text(kind.value))
    sys.stdout.flush()
    return ExitCode.DONE
