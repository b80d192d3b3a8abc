"""`darkfill check SHOTS [REQUEST]`: is this shot list safe and within the rules?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.failures import ExitCode
from optimizer.cli.output import print_json

EXAMPLE = (
    "Example: darkfill check plans/first-night/request.shots.csv plans/first-night/request.toml   "
    "names each broken rule with step and amount. A JSON list carries its request; a CSV list needs one."
)


def command(
    shots: Annotated[
        Path, typer.Argument(metavar="SHOTS", help="A shot list, JSON or CSV, ours or typed by hand.")
    ],
    request: Annotated[
        Path | None,
        typer.Argument(metavar="[REQUEST]", help="Check against this request (needed for CSV)."),
    ] = None,
    include_outside: Annotated[
        bool,
        typer.Option("--include-outside", help="Let the request include files from outside its own folder."),
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the findings as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:
    """Audit a shot list: every violation, with step, rule and amount."""
    from optimizer.audit import audit_shot_list, audit_steps
    from optimizer.export.shot_files import read_shots
    from optimizer.models.base import InputError, InputProblem
    from optimizer.models.load import load_request
    from optimizer.report.audit_view import audit_view
    from optimizer.report.tables import show

    read = read_shots(shots)
    if request is not None:
        report = audit_steps(load_request(request, allow_outside=include_outside).request, read.steps)
    elif read.shots is not None:
        report = audit_shot_list(read.shots)
    else:
        problem = InputProblem(
            str(shots),
            "",
            "a CSV list does not say what it was made for",
            "name its request too: check SHOTS REQUEST",
        )
        raise InputError([problem])
    if as_json:
        print_json(report)
    else:
        show(audit_view(report))
    return ExitCode.VIOLATIONS if report.violations else ExitCode.DONE
