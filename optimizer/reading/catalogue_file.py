"""A user's own catalogue of objects: a CSV file with the columns name, aliases, ra and dec (ICRS)."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import PurePath

from optimizer.catalogue.designations import name_key
from optimizer.catalogue.objects import CatalogueObject, OwnCatalogue
from optimizer.diagnostics.csv_cells import rows_of, unguarded
from optimizer.diagnostics.csv_header import header_problem
from optimizer.errors import InputError, InputProblem
from optimizer.models.angles import COMMA, degrees_from_text
from optimizer.models.base import first_control
from optimizer.words import quoted, said

CATALOGUE_KEY = "catalogue"
COLUMNS = ("name", "aliases", "ra", "dec")  # aliases may be left out, other columns do not matter
CONTENT = f"the catalogue, beginning with {','.join(COLUMNS)}"
LIKE = "Pelican,IC 5070; my pelican,20h51m01s,+44d24m05s"
LARGEST_BYTES = 5_000_000  # some 100,000 objects
LONGEST_NAME = 300  # as names of targets have it
FEWEST_ALIKE = 3  # right ascensions that say something about how all are written
MOST_TOLD = 100  # problems that are told of one file
_NUMBER = re.compile(r"[+\-\u2212]?([0-9]+(\.[0-9]*)?|\.[0-9]+)")
_COMMA_NUMBER = re.compile(r"[+\-\u2212]?[0-9]+,[0-9]+")


def own_catalogue(text: str, file: str) -> tuple[OwnCatalogue, list[InputProblem]]:
    """Read the catalogue, and say what is wrong with which line and column; `file` is its name in messages.

    A right ascension or declination without any unit or colon is a number of degrees. Places are ICRS.
    """
    rows = _Rows(file)
    try:
        rows.read(text)
    except InputError as error:
        rows.problems.extend(error.problems)
    told = rows.problems[:MOST_TOLD]
    if len(rows.problems) > MOST_TOLD:
        more = f"{len(rows.problems) - MOST_TOLD} more things are wrong with this file"
        told.append(InputProblem(file, "", more, "mend those above first"))
    hours = len(rows.right_ascensions) >= FEWEST_ALIKE and all(map(_below_24, rows.right_ascensions))
    return OwnCatalogue(PurePath(file).name, rows.objects, whole=not told, all_below_24=hours), told


@dataclass
class _Rows:
    """What the rows of one file give: objects by the keys of their names, and problems in file order."""

    file: str
    objects: dict[str, CatalogueObject] = field(default_factory=dict)
    problems: list[InputProblem] = field(default_factory=list)
    lines: dict[str, int] = field(default_factory=dict)  # by the same keys
    right_ascensions: list[str] = field(default_factory=list)  # as they are written

    def read(self, text: str) -> None:
        """Read all rows. Raises InputError where the header or the quotes of the file are wrong."""
        rows = [row for row in rows_of(text, self.file) if any(cell.strip() for cell in row[1])]
        line, cells, _ = rows[0]
        names = [cell.strip().casefold() for cell in cells]
        problem = _header_problem(names)
        if problem is not None:
            raise InputError([InputProblem(self.file, "", *problem, line=line)])
        for line, cells, _ in rows[1:]:
            if any(cell.strip() for cell in cells[len(names) :]):
                extra = next(cell for cell in cells[len(names) :] if cell.strip())
                what = f"the row has {len(cells)} cells, the header has {len(names)}"
                remedy = 'check for a comma too many, and put text with a comma in double quotes: "a, b"'
                self._told(line, "", what, remedy, extra)
                continue
            self._row(line, dict(zip(names, [*cells, *[""] * len(names)], strict=False)))
        if not rows[1:]:
            raise InputError(
                [InputProblem(self.file, "", "the file holds no object", f"write a line like {LIKE}")]
            )

    def _row(self, line: int, cells: dict[str, str]) -> None:
        name = self._name(line, "name", cells["name"])
        aliases = [self._name(line, "aliases", part) for part in re.split("[;|]", cells.get("aliases", ""))]
        self.right_ascensions.append(cells["ra"].strip())
        ra_deg = self._degrees(line, "ra", cells["ra"], _ra_degrees)
        dec_deg = self._degrees(line, "dec", cells["dec"], _dec_degrees)
        if name is None or ra_deg is None or dec_deg is None:
            return
        found = CatalogueObject(name, ra_deg, dec_deg, PurePath(self.file).name)
        for column, called in (("name", name), *(("aliases", alias) for alias in aliases if alias)):
            key = name_key(called)
            if self.lines.setdefault(key, line) != line:
                what = f"line {self.lines[key]} has this name already ({quoted(self.objects[key].name)})"
                self._told(line, column, what, "keep one of the two", called)
            else:
                self.objects[key] = found

    def _name(self, line: int, column: str, cell: str) -> str | None:
        """A name without blanks around; None where there is none, which is a problem but for an alias."""
        text = unguarded(cell.strip()).strip()
        if not text:
            if column == "name":
                self._told(line, column, "the cell is empty", "write the name of the object", "")
            return None
        if (char := first_control(text)) is not None:
            self._told(
                line, column, f"the text holds the control character U+{ord(char):04X}", "remove it", text
            )
            return None
        if len(text) > LONGEST_NAME:
            what = f"the text has {len(text)} characters"
            self._told(line, column, what, f"shorten it to at most {LONGEST_NAME}", text)
            return None
        return text

    def _degrees(self, line: int, column: str, cell: str, read: Callable[[str], float]) -> float | None:
        text = unguarded(cell.strip()).strip()
        try:
            return read(text)
        except ValueError as error:
            self._told(line, column, *said(str(error)), text)
        return None

    def _told(self, line: int, column: str, message: str, remedy: str, cell: str) -> None:
        value = quoted(cell) if cell else ""
        self.problems.append(InputProblem(self.file, column, message, remedy, value, line=line))


def _header_problem(names: list[str]) -> tuple[str, str] | None:
    """What is wrong with the first line, whose columns may come in any order and with others between."""
    whole = all(names.count(column) == 1 for column in COLUMNS if column != "aliases")
    strange = [name for name in names if name not in COLUMNS]
    if names.count("aliases") > 1 or (
        "aliases" not in names and difflib.get_close_matches("aliases", strange, 1, 0.7)
    ):
        whole = False
    return None if whole else header_problem(names, COLUMNS)


def _ra_degrees(text: str) -> float:
    """Read a right ascension. Raises ValueError, whose text is what is wrong, a semicolon, and the remedy."""
    remedy = "write it like 20h51m01s, 20:51:01 or, in degrees, 312.754"
    degrees = _plain(text, remedy)
    if degrees is None:
        degrees = degrees_from_text(text, colon_means_hours=True, axis="ra")
    if not 0 <= degrees < 360:
        raise ValueError("out of range; give at least 0 and less than 24h or 360 degrees")
    return degrees


def _dec_degrees(text: str) -> float:
    """Read a declination. Raises ValueError, whose text is what is wrong, a semicolon, and the remedy."""
    degrees = _plain(text, "write it like +44d24m05s, +44:24:05 or +44.401")
    if degrees is None:
        degrees = degrees_from_text(text, axis="dec")
    if not -90 <= degrees <= 90:
        raise ValueError("out of range; give degrees from -90 to 90")
    return degrees


def _below_24(text: str) -> bool:
    return bool(_NUMBER.fullmatch(text)) and float(text.replace("\u2212", "-")) < 24


def _plain(text: str, remedy: str) -> float | None:
    """A plain number; None where it is something else. Raises ValueError for a decimal comma or nothing."""
    if not text:
        raise ValueError(f"the cell is empty; {remedy}")
    if _COMMA_NUMBER.fullmatch(text):
        raise ValueError(f"{COMMA}; write {text.replace(',', '.')}")
    return float(text.replace("\u2212", "-")) if _NUMBER.fullmatch(text) else None
