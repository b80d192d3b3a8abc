"""Files that appear whole or not at all: written beside their place, then moved into it."""

from __future__ import annotations

import errno
import filecmp
import os
import stat
from collections.abc import Mapping, Sequence
from contextlib import ExitStack, suppress
from pathlib import Path
from tempfile import TemporaryDirectory

from optimizer.errors import InputProblem, OutputError
from optimizer.words import safe


def write_atomically(path: Path, content: bytes) -> None:
    """Write one file whole or not at all; see `write_group`."""
    write_group({path: content})


def write_group(contents: Mapping[Path, bytes]) -> None:
    """Write several files so that all appear or none is changed.

    Symbolic links are followed; a file that is replaced keeps its mode, a new one gets 0666 less the umask.
    What can fail is done before the first file is touched; should a move fail after all, those done before
    are undone. Only a power cut between two moves can leave some new and some old, each of them whole.

    Raises OutputError where a folder is missing, a target is no regular file or is write-protected, two
    names mean the same file, or the system refuses (disk full).
    """
    path = Path()
    moves: list[tuple[Path, Path, Path]] = []  # the path as it was given, what is new, and where it belongs
    rooms: dict[Path, Path] = {}  # a folder for what is on its way in each folder, so on the same disk
    try:
        with ExitStack() as leave, ExitStack() as undo:
            for path, target, mode in _targets(list(contents)):
                if target.parent not in rooms:
                    made = TemporaryDirectory(
                        prefix=".darkfill-", suffix=".tmp", dir=target.parent, ignore_cleanup_errors=True
                    )
                    rooms[target.parent] = Path(leave.enter_context(made))
                fresh = rooms[target.parent] / f"{len(moves)}.new"
                _write_new(fresh, contents[path], mode)
                moves.append((path, fresh, target))
            for move in moves:
                path, fresh, target = move
                if target.exists():
                    _keep(target, fresh.with_suffix(".old"))
            for move in moves:
                path, fresh, target = move
                # noted before: an interrupt may come right after the move
                undo.callback(_put_back, fresh.with_suffix(".old"), target)
                fresh.replace(target)
            for folder in rooms:
                _sync_folder(folder)
            undo.pop_all()
    except OSError as error:
        raise OutputError([_problem(path, *_system_words(error))]) from error


def write_beside_older(contents: Mapping[Path, bytes], others: Sequence[Path] = ()) -> dict[Path, Path]:
    """Write a group, once what is there under its names and under `others` has the names NAME.old.

    They are numbered as by `set_aside`. At every moment an older file is whole under its own name or the new
    one, and a name of the group that had a file has one. Returns the new path of each older file. Raises
    OutputError as `write_group` does; then all is as it was.
    """
    _targets(list(contents))
    names = list(dict.fromkeys([*contents, *others]))
    number, path = _free_number(names), Path()
    older = {path: _old_name(path, number) for path in names if path.is_file()}
    try:
        with ExitStack() as undo:
            for path, old in older.items():
                if path in contents:
                    _keep(path.resolve(), old)
                    undo.callback(_drop_second_name, path, old)
                else:
                    path.rename(old)
                    undo.callback(_put_back, old, path)
            write_group(contents)
            undo.pop_all()
    except OSError as error:
        raise OutputError([_problem(path, *_system_words(error))]) from error
    return older


def check_writable(paths: list[Path]) -> None:
    """Raise OutputError for each path that `write_group` would refuse; writes nothing."""
    _targets(paths)


def set_aside(paths: Sequence[Path]) -> dict[Path, Path]:
    """Rename those files that are there to NAME.old, all with one number where one of these names is taken.

    Nothing is overwritten: the second time they become NAME.old.2, and so on. A symbolic link is renamed
    itself. Returns the new path of each file that was there. Raises OSError where the system refuses, and
    then nothing is renamed.
    """
    there = [path for path in paths if os.path.lexists(path)]
    number = _free_number(there)
    done: dict[Path, Path] = {}
    try:
        for path in there:
            done[path] = path.rename(_old_name(path, number))
    except OSError:
        for path, old in done.items():
            with suppress(OSError):
                old.rename(path)
        raise
    return done


def _free_number(paths: Sequence[Path]) -> int:
    """The least number with which none of these files' older names is taken."""
    number = 1
    while any(os.path.lexists(_old_name(path, number)) for path in paths):
        number += 1
    return number


def _drop_second_name(path: Path, old: Path) -> None:
    """Remove NAME.old where the file that it was made for still has its own name."""
    with suppress(OSError):
        if filecmp.cmp(path, old, shallow=False):
            old.unlink()


def _old_name(path: Path, number: int) -> Path:
    return path.with_name(f"{path.name}.old" if number == 1 else f"{path.name}.old.{number}")


def _targets(paths: list[Path]) -> list[tuple[Path, Path, int | None]]:
    """Each path with the file it means and the mode to keep (None: a new file)."""
    fit: list[tuple[Path, Path, int | None]] = []
    problems: list[InputProblem] = []
    seen: dict[Path, Path] = {}
    for path in paths:
        try:
            target = path.resolve()
        except (OSError, RuntimeError, ValueError):
            problems.append(
                _problem(path, "the symbolic links on the way run in a circle", "name another file")
            )
            continue
        if target in seen:
            problems.append(_problem(path, f"{safe(str(seen[target]))} is the same file", "name two files"))
            continue
        seen[target] = path
        trouble, mode = _fitness(target)
        if trouble:
            problems.append(_problem(path, *trouble))
        else:
            fit.append((path, target, mode))
    if problems:
        raise OutputError(problems)
    return fit


def _fitness(target: Path) -> tuple[tuple[str, str] | None, int | None]:
    """What keeps a target from being written, with the remedy, and the mode of the file there."""
    try:
        if not target.parent.is_dir():
            return ("there is no such folder", f"make the folder {safe(str(target.parent))} first"), None
        status = target.stat()
    except FileNotFoundError:
        return None, None
    except OSError as error:
        return _system_words(error), None
    if stat.S_ISDIR(status.st_mode):
        return ("this is a folder, not a file", "name a file in it"), None
    if not stat.S_ISREG(status.st_mode):
        return ("this is not a regular file", "name an ordinary file"), None
    if not status.st_mode & 0o222:  # a move would go through all the same, but somebody protected it
        return ("the file is write-protected", "lift the protection, or name another file"), None
    return None, stat.S_IMODE(status.st_mode) & 0o777


def _write_new(path: Path, content: bytes, mode: int | None) -> None:
    """A new file, on the disk when this returns; the system itself takes the umask off 0666."""
    with path.open("xb") as file:
        if mode is not None:
            path.chmod(mode)
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _keep(target: Path, old: Path) -> None:
    """Give the file that is there a second name, to move back if the group fails."""
    try:
        old.hardlink_to(target)
    except OSError:  # a file system without hard links
        _write_new(old, target.read_bytes(), stat.S_IMODE(target.stat().st_mode) & 0o777)


def _put_back(old: Path, target: Path) -> None:
    """The file that was there before a move; where there was none, none."""
    with suppress(OSError):
        if old.exists():
            old.replace(target)
        else:
            target.unlink(missing_ok=True)


def _sync_folder(folder: Path) -> None:
    """Make the moves last through a power cut, where folders can be synced."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _problem(path: Path, message: str, remedy: str) -> InputProblem:
    return InputProblem(safe(str(path)), "", f"cannot be written: {message}", remedy)


def _system_words(error: OSError) -> tuple[str, str]:
    """What the system says of a failure, and the remedy."""
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return "the folder may not be written to", "name another folder, or give yourself the right"
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "the disk is full", "make room, or name a folder on another disk"
    if error.errno == errno.ENAMETOOLONG:
        return "the name is too long", "name it shorter"
    return error.strerror or str(error), "try another folder"
