"""Arguments and options that several commands take, and what is said where one is missing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from optimizer.errors import InputError

RequestArgument = Annotated[Path, typer.Argument(metavar="REQUEST", help="The request, TOML or JSON.")]
RequestsArgument = Annotated[
    list[Path],
    typer.Argument(metavar="REQUEST...", help="The request, TOML or JSON; of several rigs, one each."),
]
ShotsArgument = Annotated[
    Path, typer.Argument(metavar="SHOTS", help="A shot list that darkfill wrote, JSON or CSV.")
]
IncludeOutside = Annotated[
    bool, typer.Option("--include-outside", help="Let the request include files from outside its own folder.")
]
EveningOption = Annotated[
    str | None,
    typer.Option(
        "--evening",
        metavar="DATE|tonight",
        help="Take this night (YYYY-MM-DD), not the request's; tonight: the one that runs or comes next, "
        "from noon to noon at the site.",
    ),
]


def request_missing(shots: Path, command: str) -> InputError:
    """To be raised where a list does not carry its request and none is named."""
    from optimizer.reading.files import refuse

    return refuse(
        str(shots),
        "a CSV list does not say what it was made for",
        f"name its request too: {command} SHOTS REQUEST",
    )
