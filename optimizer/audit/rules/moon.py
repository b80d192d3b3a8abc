"""The Moon while the shutter is open: its distance, and how much its light brightens the sky."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optimizer.audit.moonlight import brightening_mag
from optimizer.audit.rule import Breach, SpanRule, angle_words, doing, worst_samples
from optimizer.audit.scene import Scene
from optimizer.audit.spans import SampledSpans
from optimizer.audit.tolerances import ANGLE_DEG, BRIGHTENING_MAG
from optimizer.audit.types import Floats

MOON_UP_DEG = (
    -34 / 60
)  # geometric altitude of the upper limb at its rising: Explanatory Supplement, 3rd ed., ch. 12


def _limits(view: SampledSpans, quantity: str) -> Floats:
    """The filter's limit of that name for each span; NaN where it has none or the shutter is closed."""
    limits = [
        getattr(span.row.filter, quantity) if span.shutter and span.row.filter is not None else None
        for span in view.spans
    ]
    return np.array([np.nan if limit is None else limit for limit in limits], dtype=np.float64)


class MoonGap(SpanRule):
    """While the Moon is up, the target keeps `moon_gap_deg` away from it (both topocentric, unrefracted)."""

    name = "moon_gap"

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Exposures too near the Moon."""
        limits = _limits(view, "moon_gap_deg")
        if np.isnan(limits).all():
            return
        separation = view.bodies.moon_separation_deg(view.places)
        up = view.bodies.moon_limb_deg > MOON_UP_DEG + ANGLE_DEG
        excess = np.where(up, limits[view.span] - separation, np.nan)
        for index, span, sample, short in worst_samples(view, excess, ANGLE_DEG):
            yield Breach(
                index,
                short,
                "deg",
                f"{doing(span)} in {span.row.step.filter}: the Moon is "
                f"{angle_words(separation[sample], 3)} away at "
                f"{scene.clock.text(view.time[sample])}, {angle_words(short, 4)} nearer than "
                f"{angle_words(limits[index])}",
            )


class Moonlight(SpanRule):
    """Moonlight brightens the sky at the target by no more than the filter's `moonlight_mag`."""

    name = "moonlight"

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Exposures under too much moonlight."""
        limits = _limits(view, "moonlight_mag")
        if np.isnan(limits).all():
            return
        bodies, site = view.bodies, scene.request.site
        # A Moon within the forgiven angle of the horizon counts as below it: its light begins with a jump
        # there.
        moon_altitude = bodies.moon_altitude_deg - ANGLE_DEG
        brightening = brightening_mag(
            bodies.phase_angle_deg,
            bodies.moon_separation_deg(view.places),
            moon_altitude,
            view.places.true_altitude_deg,
            site.zenith_sky_mag,
            site.extinction_mag,
            _limits(view, "moonlight_factor")[view.span],
        )
        for index, span, sample, over in worst_samples(
            view, brightening - limits[view.span], BRIGHTENING_MAG
        ):
            yield Breach(
                index,
                over,
                "mag",
                f"{doing(span)} in {span.row.step.filter}: moonlight brightens the sky by "
                f"{brightening[sample]:.3f} "
                f"mag at {scene.clock.text(view.time[sample])}, {over:.6f} more than {limits[index]:g}",
            )
