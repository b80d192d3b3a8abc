"""Work by day, under cloud, in blocked spells, behind hills: each edge at its exact second."""

from __future__ import annotations

import datetime as dt

import pytest

from optimizer.audit import audit_steps
from optimizer.models.site import iso_utc
from tests.support.hand_laid.edges import closes
from tests.support.hand_laid.mutations import Case, asking, ids, judge_broken, judge_twin, later, number_of
from tests.support.hand_laid.night_builder import Almanac, NightBuilder
from tests.support.hand_laid.night_cases import (
    Night,
    dawn,
    dusk,
    flipped,
    moonlit,
    tight,
)


def span(start: dt.datetime, end: dt.datetime) -> tuple[dt.datetime, dt.datetime]:
    return start, end


def earlier_dusk() -> Night:
    """The night that starts at sunset, a second sooner."""
    night = NightBuilder(dusk().request, later(dusk().steps[0].start_utc, -1))
    return Night(night.request, night.slew("Wheel").set_filter("L").focus().expose(2).park().steps())


def later_dawn() -> Night:
    """The night that ends at sunrise, a second later."""
    shutter = dawn().steps[number_of(dawn(), "expose") - 1].start_utc
    night = NightBuilder(dawn().request, dawn().steps[0].start_utc).slew("Wheel").set_filter("L").focus()
    return Night(night.request, night.wait_until(later(shutter, 1), tracking=True).expose(1).park().steps())


def cleared(night: Night, start: int, end: int) -> Night:
    """Clear from the first step's start to the last shutter's closing, each moved by seconds."""
    spell = span(later(night.steps[0].start_utc, start), later(closes(night), end))
    return asking(night, night__clear=(spell,))


def parted(night: Night, seconds: int) -> Night:
    """Two clear spells that meet within an exposure, or leave a gap there."""
    first, last = night.steps[0].start_utc, later(closes(night), 100)
    middle = later(night.steps[number_of(night, "expose") - 1].start_utc, 40)
    return asking(night, night__clear=(span(later(middle, seconds), last), span(first, middle)))


def blocked(night: Night, start: dt.datetime, end: dt.datetime) -> Night:
    return asking(night, night__blocked=(span(start, end),))


def hours() -> list[Case]:
    wait = tight().steps[number_of(tight(), "wait") - 1]
    return [
        Case("work a second before sunset", "sun_down", earlier_dusk, dusk, 1, None, "deg"),
        Case(
            "the shutter closes a second after sunrise",
            "sun_down",
            later_dawn,
            dawn,
            number_of(dawn(), "expose"),
            None,
            "deg",
            frozenset({"darkness"}),
        ),
        Case(
            "a step begins a second before it clears",
            "clear",
            lambda: cleared(flipped(), 1, 0),
            lambda: cleared(flipped(), 0, 0),
            1,
            1,
            "s",
        ),
        Case(
            "a shutter closes a second after clouds come",
            "clear",
            lambda: cleared(flipped(), 0, -1),
            lambda: cleared(flipped(), 0, 0),
            number_of(flipped(), "expose", -1),
            1,
            "s",
        ),
        Case(
            "a second of cloud within an exposure",
            "clear",
            lambda: parted(flipped(), 1),
            lambda: parted(flipped(), 0),
            number_of(flipped(), "expose"),
            1,
            "s",
        ),
        Case(
            "blocked a second before the last shutter closes",
            "blocked",
            lambda: blocked(flipped(), later(closes(flipped()), -1), later(closes(flipped()), 900)),
            lambda: blocked(flipped(), closes(flipped()), later(closes(flipped()), 900)),
            number_of(flipped(), "expose", -1),
            1,
            "s",
        ),
        Case(
            "blocked a second longer than an idle wait",
            "blocked",
            lambda: blocked(tight(), wait.start_utc, later(wait.end_utc, 1)),
            lambda: blocked(tight(), wait.start_utc, wait.end_utc),
            number_of(tight(), "flip"),
            1,
            "s",
        ),
        Case(
            "two blocked spells that overlap count once",
            "blocked",
            lambda: asking(
                flipped(),
                night__blocked=(
                    span(flipped().steps[5].start_utc, later(flipped().steps[5].start_utc, 20)),
                    span(later(flipped().steps[5].start_utc, 10), later(flipped().steps[5].start_utc, 30)),
                ),
            ),
            None,
            6,
            30,
            "s",
        ),
    ]


def middle_of(number: int) -> dt.datetime:
    """A second within a step that is no whole minute, at which a corner of the skyline is put."""
    return later(moonlit().steps[number - 1].start_utc, 47)


def hill(number: int, above_arcsec: float, half_width_deg: float = 0.02) -> Night:
    """A sharp hill whose top the target passes within a step, so far above it (or below, negative)."""
    almanac, instant = Almanac(moonlit().request), middle_of(number)
    top = float(almanac.altitude_deg("Cradle", instant)[0]) + above_arcsec / 3600
    azimuth = float(almanac.azimuth_deg("Cradle", instant)[0])
    corners = ((0.0, 0.0), (azimuth - half_width_deg, 0.0), (azimuth, top), (azimuth + half_width_deg, 0.0))
    return asking(moonlit(), site__skyline=corners)


def wall(seconds: int) -> Night:
    """A wall up to the azimuth in which the target stands at the end of the slew, or seconds later."""
    almanac = Almanac(moonlit().request)
    azimuth = float(almanac.azimuth_deg("Cradle", later(moonlit().steps[0].end_utc, seconds))[0])
    return asking(
        moonlit(),
        site__skyline=((0.0, 0.0), (azimuth - 2, 0.0), (azimuth - 2, 89.0), (azimuth, 89.0), (azimuth, 0.0)),
    )


def hills() -> list[Case]:
    return [
        Case(
            "a hill between two samples",
            "skyline",
            lambda: hill(7, 12),
            lambda: hill(7, -6),
            7,
            12 / 3600,
            "deg",
            slack=3 / 3600,
        ),
        Case("a wall a second too near", "skyline", lambda: wall(1), lambda: wall(0), 1, None, "deg"),
    ]


CASES = [*hours(), *hills()]
TWINS = [case for case in CASES if case.twin is not None]


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_broken_hour_is_caught_under_its_rule(case: Case) -> None:
    judge_broken(case)


@pytest.mark.parametrize("case", TWINS, ids=ids(TWINS))
def test_nearest_allowed_hour_passes(case: Case) -> None:
    judge_twin(case)


def test_moon_below_the_horizon_is_never_too_near() -> None:
    """On that evening the Moon has set before the first shutter opens; it is 123 degrees away at that."""
    assert audit_steps(*asking(flipped(), filters__0__moon_gap_deg=180.0)).violations == ()
    assert audit_steps(*asking(flipped(), filters__0__moonlight_mag=1e-6)).violations == ()


def test_download_may_run_on_past_every_edge_of_the_sky() -> None:
    """The last row outlasts its shutter by three seconds; a blocked spell in them harms nothing."""
    night = flipped()
    shut = closes(night)
    assert (night.steps[number_of(night, "expose", -1) - 1].end_utc - shut).total_seconds() == 3
    assert audit_steps(*blocked(night, later(shut, 1), later(shut, 2))).violations == ()


def test_overhead_may_run_on_past_every_edge_of_the_sky() -> None:
    """As the download may: of the same three seconds two are overhead now; a shutter open in them is caught."""
    asked, steps = asking(flipped(), camera__download_s=1.0, camera__overhead_s=2.0)
    shut = closes(Night(asked, steps))
    assert audit_steps(*blocked(Night(asked, steps), later(shut, 1), later(shut, 3))).violations == ()
    (found,) = audit_steps(*blocked(Night(asked, steps), later(shut, -1), later(shut, 3))).violations
    assert found.rule == "blocked"


def test_sun_edges_are_a_second_wide() -> None:
    """The builder's own search put `dusk` on the first second after sunset: there, the sun has just gone."""
    altitudes = Almanac(dusk().request).body_altitude_deg(
        "sun", later(dusk().steps[0].start_utc, -1), dusk().steps[0].start_utc
    )
    assert altitudes[1] <= -50 / 60 < altitudes[0]
    assert iso_utc(dusk().steps[0].start_utc).startswith("2026-11-14T1")
