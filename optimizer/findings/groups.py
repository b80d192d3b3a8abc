"""How dangerous each broken rule is, and which rules are told together."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from optimizer.findings.finding import GROUPS, Group
from optimizer.models.shots import Step, Violation

GROUP_OF: Final[Mapping[str, Group]] = MappingProxyType(
    {
        # the most dangerous first: this order decides among findings of one group
        "contact": "equipment",
        "sun_down": "equipment",
        "lower_culmination": "equipment",
        "flip_from": "equipment",
        "straddle": "equipment",
        "pier_side": "equipment",
        "ends_with_park": "equipment",
        "tracking": "equipment",
        "begins": "equipment",
        "coordinates": "equipment",
        "known_target": "equipment",
        "latest_start": "equipment",
        "quiet": "equipment",
        "darkness": "lost_frames",
        "floor": "lost_frames",
        "skyline": "lost_frames",
        "ceiling": "lost_frames",
        "acquisition": "lost_frames",
        "blocked": "lost_frames",
        "clear": "lost_frames",
        "within_night": "lost_frames",
        "acquired": "lost_frames",
        "moon_gap": "lost_frames",
        "moonlight": "lost_frames",
        "slew_time": "lost_frames",
        "step_length": "lost_frames",
        "known_filter": "lost_frames",
        "light_path": "lost_frames",
        "goal_match": "lost_frames",
        "frames": "lost_frames",
        "contiguous": "lost_frames",
        "sides": "quality",
        "rotator": "quality",
        "position_angle": "quality",
        "focus_new_target": "quality",
        "focus_after_flip": "quality",
        "focus_filter": "quality",
        "focus_every": "quality",
        "dither_every": "quality",
        "visits": "quality",
        "one_run": "quality",
        "least_visit": "quality",
        "slack": "quality",
        "columns": "form",
        "totals": "form",
        "proof": "form",
        "night_facts": "form",
        "values": "form",
        "season": "form",
    }
)
"""The group of each rule of the audit, for its worst breaches; `group_of` knows the milder ones."""

RANK: Final[Mapping[str, int]] = MappingProxyType({rule: rank for rank, rule in enumerate(GROUP_OF)})

# Rules that are told together: what breaks one of them mostly breaks the others at the same steps.
FAMILY_OF: Final[Mapping[str, str]] = MappingProxyType(
    {
        **dict.fromkeys(("floor", "skyline", "acquisition"), "too low"),
        **dict.fromkeys(("moon_gap", "moonlight"), "the Moon"),
        **dict.fromkeys(("blocked", "clear", "within_night"), "spans"),
        **dict.fromkeys(("acquired", "slew_time", "step_length", "contiguous"), "order"),
        **dict.fromkeys(("known_filter", "light_path"), "filter"),
        **dict.fromkeys(("goal_match", "frames"), "no place"),
        **dict.fromkeys(("focus_new_target", "focus_after_flip", "focus_filter", "focus_every"), "autofocus"),
        **dict.fromkeys(("visits", "one_run", "least_visit"), "visits"),
        **dict.fromkeys(("position_angle", "rotator"), "angle"),
        **dict.fromkeys(("totals", "proof", "night_facts", "values", "season"), "sums"),
    }
)

HARMLESS_ARCSEC = 360  # off the target: 24 s of hour angle; the field is not the one that is wanted
MISSING_CELLS = {"coordinates": "coordinates", "position_angle": "angles"}  # by the unit of such violations
_ON_OTHER_SIDE = re.compile(r"sub on .+ while the mount is on pier side \w+$")
_AT_LATEST = re.compile(r"started at its latest start the step breaks (\w+):")


@dataclass(frozen=True)
class Fault:
    """A violation with its place in the list (None: the list as a whole) and its group.

    `index` counts through the report's violations and then through what it has as quality.
    """

    index: int
    violation: Violation
    place: int | None
    group: Group

    @property
    def rule(self) -> str:
        """The rule that is broken."""
        return self.violation.rule

    @property
    def danger(self) -> tuple[int, int, float]:
        """What faults are ordered by: group, rank of the rule, amount, the most dangerous least."""
        rank = RANK.get(self.rule, 0) + (0 if self.group == GROUP_OF.get(self.rule) else len(RANK))
        if (self.group, self.rule) == ("equipment", "acquired"):
            rank = RANK["pier_side"]  # with which it is told together
        return GROUPS.index(self.group), rank, -self.violation.amount

    @property
    def numbering(self) -> bool:
        """Whether only the number of the row is wrong."""
        return self.rule == "contiguous" and self.violation.unit == "steps"


def group_of(violation: Violation, step: Step | None, before: Step | None = None) -> Group:
    """The group of one violation by a step and the one before it in the list.

    A rule that nobody has grouped yet counts as dangerous.
    """
    rule, unit = violation.rule, violation.unit
    kind = None if step is None else step.kind
    if rule == "contiguous" and unit == "steps":
        return "form"
    if rule == "contiguous" and step is not None and before is not None and step.start_utc > before.end_utc:
        return "form"  # time that no row tells of; where the mount tracks into danger meanwhile is told apart
    if MISSING_CELLS.get(rule) == unit:
        return "form"
    if rule == "acquired" and _ON_OTHER_SIDE.match(violation.message):
        return "equipment"  # the sub is taken, but nobody knows on which pier side the mount is
    if rule == "tracking":
        return _tracking(violation, step)
    if rule == "latest_start":
        return _latest_start(violation, step)
    if rule == "ends_with_park" and kind == "park":
        return "lost_frames"  # what follows it finds a mount at its home
    if rule == "sides" and kind == "flip" and violation.message.endswith("flip_by is never"):
        return "equipment"
    if rule == "coordinates" and unit == "arcsec" and violation.amount < HARMLESS_ARCSEC:
        return "quality"
    return GROUP_OF.get(rule, "equipment")


def _tracking(violation: Violation, step: Step | None) -> Group:
    """A mount that follows on where it should stand, one that stands where it should follow, or a blank."""
    if violation.unit == "s":
        return "quality"  # it stands before a flip, where it could track
    if step is None:
        return "equipment"
    if step.tracking is None:
        return "form"
    return "equipment" if step.tracking else "lost_frames"


def _latest_start(violation: Violation, step: Step | None) -> Group:
    """As dangerous as what a start at that second would break."""
    at_latest = _AT_LATEST.match(violation.message)
    if at_latest is not None:
        return GROUP_OF.get(at_latest[1], "equipment")
    if violation.unit == "instants":
        return "form"
    late = step is not None and step.latest_start_utc is not None and step.latest_start_utc < step.start_utc
    if late and step is not None:
        return "lost_frames" if step.kind == "expose" else "quality"
    return "equipment"


def family_of(fault: Fault) -> tuple[Group, str]:
    """What a fault is told together with: faults of one family and group are one finding."""
    if fault.numbering:
        return fault.group, "numbers"
    if fault.group == "form" and fault.rule not in ("totals", "proof", "night_facts", "values", "season"):
        return fault.group, "columns"
    if fault.group == "equipment":
        return fault.group, "pier_side" if fault.rule == "acquired" else fault.rule
    return fault.group, FAMILY_OF.get(fault.rule, fault.rule)
