"""`darkfill new [DIR]`: a request to begin with, its site and its rig, with every key explained."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from optimizer import ctrl_c
from optimizer.cli.failures import ExitCode, say

EXAMPLE = (
    "Example: darkfill new my-night   makes the folder my-night with request.toml, site.toml, rig.toml and "
    "the schema by which an editor checks them. They plan as they stand; site and rig are invented: write "
    "yours."
)


def command(
    folder: Annotated[
        Path, typer.Argument(metavar="[DIR]", help="Where to write; made if missing. Without it: here.")
    ] = Path(),
) -> ExitCode:
    """Write a request to begin with, its site and its rig, every key with unit, default and meaning."""
    from optimizer.export.atomic import write_group
    from optimizer.reading.evening import utc_now
    from optimizer.starter.files import starter_files
    from optimizer.starter.values import evening_there
    from optimizer.words import listing, safe

    contents = {folder / name: text for name, text in starter_files(evening_there(utc_now())).items()}
    _refuse_what_is_there(list(contents))
    made = _make(folder)
    ctrl_c.keep()  # from here on it is done in a moment, and told
    try:
        write_group(contents)
    except BaseException:
        for each in made:
            each.rmdir()
        raise
    say(f"wrote {listing((safe(str(path)) for path in contents), 'and')}")
    _say_what_is_next(folder)
    return ExitCode.DONE


def _refuse_what_is_there(paths: list[Path]) -> None:
    """Raise InputError where any of these names is taken: nothing is ever written over."""
    from optimizer.errors import InputError, InputProblem
    from optimizer.words import safe

    there = [path for path in paths if os.path.lexists(path)]
    if there:
        what, remedy = "is there already; nothing was written", "name another folder, or move it away first"
        raise InputError([InputProblem(safe(str(path)), "", what, remedy) for path in there])


def _make(folder: Path) -> list[Path]:
    """Make a folder and those above it; those that are new, the innermost first. Raises InputError."""
    from optimizer.cli.loading import is_there, refused
    from optimizer.words import safe

    new = [path for path in (folder, *folder.parents) if not is_there(path)]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        there = [path for path in (folder, *folder.parents) if is_there(path)]
        file = next((path for path in there if not path.is_dir()), None)
        what = f"cannot be made ({error.strerror})" if file is None else f"{safe(str(file))} is a file"
        raise refused("DIR", safe(str(folder)), what, "name another folder") from None
    return new


def _say_what_is_next(folder: Path) -> None:
    """The first three things to do; the commands can be pasted where this one was typed."""
    from optimizer.starter.files import REQUEST, RIG, SITE
    from optimizer.words import safe

    request = str(folder / REQUEST)
    site, rig = (safe(str(folder / name)) for name in (SITE, RIG))
    say(f"1. Plan it as it stands: {_command('plan', request, '--evening', 'tonight')}")
    say(
        f"2. Write your site into {site} and your rig into {rig}; measure contact by hand, by day, "
        "for contact_min."
    )
    say(f"3. Do the numbers of the mount fit together? {_command('flip', request)}")


def _command(*words: str) -> str:
    """A command on one line, quoted for the shell."""
    from optimizer.follow.pasting import pasted_lines
    from optimizer.words import safe

    return safe(pasted_lines(["darkfill", *words], width=100_000)[0])
