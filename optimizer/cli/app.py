"""`darkfill`: the commands, their exit codes, and how failures are told."""

from __future__ import annotations

import atexit
import gc
import sys
import warnings

import typer

from optimizer import ctrl_c
from optimizer.cli import (
    chart,
    check,
    export,
    flip,
    follow,
    learn,
    new,
    plan,
    replan,
    schema,
    season,
    sides,
    tally,
    targets,
    windows,
)
from optimizer.cli.failures import ExitCode, say, told
from optimizer.cli.streams import lenient, open_closed_files, refusal
from optimizer.version import __version__

EPILOG = (
    "Exit codes: 0 done, 2 bad command line, bad input or refused output, 3 nothing can be scheduled, "
    "4 an audit found violations, 5 internal failure, 130 stopped by Ctrl-C before there was a plan."
)

# astropy's word on a cache or configuration folder that the environment names and that is not there; it is in
# no way needed here.
NO_CACHE_FOLDER = r"\w+ is set to .*, but no such file or directory was found"

app = typer.Typer(
    name="darkfill",
    help="Fills the dark hours with open shutter: plans a night for a camera on an equatorial mount, "
    "flip and all, and audits every plan by a second route.",
    epilog=EPILOG,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
app.command("plan", epilog=plan.EXAMPLE)(told(plan.command))
app.command("replan", epilog=replan.EXAMPLE, cls=replan.ReplanCommand)(told(replan.command))
app.command("new", epilog=new.EXAMPLE)(told(new.command))
app.command("follow", epilog=follow.EXAMPLE)(told(follow.command))
app.command("check", epilog=check.EXAMPLE)(told(check.command))
app.command("chart", epilog=chart.EXAMPLE)(told(chart.command))
app.command("export", epilog=export.EXAMPLE)(told(export.command))
app.command("flip", epilog=flip.EXAMPLE)(told(flip.command))
app.command("learn", epilog=learn.EXAMPLE)(told(learn.command))
app.command("schema", epilog=schema.EXAMPLE)(told(schema.command))
app.command("season", epilog=season.EXAMPLE)(told(season.command))
app.command("sides", epilog=sides.EXAMPLE)(told(sides.command))
app.command("tally", epilog=tally.EXAMPLE)(told(tally.command))
app.command("targets", epilog=targets.EXAMPLE)(told(targets.command))
app.command("windows", epilog=windows.EXAMPLE)(told(windows.command))


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"darkfill {__version__}")
        raise typer.Exit


@app.callback()
def root(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Print the version and leave."
    ),
) -> None:
    """Fills the dark hours with open shutter."""


def run() -> int:
    """Do what the process's command line asks; the exit code.

    Where stdout refuses what is written, that is said and makes the code 2, unless the command has its own.
    """
    open_closed_files()
    sys.stdout, out = lenient(sys.stdout)
    sys.stderr, _ = lenient(sys.stderr)
    code: int | str | None = None
    try:
        app()
    except SystemExit as end:
        code = end.code
    why = refusal(out)
    if why is not None:
        say(f"stdout did not take all that was written: {why}")
        code = code or ExitCode.BAD_INPUT
    sys.stderr.flush()
    return int(code or 0)


def main() -> None:
    """Entry point of the console script."""
    ctrl_c.install()
    # hardly anything that loading makes is ever garbage: to look for it now and at the end takes 0.5 s of 3.5
    gc.set_threshold(100_000, 50, 100)
    atexit.register(gc.freeze)
    warnings.filterwarnings("ignore", message=NO_CACHE_FOLDER)
    try:
        sys.exit(run())
    finally:
        ctrl_c.ignore()  # all is done; the interpreter's own end is nothing to be stopped
