"""The arithmetic of the flip: does the longest exposure fit, if begun just before the flip falls due?"""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.models.rig import Mount


@dataclass(frozen=True)
class FlipFit:
    """Worst case around the meridian, in minutes past it."""

    latest_track_min: float
    worst_end_min: float
    margin_min: float

    @property
    def fits(self) -> bool:
        """Whether the worst case closes its shutter before tracking must end."""
        return self.worst_end_min <= self.latest_track_min + 1e-9


def flip_fit(mount: Mount, longest_exposure_s: float) -> FlipFit:
    """Worst case of an exposure begun just before the flip is due (common practice, no source)."""
    worst_end_min = mount.flip_from_min + longest_exposure_s / 60
    return FlipFit(
        latest_track_min=mount.contact_min - mount.clearance_min - mount.clock_error_s / 60,
        worst_end_min=worst_end_min,
        margin_min=mount.contact_min - worst_end_min,
    )
