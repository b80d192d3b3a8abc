"""The night's facts."""

from __future__ import annotations

from typing import Any

import pytest

from optimizer.models.shots import NightFacts
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.facts import night_facts
from tests.support.checks import there
from tests.support.sky_cases import a_request


def _facts(**more: Any) -> tuple[NightFacts, NightSky]:
    request = a_request(**more)
    sky = night_sky(request)
    return night_facts(request, sky), sky


def test_they_come_in_the_order_of_a_night() -> None:
    facts, sky = _facts()
    found = [
        facts.sunset_utc,
        facts.civil_dusk_utc,
        facts.nautical_dusk_utc,
        facts.astronomical_dusk_utc,
        facts.astronomical_dawn_utc,
        facts.nautical_dawn_utc,
        facts.civil_dawn_utc,
        facts.sunrise_utc,
    ]
    order = [there(instant) for instant in found]
    assert order == sorted(order)
    for instant, altitude in zip(order, [-50 / 60, -6, -12, -18, -18, -12, -6, -50 / 60], strict=True):
        at = sky.sun.geometric_altitude_deg(sky.clock.seconds(instant))
        assert float(at) == pytest.approx(altitude, abs=0.002)  # half a second
    for moon in (facts.moonrise_utc, facts.moonset_utc):
        assert float(sky.moon.limb_above_deg(sky.clock.seconds(there(moon)))) == pytest.approx(0.0, abs=0.002)
    assert there(facts.moonrise_utc) < order[0] < there(facts.moonset_utc)  # a waxing crescent, up at dusk
    assert (facts.evening, facts.time_zone) == ("2026-11-14", "UTC")
    assert facts.moon_illuminated == float(sky.moon.illuminated(43200.0))


def test_what_does_not_happen_is_none() -> None:
    june, _ = _facts(evening="2026-06-21", site={"latitude_deg": 60.0})
    assert june.astronomical_dusk_utc is june.astronomical_dawn_utc is june.nautical_dusk_utc is None
    assert there(june.sunset_utc) < there(june.sunrise_utc)
    summer, _ = _facts(evening="2026-06-21", site={"latitude_deg": 78.0})
    assert summer.sunset_utc is summer.sunrise_utc is summer.civil_dusk_utc is None
    winter, _ = _facts(evening="2026-12-21", site={"latitude_deg": 85.0})
    assert winter.sunset_utc is winter.astronomical_dusk_utc is winter.astronomical_dawn_utc is None


def test_the_moon_may_neither_rise_nor_set() -> None:
    kept_away = [
        facts
        for day in range(1, 29)
        for facts, _ in [_facts(evening=f"2026-12-{day:02d}", site={"latitude_deg": 78.0})]
        if facts.moonrise_utc is None and facts.moonset_utc is None
    ]
    assert 10 < len(kept_away) < 28


def test_a_measured_ut1_is_used_and_told() -> None:
    # A second of UT1 turns the sky by a second: everything comes a second earlier.
    plain, _ = _facts(night={"ut1_utc_s": 0.0})
    ahead, _ = _facts(night={"ut1_utc_s": 1.0})
    assert (plain.ut1_utc_s, ahead.ut1_utc_s) == (0.0, 1.0)
    assert (there(plain.sunset_utc) - there(ahead.sunset_utc)).total_seconds() == 1.0
