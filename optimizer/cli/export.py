"""`darkfill export SHOTS --as FORM -o OUT`: a plan handed over to other programs, a calendar, or paper.

`--template FILE` in place of `--as FORM` writes what a user's own template makes of the same views.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer import ctrl_c
from optimizer.cli.arguments import IncludeOutside, ShotsArgument, request_missing
from optimizer.cli.failures import ExitCode, say
from optimizer.cli.twin import say_if_changed, twin_of

if TYPE_CHECKING:
    from optimizer.models.shots import AuditReport
    from optimizer.views.models import PlanView

EXAMPLE = (
    "Example: darkfill export plans/first-night/stored/request.2026-10-10.shots.json --as ics -o night.ics   "
    "writes the night as a calendar; -o - prints it. The list is audited again first: one that breaks a rule "
    "is not handed over. A JSON list carries its request; a CSV list needs one. With --template in place of "
    "--as, a file of your own is filled with the same views; plans/templates has two examples."
)
STDOUT = "-"
MOST_TOLD = 5  # violations; `darkfill check` tells them all


class Form(StrEnum):
    """What a plan is handed over as."""

    BLOCKS = "blocks"
    STEPS = "steps"
    JSON = "json"
    ICS = "ics"
    SHEET = "sheet"
    OBSPLAN = "obsplan"


def command(
    shots: ShotsArgument,
    request: Annotated[
        Path | None,
        typer.Argument(metavar="[REQUEST]", help="The request of a CSV list; a JSON list has its own."),
    ] = None,
    form: Annotated[
        Form | None,
        typer.Option(
            "--as",
            help="blocks or steps: CSV; json: all views; ics: a calendar; sheet: plain text for paper; "
            "obsplan: the IVOA's table of planned observations (ECSV).",
        ),
    ] = None,
    template: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Your own template of the views, in place of a form."),
    ] = None,
    out: Annotated[
        str | None,
        typer.Option(
            "--out", "-o", metavar="OUT",
            help="File to write, or - for stdout. A file that is there is kept as OUT.old.",
        ),
    ] = None,
    include_outside: IncludeOutside = False,
) -> ExitCode:  # fmt: skip
    """Hand a plan over: blocks, steps, JSON, a calendar, a sheet for paper, the IVOA's table, or your own."""
    write = _writer(form, template)
    inputs = {"the shot list": shots, "the request": request, "the template": template}
    place = _place(out, inputs)
    report, view = _audited_view(shots, request, include_outside)
    if report.violations:
        return _not_handed_over(shots, report)
    _hand_over(write(view), place)
    return ExitCode.DONE


def _writer(form: Form | None, template: Path | None) -> Callable[[PlanView], bytes]:
    """What makes a file's content of a plan's views. Raises InputError before any work is done."""
    from optimizer.cli.loading import refused
    from optimizer.words import safe

    if form is not None and template is not None:
        raise refused("--template", safe(str(template)), "does not go with --as", "leave out one of the two")
    if template is not None:
        from optimizer.export.template import read_template, render

        return partial(render, read_template(template))
    if form is None:
        remedy = f"name a form: {', '.join(Form)}; or a template of your own with --template"
        raise refused("--as", "", "is missing", remedy)
    from optimizer.export.view_files import FORMS

    write = FORMS[form]
    return lambda view: write(view).encode()


def _place(out: str | None, inputs: Mapping[str, Path | None]) -> Path | None:
    """The file to write; None for stdout. Raises InputError or OutputError before any work is done."""
    from optimizer.cli.loading import is_there, refused
    from optimizer.export.atomic import check_writable
    from optimizer.words import safe

    if out is None:
        raise refused("--out", "", "is missing", "name a file to write, or - for stdout")
    if out == STDOUT:
        return None
    path = Path(out)
    for what, read in inputs.items():
        if read is not None and is_there(path) and is_there(read) and path.samefile(read):
            raise refused("--out", safe(out), f"is {what} itself", "name another file")
    check_writable([path])
    return path


def _audited_view(shots: Path, request: Path | None, include_outside: bool) -> tuple[AuditReport, PlanView]:
    """The views of a list, and its audit, made anew: what a file says of itself is not taken on trust."""
    from optimizer import audit, load
    from optimizer.cli.loading import refused
    from optimizer.export.shot_files import read_shots
    from optimizer.reading.files import refuse
    from optimizer.report.counts_since import with_counts_of
    from optimizer.views.view import view_of, view_of_steps
    from optimizer.words import safe

    read = read_shots(shots)
    if not read.steps:
        raise refuse(str(shots), "the list has no steps", "there is nothing to hand over")
    if read.shots is not None:
        if request is not None:
            raise refused("REQUEST", safe(str(request)), "is not needed", "a JSON list carries its own")
        say_if_changed(read.shots)
        report = audit(read.shots)
        return report, view_of(read.shots, report)
    if request is None:
        raise request_missing(shots, "export")
    asked = load(request, include_outside=include_outside).request
    own = None if asked.tally is None else twin_of(shots, read.steps)
    if own is not None:
        asked, told = with_counts_of(own.request, asked)
        if told is not None:
            say(told)
    report = audit(read.steps, asked)
    return report, view_of_steps(read.steps, asked, report)


def _not_handed_over(shots: Path, report: AuditReport) -> ExitCode:
    """Say that a list is not safe, and why."""
    from optimizer.words import count, safe

    broken = count(len(report.violations), "violation")
    say(f"{safe(str(shots))} breaks rules ({broken}) and is not handed over; nothing was written:")
    for violation in report.violations[:MOST_TOLD]:
        say(f"  {violation.message}")
    rest = len(report.violations) - MOST_TOLD
    if rest > 0:
        say(f"  and {rest} more; darkfill check tells them all")
    return ExitCode.VIOLATIONS


def _hand_over(content: bytes, path: Path | None) -> None:
    """Write a file whole or not at all, or to stdout with nothing else there."""
    from optimizer.export.atomic import write_beside_older
    from optimizer.words import safe

    if path is None:
        sys.stdout.flush()
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return
    ctrl_c.keep()  # from here on it is done in a moment, and told
    if path.is_file() and path.read_bytes() == content:
        say(f"{safe(str(path))} holds just this already")
        return
    for older in write_beside_older({path: content}).values():
        say(f"the older {safe(path.name)} is now {safe(older.name)}")
    say(f"wrote {safe(str(path))}")
