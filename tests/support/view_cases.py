"""Lists whose views are asked: names that files mistake for something else, forks, replanned lists, hand-laid ones."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

from optimizer.export.json_file import read_json
from optimizer.models.continues import Begin
from optimizer.models.shots import ShotList
from tests.support import timeline_nights
from tests.support.docs_files import PLANS, stored_list
from tests.support.replan_nights import at, flipping_list, laid_list, small_list

NAMES = (
    'The "Owl", north; or so',
    "=HYPERLINK(A1)",
    "+1-1",
    "-2",
    "@SUM(1)",
    "'quoted",
    "Owl's 🦉 nebula 👩‍🚀",
    "שלום nebula",
    "銀河の渦巻き腕と星雲",
    "x" * 60,
    "back\\slash; semicolon, comma: colon",
)

BEGUN = """\
expose 23:00:00 23:02:03 Cradle west L 120
expose 23:02:03 23:04:06 Cradle west L 120
flip   23:04:06 23:05:00 Cradle east
centre 23:05:00 23:05:45 Cradle east
settle 23:05:45 23:06:00 Cradle east
expose 23:06:00 23:08:03 Cradle east L 120
park   23:08:03 23:09:00
"""


def renamed(shots: ShotList, name: str) -> ShotList:
    """A list whose first target has another name."""
    first, *others = shots.request.targets
    steps = tuple(
        step.model_copy(update={"target": name}) if step.target == first.name else step
        for step in shots.steps
    )
    targets = (first.model_copy(update={"name": name}), *others)
    return shots.model_copy(
        update={"steps": steps, "request": shots.request.model_copy(update={"targets": targets})}
    )


@cache
def stored(folder: Path) -> ShotList:
    return read_json(stored_list(folder))


def begun() -> ShotList:
    """It goes on with a night on its target, without a slew."""
    return laid_list(BEGUN, begin=Begin(utc=at("23:00"), target="Cradle", pier_side="west", acquired=True))


def empty() -> ShotList:
    return small_list().model_copy(update={"steps": ()})


LISTS: dict[str, Callable[[], ShotList]] = {
    **{folder.name: (lambda folder=folder: stored(folder)) for folder in PLANS},  # type: ignore[misc]
    "small": small_list,
    "flipping": flipping_list,
    "fork": timeline_nights.fork,
    "by the mount": timeline_nights.by_itself,
    "southern": timeline_nights.southern,
    "begun": begun,
    "laid": laid_list,
    "empty": empty,
    **{f"named {name[:12]}": (lambda name=name: renamed(flipping_list(), name)) for name in NAMES},  # type: ignore[misc]
}
