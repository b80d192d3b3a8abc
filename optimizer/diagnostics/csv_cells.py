"""Cells and rows of CSV files as text: guarded against spreadsheets, quoted where they must be, and back."""

from __future__ import annotations

import csv
import io

from optimizer.errors import InputError, InputProblem

# A spreadsheet runs text that begins so as a formula (CWE-1236).
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def guarded(text: str) -> str:
    """Write text so that no spreadsheet runs it: a leading `'` comes before what would be a formula.

    Text that looks guarded already gets one more, so that `unguarded` always gives back the original.
    """
    return f"'{text}" if text.startswith(_FORMULA) or unguarded(text) != text else text


def unguarded(text: str) -> str:
    """Take the guard off a text; a `'` before anything but a formula or a guard is part of it."""
    return text[1:] if text[:1] == "'" and text[1:2] in ("'", *_FORMULA) else text


def quoted_cell(text: str) -> str:
    """Put a cell in double quotes where its text would end it."""
    return '"' + text.replace('"', '""') + '"' if any(mark in text for mark in '",\r\n') else text


def plain_number(value: float) -> str:
    """Write a number so that it reads back equal, without a needless `.0`."""
    whole = value.is_integer() and abs(value) < 1e15 and repr(value) != "-0.0"
    return str(int(value)) if whole else repr(value)


def rows_of(text: str, file: str, delimiter: str = ",") -> list[tuple[int, list[str], str]]:
    """Part a CSV text into rows: the line on which each begins, its cells, and its text as it stands.

    Quoted cells may hold line breaks. Raises InputError for a quote that is not closed.
    """
    lines = list(io.StringIO(text, newline=""))
    reader = csv.reader(lines, strict=True, delimiter=delimiter)
    rows: list[tuple[int, list[str], str]] = []
    before = 0
    try:
        for cells in reader:
            rows.append((before + 1, cells, "".join(lines[before : reader.line_num])))
            before = reader.line_num
    except csv.Error as error:
        what = "a cell in double quotes is not closed, or goes on after its closing quote"
        remedy = 'write " inside a quoted cell twice'
        if "field limit" in str(error):
            what, remedy = f"a cell has more than {csv.field_size_limit()} characters", "shorten it"
        raise InputError([InputProblem(file, "", what, remedy, line=before + 1)]) from error
    return rows
