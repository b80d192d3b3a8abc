"""`darkfill follow SHOTS`: what now, what next, when is the flip, how late is the night."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer import ctrl_c
from optimizer.cli.failures import ExitCode, say
from optimizer.cli.output import print_json

if TYPE_CHECKING:
    from optimizer.cli.following import Follower
    from optimizer.follow.server import Contents, ListServer
    from optimizer.models.shots import ShotList

EXAMPLE = (
    "Example: darkfill follow request.2026-10-10.shots.json --images images   shows what runs by the plan, "
    "what comes next, when the flip is, and by the images how late the night runs and what that costs. It "
    "goes over to a newer list by itself, writes nothing, and ends with Ctrl-C."
)


def command(
    shots: Annotated[Path, typer.Argument(metavar="SHOTS", help="The list that is going on, as JSON.")],
    images: Annotated[
        Path | None,
        typer.Option(
            "--images", metavar="FOLDER",
            help="Look at the FITS images that arrive in this folder; only headers are read.",
        ),
    ] = None,
    now: Annotated[
        str | None,
        typer.Option(
            "--now", metavar="TIME",
            help="Tell of this instant, once: local like 01:23 or 2026-11-15T01:23, or UTC with Z.",
        ),
    ] = None,
    serve: Annotated[
        bool, typer.Option("--serve", help="Serve the page and the newest list to a browser meanwhile.")
    ] = False,
    lan: Annotated[
        bool,
        typer.Option("--lan", help="Serve the local network too, the phone, say: anyone on it can read."),
    ] = False,
    port: Annotated[
        int | None, typer.Option("--port", metavar="N", help="Serve at this port; default: 8777.")
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Tell it once, as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:  # fmt: skip
    """Follow a night by its list and its images; nothing is written, and no mount is asked."""
    from optimizer.cli.following import Follower, follow_in_pipe, follow_on_terminal, wait_for_ctrl_c
    from optimizer.reading.evening import utc_now

    _refuse_what_does_not_go(now, as_json, serve=serve, lan=lan, port=port)
    by = None if now is None else _instant(_named(shots), now)
    follower = Follower(shots, images, by=by)
    follower.look_twice()
    if by is not None or as_json:
        return _once(follower, by or utc_now(), images, as_json=as_json)
    server = None
    if serve:
        server = _server(follower, lan=lan, port=port)
        server.start()
    try:
        ctrl_c.keep()  # from now on it ends with Ctrl-C, and all is well
        with follower:
            if server is not None:
                for each in server.addresses:
                    say(each)
            if _draws():
                follow_on_terminal(follower, utc_now, wait_for_ctrl_c)
            else:
                follow_in_pipe(follower, utc_now, wait_for_ctrl_c)
    finally:
        if server is not None:
            server.stop()
    return ExitCode.DONE
