"""`darkfill plan REQUEST`: the night's best shot list, audited, written and shown."""

from __future__ import annotations

import contextlib
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer import ctrl_c
from optimizer.cli.arguments import EveningOption, IncludeOutside, RequestArgument
from optimizer.cli.failures import ExitCode, say, stopped
from optimizer.cli.output import print_json
from optimizer.cli.plan_files import PlanFiles

if TYPE_CHECKING:
    from optimizer.models.shots import ShotList
    from optimizer.night import Night
    from optimizer.reading.load import LoadedRequest
    from optimizer.season.tonight import InView

EXAMPLE = (
    "Example: darkfill plan plans/first-night/request.toml --evening 2026-10-12   "
    "writes request.2026-10-12.shots.json and request.2026-10-12.shots.csv beside the request "
    "and shows the plan. With --evening tonight the clock says which night. "
    "Ctrl-C keeps the best plan found so far."
)


def command(
    request: RequestArgument,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="DIR",
            help="Folder for the files, made if missing; default: beside the request.",
        ),
    ] = None,
    evening: EveningOption = None,
    time_limit: Annotated[
        float | None, typer.Option("--time-limit", metavar="S", help="Search at most so many seconds.")
    ] = None,
    season: Annotated[
        Path | None,
        typer.Option(
            "--season",
            metavar="FILE",
            help="Plan in view of a season, by the STEM.season.json that darkfill season wrote.",
        ),
    ] = None,
    include_outside: IncludeOutside = False,
    page: Annotated[
        bool, typer.Option("--page", help="Draw the night as well: STEM.EVENING.html beside the shot list.")
    ] = False,
    relief: Annotated[
        bool,
        typer.Option(
            "--relief",
            help="Say for each goal left short what one easier rule would give; takes seconds for each.",
        ),
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the shot list as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:
    """Find the night's best shot list, audit it, write it as JSON and CSV, and show it."""
    began = time.monotonic()
    from optimizer import Night
    from optimizer.cli.loading import announce, load, writable_folder
    from optimizer.cli.progress import Teller
    from optimizer.export.shot_files import night_name
    from optimizer.report.audit_view import audit_view
    from optimizer.report.plan_view import plan_view
    from optimizer.report.tables import show

    loaded = load(request, evening=evening, time_limit_s=time_limit, include_outside=include_outside)
    name = night_name(request, loaded.request.night.evening)
    files = PlanFiles(writable_folder(request, out), name, with_page=page)
    view = None if season is None else _in_view(season, loaded)
    announce(loaded)
    if view is not None:
        loaded = replace(loaded, request=view[0].as_planned)
        for doubt in view[1]:
            say(f"warning: {doubt}")
    with Teller(loaded.request.aim.time_limit_s, began) as teller:

        def tell(seconds: float, value_s: float, bound_s: float) -> None:
            ctrl_c.keep()  # there is a plan now
            teller.tell(seconds, value_s, bound_s)

        night = Night(loaded, view=None if view is None else view[0])
        shots = night.plan(tell, began)
    if shots.proof.status == "stopped" and not shots.steps:
        return stopped()
    ctrl_c.keep()
    if shots.audit_report.violations:
        show(audit_view(shots.audit_report), sys.stderr)
        say("the plan failed its audit and was not written; this is a defect of darkfill")
        return ExitCode.VIOLATIONS
    try:
        shots = _finished(shots, night, files, relief=relief)
        if as_json:
            print_json(shots)
        else:
            show(plan_view(shots))
    finally:  # what is on the disk is told, whatever comes between
        files.tell()
    if files.refused is not None:
        raise files.refused
    if shots.steps:
        return ExitCode.DONE
    sure = shots.proof.bound == 0
    what = "nothing can be scheduled" if sure else "no plan was found, though one may exist,"
    say(f"{what} on this night; no shot list was written")
    files.set_aside()
    return ExitCode.NOTHING_TO_SCHEDULE


def _in_view(season: Path, loaded: LoadedRequest) -> tuple[InView, tuple[str, ...]]:
    """The night in view of a season, and what makes that old. Raises InputError where it is not its own."""
    from optimizer.reading.season_file import read_season
    from optimizer.season.matching import in_view

    return in_view(read_season(season), loaded.request, str(season), loaded.rig)


def _finished(shots: ShotList, night: Night, files: PlanFiles, *, relief: bool) -> ShotList:
    """The list once it is written, then with what may be left out: the page, and the relief wanted."""
    from optimizer.errors import OutputError

    try:
        if shots.steps:
            files.write(shots)
            files.draw(shots)
        if relief and (ctrl_c.presses() or shots.proof.status == "stopped"):
            say("stopped by Ctrl-C: no relief was looked for")
        elif relief:  # whatever becomes of it, the plan is written
            with contextlib.suppress(KeyboardInterrupt):
                shots = _relieved(shots, night)
                if shots.steps:
                    files.write_again(shots)
    except OutputError as error:
        files.refused = error
    return shots


def _relieved(shots: ShotList, night: Night) -> ShotList:
    """The list with what one step of relief would give; Ctrl-C ends the asking."""
    from optimizer.cli.progress import Step
    from optimizer.relief import MOST_QUESTIONS, questions_of, relieve

    questions = questions_of(night, shots.unplanned)
    with Step(min(len(questions), MOST_QUESTIONS), "Ctrl-C keeps the plan") as step:
        entries = relieve(night, shots.unplanned, questions, step.tell)
    return shots.model_copy(update={"unplanned": entries})
