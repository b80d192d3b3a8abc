"""`darkfill windows REQUEST`: when may the shutter be open tonight, and what closes each window?"""

from __future__ import annotations

from typing import Annotated

import typer

from optimizer.cli.arguments import EveningOption, IncludeOutside, RequestArgument
from optimizer.cli.failures import ExitCode
from optimizer.cli.output import print_json

EXAMPLE = (
    "Example: darkfill windows plans/long-winter-night/request.toml   "
    "lists for each target, filter and pier side when the shutter may be open, and why no longer."
)


def command(
    request: RequestArgument,
    evening: EveningOption = None,
    include_outside: IncludeOutside = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the windows as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:
    """Show when the shutter may be open tonight, per target, filter and pier side."""
    from optimizer import windows
    from optimizer.cli.loading import announce, load
    from optimizer.report.tables import show
    from optimizer.report.windows_view import windows_view

    loaded = load(request, evening=evening, include_outside=include_outside)
    announce(loaded)
    report = windows(loaded)
    if as_json:
        print_json(report)
    else:
        show(windows_view(report))
    return ExitCode.DONE
