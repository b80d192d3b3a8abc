"""The skyline: straight pieces, walls, notches, the seam at north."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.sky.skyline import Skyline
from tests.support.sky_cases import a_site, a_sky


@pytest.mark.parametrize(
    ("azimuth_deg", "altitude_deg"),
    [(0, 12), (45, 18.5), (90, 25), (135, 21.5), (180, 18), (270, 30), (315, 21), (359.9, 12.02), (360, 12)],
)
def test_it_is_straight_between_pairs_and_closed_at_north(azimuth_deg: float, altitude_deg: float) -> None:
    skyline = Skyline([(0, 12), (90, 25), (180, 18), (270, 30)])
    assert float(skyline.altitude_deg(azimuth_deg)) == pytest.approx(altitude_deg)


def test_it_closes_where_no_pair_lies_at_north() -> None:
    skyline = Skyline([(90.0, 10.0), (350.0, 30.0)])
    # From 350 through 360 to 450 (= 90): 10 of 100 degrees on, 20 of them down in all.
    assert float(skyline.altitude_deg(0.0)) == pytest.approx(28.0)
    assert float(skyline.altitude_deg(80.0)) == pytest.approx(12.0)


def test_one_pair_is_a_level_horizon() -> None:
    assert np.all(Skyline([(123.0, 17.0)]).altitude_deg(np.linspace(0, 360, 50)) == 17.0)


def test_two_pairs_of_one_azimuth_are_a_wall() -> None:
    skyline = Skyline([(0.0, 5.0), (100.0, 5.0), (100.0, 60.0), (200.0, 60.0), (200.0, 5.0)])
    assert list(
        skyline.altitude_deg(np.array([99.999999, 100.000001, 199.999999, 200.000001]))
    ) == pytest.approx([5.0, 60.0, 60.0, 5.0], abs=1e-4)


def test_a_wall_at_north_is_one_too() -> None:
    skyline = Skyline([(0.0, 40.0), (180.0, 40.0), (180.0, 5.0), (360.0, 5.0)])
    assert list(skyline.altitude_deg(np.array([0.001, 179.9, 180.1, 359.999]))) == pytest.approx(
        [40, 40, 5, 5]
    )


def test_none_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one pair"):
        Skyline([])


@given(st.lists(st.tuples(st.floats(0, 360), st.floats(-5, 80)), min_size=1, max_size=12), st.floats(0, 360))
def test_it_agrees_with_plain_interpolation(pairs: list[tuple[float, float]], azimuth: float) -> None:
    pairs.sort(key=lambda pair: pair[0])
    azimuths = [pair[0] for pair in pairs]
    if len({*azimuths, azimuth}) <= len(pairs) or np.any(np.diff(azimuths) < 1e-3):
        return  # walls have tests of their own
    x = [azimuths[-1] - 360, *azimuths, azimuths[0] + 360]
    y = [pairs[-1][1], *(pair[1] for pair in pairs), pairs[0][1]]
    assert float(Skyline(pairs).altitude_deg(azimuth)) == pytest.approx(
        float(np.interp(azimuth, x, y)), abs=1e-9
    )


def test_a_wall_is_found_to_the_millisecond() -> None:
    track = a_sky("2026-01-15", a_site()).star(85.0, 5.0)
    skyline = Skyline([(0.0, 0.0), (200.0, 0.0), (200.0, 89.0), (359.0, 89.0), (359.0, 0.0)])
    ends = [end for _, end in skyline.spans_clear(track) if abs(float(track.azimuth_deg(end)) - 200.0) < 0.1]
    assert len(ends) == 1
    rate = float(track.azimuth_deg(ends[0] + 1) - track.azimuth_deg(ends[0]))
    assert abs(float(track.azimuth_deg(ends[0])) - 200.0) <= 0.002 * rate


@given(st.floats(95, 260), st.floats(0.02, 0.2))
@settings(deadline=None, max_examples=25)
def test_a_notch_narrower_than_the_step_is_not_stepped_over(azimuth: float, width: float) -> None:
    # A gap between two towers that the star crosses in 4 to 60 s.
    track = a_sky("2026-01-15", a_site(30.0)).star(85.0, 5.0)
    notch = [(azimuth, 80.0), (azimuth, -5.0), (azimuth + width, -5.0), (azimuth + width, 80.0)]
    found = Skyline([(0.0, 80.0), *notch, (360.0, 80.0)]).spans_clear(track)
    assert len(found) == 1
    assert [float(track.azimuth_deg(edge)) for edge in found[0]] == pytest.approx(
        [azimuth, azimuth + width], abs=0.0002
    )


def test_every_second_agrees_with_the_spans() -> None:
    sky = a_sky("2026-06-15", a_site(-33.0, 18.0))
    skyline = Skyline(
        [(0, 12), (60, 45), (60, 20), (110, 20), (110, 35), (200, 10), (271, 55), (271, 5), (300, 33)]
    )
    t = np.arange(0.0, 86401.0)
    for ra, dec in [(200.0, -45.0), (280.0, -10.0), (30.0, -70.0), (190.0, 20.0)]:
        track = sky.star(ra, dec)
        clear = track.altitude_deg(t) >= skyline.altitude_deg(track.azimuth_deg(t))
        inside = np.zeros(t.size, dtype=bool)
        spans = skyline.spans_clear(track)
        for start, end in spans:
            inside |= (t >= start) & (t <= end)
        assert np.array_equal(clear, inside)
        assert len(spans) >= 1


def test_near_the_zenith_the_azimuth_may_race() -> None:
    site = a_site(30.0)
    track = a_sky("2026-01-15", site).star(85.0, 30.02)  # passes within a few arcminutes of the zenith
    assert float(track.altitude_deg(np.arange(0.0, 86400.0)).max()) > 89.5
    skyline = Skyline([(0.0, 0.0), (90.0, 40.0), (90.0, 89.0), (95.0, 89.0), (95.0, 20.0), (265.0, 20.0)])
    t = np.arange(0.0, 86401.0)
    clear = track.altitude_deg(t) >= skyline.altitude_deg(track.azimuth_deg(t))
    inside = np.zeros(t.size, dtype=bool)
    for start, end in skyline.spans_clear(track):
        inside |= (t >= start) & (t <= end)
    assert np.array_equal(clear, inside)
