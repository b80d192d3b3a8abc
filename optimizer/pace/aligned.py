"""Which sub of a list each frame is, and how late it was taken."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from optimizer.models.shots import ShotList, Step
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


def aligned(shots: ShotList, frames: Iterable[Frame]) -> Aligned:
    """Find which sub of a list each of the frames of its night is; the frames may come in any order.

    Calibration frames, frames without a date, of no goal or of another night are left out. Frames that began
    more than a minute before the list's first sub are of an older list: they are among the `others`. Two
    frames of a goal that began within a second are copies of one sub.
    """
    raise NotImplementedError
