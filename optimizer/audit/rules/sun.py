"""The Sun: down for all work, and low enough for the filter while its shutter is open."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optimizer.audit.rule import Breach, SpanRule, angle_words, doing, worst_samples
from optimizer.audit.scene import Scene
from optimizer.audit.spans import SampledSpans
from optimizer.audit.tolerances import ANGLE_DEG

SUNSET_DEG = -50 / 60  # 34' of refraction and 16' of radius: Explanatory Supplement, 3rd ed., ch. 12


class SunDown(SpanRule):
    """The Sun's centre is at or below -50' during every step of a visit, slews and flips included."""

    name = "sun_down"
    while_tracking = True

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Spans with the Sun up."""
        excess = view.sun_altitude_deg - SUNSET_DEG
        for index, span, sample, over in worst_samples(view, excess, ANGLE_DEG):
            yield Breach(
                index,
                over,
                "deg",
                f"{doing(span)}: the Sun stands at {angle_words(view.sun_altitude_deg[sample], 3)} at "
                f"{scene.clock.text(view.time[sample])}, {angle_words(over, 4)} above "
                f"{angle_words(SUNSET_DEG, 3)}",
            )


class Darkness(SpanRule):
    """The Sun's centre is at or below the filter's limit while the shutter is open."""

    name = "darkness"

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Exposures under too bright a sky; without a known filter there is no limit to break."""
        limits = np.array(
            [
                span.row.filter.sun_limit_deg if span.shutter and span.row.filter is not None else np.nan
                for span in view.spans
            ],
            dtype=np.float64,
        )
        excess = view.sun_altitude_deg - limits[view.span]
        for index, span, sample, over in worst_samples(view, excess, ANGLE_DEG):
            yield Breach(
                index,
                over,
                "deg",
                f"{doing(span)} in {span.row.step.filter}: the Sun stands at "
                f"{angle_words(view.sun_altitude_deg[sample], 3)} at "
                f"{scene.clock.text(view.time[sample])}, {angle_words(over, 4)} above "
                "the filter's limit "
                f"of {angle_words(limits[index])}",
            )
