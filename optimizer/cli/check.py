"""`darkfill check SHOTS [REQUEST]`: is this shot list safe and within the rules?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.arguments import IncludeOutside, request_missing
from optimizer.cli.failures import ExitCode, say
from optimizer.cli.late import LateOption, late_answer
from optimizer.cli.output import print_json
from optimizer.cli.twin import say_if_changed, twin_of
from optimizer.cli.typed import to_check

if TYPE_CHECKING:
    from optimizer.findings import Comparison
    from optimizer.models.continues import Continues
    from optimizer.models.request import Request
    from optimizer.models.season_tonight import InSeason
    from optimizer.models.shots import AuditReport, Step

EXAMPLE = (
    "Example: darkfill check plans/first-night/stored/request.2026-10-10.shots.csv "
    "plans/first-night/request.toml   "
    "says first whether the list is safe, then what is wrong with it, one line for each cause. A JSON list "
    "carries its request; a CSV list needs one."
)


def command(
    shots: Annotated[
        Path, typer.Argument(metavar="SHOTS", help="A shot list, JSON or CSV, ours or typed by hand.")
    ],
    request: Annotated[
        Path | None,
        typer.Argument(metavar="[REQUEST]", help="Check against this request (needed for CSV)."),
    ] = None,
    compare: Annotated[
        bool,
        typer.Option("--compare", help="Plan the request too, and say how much of the night the list uses."),
    ] = False,
    time_limit: Annotated[
        float,
        typer.Option("--time-limit", metavar="S", help="Seconds for the plan that --compare makes."),
    ] = 5.0,
    include_outside: IncludeOutside = False,
    late: LateOption = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the findings as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:
    """Audit a shot list: is it safe, what would be lost, and why; --json has every violation."""
    from optimizer import audit
    from optimizer.findings import checked
    from optimizer.report.check_answer import check_answer
    from optimizer.report.check_view import check_view
    from optimizer.report.counts_since import with_counts_of
    from optimizer.report.late_view import late_warning, more_view
    from optimizer.report.tables import show

    read = to_check(shots, request, include_outside=include_outside)
    if (asked := read.asked) is not None:
        own = read.shots or twin_of(shots, read.steps)
        if asked.tally is not None and own is not None:
            asked, told = with_counts_of(own.request, asked)
            if told is not None:
                say(told)
        report = audit(read.shots or read.steps, asked)
    elif read.shots is not None:
        asked = read.shots.request
        say_if_changed(read.shots)
        report = audit(read.shots)
    else:
        raise request_missing(shots, "check")
    continues = None if read.shots is None else read.shots.continues
    asked_late = None if late is None else late_answer(late, read)
    own_season = read.shots.season if read.shots is not None and asked is read.shots.request else None
    beside = _compared(asked, read.steps, report, continues, own_season, time_limit) if compare else None
    found = checked(asked, read.steps, report, continues, beside)
    if as_json:
        print_json(check_answer(found, read.typed, asked_late, read.zone))
    else:
        lines = None if read.typed is None else read.typed.lines
        provided = "" if read.typed is None else read.typed.provided(read.zone)
        show(check_view(found, read.shots, lines, provided, late_warning(asked_late)))
        show(more_view(read.typed, asked_late, read.zone))
    return ExitCode.VIOLATIONS if report.violations else ExitCode.DONE


def _compared(
    request: Request,
    steps: tuple[Step, ...],
    report: AuditReport,
    continues: Continues | None,
    season: InSeason | None,
    limit_s: float,
) -> Comparison:
    """The list beside a plan of the same request, with the line of progress while that is searched."""
    from optimizer.cli.progress import Teller
    from optimizer.findings.compare import compared
    from optimizer.reading.given import seconds_given

    limit_s = seconds_given(limit_s, "--compare", "--time-limit")
    with Teller(limit_s) as teller:
        return compared(
            request, steps, report, continues, season=season, time_limit_s=limit_s, tell=teller.tell
        )
