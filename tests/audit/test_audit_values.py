"""The audit of how scarce goals are: its own count agrees, and every untrue row is caught."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache

import pytest

from optimizer.ahead.hours import hours_ahead
from optimizer.audit import audit_shot_list
from optimizer.audit.ahead import hours_ahead as audited_hours
from optimizer.audit.tolerances import HOURS_AHEAD, HOURS_AHEAD_PER_ROOT_WINDOW
from optimizer.models.shots import GoalValue, ShotList
from optimizer.night import Night
from optimizer.reading.load import request_from_data
from optimizer.sky.bodies import night_sky
from tests.support.ahead_cases import at_the_pole, realistic
from tests.support.scenarios.nights import random_night
from tests.support.sky_cases import a_request
from tests.support.speeds import sampled

Rows = tuple[GoalValue, ...]


@cache
def whole() -> ShotList:
    return Night(realistic(time_limit_s=0.3)).plan()


def told(values: Sequence[GoalValue], **more: object) -> list[tuple[str, str]]:
    """Units and messages of what the rule finds in the list with these rows."""
    shots = whole().model_copy(update={"values": tuple(values), **more})
    found = audit_shot_list(shots).violations
    # the factors are part of the value as well, so that objective and sums may be told too
    assert {each.rule for each in found} <= {"values", "proof", "totals"}
    return [(each.unit, each.message) for each in found if each.rule == "values"]


def with_row(number: int, **changes: object) -> Rows:
    rows = list(whole().values)
    rows[number] = rows[number].model_copy(update=changes)
    return tuple(rows)


def test_true_list_passes() -> None:
    assert whole().values
    assert whole().audit_report.violations == ()
    assert "values" in whole().audit_report.rules
    assert told(whole().values) == []


UNTRUE: list[tuple[str, Callable[[], Sequence[GoalValue]], str, str]] = [
    ("none", lambda: (), "rows", "the values have 0 rows; the request has 11 goals"),
    ("one missing", lambda: whole().values[:-1], "rows", "the values have 10 rows"),
    ("one doubled", lambda: (*whole().values, whole().values[0]), "rows", "the values have 12 rows"),
    (
        "one in place of another",
        lambda: (whole().values[0], *whole().values[:-1]),
        "rows",
        "the values name Whirl in L with 180 s where the request has Whirl in R with 180 s",
    ),
    ("backwards", lambda: whole().values[::-1], "rows", "where the request has Whirl in L with 180 s"),
    ("another gain", lambda: with_row(3, gain=7), "rows", "the values name Whirl in B with 180 s"),
    ("another binning", lambda: with_row(3, binning=2), "rows", "the values name Whirl in B"),
    ("no such target", lambda: with_row(0, target="Nowhere"), "rows", "the values name Nowhere in L"),
    (
        "a factor a thousandth off",
        lambda: with_row(5, factor=round(whole().values[5].factor + 0.001, 3)),
        "times",
        "the factor of Early cluster in B says",
    ),
    ("no factor", lambda: with_row(5, factor=1.0), "times", "the factor of Early cluster in B says 1; by"),
]


@pytest.mark.parametrize(("name", "build", "unit", "words"), UNTRUE, ids=[each[0] for each in UNTRUE])
def test_untrue_rows_are_caught(
    name: str, build: Callable[[], Sequence[GoalValue]], unit: str, words: str
) -> None:
    found = told(build())
    assert unit in {each for each, _ in found}, name
    assert any(words in message for _, message in found), found


@pytest.mark.parametrize("off_h", [2.5, -2.5])
def test_hours_beyond_the_tolerance_are_caught_even_with_the_factor_that_fits_them(off_h: float) -> None:
    row = whole().values[4]
    median_h = Night(whole().request).scarcity.median_h
    hours = round(row.hours_ahead + off_h, 2)
    rows = with_row(4, hours_ahead=hours, factor=round((median_h / hours) ** 0.5, 3))
    found = told(rows)
    assert [unit for unit, _ in found] == ["h"]
    assert "hours_ahead of Early cluster in L says" in found[0][1]


def test_hours_within_the_tolerance_pass() -> None:
    row = whole().values[4]
    median_h = Night(whole().request).scarcity.median_h
    hours = round(row.hours_ahead + 0.3, 2)
    assert told(with_row(4, hours_ahead=hours, factor=round((median_h / hours) ** 0.5, 3))) == []


def test_values_without_scarcity_are_caught() -> None:
    plain = Night(realistic(scarcity=0.0, time_limit_s=0.3)).plan()
    assert plain.values == ()
    assert plain.audit_report.violations == ()
    given = plain.model_copy(update={"values": whole().values})
    assert "values" in {each.rule for each in audit_shot_list(given).violations}
    carried = plain.model_copy(update={"values_carried": True})
    assert {each.rule for each in audit_shot_list(carried).violations} == {"values"}


def test_values_of_another_night_must_agree_among_themselves() -> None:
    assert told(whole().values, values_carried=True) == []
    halved = tuple(
        row.model_copy(update={"factor": round(row.factor / 2, 3)}) for row in whole().values
    )  # another median
    assert told(halved, values_carried=True) == []
    assert [unit for unit, _ in told(with_row(5, factor=1.0), values_carried=True)] == ["times"]
    assert [unit for unit, _ in told(with_row(5, factor=-1.0), values_carried=True)] == ["times"]


def test_goals_without_hours_and_complete_ones_are_no_part_of_the_median() -> None:
    """One target never rises, one is complete: planner and audit leave them out alike."""
    request = realistic(time_limit_s=0.3)
    complete = request.targets[0].goals[0].model_copy(update={"done": 30})
    south = request.targets[1].model_copy(update={"name": "Too far south", "dec_deg": -60.0})
    first = request.targets[0].model_copy(update={"goals": (complete, *request.targets[0].goals[1:])})
    changed = request.model_copy(update={"targets": (first, *request.targets[1:], south)})
    shots = Night(changed).plan()
    assert shots.audit_report.violations == ()
    assert [row.factor for row in shots.values if row.target == "Too far south"] == [1.0, 1.0]
    assert [row.hours_ahead for row in shots.values if row.target == "Too far south"] == [0.0, 0.0]


@pytest.mark.parametrize("seed", sampled([0, 16, 34, 80, 140, 190, *range(300, 340)], 6))
@pytest.mark.parametrize("nights", [1, 12])
def test_planner_and_audit_count_the_same_hours(seed: int, nights: int) -> None:
    """Anywhere, every key in use: they share the Earth's orientation and nothing else."""
    data = random_night(seed)
    data["aim"]["look_ahead_nights"] = nights
    request = request_from_data(data, f"night {seed}")
    theirs = hours_ahead(request, night_sky(request))
    own = audited_hours(request)
    assert theirs.keys() == own.keys()
    for key, ahead in own.items():
        forgiven = HOURS_AHEAD + HOURS_AHEAD_PER_ROOT_WINDOW * math.sqrt(ahead.windows)
        assert theirs[key] == pytest.approx(ahead.hours, abs=0.8 * forgiven), key


@pytest.mark.parametrize("evening", ["1973-01-02", "2016-12-20", "2100-12-31"])
def test_far_years_are_counted_without_a_word(evening: str) -> None:
    request = a_request(evening=evening)
    (hours,) = hours_ahead(request, night_sky(request)).values()
    (own,) = audited_hours(request).values()
    assert own.hours == pytest.approx(hours, abs=0.8)
    assert own.windows >= 20


def test_windows_are_counted_too() -> None:
    (night,) = audited_hours(at_the_pole()).values()
    assert (round(night.hours), night.windows) == (672, 1)
    (nothing,) = audited_hours(at_the_pole(target={"dec_deg": 0.0})).values()
    assert (nothing.hours, nothing.windows) == (0, 0)
    german = audited_hours(at_the_pole(mount={"kind": "german"}))
    assert german["A", "L"].windows in (28, 29)  # each transit parts them
