"""What is wrong with the first line of a CSV file."""

from __future__ import annotations

import difflib

from optimizer.words import listing, quoted


def header_problem(cells: list[str], columns: tuple[str, ...]) -> tuple[str, str] | None:
    """Say what is wrong with a header and the remedy; None where it names exactly the columns, in order.

    Empty cells at the end are overlooked: spreadsheets leave them.
    """
    names = [cell.strip() for cell in cells]
    while names and not names[-1]:
        names.pop()
    if tuple(names) == columns:
        return None
    whole = f"the first line must be: {','.join(columns)}"
    for separator, word in ((";", "semicolons"), ("\t", "tabs"), ("|", "bars")):
        if (
            len(names) == 1
            and len([part for part in names[0].split(separator) if part.strip() in columns]) > 1
        ):
            return f"the columns are separated by {word}", "save the file with commas between the columns"
    known = [name for name in names if name in columns]
    if not known:
        return "the header with the names of the columns is missing", whole
    missing = [name for name in columns if name not in names]
    strange = [name for name in names if name not in columns]
    doubled = sorted({name for name in known if known.count(name) > 1}, key=columns.index)
    parts = []
    if missing:
        parts.append(f"lacks {listing(missing, 'and', most=30)}")
    if strange:
        parts.append(f"has the unknown {listing((_guess(name, missing) for name in strange), 'and')}")
    if doubled:
        parts.append(f"has {listing(doubled, 'and')} twice")
    if not parts:
        first = next(index for index, name in enumerate(names) if name != columns[index])
        parts.append(f"has {names[first]} in place {first + 1}, where {columns[first]} belongs")
    return f"the header {listing(parts, 'and')}", whole


def near_column(name: str, columns: list[str]) -> str:
    """The column whose name is most like this one; empty where none is."""
    return "".join(difflib.get_close_matches(name.lower(), columns, 1, 0.6))


def _guess(name: str, missing: list[str]) -> str:
    near = near_column(name, missing)
    return quoted(name) + (f" (did you mean {near}?)" if near else "")
