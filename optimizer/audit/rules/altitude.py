"""Altitudes of the target: floors, ceiling and local horizon."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optimizer.audit.rule import Breach, SpanRule, angle_words, doing, worst_samples
from optimizer.audit.scene import Scene
from optimizer.audit.spans import SampledSpans
from optimizer.audit.tolerances import ANGLE_DEG, CORNER_DEG
from optimizer.audit.types import Floats
from optimizer.models.site import Site


def _below(scene: Scene, view: SampledSpans, rule: str, floors: Floats, altitude: Floats) -> Iterator[Breach]:
    """Spans that sink below their floor (one a span, NaN for none), given the altitudes that count."""
    for index, span, sample, under in worst_samples(view, floors[view.span] - altitude, ANGLE_DEG):
        yield Breach(
            index,
            under,
            "deg",
            f"{doing(span)}: altitude {angle_words(altitude[sample], 3)} at "
            f"{scene.clock.text(view.time[sample])} is "
            f"{angle_words(under, 4)} below the {rule} of {angle_words(floors[index])}",
        )


class Floor(SpanRule):
    """While the shutter is open the target stands at or above its floor, or the site's where it has none."""

    name = "floor"

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Exposures that are too low."""
        floors = [
            scene.request.floor_deg(target)
            if span.shutter and (target := scene.target(span.target))
            else np.nan
            for span in view.spans
        ]
        yield from _below(scene, view, "floor", np.array(floors, dtype=np.float64), view.places.altitude_deg)


class Ceiling(SpanRule):
    """All work happens at or below the site's ceiling; a slew or flip counts by its end."""

    name = "ceiling"

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Work on a target that is too high."""
        ceiling = scene.request.site.ceiling_deg
        altitude = np.where(view.position_counts, view.places.altitude_deg, np.nan)
        for index, span, sample, over in worst_samples(view, altitude - ceiling, ANGLE_DEG):
            yield Breach(
                index,
                over,
                "deg",
                f"{doing(span)}: altitude {angle_words(altitude[sample], 3)} at "
                f"{scene.clock.text(view.time[sample])} is "
                f"{angle_words(over, 4)} above the ceiling of {angle_words(ceiling)}",
            )


class Acquisition(SpanRule):
    """With the shutter closed the target stands at or above the acquisition floor.

    A slew or flip counts by its end.
    """

    name = "acquisition"

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Work with the shutter closed on a target that is below the acquisition floor."""
        floors = [
            scene.request.acquisition_floor_deg(target)
            if not span.shutter and (target := scene.target(span.target))
            else np.nan
            for span in view.spans
        ]
        altitude = np.where(view.position_counts, view.places.altitude_deg, np.nan)
        yield from _below(scene, view, "acquisition floor", np.array(floors, dtype=np.float64), altitude)


class Skyline(SpanRule):
    """All work happens at or above the local horizon; a slew or flip counts by its end."""

    name = "skyline"

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Spans below the local horizon at a sample, or below one of its corners between two samples."""
        if not scene.request.site.skyline or not view.spans:
            return
        profile = Profile(scene.request.site)
        altitude = np.where(view.position_counts, view.places.altitude_deg, np.nan)
        azimuth = view.places.azimuth_deg
        under = profile.lowest_near(azimuth, altitude) - altitude
        corner = profile.corners_passed(azimuth, altitude)
        inside = np.append(view.span[1:] == view.span[:-1], False) & ~view.moving[view.span]
        corner = np.where(inside & (corner > CORNER_DEG), corner, -np.inf)
        for index, span, sample, depth in worst_samples(view, np.fmax(under, corner), ANGLE_DEG):
            yield Breach(
                index,
                depth,
                "deg",
                f"{doing(span)}: altitude {angle_words(altitude[sample], 3)} in azimuth "
                f"{angle_words(azimuth[sample], 2)} at {scene.clock.text(view.time[sample])} is up to "
                f"{angle_words(depth, 4)} below the local horizon",
            )


def _sideways_deg(altitude_deg: Floats) -> Floats:
    """The forgiven angle on the sky as an angle of azimuth, in degrees."""
    aside: Floats = ANGLE_DEG / np.maximum(np.cos(np.radians(np.nan_to_num(altitude_deg))), 1e-3)
    return aside


class Profile:
    """The local horizon: straight between corners, closed at 360 degrees, upright where azimuths repeat."""

    def __init__(self, site: Site) -> None:
        """Close the site's local horizon, which must not be empty."""
        azimuths, altitudes = (
            np.array(column, dtype=np.float64) for column in zip(*site.skyline, strict=True)
        )
        self._azimuth = np.concatenate([[azimuths[-1] - 360], azimuths, [azimuths[0] + 360]])
        self._altitude = np.concatenate([[altitudes[-1]], altitudes, [altitudes[0]]])
        self._corner_azimuth, self._corner_altitude = azimuths, altitudes

    def altitude_deg(self, azimuth_deg: Floats) -> Floats:
        """Altitude of the local horizon in degrees, at azimuths from -360 to 720 degrees."""
        height: Floats = np.interp(np.mod(azimuth_deg, 360), self._azimuth, self._altitude)
        return height

    def lowest_near(self, azimuth_deg: Floats, altitude_deg: Floats) -> Floats:
        """The lowest altitude of the local horizon within the forgiven angle to either side, in degrees."""
        aside = _sideways_deg(altitude_deg)
        left, here, right = (self.altitude_deg(azimuth_deg + side * aside) for side in (-1, 0, 1))
        lowest: Floats = np.minimum(np.minimum(left, right), here)
        return lowest

    def corners_passed(self, azimuth_deg: Floats, altitude_deg: Floats) -> Floats:
        """Degrees by which the straight way from each sample to the next passes below the worst corner.

        -inf where it passes above all of them.
        """
        depth = np.full(azimuth_deg.shape, -np.inf)
        if azimuth_deg.size < 2:
            return depth
        way = np.mod(np.diff(azimuth_deg) + 180, 360) - 180
        climb = np.diff(altitude_deg)
        aside = _sideways_deg(altitude_deg[:-1])
        for corner_azimuth, corner_altitude in zip(self._corner_azimuth, self._corner_altitude, strict=True):
            ahead = (np.mod(corner_azimuth - azimuth_deg[:-1] + 180, 360) - 180) * np.sign(way)
            passed = (ahead > aside) & (ahead < np.abs(way) - aside)
            part = np.where(passed, ahead, 0) / np.where(passed, np.abs(way), 1)
            below = corner_altitude - (altitude_deg[:-1] + part * climb)
            depth[:-1] = np.where(passed, np.fmax(depth[:-1], below), depth[:-1])
        return depth
