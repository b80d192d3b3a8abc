"""What the keys of a season mean, from the tables of plans/SEASON.md; run as a program it writes them anew."""

from __future__ import annotations

from pydantic import BaseModel

from optimizer.models.season import (
    FrameValue,
    GoalFrames,
    MonthWorth,
    Project,
    ProjectGoalState,
    ProjectStep,
    RigOfSeason,
    SeasonFile,
    SeasonNight,
    SeasonPolicy,
    SeasonProof,
    SeasonStep,
    SeasonVisit,
    TargetOnNight,
)
from tests.support.docs_files import ROOT, SEASON
from tests.support.shots_words import words_of

WORDS_FILE = ROOT / "optimizer" / "schemas" / "season_words.toml"
TABLES: dict[str, type[BaseModel]] = {
    "season file": SeasonFile,
    "season rig": RigOfSeason,
    "season night": SeasonNight,
    "season frames": GoalFrames,
    "season visit": SeasonVisit,
    "season target": TargetOnNight,
    "season project": Project,
    "season goal": ProjectGoalState,
    "season step": ProjectStep,
    "season value": FrameValue,
    "season month": MonthWorth,
    "season proof": SeasonProof,
    "season policy": SeasonPolicy,
    "season change": SeasonStep,
}
HEAD = "# What the keys of a season mean, as plans/SEASON.md tells it.\n"


def words_text() -> str:
    """The tables as TOML: one table a model, one line a key."""
    return words_of(SEASON, TABLES, HEAD)


if __name__ == "__main__":
    WORDS_FILE.write_text(words_text(), encoding="utf-8")
