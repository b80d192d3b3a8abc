"""Which sub of a list each frame is, and how late it was taken."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.models.shots import Step
from optimizer.tally.frames import Frame


@dataclass(frozen=True)
class Taken:
    """A sub of the list and the frame of it; `late_s` is when it was taken less when it was planned."""

    step: Step
    frame: Frame
    late_s: float


@dataclass(frozen=True)
class Aligned:
    """The frames of a night beside the subs of its list.

    `taken` is in the order of the list. `missing` are subs before the last one taken of which no frame is
    there. `others` are light frames of a goal that are no sub of the list, copies of one taken included.
    """

    taken: tuple[Taken, ...]
    missing: tuple[Step, ...]
    others: tuple[Frame, ...]
