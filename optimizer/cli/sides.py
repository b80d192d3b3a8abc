"""`darkfill sides REQUEST`: before the transit, after it, or across it?"""

from __future__ import annotations

from typing import Annotated

import typer

from optimizer.cli.arguments import EveningOption, IncludeOutside, RequestArgument
from optimizer.cli.failures import ExitCode, say
from optimizer.cli.output import print_json

EXAMPLE = (
    "Example: darkfill sides plans/first-night/request.toml   "
    "says for each target whether before, after or across the transit serves the night best, "
    "and what the others cost."
)


def command(
    request: RequestArgument,
    evening: EveningOption = None,
    time_limit: Annotated[
        float | None,
        typer.Option(
            "--time-limit",
            metavar="S",
            help="Seconds for the whole comparison: the best plan and all searches after it.",
        ),
    ] = None,
    include_outside: IncludeOutside = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the comparison as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:
    """Compare before, after and across the transit for each target, alone and in the whole night."""
    from optimizer import sides
    from optimizer.cli.loading import announce, load
    from optimizer.cli.progress import Step
    from optimizer.report.sides_view import sides_view
    from optimizer.report.tables import show

    loaded = load(request, evening=evening, time_limit_s=time_limit, include_outside=include_outside)
    announce(loaded)
    with Step(1 + len(loaded.request.targets)) as step:
        report = sides(loaded, tell=step.tell)
    if as_json:
        print_json(report)
    else:
        show(sides_view(report))
    if all(target.best is None for target in report.targets):
        proofs = (facts.night_proof for target in report.targets for facts in target.choices.values())
        proven = all(proof.status == "impossible" for proof in proofs)
        say("nothing can be scheduled on this night" if proven else "no plan was found for this night")
        return ExitCode.NOTHING_TO_SCHEDULE
    return ExitCode.DONE
