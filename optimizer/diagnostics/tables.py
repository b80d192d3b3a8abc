"""Tables and numbers in raw data, whatever else is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, TypeGuard

from optimizer.diagnostics.document import Document
from optimizer.words import KeyPath


def tables(document: Document, path: KeyPath) -> Iterator[tuple[KeyPath, dict[str, Any]]]:
    """The tables in the list at the path, with their paths."""
    rows = document.value(path)
    for index, row in enumerate(rows if isinstance(rows, list) else ()):
        if isinstance(row, dict):
            yield (*path, index), row


def is_number(value: Any) -> TypeGuard[float]:
    """Whether a value is a number that a request may well hold."""
    return isinstance(value, int | float) and not isinstance(value, bool) and -1e9 < value < 1e9
