"""What might have been learned of a rig, laid by hand, for what only its numbers decide."""

from __future__ import annotations

import datetime as dt
from typing import Any

from optimizer.learn.acts import ACTS, ActName, Learned, LearnedAct

EVENING = dt.date(2026, 11, 14)


def an_act(
    act: ActName,
    planned_s: float,
    median_s: float,
    *,
    sure_to: float | None = 0.3,
    filter_name: str | None = None,
    **keys: Any,
) -> LearnedAct:
    """An act seen 20 times whose median is surely within `sure_to` of what is told; None: not known."""
    longer = round(median_s - planned_s, 3)
    values: dict[str, Any] = {
        "median_s": median_s,
        "low_s": median_s - 0.5,
        "high_s": median_s + 0.5,
        "count": 20,
        "longer_s": longer,
        "longer_from_s": longer - (sure_to or 0.0),
        "longer_to_s": longer + (sure_to or 0.0),
        "how": f"by the gaps that hold a {act} alone",
        "unknown": None,
    }
    if sure_to is None:
        unknown = dict.fromkeys(("median_s", "low_s", "high_s"))
        values |= {**unknown, "count": 2, "unknown": "it was seen only twice"}
    return LearnedAct(acts=(act,), filter=filter_name, planned_s=planned_s, **{**values, **keys})


def a_lesson(*acts: LearnedAct) -> Learned:
    """What was learned in one night, each other act being unknown."""
    have = {row.act for row in acts}
    rest = [an_act(act, 10.0, 10.0, sure_to=None) for act in ACTS if act not in have]
    rows = sorted((*acts, *rest), key=lambda row: (ACTS.index(row.act), row.filter or ""))
    return Learned(acts=tuple(rows), sums=(), set_aside=(), evenings=(EVENING,), frames=90, pairs=89)
