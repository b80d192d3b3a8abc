"""Plans of random nights, made as the command line makes them: from a file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from optimizer.models.shots import ShotList
from optimizer.night import Night
from optimizer.reading.load import load_request


def plan_of(data: dict[str, Any], folder: Path) -> ShotList:
    """The plan of a request given as plain data."""
    path = folder / "request.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return Night(load_request(path)).plan()


def modes(shots: ShotList) -> set[str]:
    """What a plan has in it: kinds of steps, the kind of mount, waits that track and waits that do not."""
    found: set[str] = {step.kind for step in shots.steps}
    found |= {f"wait, tracking {step.tracking}" for step in shots.steps if step.kind == "wait"}
    request = shots.request
    found.add(request.mount.kind)
    if request.mount.flip_by == "mount" and "flip" in found:
        found.add("flip by the mount")
    return found
