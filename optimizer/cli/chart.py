"""`darkfill chart SHOTS -o night.html`: the night as a page or a picture."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from optimizer import ctrl_c
from optimizer.api import Form
from optimizer.api import Theme as DrawnTheme
from optimizer.cli.arguments import IncludeOutside, ShotsArgument, request_missing
from optimizer.cli.failures import ExitCode, say

EXAMPLE = (
    "Example: darkfill chart plans/first-night/stored/request.2026-10-10.shots.json -o night.html   "
    "draws the night as a page for any browser; .svg, .png and .pdf make a picture of it. "
    "A JSON list carries its request; a CSV list needs one."
)
FORMS: dict[str, Form] = {".html": "html", ".svg": "svg", ".png": "png", ".pdf": "pdf"}


class Theme(StrEnum):
    """Colours of the drawing."""

    LIGHT = "light"
    DARK = "dark"
    RED = "red"


THEMES: dict[Theme, DrawnTheme] = {Theme.LIGHT: "light", Theme.DARK: "dark", Theme.RED: "red"}


def command(
    shots: ShotsArgument,
    request: Annotated[
        Path | None,
        typer.Argument(metavar="[REQUEST]", help="Draw it with this request (needed for CSV)."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", "-o", metavar="FILE",
            help="File to write, .html, .svg, .png or .pdf; default: NAME.html beside NAME.shots.json.",
        ),
    ] = None,
    theme: Annotated[
        Theme | None,
        typer.Option("--theme", help="Colours of a picture (default light), or those a page opens with."),
    ] = None,
    include_outside: IncludeOutside = False,
) -> ExitCode:  # fmt: skip
    """Draw a shot list: one lane for each target, the sky above, the mount below."""
    from optimizer import chart, load
    from optimizer.cli.loading import refused
    from optimizer.errors import PrintingMissingError
    from optimizer.export.atomic import check_writable, write_atomically
    from optimizer.export.shot_files import page_path, read_shots
    from optimizer.words import safe

    path = page_path(shots) if out is None else out
    ending = path.suffix.lower()
    if ending not in FORMS:
        raise refused("--out", safe(str(path)), "has no known ending", f"end it in {', '.join(FORMS)}")
    check_writable([path])
    read = read_shots(shots)
    loaded = None if request is None else load(request, include_outside=include_outside)
    if loaded is None and read.shots is None:
        raise request_missing(shots, "chart")
    try:
        content = chart(
            read.steps if read.shots is None else read.shots,
            loaded,
            form=FORMS[ending],
            theme=None if theme is None else THEMES[theme],
        )
    except PrintingMissingError:
        raise refused(
            "--out",
            safe(str(path)),
            f"{ending} needs a package that is not installed",
            "pip install 'darkfill[print]', or write .html or .svg, which need nothing more",
        ) from None
    ctrl_c.keep()  # from here on it is done in a moment, and told
    write_atomically(path, content.encode() if isinstance(content, str) else content)
    say(f"wrote {safe(str(path))}")
    return ExitCode.DONE
