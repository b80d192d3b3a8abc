"""`darkfill tally FOLDER REQUEST`: what is in hand, counted from the headers of the images."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer import ctrl_c
from optimizer.cli.arguments import IncludeOutside, RequestArgument
from optimizer.cli.failures import ExitCode
from optimizer.cli.output import print_json

EXAMPLE = (
    "Example: darkfill tally images my-request.toml --skip-folder rejected --report   "
    'counts the subs in the folder "images" into the file that the request names, as with '
    'tally = "in-hand.csv", and shows what is in hand of each goal. Nothing in the folder is changed.'
)


def command(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="The folder of images, with the folders in it.")
    ],
    request: RequestArgument,
    reject: Annotated[
        Path | None,
        typer.Option(
            "--reject",
            metavar="FILE",
            help="Reject the subs named in this text file, one name a line; it stays so in later runs.",
        ),
    ] = None,
    skip_folder: Annotated[
        list[str] | None,
        typer.Option(
            "--skip-folder",
            metavar="NAME",
            help="Do not count what lies in folders of this name; may be given again.",
        ),
    ] = None,
    recount: Annotated[
        bool,
        typer.Option(
            "--recount",
            help="Drop subs whose files have vanished from the folder, and forget older rejections in it.",
        ),
    ] = False,
    report: Annotated[
        bool, typer.Option("--report", help="Show what is in hand of each goal, by night, and what is left.")
    ] = False,
    include_outside: IncludeOutside = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print what was counted as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:
    """Count the subs in a folder of FITS images for the goals of a request; only headers are read."""
    from optimizer import tally
    from optimizer.cli.progress import Files
    from optimizer.report.tables import show
    from optimizer.report.tally_view import tally_view

    with Files() as files:
        told = tally(
            folder,
            request,
            reject=reject,
            skip_folders=tuple(skip_folder or ()),
            recount=recount,
            include_outside=include_outside,
            tell=files.tell,
        )
    ctrl_c.keep()  # the counts are written
    if as_json:
        print_json(told)
    else:
        show(tally_view(told, with_goals=report))
    return ExitCode.DONE
