"""`darkfill follow SHOTS`: what now, what next, when is the flip, how late is the night."""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer import ctrl_c
from optimizer.cli.failures import ExitCode, say
from optimizer.cli.output import print_json

if TYPE_CHECKING:
    from optimizer.cli.following import Follower

EXAMPLE = (
    "Example: darkfill follow plans/first-night/stored/request.2026-10-10.shots.json --now 01:20   shows "
    "what runs then by the plan, what comes next, and when the flip is. Without --now it goes by the clock "
    "until Ctrl-C; with --images FOLDER it tells how late the night runs, what that costs, and the replan "
    "command. It goes over to a newer list by itself and writes nothing."
)
LAN_CAUTION = (
    "Caution: with --lan anyone in the same network can read the page and the list,\n"
    "the place of your site in it included."
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
    from optimizer import load_shots
    from optimizer.cli.following import Follower, follow_in_pipe, follow_on_terminal, wait_for_ctrl_c
    from optimizer.cli.loading import instant_in_night
    from optimizer.reading.evening import utc_now

    once = as_json or now is not None
    _refuse_what_does_not_go(once=once, serve=serve, lan=lan, port=port)
    named = load_shots(shots)
    by = None if now is None else instant_in_night(named, "--now", now)
    follower = Follower(shots, images, by=by)
    try:
        follower.look_twice()
        if once:
            return _tell_once(follower, by or utc_now(), images, as_json=as_json)
        with contextlib.ExitStack() as open_ones:
            told_before = list[str]()
            if serve:
                from optimizer.cli.serving import list_server

                server = list_server(follower, utc_now, lan=lan, port=port)
                open_ones.enter_context(server)
                follower.page_trouble = lambda: server.trouble
                if lan:
                    told_before.append(LAN_CAUTION)
                told_before += server.addresses  # right above the view, the phone's last
            ctrl_c.keep()  # from now on Ctrl-C is waited for
            open_ones.enter_context(follower)
            for each in told_before:
                say(each)
            show = follow_on_terminal if _draws() else follow_in_pipe
            show(follower, utc_now, wait_for_ctrl_c)
    except KeyboardInterrupt:  # it came while the first look was going on
        pass
    return ExitCode.DONE


def _refuse_what_does_not_go(*, once: bool, serve: bool, lan: bool, port: int | None) -> None:
    """Raise InputError for options that make no sense together."""
    from optimizer.cli.loading import refused

    if serve and once:
        raise refused("--serve", "", "goes on, while --now and --json tell once", "leave one of them out")
    if not serve and (lan or port is not None):
        option = "--lan" if lan else "--port"
        raise refused(option, "" if lan else str(port), "says how to serve", "add --serve")
    if port is not None and not 1 <= port <= 65535:
        raise refused("--port", str(port), "is no port", "give a whole number from 1024 to 65535")


def _tell_once(follower: Follower, now: dt.datetime, images: Path | None, *, as_json: bool) -> ExitCode:
    """Tell of one instant; a folder that cannot be read is an error then."""
    from optimizer.cli.loading import refused
    from optimizer.report.follow_view import follow_view
    from optimizer.report.tables import show

    told = follower.told(now)
    if told.followed.images is not None and told.followed.images.trouble is not None:
        remedy = "name the folder that holds the images"
        raise refused("--images", str(images), told.followed.images.trouble, remedy)
    if as_json:
        print_json(told.followed)
    else:
        show(follow_view(told.shots, told.moment, told.followed), crop=False)
    return ExitCode.DONE


def _draws() -> bool:
    """Whether stdout is a terminal that can be drawn on."""
    return sys.stdout.isatty() and os.environ.get("TERM", "") not in ("dumb", "unknown")
