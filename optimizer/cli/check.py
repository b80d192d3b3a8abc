"""`darkfill check SHOTS [REQUEST]`: is this shot list safe and within the rules?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.arguments import IncludeOutside, ShotsArgument, request_missing
from optimizer.cli.failures import ExitCode, say
from optimizer.cli.output import print_json
from optimizer.cli.twin import twin_of

EXAMPLE = (
    "Example: darkfill check plans/first-night/stored/request.2026-10-10.shots.csv "
    "plans/first-night/request.toml   "
    "names each broken rule with step and amount. A JSON list carries its request; a CSV list needs one."
)


def command(
    shots: ShotsArgument,
    request: Annotated[
        Path | None,
        typer.Argument(metavar="[REQUEST]", help="Check against this request (needed for CSV)."),
    ] = None,
    include_outside: IncludeOutside = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the findings as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:
    """Audit a shot list: every violation, with step, rule and amount."""
    from optimizer import audit, load
    from optimizer.export.shot_files import read_shots
    from optimizer.report.audit_view import audit_view
    from optimizer.report.counts_since import with_counts_of
    from optimizer.report.tables import show

    read = read_shots(shots)
    if request is not None:
        asked = load(request, include_outside=include_outside).request
        own = read.shots or twin_of(shots, read.steps)
        if asked.tally is not None and own is not None:
            asked, told = with_counts_of(own.request, asked)
            if told is not None:
                say(told)
        report = audit(read.shots or read.steps, asked)
    elif read.shots is not None:
        report = audit(read.shots)
    else:
        raise request_missing(shots, "check")
    if as_json:
        print_json(report)
    else:
        show(audit_view(report, read.shots))
    return ExitCode.VIOLATIONS if report.violations else ExitCode.DONE
