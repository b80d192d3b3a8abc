"""How a case of bad input is written down: files, and what a person is told."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import NamedTuple


class Case(NamedTuple):
    """Bad input and the exact messages; the first file is the one to be read, by its bare name.

    A file's content is text, bytes, or `FOLDER`.
    """

    name: str
    files: dict[str, str | bytes | None]
    told: str

    @property
    def input(self) -> str:
        return next(iter(self.files))

    @property
    def lines(self) -> list[str]:
        """The messages, one each; in the table a deeper indent carries a message on."""
        lines: list[str] = []
        for row in textwrap.dedent(self.told).strip().splitlines():
            if row.startswith(" "):
                lines[-1] += f" {row.strip()}"
            else:
                lines.append(row)
        return lines

    def write(self, folder: Path) -> None:
        for name, content in self.files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if content is FOLDER:
                path.mkdir()
            else:
                path.write_bytes(content if isinstance(content, bytes) else content.encode())


FOLDER = None

GOOD = """\
schema = "darkfill-request/1"

[night]
evening = 2026-11-14

[site]
latitude_deg = 38.92
longitude_deg = -3.11
floor_deg = 25

[mount]
contact_min = 40

[[filters]]
name = "L"

[[targets]]
name = "Cradle Nebula"
ra_deg = 52.297
dec_deg = 31.31

[[targets.goals]]
filter = "L"
exposure_s = 120
frames = 90
"""


def changed(text: str, *swaps: tuple[str, str]) -> str:
    """The text with each first part, which must stand in it exactly once, replaced by the second."""
    for old, new in swaps:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the text"
        text = text.replace(old, new)
    return text


def request(*swaps: tuple[str, str]) -> dict[str, str | bytes | None]:
    """A request that is good but for the swaps."""
    return {"request.toml": changed(GOOD, *swaps)}


_LAST_LINE = {
    "night": "evening = 2026-11-14",
    "site": "floor_deg = 25",
    "mount": "contact_min = 40",
    "filter": '[[filters]]\nname = "L"',
    "target": "dec_deg = 31.31",
    "goal": "frames = 90",
}


def add(table: str, text: str) -> tuple[str, str]:
    """The swap that adds lines at the end of a table of the good request."""
    return _LAST_LINE[table], f"{_LAST_LINE[table]}\n{text}"
