"""What a list's file tells beyond its steps: the JSON beside a CSV, and whether its request was changed."""

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


def say_if_changed(shots: ShotList) -> None:
    """Say on stderr where a list's request is not the one that its fingerprint is of.

    It may have been edited, or an earlier version wrote the list, whose requests lack keys of today.
    """
    from optimizer.cli.failures import say
    from optimizer.models.request import sha256_of

    if sha256_of(shots.request) != shots.request_sha256:
        say(
            "the request inside this list is not the one it was planned from: it was edited since, or an "
            "earlier version of darkfill wrote the list; darkfill check LIST REQUEST judges it by yours"
        )
