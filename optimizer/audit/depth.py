"""Depth, as `aim.value = "depth"` counts it, by the audit's own route.

A second at the zenith on a moonless night counts 1. The weight of a second is the transmission squared,
10^(-0.8 k (X - 1)), times the brightness of that zenith over that of the sky at the target with moonlight
through the filter. It is computed every 60 s from the night's origin and interpolated linearly between.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from optimizer.audit.moonlight import brightening_mag, dark_nanolamberts
from optimizer.audit.rows import NO_TARGET, Row
from optimizer.audit.rules.columns import airmass
from optimizer.audit.scene import Scene
from optimizer.audit.types import Floats

STEP_S = 60


def depth_seconds(
    scene: Scene, rows: Sequence[Row], also: Callable[[np.ndarray], Floats] | None = None
) -> Floats:
    """Depth of each exposure in seconds, shape (n,); 0 for rows of unknown targets or filters.

    `also` gives a factor by which each second counts besides, at seconds after the night's origin.
    """
    nodes = {
        index: np.arange(row.start // STEP_S, -(-row.works_until // STEP_S) + 1, dtype=np.int64) * STEP_S
        for index, row in enumerate(rows)
        if row.target != NO_TARGET and row.filter is not None and row.near and row.works_until > row.start
    }
    depths_s = np.zeros(len(rows))
    if not nodes:
        return depths_s
    # one look at the sky serves all rows
    targets = [np.full(each.shape, rows[index].target) for index, each in nodes.items()]
    scene.book.places(np.concatenate(targets), np.concatenate(list(nodes.values())))
    for index, marks in nodes.items():
        row = rows[index]
        assert row.filter is not None
        weights = _weights(scene, row.target, marks, row.filter.moonlight_factor)
        seconds = np.arange(row.start, row.works_until + 1)
        each = np.interp(seconds, marks, weights) * (1.0 if also is None else also(seconds))
        depths_s[index] = float(np.mean((each[1:] + each[:-1]) / 2)) * (row.step.exposure_s or 0.0)
    return depths_s


def _weights(scene: Scene, target: int, seconds: np.ndarray, factor: float) -> Floats:
    site = scene.request.site
    places = scene.book.places(np.full(seconds.shape, target), seconds)
    bodies = scene.book.bodies(seconds)
    zenith_deg = 90 - places.true_altitude_deg
    brighter = brightening_mag(
        bodies.phase_angle_deg,
        bodies.moon_separation_deg(places),
        bodies.moon_altitude_deg,
        places.true_altitude_deg,
        site.zenith_sky_mag,
        site.extinction_mag,
        factor,
    )
    dark = dark_nanolamberts(zenith_deg, site.zenith_sky_mag, site.extinction_mag)
    overhead = dark_nanolamberts(np.zeros(1), site.zenith_sky_mag, site.extinction_mag)
    passed = 10 ** (-0.8 * site.extinction_mag * (airmass(places.altitude_deg) - 1))
    above = np.where(places.altitude_deg >= 0, passed * overhead / dark, 0.0)
    weights: Floats = above * 10 ** (-0.4 * brighter)
    return weights
