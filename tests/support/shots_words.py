"""What the keys of a shot list mean, from the tables of plans/SHOTS.md; run as a program it writes them anew."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from pathlib import Path

from pydantic import BaseModel

from optimizer.models.continues import Begin, Continues
from optimizer.models.season_tonight import GoalInSeason, InSeason, TargetInSeason
from optimizer.models.shots import (
    AuditReport,
    GoalTotal,
    GoalValue,
    Idle,
    NightFacts,
    Proof,
    Relief,
    ShotList,
    Step,
    TargetTotal,
    Totals,
    Unplanned,
    Violation,
)
from tests.support.docs_files import ROOT, SHOTS, marked

WORDS_FILE = ROOT / "optimizer" / "schemas" / "shots_words.toml"
TABLES: dict[str, type[BaseModel]] = {
    "columns": Step,
    "json list": ShotList,
    "json night": NightFacts,
    "json value": GoalValue,
    "json totals": Totals,
    "json goal": GoalTotal,
    "json target": TargetTotal,
    "json proof": Proof,
    "json idle": Idle,
    "json unplanned": Unplanned,
    "json relief": Relief,
    "json audit": AuditReport,
    "json violation": Violation,
    "json continues": Continues,
    "json begin": Begin,
    "json season": InSeason,
    "json season goal": GoalInSeason,
    "json season target": TargetInSeason,
}
HEAD = "# What the keys of a shot list mean, as plans/SHOTS.md tells it.\n"


def words_text() -> str:
    """The tables as TOML: one table a model, one line a key."""
    return words_of(SHOTS, TABLES, HEAD)


def words_of(page: Path, tables: Mapping[str, type[BaseModel]], head: str) -> str:
    """The tables of a page, by their marks, as TOML: one table a model, one line a key."""
    parts = [head]
    for mark, model in tables.items():
        parts.append(f"\n[{model.__name__}]\n")
        for line in marked(page, mark).splitlines()[2:]:
            cells = [cell.strip() for cell in re.split(r"(?<!\\)\|", line.strip().strip("|"))]
            parts.append(f"{cells[0].strip('`')} = {json.dumps(_plain(cells[-1]), ensure_ascii=False)}\n")
    return "".join(parts)


def _plain(meaning: str) -> str:
    """A cell without links, backquotes and what points to another place of the page."""
    text = re.sub(r"\[([^\]]+)\]\([^)]+\)", r"\1", meaning).replace("`", "").replace("\\|", "|")
    return re.sub(r"(:? see the kinds|:)? (below|above)(?=;|$)", "", text)


if __name__ == "__main__":
    WORDS_FILE.write_text(words_text(), encoding="utf-8")
