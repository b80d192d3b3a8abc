"""The zone around the meridian: contact, the flipped side's beginning, the lower culmination."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator

import numpy as np

from optimizer.audit.rule import Breach, SpanRule, doing, meridian_words, span_words
from optimizer.audit.scene import Scene
from optimizer.audit.spans import SampledSpans, WorkSpan
from optimizer.audit.tolerances import hour_angle_s
from optimizer.audit.types import Floats
from optimizer.audit.zone import Excess, Zone


class _ZoneRule(SpanRule):
    """One edge of the zone; slews and flips count from start to end on the pier side of their arrival."""

    while_tracking = True

    @abstractmethod
    def edge(self, beyond: Excess) -> Floats:
        """The part of the excess that this rule judges, in seconds of hour angle."""

    @abstractmethod
    def words(self, span: WorkSpan, zone: Zone, beyond_s: float) -> str:
        """The breach in words."""

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Spans beyond this edge, in seconds of hour angle."""
        if not scene.german or not view.spans:
            return
        beyond = self.edge(view.beyond(scene.zone))
        forgiven = hour_angle_s(view.declination_deg)
        with np.errstate(invalid="ignore"):
            broken = beyond > forgiven
        for index in np.flatnonzero(broken).tolist():
            span = view.spans[index]
            yield Breach(index, float(beyond[index]), "s", self.words(span, scene.zone, float(beyond[index])))


class Contact(_ZoneRule):
    """Nothing tracks on the first side beyond the contact limit (or the mount's own flip)."""

    name = "contact"

    def edge(self, beyond: Excess) -> Floats:
        """Seconds of hour angle past the end of pier side west."""
        return beyond.contact

    def words(self, span: WorkSpan, zone: Zone, beyond_s: float) -> str:
        """Name the limit, as an hour angle."""
        return (
            f"{doing(span)} tracks {span_words(beyond_s)} of hour angle past the limit of pier side west, "
            f"which is {meridian_words(span.first_until(zone))}"
        )


class FlipFrom(_ZoneRule):
    """Nothing tracks on the flipped side, nor arrives there, before the mount may flip."""

    name = "flip_from"

    def edge(self, beyond: Excess) -> Floats:
        """Seconds of hour angle before the beginning of pier side east."""
        return beyond.flip_from

    def words(self, span: WorkSpan, zone: Zone, beyond_s: float) -> str:
        """Name the limit, as an hour angle."""
        return (
            f"{doing(span)} on pier side east begins {span_words(beyond_s)} of hour angle too soon: "
            f"that side may be used from {meridian_words(zone.flipped_from).removeprefix('at ')} on"
        )


class LowerCulmination(_ZoneRule):
    """Nothing tracks through the lower culmination, nor within the clock error of it."""

    name = "lower_culmination"

    def edge(self, beyond: Excess) -> Floats:
        """Seconds of hour angle into the lower culmination."""
        return beyond.lower_culmination

    def words(self, span: WorkSpan, zone: Zone, beyond_s: float) -> str:
        """The breach in words, with the step that reaches too far."""
        return f"{doing(span)} reaches {span_words(beyond_s)} of hour angle into the lower culmination"


class Quiet(SpanRule):
    """In the last minutes before the meridian nothing slews, nor leaves the target for a focus star."""

    name = "quiet"

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Slews, and autofocus that leaves the target, within the quiet time, but for a flip's block."""
        mount = scene.request.mount
        if not scene.german or mount.quiet_min == 0 or not view.spans:
            return
        shared = np.minimum(view.start_hour_angle_s + view.gained_s, 0) - np.maximum(
            view.start_hour_angle_s, -mount.quiet_min * 60
        )
        forgiven = hour_angle_s(view.declination_deg)
        for index, span in enumerate(view.spans):
            leaves = span.row.kind == "focus" and scene.request.focus.leaves_target and not span.flip_block
            if (span.row.kind == "slew" or leaves) and shared[index] > forgiven[index]:
                yield Breach(
                    index,
                    float(shared[index]),
                    "s",
                    f"{doing(span)} overlaps the {mount.quiet_min:g} quiet minutes before the meridian by "
                    f"{span_words(float(shared[index]))} of hour angle",
                )
