"""`darkfill plan REQUEST`: the night's best shot list, audited, written and shown."""

from __future__ import annotations

import contextlib
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.arguments import IncludeOutside, RequestArgument
from optimizer.cli.failures import ExitCode, say
from optimizer.cli.output import print_json

if TYPE_CHECKING:
    from optimizer.models.shots import ShotList
    from optimizer.whatif import WhatIf

EXAMPLE = (
    "Example: darkfill plan plans/first-night/request.toml --evening 2026-10-12   "
    "writes request.shots.json and request.shots.csv beside the request and shows the plan. "
    "Ctrl-C keeps the best plan found so far."
)


def command(
    request: RequestArgument,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Folder for the shot list; default: beside the request."),
    ] = None,
    evening: Annotated[
        str | None, typer.Option("--evening", metavar="DATE", help="Plan this night (YYYY-MM-DD) instead.")
    ] = None,
    time_limit: Annotated[
        float | None, typer.Option("--time-limit", metavar="S", help="Search at most so many seconds.")
    ] = None,
    include_outside: IncludeOutside = False,
    page: Annotated[
        bool, typer.Option("--page", help="Draw the night as well: STEM.html beside the shot list.")
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
    from optimizer.cli.loading import announce, load, writable_folder
    from optimizer.cli.progress import Teller
    from optimizer.export.atomic import check_writable, write_atomically
    from optimizer.export.json_file import json_text
    from optimizer.export.shot_files import page_path, shot_paths, write_shots
    from optimizer.models.base import InputError
    from optimizer.planner import plan_and_keep
    from optimizer.report.audit_view import audit_view
    from optimizer.report.plan_view import plan_view
    from optimizer.report.tables import show

    loaded = load(request, evening=evening, time_limit_s=time_limit, include_outside=include_outside)
    folder = writable_folder(request, out)
    paths = shot_paths(folder, request.stem)
    drawn = page_path(paths[0])
    check_writable([*paths, drawn] if page else list(paths))
    announce(loaded)
    with Teller(loaded.request.aim.time_limit_s, began) as teller:
        began = teller.make_ready(by_depth=loaded.request.aim.value == "depth")
        shots, night = plan_and_keep(loaded, teller.tell, began)
    if shots.audit.violations:
        show(audit_view(shots.audit), sys.stderr)
        say("the plan failed its audit and was not written; this is a defect of darkfill")
        return ExitCode.VIOLATIONS
    refused: InputError | None = None
    written: tuple[Path, ...] = ()
    try:
        if shots.steps:
            written = write_shots(folder, request.stem, shots)
            if page:  # after the list, which matters more
                _draw(shots, drawn)
                written = (*written, drawn)
        if relief and shots.proof.status == "stopped":
            say("the search was stopped, so no relief was looked for")
        elif relief:  # whatever becomes of it, the plan is written
            with contextlib.suppress(KeyboardInterrupt):
                shots = _relieved(shots, night)
                if shots.steps:
                    write_atomically(paths[0], json_text(shots).encode())
                    if page:
                        _draw(shots, drawn)
    except InputError as error:
        refused = error
    if as_json:
        print_json(shots)
    else:
        show(plan_view(shots))
    if refused is not None:
        raise refused
    for path in written:
        say(f"wrote {path}")
    if not written:
        say("nothing can be scheduled on this night; no shot list was written")
        return ExitCode.NOTHING_TO_SCHEDULE
    return ExitCode.DONE


def _draw(shots: ShotList, path: Path) -> None:
    from optimizer.export.atomic import write_atomically
    from optimizer.report.picture.page import page_text
    from optimizer.report.picture.shown import shown_list

    write_atomically(path, page_text(shown_list(shots)).encode())


def _relieved(shots: ShotList, night: WhatIf) -> ShotList:
    """The list with what one step of relief would give; Ctrl-C ends the asking."""
    from optimizer.cli.progress import Step
    from optimizer.relief import MOST_QUESTIONS, questions_of, relieve

    questions = questions_of(night, shots.unplanned)
    with Step(min(len(questions), MOST_QUESTIONS), "Ctrl-C keeps the plan") as step:
        entries = relieve(night, shots.unplanned, questions, step.tell)
    return shots.model_copy(update={"unplanned": entries})
