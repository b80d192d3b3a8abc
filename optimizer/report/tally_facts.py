"""What counting a folder came to, and what is in hand of each goal, as data."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import Field

from optimizer.models.base import FromList, Frozen
from optimizer.models.request import Request
from optimizer.reading.tally import TallyPlace, ignored_lines
from optimizer.tally.counts import CALIBRATION, Counting
from optimizer.tally.in_hand import GoalCount, InHand, in_hand, with_counts
from optimizer.tally.seen_file import FileKey, Seen
from optimizer.tally.tally_file import RowKey, TallyFile
from optimizer.words import quoted, safe

TALLY_SCHEMA: Final = "darkfill-tally/1"


class Way(Frozen):
    """Keywords that decided what some subs were taken for, and how many subs these are."""

    keywords: Annotated[tuple[str, ...], FromList]
    frames: int


class CountedRow(Frozen):
    """Subs of one goal, night and folder among the files that were found.

    `source` is the folder in which they were first counted. `frames` are the subs found, `new` of them were
    not counted before. `by` tells the keywords that decided what they were taken for.
    """

    target: str
    filter: str
    exposure_s: float
    gain: int | None
    offset: int | None
    binning: int
    evening: str
    frames: int
    rejected: int
    source: str
    new: int
    by: Annotated[tuple[Way, ...], FromList]


class FileReason(Frozen):
    """A file, by its path in the folder, and why it was not counted."""

    file: str
    reason: str


class CalibrationFiles(Frozen):
    """The dark, flat or bias frames of the folder, by their paths in it: they are listed, not counted."""

    kind: Literal["dark", "flat", "bias"]
    files: Annotated[tuple[str, ...], FromList]


class GoneFile(Frozen):
    """A file that was counted from the folder and is no longer in it.

    `counts`: its sub still does. It does not where the file lies in a folder that is left out now, or where
    the counting was done anew.
    """

    file: str
    target: str
    filter: str
    exposure_s: float
    evening: str
    source: str
    counts: bool


class NightCount(Frozen):
    """Subs of one goal taken in one night, and how many of them were rejected; no evening: not known."""

    evening: str
    frames: int
    rejected: int


class GoalInHand(Frozen):
    """How far a goal is, in subs: wanted, in hand by `done` of the request and by its tally, still left."""

    target: str
    filter: str
    exposure_s: float
    gain: int | None
    offset: int | None
    binning: int
    wanted: int
    done: int
    tallied: int
    in_hand: int
    left: int
    nights: Annotated[tuple[NightCount, ...], FromList]


class TallyReport(Frozen):
    """`darkfill-tally/1`: what became of each file of a folder, and what is in hand of each goal.

    `tally` is the file that holds the counts. `copies` have the same name, bytes and date as a file that is
    counted. `alike` are counted, and begin at the same instant as another sub of their goal. `odd` are
    keywords whose value could not be used. `notes` are sentences on the tally itself.
    """

    schema_: Literal["darkfill-tally/1"] = Field(alias="schema")
    tally: str
    folder: str
    counted: Annotated[tuple[CountedRow, ...], FromList]
    unmatched: Annotated[tuple[FileReason, ...], FromList]
    damaged: Annotated[tuple[FileReason, ...], FromList]
    calibration: Annotated[tuple[CalibrationFiles, ...], FromList]
    copies: Annotated[tuple[FileReason, ...], FromList]
    alike: Annotated[tuple[FileReason, ...], FromList]
    vanished: Annotated[tuple[GoneFile, ...], FromList]
    odd: Annotated[tuple[FileReason, ...], FromList]
    notes: Annotated[tuple[str, ...], FromList]
    goals: Annotated[tuple[GoalInHand, ...], FromList]


def tally_report(
    request: Request,
    folder: Path,
    place: TallyPlace,
    counting: Counting,
    tally: TallyFile,
    *,
    hits: dict[str, int] | None = None,
    notes: Iterable[str] = (),
    recount: bool = False,
) -> TallyReport:
    """Tell what `tally_folder` of the export did; `request` has `done` as it is written."""

    def reasons(found: Iterable[tuple[Path, str]]) -> tuple[FileReason, ...]:
        return tuple(FileReason(file=_within(folder, path), reason=safe(why)) for path, why in found)

    counted = in_hand(request, tally.rows)
    gone = [(each, not recount) for each in counting.vanished] + [(each, False) for each in counting.aside]
    return TallyReport(
        schema_=TALLY_SCHEMA,
        tally=safe(place.file),
        folder=safe(str(folder)),
        counted=_counted(counting),
        unmatched=reasons(counting.unmatched),
        damaged=reasons((each.path, each.reason) for each in counting.damaged),
        calibration=tuple(
            CalibrationFiles(
                kind=kind, files=tuple(_within(folder, path) for path in counting.calibration[kind])
            )
            for kind in CALIBRATION
            if kind in counting.calibration
        ),
        copies=reasons((path, f"the same sub as {other}") for path, other in counting.copies),
        alike=reasons((path, f"begun together with {other}") for path, other in counting.alike),
        vanished=tuple(_gone(*each, counts=counts) for each, counts in gone),
        odd=reasons(counting.odd),
        notes=(*notes, *_named_otherwise(hits or {}), *ignored_lines(counted, place)),
        goals=goals_in_hand(request, counted),
    )


def goals_in_hand(request: Request, counted: InHand) -> tuple[GoalInHand, ...]:
    """How far each goal of a request is; `request` has `done` as it is written."""
    after = with_counts(request, counted)
    rows = []
    for t, target in enumerate(request.targets):
        for g, goal in enumerate(target.goals):
            count = counted.goals.get((t, g), GoalCount())
            in_all = after.targets[t].goals[g]
            rows.append(
                GoalInHand(
                    target=target.name,
                    filter=goal.filter,
                    exposure_s=goal.exposure_s,
                    gain=goal.gain,
                    offset=goal.offset,
                    binning=goal.binning,
                    wanted=goal.frames,
                    done=goal.done,
                    tallied=count.subs(goal),
                    in_hand=in_all.done,
                    left=in_all.frames_left,
                    nights=tuple(
                        NightCount(evening=evening, frames=counts.frames, rejected=counts.rejected)
                        for evening, counts in sorted(count.nights.items())
                    ),
                )
            )
    return tuple(rows)


def _counted(counting: Counting) -> tuple[CountedRow, ...]:
    frames: Counter[RowKey] = Counter()
    rejected: Counter[RowKey] = Counter()
    new: Counter[RowKey] = Counter()
    ways: dict[RowKey, Counter[tuple[str, ...]]] = {}
    for sub in counting.subs:
        frames[sub.row] += 1
        rejected[sub.row] += sub.rejected
        new[sub.row] += sub.is_new
        ways.setdefault(sub.row, Counter())[sub.by] += 1
    return tuple(
        CountedRow(
            target=row.target,
            filter=row.filter,
            exposure_s=row.exposure_s,
            gain=None if row.gain < 0 else row.gain,
            offset=None if row.offset < 0 else row.offset,
            binning=row.binning,
            evening=row.evening,
            frames=frames[row],
            rejected=rejected[row],
            source=row.source,
            new=new[row],
            by=tuple(Way(keywords=tuple(map(safe, way)), frames=n) for way, n in sorted(ways[row].items())),
        )
        for row in sorted(frames)
    )


def _gone(key: FileKey, entry: Seen, *, counts: bool) -> GoneFile:
    return GoneFile(
        file=safe(key.name),
        target=entry.row.target,
        filter=entry.row.filter,
        exposure_s=entry.row.exposure_s,
        evening=entry.row.evening,
        source=entry.row.source,
        counts=counts,
    )


def _named_otherwise(hits: dict[str, int]) -> list[str]:
    """What to tell of the names that were to be rejected: those that named no sub, and those of several."""
    told = [
        f"{quoted(name)} was to be rejected, and names no sub in the folder"
        for name, n in hits.items()
        if not n
    ]
    return told + [
        f"{quoted(name)} names {n} subs, all of which were rejected; write the folder before the name to "
        "tell them apart"
        for name, n in hits.items()
        if n > 1
    ]


def _within(folder: Path, path: Path) -> str:
    inside = path.relative_to(folder) if path.is_relative_to(folder) else path
    return safe(inside.as_posix())
