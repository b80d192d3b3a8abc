"""Lists to be followed: the stored nights, small nights, and a night for each way in which a mount flips, or not."""

from __future__ import annotations

from functools import cache

from optimizer.models.shots import ShotList
from tests.support.modes.nights import plan_of
from tests.support.picture_cases import NIGHTS, stored
from tests.support.replan_nights import flipping_list, small_list

PLANNED = {
    "small": ("small", ""),
    "flipping": ("flipping", ""),
    "by mount": ("mount", "through the zenith"),
    "by plan": ("plan", "through the zenith"),
    "standstill": ("plan", "standstill"),
    "turned": ("turned", "lower culmination"),
    "fork": ("fork", "through the zenith"),
}
LISTS = (*NIGHTS, *PLANNED)


@cache
def list_of(name: str) -> ShotList:
    """A list by its name in `LISTS`, the same on every run."""
    if name in NIGHTS:
        return stored(name)
    mode, place = PLANNED[name]
    if not place:
        return small_list() if mode == "small" else flipping_list()
    return plan_of(mode, place)
