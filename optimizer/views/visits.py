"""A shot list's steps, gathered again into visits for people to read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import groupby

from optimizer.models.rig import PierSide
from optimizer.models.shots import Step


@dataclass
class ShownVisit:
    """A contiguous stay on one target and pier side, from its slew or flip to its last tail.

    The first of a list that goes on with a night may have neither.
    """

    steps: list[Step] = field(default_factory=list)

    @property
    def target(self) -> str:
        """Name of the visit's target."""
        return self.steps[0].target or ""

    @property
    def side(self) -> PierSide | None:
        """Pier side of the visit; None for mounts without pier sides."""
        return self.steps[0].pier_side

    @property
    def by_flip(self) -> bool:
        """Whether the visit begins with a flip."""
        return self.steps[0].kind == "flip"

    @property
    def by_slew(self) -> bool:
        """Whether the visit begins with a slew."""
        return self.steps[0].kind == "slew"

    @property
    def arrives(self) -> bool:
        """Whether the visit begins with a slew or a flip."""
        return self.by_slew or self.by_flip

    @property
    def exposures(self) -> list[Step]:
        """The exposures of the visit, in order."""
        return [step for step in self.steps if step.kind == "expose"]

    @property
    def open_s(self) -> float:
        """Open-shutter time of the visit in seconds."""
        return sum(step.exposure_s or 0.0 for step in self.exposures)

    @property
    def focus_runs(self) -> int:
        """Number of autofocus steps in the visit."""
        return sum(step.kind == "focus" for step in self.steps)

    def runs(self) -> list[tuple[str, int, float]]:
        """Filter, number of subs and exposure seconds of each run, in order."""
        keyed = groupby(self.exposures, key=lambda step: (step.filter or "", step.exposure_s or 0.0))
        return [(key[0], len(list(steps)), key[1]) for key, steps in keyed]


def visits_of(steps: Sequence[Step]) -> list[ShownVisit]:
    """The visits of a list; waits between them, tracking ones before a flip too, and park are left out.

    A list that goes on with a night may begin on its target, without a slew. Where the target changes without
    one, as in a list that breaks the rules, a visit begins all the same: no sub is left out.
    """
    visits: list[ShownVisit] = []
    for step in steps:
        if step.kind in ("slew", "flip"):
            while visits and visits[-1].steps and visits[-1].steps[-1].kind == "wait":
                visits[-1].steps.pop()
            visits.append(ShownVisit([step]))
        elif step.target is not None and visits and visits[-1].steps and step.target == visits[-1].target:
            visits[-1].steps.append(step)
        elif step.target is not None:
            visits.append(ShownVisit([step]))
    return [visit for visit in visits if visit.steps and (visit.arrives or visit.exposures)]
