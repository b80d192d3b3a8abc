"""Sexagesimal text of the views against the texts of astropy's `Angle`."""

from __future__ import annotations

import random

from optimizer.views.telling import place
from tests.support.speeds import outside

pytestmark = outside
HALF = 1e-6  # of the last decimal: nearer to a half than this, either rounding is right


def test_texts_are_those_of_astropy() -> None:
    from astropy import units
    from astropy.coordinates import Angle

    chance = random.Random(30)
    asked = 0
    places = [(chance.uniform(0, 360), chance.uniform(-90, 90)) for _ in range(1500)]
    places += [
        (15 * k / 240 + d, k / 4 - 60 + d) for k in range(480) for d in (-1e-5, -1e-7, 1e-7, 1e-5) if k
    ]
    places += [(359.99999999, -1e-9), (0.0, 0.0), (1e-9, -0.00001), (180.0, -0.5), (12.5, -89.9999999)]
    for ra_deg, dec_deg in places:
        told = place(ra_deg, dec_deg)
        if not _at_half(ra_deg / 15 * 3600 * 100):
            theirs = Angle(ra_deg, units.deg).to_string(units.hourangle, precision=2, pad=True)
            assert told["ra_hms"] == theirs.replace("24h00m00.00s", "00h00m00.00s"), ra_deg
            asked += 1
        if not _at_half(abs(dec_deg) * 3600 * 10):
            theirs = Angle(dec_deg, units.deg).to_string(units.deg, precision=1, pad=True, alwayssign=True)
            assert told["dec_dms"] == theirs, dec_deg
            asked += 1
    assert asked > 6000


def _at_half(ticks: float) -> bool:
    return abs(ticks % 1 - 0.5) < HALF
