"""A plan typed by hand: a row for a number of equal subs, with as few columns as a person types."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar, get_args

from optimizer.diagnostics.csv_cells import unguarded
from optimizer.errors import InputError, InputProblem
from optimizer.models.request import Request
from optimizer.models.rig import SIDES, Filter, PierSide
from optimizer.models.shots import Step, StepKind
from optimizer.models.site import iso_utc, night_span
from optimizer.models.targets import Target, same_exposure
from optimizer.reading.files import refuse
from optimizer.reading.instants import instant_of
from optimizer.reading.typed_cells import number_in, whole_in, word_in, words_remedy
from optimizer.reading.typed_table import TypedCells, TypedTable, read_typed_table
from optimizer.tally.matching import LONGEST_S, SETTINGS, Asked, Matched, Matcher
from optimizer.words import folded, listing, number, quoted, unit_of

NEEDED = ("start", "target", "filter", "exposure_s")
COLUMNS = tuple(dict.fromkeys((*NEEDED, "count", *Step.model_fields)))
REMADE = (
    "step",
    "latest_start_utc",
    "hour_angle_h",
    "altitude_deg",
    "azimuth_deg",
    "airmass",
    "moon_separation_deg",
)
"""Columns that may stand there but are worked out anew."""
MOST_IN_ROW = 10_000
MOST_SUBS = 100_000
CONTENT = "the plan, beginning with start,target,filter,exposure_s,count"
_Word = TypeVar("_Word", bound=str)
_INFERRED = ("centre", "settle", "filter", "dither", "rotate")
_KINDS: tuple[StepKind, ...] = get_args(StepKind)


@dataclass(frozen=True)
class TypedRow:
    """One row: `count` equal subs, or a step of another kind; what is None was not typed.

    `start_utc` is when the first shutter opens. `exposure_s`, `gain`, `offset` and `binning` are those of the
    goal that is meant, where one is. `end_utc` is the end of the last sub, download included.
    """

    line: int
    kind: StepKind
    start_utc: dt.datetime
    end_utc: dt.datetime | None = None
    target: Target | None = None
    filter: Filter | None = None
    exposure_s: float | None = None
    count: int = 1
    gain: int | None = None
    offset: int | None = None
    binning: int | None = None
    pier_side: PierSide | None = None
    ra_deg: float | None = None
    dec_deg: float | None = None
    position_angle_deg: float | None = None
    tracking: bool | None = None
    note: str | None = None


@dataclass(frozen=True)
class TypedFile:
    """The rows of a plan, and sentences on how it was read.

    With `whole` each row has its kind and its end, so the rows are steps, in the order of the file; else they
    are in the order of time, and what lies between them is for the reader to infer.
    """

    rows: tuple[TypedRow, ...]
    whole: bool
    said: tuple[str, ...]


def read_typed(path: Path, request: Request) -> TypedFile:
    """Read a plan typed by hand, its names and times as those of a request.

    Raises InputError with every problem: line, column, value, unit, remedy.
    """
    table = read_typed_table(path, COLUMNS, content=CONTENT)
    _check_columns(table)
    if not table.rows and not table.problems:
        raise refuse(
            table.file, "there are no rows below the header", "add one row for each target and filter"
        )
    reader = _Reader(table, request)
    rows = [row for row in map(reader.row, table.rows) if row is not None]
    whole = all(cells.cells.get("kind") and cells.cells.get("end_utc") for cells in table.rows)
    if not whole:
        reader.check_few(rows)
    if reader.problems:
        raise InputError(sorted(reader.problems, key=lambda problem: problem.line or 0))
    said = [table.said, *reader.said]
    remade = [name for name in REMADE if name in table.columns and (name != "step" or not whole)]
    if remade:
        said.append(f"Worked out anew: {listing(remade, 'and')}.")
    if not whole and rows != (rows := sorted(rows, key=lambda row: row.start_utc)):
        said.append("The rows were put in the order of time.")
    if not whole and any(row.kind == "wait" for row in rows):
        said.append("Rows that only wait are left out: the time between the others is inferred.")
    return TypedFile(tuple(rows), whole, tuple(said))


def _check_columns(table: TypedTable) -> None:
    """Raise InputError where a column is missing that every plan needs."""
    there = {*table.columns, *(("start",) if "start_utc" in table.columns else ())}
    if missing := [name for name in NEEDED if name not in there]:
        what = f"the header lacks {listing(missing, 'and')}"
        remedy = "name the columns start, target, filter, exposure_s and, if you like, count"
        raise InputError([InputProblem(table.file, "", what, remedy, line=table.header_line)])


class _Reader:
    """Reads cells, and keeps what is wrong with them and what there is to say."""

    def __init__(self, table: TypedTable, request: Request) -> None:
        self._table, self._request = table, request
        self._matcher = Matcher(request)
        night, site = request.night, request.site
        self._span = night_span(night, site.longitude_deg, site.time_zone)
        self.problems: list[InputProblem] = list(table.problems)
        self._taken: dict[str, None] = {}  # in the order in which they came

    def check_few(self, rows: Sequence[TypedRow]) -> None:
        """Refuse, in a plan whose rows are not all whole steps, what is inferred there; and too many subs."""
        file = self._table.file
        for row in rows:
            if row.kind == "wait" and row.tracking:
                what = "whether a wait tracks is inferred where rows lack kind or end_utc"
                remedy = "leave the cell empty, or give kind and end_utc in every row"
                self.problems.append(InputProblem(file, "tracking", what, remedy, '"true"', line=row.line))
            if row.kind in _INFERRED:
                what = "such a step is inferred where rows lack kind or end_utc"
                remedy = "leave the row out, or give kind and end_utc in every row"
                self.problems.append(
                    InputProblem(file, "kind", what, remedy, quoted(row.kind), line=row.line)
                )
        if rows and not any(row.kind == "expose" for row in rows):
            what = "no row is one of subs"
            remedy = "add rows with start, target, filter and exposure_s"
            self.problems.append(InputProblem(file, "", what, remedy, line=rows[0].line))
        if (subs := sum(row.count for row in rows)) > MOST_SUBS:
            what = f"the plan has {subs} subs in all"
            self.problems.append(
                InputProblem(file, "count", what, f"give at most {MOST_SUBS}", line=rows[0].line)
            )

    @property
    def said(self) -> tuple[str, ...]:
        return tuple(self._taken)

    def row(self, cells: TypedCells) -> TypedRow | None:
        """The row; None where it has no start, which is among the problems."""
        kind: StepKind = self._word(cells, "kind", _KINDS) or "expose"
        start = self._start(cells)
        end = self._instant(cells, "end_utc", "UTC") if cells.cells.get("end_utc") else None
        sub = kind == "expose"
        target = self._target(cells, needed=sub)
        chosen = self._filter(cells, needed=sub)
        exposure_s = self._exposure(cells) if sub else None
        count = self._count(cells, start, exposure_s) if sub else 1
        settings = {name: self._whole(cells, name, 1 if name == "binning" else 0) for name in SETTINGS}
        if target is not None and chosen is not None and exposure_s is not None:
            exposure_s, settings = self._goal(cells, target, chosen, exposure_s, settings)
        side = self._word(cells, "pier_side", SIDES)
        if side is not None and not self._request.mount.flips:
            self._problem(cells, "pier_side", "a fork mount has no pier sides", "leave the cell empty")
        ra, dec, angle = (self._number(cells, name) for name in ("ra_deg", "dec_deg", "position_angle_deg"))
        tracking = self._word(cells, "tracking", ("true", "false"))
        note = unguarded(cells.cells.get("note", "")) or None
        if note is not None and not note.isprintable():
            self._problem(cells, "note", "the text holds a control character", "remove it")
        if start is None:
            return None
        if end is not None and end < start:
            self._problem(cells, "end_utc", f"this is before the row starts, {iso_utc(start)}", "mend one")
        return TypedRow(
            line=cells.line,
            kind=kind,
            start_utc=start,
            end_utc=end,
            target=target,
            filter=chosen,
            exposure_s=exposure_s,
            count=count,
            **settings,
            pier_side=side,
            ra_deg=ra,
            dec_deg=dec,
            position_angle_deg=angle,
            tracking=None if tracking is None else tracking == "true",
            note=note,
        )

    def _problem(self, cells: TypedCells, column: str, message: str, remedy: str) -> None:
        value = cells.cells.get(column, "")
        shown = quoted(value) if value else ""
        self.problems.append(
            InputProblem(self._table.file, column, message, remedy, shown, unit_of(column), cells.line)
        )

    def _empty(self, cells: TypedCells, column: str, remedy: str) -> None:
        self._problem(cells, column, "the cell is empty", remedy)

    def _start(self, cells: TypedCells) -> dt.datetime | None:
        """When the row begins, from either column."""
        column = "start" if cells.cells.get("start") else "start_utc"
        if not cells.cells.get(column):
            named = "start" if "start" in self._table.columns else "start_utc"
            self._empty(cells, named, "write a time like 20:30 or 2026-11-14T19:30:00Z")
            return None
        zone = self._request.site.time_zone if column == "start" else "UTC"
        start = self._instant(cells, column, zone)
        if start is None or column == "start_utc" or not cells.cells.get("start_utc"):
            return start
        other = self._instant(cells, "start_utc", "UTC")
        if other is not None and other != start:
            self._problem(
                cells, "start_utc", f"start says another instant, {iso_utc(start)}", "keep one of the two"
            )
        return start

    def _instant(self, cells: TypedCells, column: str, zone_name: str) -> dt.datetime | None:
        try:
            instant = instant_of(cells.cells[column], self._span, zone_name)
        except ValueError as error:
            message, _, remedy = str(error).partition("; ")
            self._problem(cells, column, message, remedy)
            return None
        begin, end = self._span
        if not begin <= instant <= end:
            what = f"this is not in the night of {self._request.night.evening}"
            remedy = (
                f"write an instant from {iso_utc(begin)} to {iso_utc(end)}, or change evening in the request"
            )
            self._problem(cells, column, what, remedy)
            return None
        return instant

    def _word(self, cells: TypedCells, column: str, words: Sequence[_Word]) -> _Word | None:
        text = cells.cells.get(column, "")
        found = word_in(text, words)
        if not text or found is not None:
            return found
        self._problem(cells, column, "this word is not known here", words_remedy(text, words))
        return None

    def _target(self, cells: TypedCells, *, needed: bool) -> Target | None:
        name = unguarded(cells.cells.get("target", ""))
        if not name:
            if needed:
                self._empty(cells, "target", "write the name of a target of the request")
            return None
        found = self._matcher.targets_named(name) or [
            each for each in self._request.targets if each.object and folded(each.object) == folded(name)
        ]
        if len(found) == 1:
            self._say_if_other(name, found[0].name)
            return found[0]
        self._nameless(cells, "target", name, [each.name for each in found or self._request.targets], found)
        return None

    def _filter(self, cells: TypedCells, *, needed: bool) -> Filter | None:
        name = unguarded(cells.cells.get("filter", ""))
        if not name:
            if needed:
                self._empty(cells, "filter", "write the name of a filter of the request")
            return None
        found = self._matcher.filters_named(name)
        if len(found) == 1:
            self._say_if_other(name, found[0].name)
            return found[0]
        self._nameless(cells, "filter", name, [each.name for each in found or self._request.filters], found)
        return None

    def _say_if_other(self, typed: str, name: str) -> None:
        if typed != name:
            self._taken.setdefault(f"{quoted(typed)} is taken as {quoted(name)}.")

    def _nameless(
        self, cells: TypedCells, column: str, name: str, known: list[str], found: Sequence[object]
    ) -> None:
        if found:
            both = listing((quoted(each) for each in known), "and")
            self._problem(cells, column, f"this may mean {both}", "write the name of the one that is meant")
            return
        near = difflib.get_close_matches(name.casefold(), [each.casefold() for each in known], 1, 0.6)
        choice = listing((quoted(each) for each in known), "or")
        meant = next((each for each in known if near and each.casefold() == near[0]), None)
        written = f"write {choice}, or give the {column} that is meant this name among its aliases"
        remedy = f"did you mean {quoted(meant)}?" if meant else written
        self._problem(cells, column, f"the request has no {column} of this name or alias", remedy)

    def _exposure(self, cells: TypedCells) -> float | None:
        if not cells.cells.get("exposure_s"):
            self._empty(cells, "exposure_s", "write the open-shutter time of one sub, like 120")
            return None
        value = self._number(cells, "exposure_s")
        if value is not None and not 0 < value <= LONGEST_S:
            self._problem(
                cells, "exposure_s", "this is out of range", f"give more than 0, at most {LONGEST_S}"
            )
            return None
        return value

    def _count(self, cells: TypedCells, start: dt.datetime | None, exposure_s: float | None) -> int:
        count = self._whole(cells, "count", 1, MOST_IN_ROW)
        if count is None or exposure_s is None or start is None:
            return 1
        if count > 1 and count * exposure_s > (self._span[1] - start).total_seconds():
            what = f"{count} subs of {number(exposure_s)} s end after the night, {iso_utc(self._span[1])}"
            self._problem(cells, "count", what, "give no more than the night can hold")
        return count

    def _number(self, cells: TypedCells, column: str) -> float | None:
        text = cells.cells.get(column, "")
        if not text:
            return None
        if (value := number_in(text)) is None:
            self._problem(cells, column, "this is not a number", "write it like 120 or 12.5, without a unit")
            return None
        return value

    def _whole(self, cells: TypedCells, column: str, least: int, most: int | None = None) -> int | None:
        text = cells.cells.get(column, "")
        if not text:
            return None
        if (value := whole_in(text)) is None:
            self._problem(cells, column, "this is not a whole number", "write digits only, like 12")
            return None
        greatest = most or (16 if column == "binning" else 100_000)
        if not least <= value <= greatest:
            remedy = f"give a whole number from {least} to {greatest}"
            self._problem(cells, column, "this is out of range", remedy)
            return None
        return value

    def _goal(
        self,
        cells: TypedCells,
        target: Target,
        chosen: Filter,
        exposure_s: float,
        settings: dict[str, int | None],
    ) -> tuple[float, dict[str, int | None]]:
        """Exposure and settings of the goal that is meant; what was typed, where none is, for the audit."""
        gain, offset, binning = (settings[name] for name in SETTINGS)
        found = self._matcher.match(Asked(target.name, chosen.name, exposure_s, gain, offset, binning))
        if isinstance(found, Matched):
            goal = found.goal
            if goal.exposure_s != exposure_s and same_exposure(goal.exposure_s, exposure_s):
                typed, meant = number(exposure_s), number(goal.exposure_s)
                self._taken.setdefault(f"Subs of {typed} s are taken as those of {meant} s of their goal.")
                exposure_s = goal.exposure_s
            return exposure_s, {
                name: getattr(goal, name) if value is None else value for name, value in settings.items()
            }
        near = [
            goal
            for goal in target.goals
            if goal.filter == chosen.name and same_exposure(goal.exposure_s, exposure_s)
        ]
        for name, value in settings.items():
            values = {getattr(goal, name) for goal in near}
            if value is None and len(values) > 1:
                choice = listing((number(each) for each in sorted(values - {None})), "or")
                self._problem(cells, name, f"goals of {quoted(target.name)} differ in it", f"write {choice}")
                break
        return exposure_s, settings
