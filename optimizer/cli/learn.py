"""`darkfill learn FOLDER REQUEST`: what the rig really takes, by the times between the images' shutters."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer import ctrl_c
from optimizer.cli.arguments import EveningOption, IncludeOutside, RequestArgument
from optimizer.cli.failures import ExitCode, say
from optimizer.cli.output import print_json

EXAMPLE = (
    "Example: darkfill learn images my-request.toml --shots my-request.2026-11-14.shots.json "
    "--write rig-learned.toml   says how long download, dithers, filter changes, autofocus and slews really "
    "took, beside what the request plans for them, where that night and its list parted, and what the next "
    "night gains. Neither the request nor the folder is changed."
)


def command(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="The folder of images, with the folders in it.")
    ],
    request: RequestArgument,
    shots: Annotated[
        Path | None,
        typer.Option(
            "--shots",
            metavar="SHOTS",
            help="The list that one of the nights was taken by, as JSON: say where night and list parted.",
        ),
    ] = None,
    write: Annotated[
        Path | None,
        typer.Option(
            "--write",
            metavar="FILE",
            help="Write the learned numbers to this TOML file, which the request can include; a file of "
            "that name is kept as FILE.old.",
        ),
    ] = None,
    evening: EveningOption = None,
    time_limit: Annotated[
        float | None,
        typer.Option(
            "--time-limit",
            metavar="S",
            help="Seconds for each of the two searches that say what the night gains; default: 5.",
        ),
    ] = None,
    include_outside: IncludeOutside = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print what was learned as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:
    """Learn from a folder of FITS images how long the rig really takes for each act; headers are read."""
    from optimizer import learn
    from optimizer.cli.loading import announce, load
    from optimizer.cli.progress import Learning
    from optimizer.learn.tonight import LIMIT_S
    from optimizer.report.learn_view import learn_view
    from optimizer.report.tables import show

    announce(load(request, evening=evening, time_limit_s=time_limit, include_outside=include_outside))
    with Learning() as line:
        report = learn(
            folder,
            request,
            shots=shots,
            write=write,
            evening=evening,
            time_limit_s=LIMIT_S if time_limit is None else time_limit,
            include_outside=include_outside,
            tell=line.tell,
            doing=line.doing,
        )
    ctrl_c.keep()  # what was to be written is written
    if as_json:
        print_json(report)
    else:
        show(learn_view(report))
    if report.older is not None:
        say(f"renamed an older file: {report.older}")
    if report.written is not None:
        say(f"wrote {report.written}")
    elif write is not None:
        say("no number to write: no file was written")
    return ExitCode.DONE
