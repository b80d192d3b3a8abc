"""`darkfill`: the commands, their exit codes, and how failures are told."""

from __future__ import annotations

import atexit
import gc
import io
import sys
import warnings

import typer

from optimizer import __version__
from optimizer.cli import chart, check, flip, plan, sides, windows
from optimizer.cli.failures import told

EPILOG = (
    "Exit codes: 0 done, 2 bad command line or bad input, 3 nothing can be scheduled, "
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
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
app.command("plan", epilog=plan.EXAMPLE)(told(plan.command))
app.command("check", epilog=check.EXAMPLE)(told(check.command))
app.command("chart", epilog=chart.EXAMPLE)(told(chart.command))
app.command("flip", epilog=flip.EXAMPLE)(told(flip.command))
app.command("sides", epilog=sides.EXAMPLE)(told(sides.command))
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


def main() -> None:
    """Entry point of the console script."""
    # hardly anything that loading makes is ever garbage: to look for it now and at the end takes 0.5 s of 3.5
    gc.set_threshold(100_000, 50, 100)
    atexit.register(gc.freeze)
    warnings.filterwarnings("ignore", message=NO_CACHE_FOLDER)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a name that the terminal cannot write must not end us
    app()
