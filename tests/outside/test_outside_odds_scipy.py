"""Expected seconds and depth by odds against scipy's adaptive quadrature and its piecewise polynomials."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import PPoly

from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import TargetWindows, sky_windows
from tests.support.sky_cases import a_request
from tests.support.speeds import outside

pytestmark = outside
ORIGIN = dt.datetime(2026, 11, 14, 12, tzinfo=dt.UTC)


def windows(at_s: np.ndarray, percents: np.ndarray, aim: str) -> TargetWindows:
    odds = [
        [(ORIGIN + dt.timedelta(seconds=int(t))).isoformat(), float(p)]
        for t, p in zip(at_s, percents, strict=True)
    ]
    request = a_request(
        night={"clear_odds": odds},
        filters=[{"name": "L", "moonlight_factor": 0.7}],
        targets=[{"name": "A", "ra_deg": 60.0, "dec_deg": 30.0}],
        aim={"value": aim},
    )
    return sky_windows(request, night_sky(request))["A"]


def polynomial(at_s: np.ndarray, values: np.ndarray) -> PPoly:
    """The straight pieces between the marks, and level ones a day beyond."""
    marks = np.concatenate([[at_s[0] - 86_400.0], at_s, [at_s[-1] + 86_400.0]])
    slopes = np.concatenate([[0.0], np.diff(values) / np.diff(at_s), [0.0]])
    return PPoly(np.array([slopes, np.concatenate([[values[0]], values])]), marks)


@pytest.mark.parametrize("seed", range(5))
def test_expected_seconds_are_the_area_under_the_odds(seed: int) -> None:
    rng = np.random.default_rng(seed)
    at_s = np.sort(rng.choice(np.arange(-3600, 90_000), 12, replace=False)).astype(float)
    percents = rng.uniform(0, 100, 12)
    curve, truth = windows(at_s, percents, "hours").counted("L"), polynomial(at_s, percents / 100)
    assert curve is not None
    for opens in rng.integers(0, 86_000, 40).tolist():
        closes = opens + int(rng.integers(1, 400))
        # at most one bend within each second is cut off, by less than what the odds change in that second
        bends = np.sum((at_s > opens) & (at_s < closes) & (at_s % 1 > 0))
        area = float(truth.integrate(opens, closes))
        assert float(curve.between_s(opens, closes)) == pytest.approx(area, abs=1e-7 + bends)


@pytest.mark.parametrize("seed", range(3))
def test_depth_by_odds_is_the_area_under_their_product(seed: int) -> None:
    """The depth of each second is ours, interpolated by a polynomial of scipy; the integral is quad's."""
    rng = np.random.default_rng(seed)
    at_s = np.sort(rng.choice(np.arange(20_000, 66_000), 6, replace=False)).astype(float)
    percents = rng.uniform(0, 100, 6)
    found = windows(at_s, percents, "depth")
    curve, odds = found.counted("L"), polynomial(at_s, percents / 100)
    assert curve is not None
    each = np.diff(found.depth["L"].gathered_s)
    depth = polynomial(np.arange(86_400) + 0.5, each)
    for opens in rng.integers(20_000, 66_000, 8).tolist():
        closes = opens + 300
        bends = [t for t in at_s.tolist() if opens < t < closes]
        area, _ = quad(lambda t: float(depth(t) * odds(t)), opens, closes, points=bends or None, limit=400)
        assert float(curve.between_s(opens, closes)) == pytest.approx(area, rel=2e-5, abs=1e-6)
