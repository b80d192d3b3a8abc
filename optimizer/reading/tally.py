"""The tally that a request names: where it lies, what it holds, and what it adds to `done`."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from optimizer.diagnostics.document import Document
from optimizer.errors import InputError, InputProblem
from optimizer.models.request import Request
from optimizer.reading.files import read_text
from optimizer.tally.in_hand import InHand, in_hand, with_counts
from optimizer.tally.tally_file import COLUMNS, Row, TallyFile, read_tally
from optimizer.words import KeyPath, folded, quoted, safe

AT: KeyPath = ("tally",)
CONTENT = f"the tally, beginning with {','.join(COLUMNS)}"


@dataclass(frozen=True)
class TallyPlace:
    """Where a tally lies, its name in messages, and names of targets that are left to other rigs."""

    path: Path
    file: str
    others: tuple[str, ...] = ()


@dataclass(frozen=True)
class TallyRead:
    """A tally as a request has read it: where it really lies, its name in messages, and its rows."""

    real: Path
    file: str
    rows: tuple[Row, ...]


def tally_place(
    request_path: Path, request: Request, document: Document, *, allow_outside: bool
) -> TallyPlace:
    """Find the tally that a request names, beside the request.

    Raises InputError where it names none, the name does not end in .csv, or, unless `allow_outside`, the file
    would lie outside the request's own folder.
    """
    if request.tally is None:
        remedy = 'add the line tally = "in-hand.csv" to the request, above its first [table]'
        what = "the request does not say in which file the subs in hand are counted"
        raise InputError([InputProblem(document.source(()).file, "tally", what, remedy)])
    path = request_path.parent / request.tally
    if path.suffix.lower() != ".csv":
        raise InputError(
            [document.problem(AT, "the name does not end in .csv", 'write it like tally = "in-hand.csv"')]
        )
    try:
        real = path.resolve()
    except (OSError, RuntimeError, ValueError):  # links in a circle, a NUL in the name
        remedy = "check its name and the links on the way"
        raise InputError([document.problem(AT, "this file cannot be found", remedy)]) from None
    if not allow_outside and not real.is_relative_to(request_path.parent.resolve()):
        remedy = "move it there, or allow it with --include-outside"
        what = "this file lies outside the folder of the request"
        raise InputError([document.problem(AT, what, remedy)])
    return TallyPlace(path, os.path.normpath(path), document.left_out)


def tally_at(place: TallyPlace) -> tuple[TallyFile, str]:
    """Read a tally, and its text; a file that is not there counts nothing. Raises InputError."""
    if not os.path.lexists(place.path):
        return TallyFile(), ""
    text = read_text(place.path, place.file, content=CONTENT)
    return read_tally(text, safe(place.file)), text


def with_tally(
    request_path: Path, request: Request, document: Document, *, allow_outside: bool
) -> tuple[Request, list[str], TallyRead | None]:
    """The request with the counts of its tally added to `done`, lines worth a look, and the tally.

    The last is None where the request names none.
    """
    if request.tally is None or not request.targets:
        return request, [], None
    place = tally_place(request_path, request, document, allow_outside=allow_outside)
    read = TallyRead(place.path.resolve(), place.file, tally_at(place)[0].rows)
    counted = in_hand(request, read.rows)
    lines = [str(problem) for problem in _both(request, counted, document)]
    return with_counts(request, counted), [*lines, *ignored_lines(counted, place)], read


def _both(request: Request, counted: InHand, document: Document) -> Iterator[InputProblem]:
    """Goals of which the request and its tally both have subs in hand."""
    for t, target in enumerate(request.targets):
        for g, goal in enumerate(target.goals):
            count = counted.goals.get((t, g))
            if count is None or not goal.done or not count.subs(goal):
                continue
            subs = count.subs(goal)
            yield document.problem(
                ("targets", t, "goals", g, "done"),
                f"{quoted(request.tally or '')} counts {subs} subs of this goal too: "
                f"{max(0, goal.done + subs)} are taken to be in hand",
                "leave in done only what the tally does not count",
            )


def ignored_lines(counted: InHand, place: TallyPlace) -> list[str]:
    """A line for each reason why rows of a tally count for no goal, with the first of them.

    Rows of targets that are left to other rigs are not told.
    """
    others = {folded(name) for name in place.others}
    return [
        ignored_line(rows, why, place.file)
        for why, rows in ignored_alike(counted)
        if folded(rows[0].key.target) not in others
    ]


def ignored_alike(counted: InHand) -> list[tuple[str, list[Row]]]:
    """The reasons why rows count for no goal, each with its rows, those of one target and filter together."""
    alike: dict[tuple[str, str, str], list[Row]] = {}
    for row, why in counted.ignored:
        alike.setdefault((row.key.target, row.key.filter, why), []).append(row)
    return [(why, rows) for (_, _, why), rows in alike.items()]


def ignored_line(rows: Sequence[Row], why: str, file: str) -> str:
    """Say that some rows of a tally count for no goal of a request, and why."""
    more = f" (and so for {len(rows) - 1} more)" if len(rows) > 1 else ""
    what = f"this row counts for no goal of the request: {safe(why)}{more}"
    remedy = "mend it, or leave it if it is another request's"
    return str(InputProblem(safe(file), "", what, remedy, line=rows[0].line))
