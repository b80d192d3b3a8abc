"""A page with what it did, and what its readout says."""

from __future__ import annotations

from typing import Any, NamedTuple


class Opened(NamedTuple):
    page: Any
    requests: list[str]
    complaints: list[str]


def readout(page: Any) -> dict[str, str]:
    """The readout's pairs, by the column's key."""
    script = "[...document.querySelectorAll('#readout dd')].map(cell => [cell.dataset.key, cell.textContent])"
    return dict(page.evaluate(script))
