"""`darkfill replan SHOTS`: the best rest of a night that goes another way than its list."""

from __future__ import annotations

import sys
import time
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperCommand

from optimizer import ctrl_c
from optimizer.cli.failures import ExitCode, say, stopped
from optimizer.cli.output import print_json

if TYPE_CHECKING:
    from optimizer.models.shots import ShotList
    from optimizer.replan import Rest

EXAMPLE = (
    "Example: darkfill replan plans/first-night/stored/request.2026-10-10.shots.json --now 01:20 "
    "--block 01:20 02:30   plans the rest of that night anew, around a cloud. It first says where it takes "
    "the mount to be, for you to check, and the one thing to do now. The older list is never changed."
)
PARTED = "\x1f"  # between the two times of a block


class PierSide(StrEnum):
    """Where the tube stands."""

    WEST = "west"
    EAST = "east"


class ReplanCommand(TyperCommand):
    """A command whose `--block` takes two values, as often as it is given."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read the arguments, each block's two times joined to one value."""
        joined, rest = list[str](), list(args)
        while rest:
            word = rest.pop(0)
            joined.append(word)
            if word == "--":
                break
            if word == "--block" and len(rest) > 1 and not rest[1].startswith("--"):
                joined.append(PARTED.join((rest.pop(0), rest.pop(0))))
        return super().parse_args(ctx, joined + rest)


def command(
    shots: Annotated[Path, typer.Argument(metavar="SHOTS", help="The list that was going on, as JSON.")],
    now: Annotated[
        str | None,
        typer.Option(
            "--now", metavar="TIME",
            help="When the new list may take over: local like 01:23 or 2026-11-15T01:23, or UTC with Z; "
            "default: 10 s from now by the clock.",
        ),
    ] = None,
    done: Annotated[
        str | None,
        typer.Option(
            "--done", metavar="STEPS",
            help="Numbers of the steps done, like 1-150,153, or a CSV file that has them in a column called "
            "step (if its name looks like numbers, write ./153); default: all that ended by now. The step "
            "that runs is let end only if it is among them; on a late night, let --now be when it ends.",
        ),
    ] = None,
    images: Annotated[
        Path | None,
        typer.Option(
            "--images", metavar="FOLDER",
            help="Count only those subs as taken that an image in this folder shows, and no step that a list "
            "as late as they are has not come to; FITS headers are read.",
        ),
    ] = None,
    parked: Annotated[
        bool, typer.Option("--parked", help="The mount is parked at its home, as is usual after cloud.")
    ] = False,
    pier_side: Annotated[
        PierSide | None,
        typer.Option("--pier-side", help="Where the tube really stands; with --at."),
    ] = None,
    at: Annotated[
        str | None, typer.Option("--at", metavar="TARGET", help="The target that the mount really tracks.")
    ] = None,
    filter_name: Annotated[
        str | None, typer.Option("--filter", metavar="NAME", help="The filter that is in the light path.")
    ] = None,
    focused: Annotated[
        str | None, typer.Option("--focused", metavar="TIME", help="When the latest autofocus ended.")
    ] = None,
    drop_current: Annotated[
        bool, typer.Option("--drop-current", help="Stop the running sub; it does not count.")
    ] = False,
    until: Annotated[
        str | None, typer.Option("--until", metavar="TIME", help="Shoot nothing from then on.")
    ] = None,
    block: Annotated[
        list[str] | None,
        typer.Option(
            "--block", metavar="FROM TO",
            help="Shoot nothing between: cloud, a visitor. TO may be - for the rest of the night. Subs taken "
            "meanwhile do not count. May be given again.",
        ),
    ] = None,
    without: Annotated[
        list[str] | None,
        typer.Option("--without", metavar="TARGET", help="Leave out this target; may be given again."),
    ] = None,
    only: Annotated[
        list[str] | None,
        typer.Option("--only", metavar="TARGET", help="Leave out all others; may be given again."),
    ] = None,
    time_limit: Annotated[
        float | None,
        typer.Option("--time-limit", metavar="S", help="Search at most so many seconds; default: 2."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="DIR", help="Folder for the files, made if missing; default: beside the list."
        ),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the new list as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:  # fmt: skip
    """Plan the rest of a night anew from how mount and camera stand, audit it, write it, and show it."""
    began = time.monotonic()
    from optimizer import load_shots
    from optimizer.cli.loading import COMMAND_LINE, positive_seconds, writable_folder
    from optimizer.cli.plan_files import PlanFiles
    from optimizer.cli.progress import Teller
    from optimizer.export.replan_name import replan_name
    from optimizer.reading.shots_file import sha256_of_file
    from optimizer.replan import LIMIT_S, rest_of
    from optimizer.replan.asked import Asked, told_of
    from optimizer.report.replan_facts import has_subs, replanned
    from optimizer.report.replan_view import replan_view
    from optimizer.report.tables import show

    positive_seconds("--time-limit", time_limit)
    older = load_shots(shots)
    asked = Asked(
        now=now,
        done=done,
        images=images,
        parked=parked,
        pier_side=None if pier_side is None else pier_side.value,
        at=at,
        filter=filter_name,
        focused=focused,
        drop_current=drop_current,
        until=until,
        blocks=[_two(each) for each in block or ()],
        without=without or (),
        only=only or (),
    )
    told = told_of(older, asked, COMMAND_LINE, lambda name: f"--{name.replace('_', '-')}")
    folder = writable_folder(shots, out)
    name = replan_name(shots, older.night.evening, told.now, folder)
    files = PlanFiles(folder, name, with_page=False)
    limit_s = LIMIT_S if time_limit is None else time_limit
    with Teller(limit_s, began) as teller:

        def tell(seconds: float, value_s: float, bound_s: float) -> None:
            ctrl_c.keep()  # there is a plan now
            teller.tell(seconds, value_s, bound_s)

        rest = rest_of(older, told, sha256_of_file(shots), limit_s=limit_s, tell=tell, began=began)
    if rest.shots.proof.status == "stopped" and not rest.shots.steps:
        return stopped()
    ctrl_c.keep()
    if rest.violations:
        return _violated(rest)
    again = replanned(rest)
    try:
        if has_subs(rest.shots):
            files.write(rest.shots)
        if as_json:
            say(again.assumed)
            say(again.first)
            print_json(rest.shots)
        else:
            show(replan_view(again))
    finally:  # what is on the disk is told, whatever comes between
        if has_subs(rest.shots):
            files.tell()
    if has_subs(rest.shots):
        return ExitCode.DONE
    say("nothing more can be scheduled on this night; no shot list was written")
    files.set_aside()
    return ExitCode.NOTHING_TO_SCHEDULE


def _two(block: str) -> tuple[str, str]:
    """The two times of a block; one that is missing is an error of its own."""
    from optimizer.cli.loading import refused

    begins, parted, ends = block.partition(PARTED)
    if not parted:
        raise refused("--block", block, "has no second time", "write --block 01:20 03:00, or --block 01:20 -")
    return begins, ends


def _violated(rest: Rest) -> ExitCode:
    """Say what the audit found, and whose fault it is; such a list is not written."""
    from optimizer.audit import audit_shot_list
    from optimizer.report.audit_view import audit_view
    from optimizer.report.tables import show

    shots: ShotList = rest.shots
    report = shots.audit_report.model_copy(update={"violations": rest.violations})
    show(audit_view(report), sys.stderr)
    why = "this is a defect of darkfill"
    if audit_shot_list(rest.older).violations:
        why = "the older list breaks rules by itself (darkfill check tells which): name it as it was planned"
    say(f"the new list failed its audit and was not written; {why}")
    return ExitCode.VIOLATIONS
