"""Frames of a folder -> what each counts for, what is new, what has vanished. No file is touched here."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePath
from typing import Literal

from optimizer.models.request import Request
from optimizer.models.site import FIRST_YEAR, LAST_YEAR
from optimizer.models.targets import Goal
from optimizer.tally.evenings import evening_of
from optimizer.tally.frames import Damaged, Frame
from optimizer.tally.matching import Asked, Matched, Matcher
from optimizer.tally.places import icrs_of_frame
from optimizer.tally.rejects import Rejects, bare_name
from optimizer.tally.seen_file import FileKey, Seen
from optimizer.tally.tally_file import Counts, RowKey

CALIBRATION: tuple[Literal["dark", "flat", "bias"], ...] = ("dark", "flat", "bias")


@dataclass(frozen=True)
class Sub:
    """A file that counts: its row of the tally, the keywords that decided, and whether it is new to it."""

    path: Path
    row: RowKey
    rejected: bool
    is_new: bool
    by: tuple[str, ...]


@dataclass
class Counting:
    """What became of each file of a folder; `seen` is what the list of files seen is from now on.

    `copies` are files whose sub is counted by another file, with where that lies. `vanished` were counted
    from this folder and are no longer in it; `aside` were too, and lie in a folder that is left out now: they
    no longer count. `anew` were too, and their subs count by files saved anew since, edited or packed.
    `alike` count and begin at the same instant as another of their goal, with where that lies. `odd` has
    sentences on keywords that could not be used.
    """

    seen: dict[FileKey, Seen]
    subs: list[Sub] = field(default_factory=list)
    unmatched: list[tuple[Path, str]] = field(default_factory=list)
    damaged: list[Damaged] = field(default_factory=list)
    calibration: dict[str, list[Path]] = field(default_factory=dict)
    copies: list[tuple[Path, str]] = field(default_factory=list)
    vanished: list[tuple[FileKey, Seen]] = field(default_factory=list)
    aside: list[tuple[FileKey, Seen]] = field(default_factory=list)
    anew: list[FileKey] = field(default_factory=list)
    alike: list[tuple[Path, str]] = field(default_factory=list)
    odd: list[tuple[Path, str]] = field(default_factory=list)


def count_frames(
    request: Request,
    found: Iterable[Frame | Damaged],
    folder: Path,
    source: str,
    *,
    seen: Mapping[FileKey, Seen],
    rejects: Rejects | None = None,
    left_out: Collection[tuple[str, int]] = (),
    recount: bool = False,
) -> Counting:
    """Count the frames of a folder on top of what was seen before.

    `source` stands for the folder in the tally. `left_out` are names and bytes of files in folders that are
    not counted: subs that were counted before they went there no longer do. With `recount`, subs that have
    vanished from the folder no longer count, and older rejections of those that are there are forgotten. The
    order of `found` makes no difference.
    """
    rejects = rejects or Rejects()
    counting = Counting(dict(seen))
    matcher = Matcher(request)
    first: dict[FileKey, Path] = {}
    begun: dict[tuple[str, int, dt.datetime | None], Path] = {}
    frames: list[Frame] = []
    for each in found:
        if isinstance(each, Damaged):
            counting.damaged.append(each)
        else:
            frames.append(each)
    counting.damaged.sort(key=lambda each: each.path)
    frames.sort(key=lambda each: each.path)
    # of a sub that lies in several places one may be named, so all are asked before the first is counted
    keys = [(each, _file_key(each)) for each in frames]
    rejected = {key for each, key in keys if rejects.has(each.path.relative_to(folder), key)}
    gone = _gone_by_sub(seen, source, {key for _, key in keys})
    for frame, key in keys:
        counting.odd += [(frame.path, sentence) for sentence in frame.odd]
        if frame.kind in CALIBRATION:
            counting.calibration.setdefault(frame.kind, []).append(frame.path)
            continue
        if key in first:
            counting.copies.append((frame.path, _within(folder, first[key])))
            continue
        matched = matched_goal(matcher, frame)
        if isinstance(matched, str):
            counting.unmatched.append((frame.path, matched))
            if key in seen:  # the tally may be another request's as well: what counted there stays
                first[key] = frame.path
            continue
        first[key] = frame.path
        other = begun.setdefault((matched.target.name, matched.index, frame.taken_utc), frame.path)
        if other is not frame.path:
            counting.alike.append((frame.path, _within(folder, other)))
        if key not in seen and (older := gone.pop(_sub_key(key), None)) is not None:
            counting.anew.append(older)
            counting.seen[key] = counting.seen.pop(older)  # the same sub, in a file saved anew
        _add(counting, request, frame, key, matched, source, key in rejected, recount=recount)
    _gone(counting, source, first, rejects, left_out, recount=recount)
    return counting


def _within(folder: Path, path: Path) -> str:
    return path.relative_to(folder).as_posix()


def _file_key(frame: Frame) -> FileKey:
    name = frame.name.encode("utf-8", "backslashreplace").decode()
    return FileKey(name, frame.size_bytes, frame.date_obs or "")


def matched_goal(matcher: Matcher, frame: Frame) -> Matched | str:
    """The goal of a frame, or why it counts for none."""
    if frame.kind == "other":
        return f"{frame.used.get('kind', 'the header')} says that it is no light frame"
    if frame.taken_utc is None:
        told = f"{frame.used['date_obs']} = {frame.date_obs!r}" if "date_obs" in frame.used else "no date"
        return f"the header does not tell date and time of the exposure ({told})"
    if not FIRST_YEAR <= frame.taken_utc.year <= LAST_YEAR:
        told = f"{frame.used.get('taken_utc', 'the date')} = {frame.date_obs}"
        return f"{told} lies outside the years {FIRST_YEAR} to {LAST_YEAR}"
    return matcher.match(
        Asked(
            frame.object,
            frame.filter,
            frame.exposure_s,
            frame.gain,
            frame.offset,
            frame.binning,
            icrs_of_frame(frame),
            frame.used,
        )
    )


def _add(
    counting: Counting,
    request: Request,
    frame: Frame,
    key: FileKey,
    matched: Matched,
    source: str,
    rejected: bool,
    *,
    recount: bool,
) -> None:
    assert frame.taken_utc is not None
    assert frame.exposure_s is not None
    before = counting.seen.get(key)
    if before is not None:
        source = before.row.source  # it counts once, where it was seen first
        rejected = rejected or (before.rejected and not recount)
    evening = evening_of(frame.taken_utc, request.site).isoformat()
    row = row_key(matched, frame.exposure_s, evening, source)
    counting.seen[key] = Seen(row, rejected)
    by = (*matched.by, frame.used.get("taken_utc", ""))
    told = tuple(dict.fromkeys(word for word in by if word))
    counting.subs.append(Sub(frame.path, row, rejected, before is None, told))


def row_key(matched: Matched, exposure_s: float, evening: str, source: str) -> RowKey:
    """The row in which a sub of a goal counts; one of a goal in hours has the sub's own exposure."""
    goal: Goal = matched.goal
    return RowKey(
        source,
        evening,
        matched.target.name,
        goal.filter,
        goal.exposure_s if goal.hours is None else max(0.001, round(exposure_s, 3)),
        -1 if goal.gain is None else goal.gain,
        -1 if goal.offset is None else goal.offset,
        goal.binning,
    )


def _sub_key(key: FileKey) -> tuple[str, str]:
    """What stays of a file's key when the file is edited or packed: its bare name, and when it was taken."""
    return bare_name(key.name), key.date_obs


def _gone_by_sub(
    seen: Mapping[FileKey, Seen], source: str, there: Collection[FileKey]
) -> dict[tuple[str, str], FileKey]:
    """The files that were counted from this folder and are not there as they were, by their sub."""
    return {_sub_key(key): key for key in sorted(seen) if seen[key].row.source == source and key not in there}


def _gone(
    counting: Counting,
    source: str,
    found: Collection[FileKey],
    rejects: Rejects,
    left_out: Collection[tuple[str, int]],
    *,
    recount: bool,
) -> None:
    """Deal with what was counted from this folder and is no longer in it."""
    for key, entry in sorted(counting.seen.items()):
        if entry.row.source != source or key in found:
            continue
        if (key.name, key.size_bytes) in left_out:
            counting.aside.append((key, entry))
            del counting.seen[key]
            continue
        if recount:
            del counting.seen[key]
        elif rejects.has(PurePath(key.name), key) and not entry.rejected:
            entry = counting.seen[key] = Seen(entry.row, rejected=True)
        counting.vanished.append((key, entry))


def rows_of_seen(seen: Iterable[Seen]) -> dict[RowKey, Counts]:
    """The rows of a tally that files seen amount to."""
    frames: Counter[RowKey] = Counter()
    rejected: Counter[RowKey] = Counter()
    for entry in seen:
        frames[entry.row] += 1
        rejected[entry.row] += entry.rejected
    return {key: Counts(count, rejected[key]) for key, count in frames.items()}
