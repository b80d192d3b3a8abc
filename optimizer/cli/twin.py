"""The JSON list beside a CSV one: what the CSV does not hold, such as the counts that the list began with."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optimizer.models.shots import ShotList, Step


def twin_of(shots: Path, steps: tuple[Step, ...]) -> ShotList | None:
    """The JSON list beside a CSV one of the same name, where it has the same steps: it keeps the counts."""
    from optimizer.errors import InputError
    from optimizer.export.shot_files import read_shots

    if not (beside := shots.with_suffix(".json")).is_file():
        return None
    try:
        found = read_shots(beside).shots
    except InputError:
        return None
    return found if found is not None and found.steps == steps else None
