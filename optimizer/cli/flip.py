"""`darkfill flip REQUEST`: do the mount's numbers fit together, and when does each target flip tonight?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.arguments import EveningOption, IncludeOutside
from optimizer.cli.failures import ExitCode
from optimizer.cli.output import print_json

EXAMPLE = (
    "Example: darkfill flip plans/first-night/request.toml --exposure 600   "
    "says whether 10-minute exposures fit before the flip, by how much, and when each target flips tonight."
)


def command(
    request: Annotated[
        Path, typer.Argument(metavar="REQUEST", help="The request, TOML or JSON; it needs no targets.")
    ],
    exposure: Annotated[
        float | None,
        typer.Option(
            "--exposure", metavar="S", help="Judge this exposure; default: the longest still wanted."
        ),
    ] = None,
    evening: EveningOption = None,
    include_outside: IncludeOutside = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the numbers as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:
    """Explain the numbers around the meridian: forbidden zone, worst case, margin, tonight's flips."""
    from optimizer import flip
    from optimizer.cli.loading import announce, load, positive_seconds
    from optimizer.report.flip_view import flip_view
    from optimizer.report.tables import show

    positive_seconds("--exposure", exposure)
    loaded = load(request, evening=evening, include_outside=include_outside, targets_needed=False)
    announce(loaded)
    report = flip(loaded, exposure_s=exposure)
    if as_json:
        print_json(report)
    else:
        show(flip_view(report, loaded.request.site.time_zone))
    return ExitCode.DONE
