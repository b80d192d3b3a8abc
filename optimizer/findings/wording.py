"""Words of findings: reasons for which subs are lost, what a list is short of, numbers, spans and columns."""

from __future__ import annotations

import math
from collections.abc import Sequence

from optimizer.findings.groups import Fault

OF_NO_GOAL = ("goal_match", "frames")  # subs no worse than others, that nothing asks for

LOST_BY = {
    "darkness": "sky not dark enough",
    "floor": "below the floor",
    "skyline": "behind the local horizon",
    "ceiling": "above the ceiling",
    "acquisition": "too low to be acquired",
    "blocked": "in a blocked span",
    "clear": "outside the clear spans",
    "within_night": "outside the night",
    "acquired": "target not acquired by slew, plate solve and settling",
    "moon_gap": "too near the Moon",
    "moonlight": "too much moonlight",
    "slew_time": "the mount still moves",
    "step_length": "too little time",
    "known_filter": "filter not known",
    "light_path": "another filter in the light path",
    "goal_match": "asked for by no goal",
    "frames": "more than the goal lacks",
    "contiguous": "two steps at once",
    "latest_start": "begun after the latest start",
    "tracking": "the mount does not track",
    "ends_with_park": "after a park",
}
SHORT_OF = {
    "focus_new_target": "autofocus after a slew",
    "focus_after_flip": "autofocus after a flip",
    "focus_filter": "autofocus after a change of filter",
    "focus_every": "autofocus often enough",
    "dither_every": "dither",
    "rotator": "the right turn of the rotator",
    "position_angle": "the position angle that the target wants",
    "sides": "the side of the transit that is asked for",
    "tracking": "tracking where the mount could track",
    "latest_start": "a latest start that still lies ahead",
}
ECHOES = ("pier_side", "acquired", "latest_start")  # dangers that others of the same cause tell better
MOST_NAMED = 3  # targets or places that a sentence names one by one


def places_of(faults: Sequence[Fault]) -> list[int]:
    """The places in the list that these faults are about, in order, each once."""
    return sorted({fault.place for fault in faults if fault.place is not None})


def column_of(fault: Fault) -> str:
    """The column that a fault of form is about."""
    if fault.rule == "columns":
        return fault.violation.message.split(" says ")[0]
    return {"latest_start": "latest_start_utc", "position_angle": "position_angle_deg"}.get(
        fault.rule, fault.rule
    )


def have(rows: str) -> str:
    """The verb that goes with so many rows."""
    return "has" if rows == "1 row" else "have"


def count(number: int, one: str) -> str:
    """A number with its noun: `1 sub`, `4 subs`."""
    return f"{number} {one if number == 1 else one + 's'}"


def span_of(faults: Sequence[Fault]) -> str:
    """The greatest amount of seconds, rounded up to tenths of a minute, or whole seconds below one minute."""
    seconds = max(fault.violation.amount for fault in faults)
    return f"{math.ceil(seconds)} s" if seconds < 60 else f"{math.ceil(seconds / 6 - 1e-9) / 10:.1f} min"


def exactly(seconds: int) -> str:
    """A span to the second: `1 h 40 min`, `40 min`, `90 s`."""
    hours, rest = divmod(seconds, 3600)
    minutes, over = divmod(rest, 60)
    parts = [
        f"{hours} h" if hours else "",
        f"{minutes} min" if minutes else "",
        f"{over} s" if over else "",
    ]
    return " ".join(part for part in parts if part) or "0 s"
