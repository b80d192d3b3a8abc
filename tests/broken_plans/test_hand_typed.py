"""Whatever somebody types, the audit answers with violations and never with an exception or a warning."""

from __future__ import annotations

import datetime as dt
from typing import Any, get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimizer.audit import audit_steps
from optimizer.models.shots import Step, StepKind
from tests.support.hand_laid.mutations import bare, changed
from tests.support.hand_laid.night_cases import Night, at, flipped, moonlit, southern

START = at("2026-11-14T22:00:00")


def typed(*rows: dict[str, Any]) -> tuple[Step, ...]:
    """Steps with nothing but what is given; a minute each unless told otherwise."""
    steps = []
    for number, row in enumerate(rows, start=1):
        start = START + dt.timedelta(minutes=number)
        steps.append(
            Step(**{"step": number, "start_utc": start, "end_utc": start + dt.timedelta(minutes=1), **row})
        )
    return tuple(steps)


def rules_of(*rows: dict[str, Any]) -> set[str]:
    return {violation.rule for violation in audit_steps(flipped().request, typed(*rows)).violations}


@pytest.mark.parametrize("kind", get_args(StepKind))
def test_a_lone_step_without_a_word_is_refused(kind: str) -> None:
    """Nothing but a kind and its times: only a park may stand alone."""
    rules = rules_of({"kind": kind})
    assert "tracking" in rules
    assert ("ends_with_park" in rules) == (kind != "park")
    if kind not in ("wait", "park"):
        assert {"known_target", "pier_side"} <= rules


def test_exposures_alone_are_refused_for_every_reason() -> None:
    exposure = {"kind": "expose", "target": "Cradle", "filter": "L", "exposure_s": 120.0}
    rules = rules_of(exposure, exposure, {"kind": "park", "tracking": False})
    assert {
        "acquired",
        "coordinates",
        "position_angle",
        "goal_match",
        "light_path",
        "pier_side",
        "step_length",
        "tracking",
        "focus_every",
        "slew_time",
    } - {"slew_time"} <= rules


def test_unknown_names_are_told_with_what_was_typed() -> None:
    report = audit_steps(flipped().request, typed({"kind": "slew", "target": "Nowhere", "filter": "Nothing"}))
    messages = " ".join(violation.message for violation in report.violations)
    assert "'Nowhere'" in messages
    assert "'Nothing'" in messages


@pytest.mark.parametrize(
    ("start", "end"),
    [
        ("1973-01-02T00:00:00", "2100-12-30T23:59:59"),
        ("2100-12-30T00:00:00", "2100-12-30T00:02:03"),
        ("1973-01-02T00:00:00", "1973-01-02T00:02:03"),
        ("2026-11-15T00:00:00", "2026-11-14T00:00:00"),
        ("2026-11-15T00:00:00", "2026-11-15T00:00:00"),
        ("2026-11-14T00:00:00", "2026-11-17T00:00:00"),
    ],
)
def test_times_from_another_world_are_refused(start: str, end: str) -> None:
    row = {
        "kind": "expose",
        "target": "Cradle",
        "filter": "L",
        "exposure_s": 120.0,
        "pier_side": "west",
        "start_utc": at(start),
        "end_utc": at(end),
        "latest_start_utc": at(start),
        "hour_angle_h": 99.0,
    }
    assert rules_of(row, {"kind": "park", "tracking": False}) & {"within_night", "step_length"}


@pytest.mark.parametrize("exposure_s", [-1.0, 0.0, 1e-300, 1e300, 86400.0])
def test_exposures_of_absurd_lengths_are_refused(exposure_s: float) -> None:
    row = {"kind": "expose", "target": "Cradle", "filter": "L", "exposure_s": exposure_s, "pier_side": "west"}
    assert "goal_match" in rules_of({"kind": "slew", "target": "Cradle", "pier_side": "west"}, row)


@pytest.mark.parametrize("value", [-1e300, 1e300, -91.0])
@pytest.mark.parametrize(
    "column",
    ["ra_deg", "dec_deg", "position_angle_deg", "hour_angle_h", "altitude_deg", "azimuth_deg", "airmass"],
)
def test_absurd_numbers_are_refused(column: str, value: float) -> None:
    rules = rules_of({"kind": "slew", "target": "Cradle", "pier_side": "west", column: value})
    assert rules & {"coordinates", "position_angle", "columns"}


def test_request_with_goals_in_unknown_filters_is_audited() -> None:
    """No loader stands between a caller and the audit; what the request lacks is told where it is used."""
    request = changed(flipped().request, "targets.0.goals.0.filter", "Ha")
    rules = {violation.rule for violation in audit_steps(request, flipped().steps).violations}
    assert rules == {"goal_match"}


@pytest.mark.parametrize("order", [reversed, lambda steps: sorted(steps, key=lambda step: step.kind)])
def test_rows_in_another_order_are_refused(order: Any) -> None:
    report = audit_steps(flipped().request, tuple(order(flipped().steps)))
    assert {"contiguous", "ends_with_park", "acquired"} <= {violation.rule for violation in report.violations}


NIGHTS = (flipped(), southern(), moonlit())
VALUES: dict[str, st.SearchStrategy[Any]] = {
    "kind": st.sampled_from(get_args(StepKind)),
    "target": st.sampled_from([None, "Cradle", "Sculptor", "Great Cloud", "Nowhere"]),
    "filter": st.sampled_from([None, "L", "R", "X"]),
    "exposure_s": st.sampled_from([None, 0.0, -5.0, 60.0, 120.0, 4e4]),
    "pier_side": st.sampled_from([None, "west", "east"]),
    "tracking": st.sampled_from([None, True, False]),
    "step": st.integers(1, 40),
    "ra_deg": st.one_of(st.none(), st.floats(allow_nan=False, allow_infinity=False)),
    "dec_deg": st.one_of(st.none(), st.floats(allow_nan=False, allow_infinity=False)),
    "latest_start_utc": st.one_of(
        st.none(), st.integers(-9000, 90000).map(lambda s: START + dt.timedelta(seconds=s))
    ),
    "start_utc": st.integers(-90000, 190000).map(lambda s: START + dt.timedelta(seconds=s)),
    "end_utc": st.integers(-90000, 190000).map(lambda s: START + dt.timedelta(seconds=s)),
}
DEEDS = st.lists(
    st.tuples(st.integers(0, 29), st.sampled_from(sorted(VALUES))).flatmap(
        lambda where: st.tuples(st.just(where[0]), st.just(where[1]), VALUES[where[1]])
    ),
    min_size=1,
    max_size=6,
)


@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(NIGHTS), DEEDS, st.booleans())
def test_any_deed_done_to_a_whole_night_is_answered(
    night: Night, deeds: list[tuple[int, str, Any]], drop: bool
) -> None:
    """Some cells changed at random: nothing changed that a rule looks at, or a rule answers in words."""
    request, steps = bare(night)
    rows = list(steps)
    for place, column, value in deeds:
        rows[place % len(rows)] = rows[place % len(rows)].model_copy(update={column: value})
    if drop:
        del rows[deeds[0][0] % len(rows)]
    report = audit_steps(request, rows)
    assert {violation.rule for violation in report.violations} <= set(report.rules)
    for violation in report.violations:
        assert violation.message
        assert violation.unit
        assert violation.amount > 0, violation
    if drop:
        assert report.violations
