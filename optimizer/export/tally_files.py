"""A folder's frames are counted into the tally that a request names; the files seen are listed beside it."""

from __future__ import annotations

import os
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from optimizer.errors import InputError, InputProblem, OutputError
from optimizer.export.atomic import check_writable, write_group
from optimizer.models.request import Request
from optimizer.reading.files import LARGEST_LIST_BYTES, read_text
from optimizer.reading.load import load_as_written
from optimizer.reading.tally import TallyPlace, tally_at
from optimizer.tally.counts import Counting, count_frames, rows_of_seen
from optimizer.tally.folder import Tell, read_folder
from optimizer.tally.rejects import Rejects, reject_lines
from optimizer.tally.seen_file import FileKey, Seen, read_seen, seen_path, seen_text
from optimizer.tally.tally_file import TallyFile, read_tally, tally_text
from optimizer.words import safe


@dataclass(frozen=True)
class Tallied:
    """What counting a folder came to: what became of each file, and the tally as it is now.

    `request` has `done` as it is written. `hits` are the names that were to be rejected, with the number of
    subs that each named. `notes` are sentences on what else was changed in the tally.
    """

    request: Request
    folder: Path
    place: TallyPlace
    counting: Counting
    tally: TallyFile
    hits: dict[str, int]
    notes: tuple[str, ...]


def tally_folder(
    folder: Path,
    request_path: Path,
    *,
    reject: Path | None = None,
    skip_folders: Collection[str] = (),
    recount: bool = False,
    allow_outside: bool = False,
    tell: Tell | None = None,
) -> Tallied:
    """Count a folder's frames; only the tally and the list of files seen are written, both or neither.

    With `recount` a folder that was counted may be gone. Nothing is written where nothing changes. A process
    that is killed between the two leaves a list of files seen from which the next run makes the whole tally.

    Raises InputError where the request, its tally, the folder or the list of rejects cannot be used,
    OutputError where a file cannot be written or was changed by somebody else meanwhile.
    """
    request, place = load_as_written(request_path, allow_outside=allow_outside)
    old, old_text = tally_at(place)
    beside = seen_path(place.path)
    seen, old_seen_text = _seen_at(beside, old, place, recount=recount)
    rejects = Rejects(_reject_lines(reject))
    check_writable([beside, place.path])
    source = _source(folder, place.path)
    known = any(entry.row.source == source for entry in seen.values())
    gone = recount and known and not os.path.lexists(folder)
    counting = count_frames(
        request,
        () if gone else read_folder(folder, skip_folders, tell),
        folder,
        source,
        seen=seen,
        rejects=rejects,
        left_out=_left_out(folder, skip_folders),
        recount=recount,
    )
    text = tally_text(old, rows_of_seen(counting.seen.values()))
    contents = {}
    if (fresh := seen_text(counting.seen.items())) != old_seen_text:
        contents[beside] = fresh.encode()
    if text != old_text:
        contents[place.path] = text.encode()  # the last to be moved into its place
    if contents:
        _check_unchanged({beside: old_seen_text, place.path: old_text})
        write_group(contents)
    notes = (*(() if recount else _edited(old, seen, place)), *_saved_anew(counting))
    tally = read_tally(text, safe(place.file))
    return Tallied(request, folder, place, counting, tally, rejects.hits, notes)


def _seen_at(
    beside: Path, old: TallyFile, place: TallyPlace, *, recount: bool
) -> tuple[dict[FileKey, Seen], str]:
    """The files seen, and their file's text; there may be none where no row was made from files."""
    if os.path.lexists(beside):
        file = os.path.normpath(beside)
        text = read_text(beside, file, content="the list of files seen", largest_bytes=LARGEST_LIST_BYTES)
        return read_seen(text, safe(file)), text
    made = next((row for row in old.rows if row.key.source), None)
    if made is not None and not recount:
        raise InputError(
            [
                InputProblem(
                    safe(place.file),
                    "source",
                    f"the row was made from files, and {safe(beside.name)}, which tells them, is not there",
                    "put it back; or count every folder anew, the first with --recount, which drops all rows "
                    "that have a source",
                    line=made.line,
                )
            ]
        )
    return {}, ""


def _reject_lines(reject: Path | None) -> list[str]:
    if reject is None:
        return []
    return reject_lines(read_text(reject, str(reject), content="one name of a file on each line"))


def _source(folder: Path, tally: Path) -> str:
    """What a folder is called in the tally: its path from there where it lies below, else the whole path."""
    real, home = folder.resolve(), tally.parent.resolve()
    path = real.relative_to(home) if real.is_relative_to(home) else real
    if not path.as_posix().strip():  # a folder named by blanks alone: a row without a source is a person's
        path = real
    return path.as_posix().encode("utf-8", "backslashreplace").decode()


def _left_out(folder: Path, names: Collection[str]) -> set[tuple[str, int]]:
    """Names and bytes of the files in folders that are left out, where they can be told."""
    wanted = {name.casefold() for name in names}
    found: set[tuple[str, int]] = set()
    if not wanted:
        return found
    for here, _, files in os.walk(folder):
        if not wanted & {part.casefold() for part in Path(here).relative_to(folder).parts}:
            continue
        for name in files:
            try:
                size_bytes = (Path(here) / name).stat().st_size
            except OSError:
                continue
            found.add((name.encode("utf-8", "backslashreplace").decode(), size_bytes))
    return found


def _check_unchanged(texts: dict[Path, str]) -> None:
    """Raise OutputError where a file no longer holds the text that was read: another run was faster."""
    for path, text in texts.items():
        try:
            now = path.read_bytes().decode("utf-8-sig")
        except FileNotFoundError:
            now = ""
        except (OSError, UnicodeDecodeError):
            now = "?"
        if now != text:
            what = "cannot be written: somebody changed the file while the folder was read"
            raise OutputError([InputProblem(safe(str(path)), "", what, "run the command again")])


def _saved_anew(counting: Counting) -> tuple[str, ...]:
    """A sentence on files that were edited or packed since they were counted, where there are any."""
    if not counting.anew:
        return ()
    names = [safe(key.name) for key in counting.anew]
    more = f" (and {len(names) - 3} more)" if len(names) > 3 else ""
    what = f"since they were counted, files were edited or packed: {', '.join(names[:3])}{more}"
    return (f"{what}; each sub still counts once",)


def _edited(old: TallyFile, seen: dict[FileKey, Seen], place: TallyPlace) -> tuple[str, ...]:
    """A sentence for each row with a source whose numbers were not those of the files that it stands for."""
    counts = rows_of_seen(seen.values())
    return tuple(
        f"{safe(place.file)}:{row.line}: this row has a source and said {row.counts.frames} frames, "
        f"{row.counts.rejected} rejected, which is not what its files come to: it was written anew from "
        "them; numbers of your own belong into a row without a source"
        for row in old.rows
        if row.key.source and counts.get(row.key) != row.counts
    )
