"""The documents and what stands in their fences."""

from __future__ import annotations

import re
import textwrap
from pathlib import Path

ROOT = Path(__file__).parents[2]
README, DEVELOPERS = ROOT / "README.md", ROOT / "DEVELOPERS.md"
KEYS, SHOTS = ROOT / "plans" / "KEYS.md", ROOT / "plans" / "SHOTS.md"
SEASON = ROOT / "plans" / "SEASON.md"
LAW, BOUND = ROOT / "optimizer" / "audit" / "LAW.md", ROOT / "optimizer" / "packing" / "bound" / "README.md"
TEMPLATES = ROOT / "plans" / "templates" / "README.md"
DOCUMENTS = (README, DEVELOPERS, KEYS, SHOTS, SEASON, LAW, BOUND, TEMPLATES)
PLANS = sorted(path.parent for path in (ROOT / "plans").glob("*/request.toml"))
_FENCE = re.compile(r"^(?P<indent> *)```(?P<kind>\w*)\n(?P<body>.*?)^ *```$", re.MULTILINE | re.DOTALL)


def stored_list(folder: Path, ending: str = "json") -> Path:
    """The shot list that is stored with one of the nights in plans/, as JSON or CSV."""
    (path,) = folder.glob(f"stored/request.*.shots.{ending}")
    return path


def text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def fences(path: Path, kind: str, *, mark: str | None = None) -> list[str]:
    """Bodies of the fences of that kind, in order; those between the marks where one is named."""
    found = _FENCE.finditer(text(path) if mark is None else marked(path, mark) + "\n")
    return [textwrap.dedent(fence["body"]) for fence in found if fence["kind"] == kind]


def marked(path: Path, mark: str) -> str:
    """What stands between <!-- mark --> and <!-- /mark -->."""
    begin, end = f"<!-- {mark} -->\n", f"\n<!-- /{mark} -->"
    whole = text(path)
    assert whole.count(begin) == whole.count(end) == 1
    return whole[whole.index(begin) + len(begin) : whole.index(end)]


def first_cells(path: Path, mark: str) -> list[str]:
    """What stands in backquotes in the first cell of each row of a marked table, from top to bottom."""
    return re.findall(r"^\| `([^`|]+)` \|", marked(path, mark), re.MULTILINE)
