"""How much the audit forgives, and why that little.

Planner and audit reach the sky by different routes. Measured over 40 nights from 1973 to 2100 they agree
within 0.0003 arcsec on targets, 0.05 on the Sun, 0.02 on the Moon's centre and 0.11 on its limb
(tests/audit measures it anew). 0.2 arcsec forgives that, yet the sky turns by 15 arcsec in a second and the
Moon moves by half of one, so a step that runs a second over an edge is caught unless it meets the edge
almost tangentially.
"""

from __future__ import annotations

import math

import numpy as np

from optimizer.audit.types import Floats

ARCSEC_DEG = 1 / 3600
ANGLE_DEG = 0.2 * ARCSEC_DEG
# Corners of the local horizon inside a step are met by straight interpolation between samples at most 60 s
# apart. The path bends away from that by 0.5 arcsec in altitude and, up to 65 degrees of altitude, by 2 in
# azimuth.
CORNER_DEG = 5 * ARCSEC_DEG
# 0.2 arcsec anywhere moves the brightening by less than this, beyond 5 degrees from the Moon.
BRIGHTENING_MAG = 1e-5
# Of depth: the Moon may rise to either side of a minute's mark by the two routes.
DEPTH_SHARE = 1e-4
# Hours in which a goal may be shot in the nights ahead: this and so much times the root of the number of its
# windows. Planner and audit count instants 10 min and about 2 min apart, so that each window is longer for
# one of them or for the other. On 300 random nights, looking 1, 7 and 28 nights ahead, and on 32 of them 100
# and 366, they differed by no more than 0.27, 0.60, 0.88, 1.5 and 2.4 h, and never by more than half of this.
HOURS_AHEAD, HOURS_AHEAD_PER_ROOT_WINDOW = 0.5, 0.25
FACTOR_DIGIT = 5e-4  # factors are given to three decimals
WEIGHTED_SECONDS = 1e-3  # weights have three decimals
VALUE_DIGIT = 1e-6  # to which objective and bound are given
ROUNDING = 1e-9  # of sums of decimal fractions held in binary
SUMS = 1e-12  # of such sums against all that is added up: some thousand times what a double leaves out


def hour_angle_s(declination_deg: Floats) -> Floats:
    """Forgiven seconds of hour angle at these declinations.

    An angle on the sky is a larger angle around the pole: 0.15 arcsec of hour angle wherever a target is,
    plus 0.05 arcsec on the sky.
    """
    cosine = np.maximum(np.cos(np.radians(declination_deg)), 1e-6)
    forgiven: Floats = (0.15 + 0.05 / cosine) / 15
    return forgiven


def whole_seconds(length_s: float) -> int:
    """A duration rounded up to whole seconds; 123.00000000000001 is 123."""
    return math.ceil(length_s - ROUNDING)
