"""`darkfill targets REQUEST`: which targets are wanted, where they are, and what is in hand of them."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from optimizer.cli.arguments import IncludeOutside, RequestArgument
from optimizer.cli.failures import ExitCode
from optimizer.cli.output import print_json

EXAMPLE = (
    "Example: darkfill targets plans/first-night/request.toml --csv > all.csv   "
    "writes all targets with their goals as a table for a spreadsheet. A request without [[targets]] that "
    'has targets_csv = "all.csv" above its first [table] wants the same.'
)


def command(
    request: RequestArgument,
    as_csv: Annotated[
        bool,
        typer.Option(
            "--csv",
            help="Print the targets as a table (CSV, UTF-8) to stdout, nothing else; done is as it is "
            "written, without what a tally counts.",
        ),
    ] = False,
    include_outside: IncludeOutside = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the targets as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:
    """Show the targets of a request, those of a spreadsheet too, and what is in hand of their goals."""
    from optimizer.cli.loading import announce, refused
    from optimizer.export.targets_csv import targets_csv
    from optimizer.reading.load import load_targets
    from optimizer.report.tables import show
    from optimizer.report.targets_facts import targets_report
    from optimizer.report.targets_view import targets_view

    if as_csv and as_json:
        raise refused("--csv", "", "cannot be given with --json", "give one of the two")
    read = load_targets(request, allow_outside=include_outside)
    announce(read.loaded)
    if as_csv:
        sys.stdout.flush()
        sys.stdout.buffer.write(targets_csv(read.as_written.targets).encode())
        sys.stdout.buffer.flush()
        return ExitCode.DONE
    report = targets_report(read.loaded.request, read.catalogue)
    if as_json:
        print_json(report)
    else:
        show(targets_view(report))
    return ExitCode.DONE
