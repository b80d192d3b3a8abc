"""The tally that a request names: where it lies, what it holds, and what it adds to `done`."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from optimizer.diagnostics.document import Document
from optimizer.errors import InputError, InputProblem
from optimizer.models.request import Request
from optimizer.reading.files import read_text
from optimizer.tally.in_hand import InHand, in_hand, with_counts
from optimizer.tally.tally_file import COLUMNS, TallyFile, read_tally
from optimizer.words import KeyPath, quoted, safe

AT: KeyPath = ("tally",)
CONTENT = f"the tally, beginning with {','.join(COLUMNS)}"


@dataclass(frozen=True)
class TallyPlace:
    """Where a tally lies, and its name in messages."""

    path: Path
    file: str


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
    return TallyPlace(path, os.path.normpath(path))


def tally_at(place: TallyPlace) -> tuple[TallyFile, str]:
    """Read a tally, and its text; a file that is not there counts nothing. Raises InputError."""
    if not os.path.lexists(place.path):
        return TallyFile(), ""
    text = read_text(place.path, place.file, content=CONTENT)
    return read_tally(text, safe(place.file)), text


def with_tally(
    request_path: Path, request: Request, document: Document, *, allow_outside: bool
) -> tuple[Request, list[str]]:
    """The request with the counts of its tally added to `done`, and a line for whatever is worth a look."""
    if request.tally is None or not request.targets:
        return request, []
    place = tally_place(request_path, request, document, allow_outside=allow_outside)
    counted = in_hand(request, tally_at(place)[0].rows)
    lines = [str(problem) for problem in _both(request, counted, document)]
    return with_counts(request, counted), [*lines, *ignored_lines(counted, place.file)]


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


def ignored_lines(counted: InHand, file: str) -> list[str]:
    """A line for each reason why rows of a tally count for no goal, with the first of them."""
    first: dict[tuple[str, str, str], list[int]] = {}
    for row, why in counted.ignored:
        first.setdefault((row.key.target, row.key.filter, why), []).append(row.line)
    return [
        str(
            InputProblem(
                safe(file),
                "",
                f"this row counts for no goal of the request: {safe(why)}"
                + (f" (and so for {len(lines) - 1} more)" if len(lines) > 1 else ""),
                "mend it, or leave it if it is another request's",
                line=lines[0],
            )
        )
        for (_, _, why), lines in first.items()
    ]
