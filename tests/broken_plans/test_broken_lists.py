"""Lists that tell something untrue about themselves: columns, totals, proof, night facts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import lru_cache
from typing import Any

import pytest

from optimizer.audit import audit_shot_list, audit_steps
from optimizer.export.json_file import shots_from_data
from optimizer.models.base import as_json_data
from optimizer.models.shots import ShotList, Totals
from tests.support.hand_laid.list_builder import shot_list
from tests.support.hand_laid.mutations import asking, changed, edited, later, number_of
from tests.support.hand_laid.night_cases import Night, flipped, moonlit, southern, standing, tight, turned


@lru_cache
def whole() -> ShotList:
    return shot_list(flipped())


def told(path: str, value: Any) -> Callable[[], ShotList]:
    """The true list with one value changed."""
    return lambda: changed(whole(), path, value)


def moved(path: str, seconds: int) -> Callable[[], ShotList]:
    """The true list with one instant moved."""

    def build() -> ShotList:
        instant: Any = whole()
        for name in path.split("."):
            instant = getattr(instant, name)
        shots: ShotList = changed(whole(), path, later(instant, seconds))
        return shots

    return build


def balanced(*changes: tuple[str, Any]) -> Callable[[], ShotList]:
    """The true list of a night that asks for balance, with some values changed.

    L 8 x 120 s with two in hand and R 6 x 60 s: 1320 s, slowest half 660 s. Five of each bring L from 1/4 to
    7/8 and R from 0 to 5/6: 75 / 660, then 562.5 / 660; 1320 s x 487.5 / 660 = 975 s. Open are 900 s:
    0.7 x 900 + 0.3 x 975 = 922.5.
    """

    def build() -> ShotList:
        shots = shot_list(asking(flipped(), aim__balance=0.3))
        for path, value in changes:
            shots = changed(shots, path, value)
        return shots

    return build


def with_objective(value_s: float) -> tuple[tuple[str, float], ...]:
    """A proof and a value that agree with each other."""
    return (
        ("proof.objective", value_s),
        ("proof.bound", 1.5 * value_s),
        ("proof.gap", 0.5),
        ("totals.value_s", value_s),
    )


TOTALS = whole().totals
PROOF = whole().proof
KINDS = TOTALS.seconds_by_kind
SLACK_S = TOTALS.least_slack_s or 0
PARK = len(whole().steps)
UNTRUE: list[tuple[str, str, Callable[[], ShotList], float | None, str | None]] = [
    ("a frame too many planned", "totals", told("totals.goals.0.frames_planned", 6), None, None),
    ("left as if nothing were planned", "totals", told("totals.goals.1.frames_left", 6), 5, "subs"),
    ("wanted without those in hand", "totals", told("totals.goals.0.frames_wanted", 6), 2, "subs"),
    ("none in hand", "totals", told("totals.goals.0.frames_done", 0), 2, "subs"),
    ("wanted seconds", "totals", told("totals.goals.0.seconds_wanted", 961.0), 1, "s"),
    ("planned seconds", "totals", told("totals.goals.0.seconds_planned", 599.0), 1, "s"),
    ("left seconds", "totals", told("totals.goals.0.seconds_left", 0.0), 120, "s"),
    ("another filter's goal", "totals", told("totals.goals.0.filter", "R"), None, None),
    ("a goal left out", "totals", told("totals.goals", TOTALS.goals[:1]), 1, "goals"),
    ("open-shutter seconds", "totals", told("totals.open_shutter_s", TOTALS.open_shutter_s + 1), 1, "s"),
    ("dark seconds", "totals", told("totals.dark_s", TOTALS.dark_s + 10), 10, "s"),
    ("the share", "totals", told("totals.share", TOTALS.share + 0.001), 0.001, "share"),
    (
        "seconds of a kind",
        "totals",
        told("totals.seconds_by_kind", {**KINDS, "focus": 1}),
        KINDS["focus"] - 1,
        "s",
    ),
    (
        "seconds of a kind that does not occur",
        "totals",
        told("totals.seconds_by_kind", {**KINDS, "rotate": 9}),
        9,
        "s",
    ),
    (
        "a kind left out",
        "totals",
        told("totals.seconds_by_kind", {k: v for k, v in KINDS.items() if k != "flip"}),
        KINDS["flip"],
        "s",
    ),
    ("the value", "totals", told("totals.value_s", TOTALS.value_s + 0.002), None, "weighted s"),
    ("the value rounded up", "totals", told("totals.value_s", TOTALS.value_s + 0.001), 0.001, "weighted s"),
    ("the value a little low", "totals", told("totals.value_s", TOTALS.value_s - 0.002), 0.002, "weighted s"),
    ("progress of the sets", "totals", told("totals.set_s", TOTALS.set_s + 0.003), 0.003, "weighted s"),
    ("a share before", "totals", told("totals.targets.0.set_share_before", 0.1137), None, "share"),
    ("a share after", "totals", told("totals.targets.0.set_share_after", 0.85228), None, "share"),
    ("a set without its share", "totals", told("totals.targets.0.set_share_after", None), None, "share"),
    ("another target's set", "totals", told("totals.targets.0.target", "Wheel"), 1, "targets"),
    ("no target told", "totals", told("totals.targets", ()), 1, "targets"),
    ("a target told twice", "totals", told("totals.targets", TOTALS.targets * 2), 1, "targets"),
    ("the sum of seconds for the value", "proof", balanced(("proof.objective", 900.0)), 22.5, "weighted s"),
    ("progress in place of the value", "proof", balanced(("proof.objective", 975.0)), 52.5, "weighted s"),
    ("progress times the balance", "totals", balanced(("totals.set_s", 292.5)), 682.5, "weighted s"),
    ("progress a little high", "totals", balanced(("totals.set_s", 975.002)), 0.002, "weighted s"),
    (
        "value of a balance a little less",
        "totals",
        balanced(("totals.value_s", 922.425)),
        0.075,
        "weighted s",
    ),
    ("a second more of slack", "totals", told("totals.least_slack_s", SLACK_S + 1), 1, "s"),
    ("a second less of slack", "totals", told("totals.least_slack_s", SLACK_S - 1), 1, "s"),
    ("no slack told", "totals", told("totals.least_slack_s", None), 1, "steps"),
    ("the slack of another step", "totals", told("totals.least_slack_step", PARK), 1, "steps"),
    ("the slack of no step", "totals", told("totals.least_slack_step", None), 1, "steps"),
    ("the objective", "proof", told("proof.objective", PROOF.objective + 1), None, None),
    ("a bound below the objective", "proof", told("proof.bound", PROOF.objective - 1), 1, "weighted s"),
    ("the gap", "proof", told("proof.gap", 0.4), 0.1, "gap"),
    ("a gap of the bound instead of the objective", "proof", told("proof.gap", 1 / 3), 1 / 6, "gap"),
    ("a negative gap", "proof", told("proof.gap", -0.5), 1, "gap"),
    ("optimal with a wide gap", "proof", told("proof.status", "optimal"), 0.498, "gap"),
    ("the evening", "night_facts", told("night.evening", "2026-11-15"), 1, "dates"),
    ("the time zone", "night_facts", told("night.time_zone", "UTC"), 1, "zones"),
    ("UT1-UTC", "night_facts", told("night.ut1_utc_s", whole().night.ut1_utc_s + 0.1), 0.1, "s"),
    ("no sunset", "night_facts", told("night.sunset_utc", None), 1, "events"),
    ("no moonset", "night_facts", told("night.moonset_utc", None), 1, "events"),
    ("the Moon's light", "night_facts", told("night.moon_illuminated", 0.9), None, "fraction"),
    (
        "sunset and sunrise changed",
        "night_facts",
        told("night.sunset_utc", whole().night.sunrise_utc),
        None,
        "deg",
    ),
    ("an event of another night", "night_facts", moved("night.moonrise_utc", 86400), None, "s"),
    *(
        (f"{event} {seconds} s off", "night_facts", moved(f"night.{event}_utc", seconds), None, "deg")
        for event in (
            "sunset",
            "sunrise",
            "civil_dusk",
            "civil_dawn",
            "nautical_dusk",
            "nautical_dawn",
            "astronomical_dusk",
            "astronomical_dawn",
            "moonrise",
            "moonset",
        )
        for seconds in (3, -3)
    ),
]
NAMES = [f"{rule}: {name}" for name, rule, *_ in UNTRUE]


def test_true_list_that_asks_for_balance_passes() -> None:
    shots = balanced()()
    assert audit_shot_list(shots).violations == ()
    assert (shots.totals.value_s, shots.totals.set_s, shots.proof.objective) == (922.5, 975.0, 922.5)


@pytest.mark.parametrize("value_s", [922.5 + 0.002, 922.5 - 0.002, 900.0])
def test_value_is_asked_of_the_subs_where_the_proof_agrees_with_it(value_s: float) -> None:
    found = audit_shot_list(balanced(*with_objective(value_s))()).violations
    assert "proof" in {each.rule for each in found}


@pytest.mark.parametrize("balance", [0.0, 0.3])
def test_goal_beside_the_set_leaves_a_set_of_one(balance: float) -> None:
    """R counts by itself then, and L is all of its set: full seconds, and the share of L."""
    night = asking(flipped(), aim__balance=balance, targets__0__goals__1__in_set=False)
    shots = shot_list(night)
    assert audit_shot_list(shots).violations == ()
    assert (shots.totals.value_s, shots.totals.set_s) == (900.0, 0.0)
    assert shots.totals.targets[0].set_share_after == 0.875
    both = changed(shots, "totals.targets.0.set_share_after", 0.852272)
    assert {each.rule for each in audit_shot_list(both).violations} == {"totals"}


@pytest.mark.parametrize("night", [flipped, southern, turned], ids=lambda night: night.__name__)
def test_true_list_passes(night: Callable[[], Night]) -> None:
    report = audit_shot_list(shot_list(night()))
    assert report.violations == ()
    assert set(audit_steps(*night()).rules) | {"totals", "proof", "night_facts", "values"} == set(
        report.rules
    )


def test_list_of_an_earlier_version_is_said_to_lack_its_value() -> None:
    shots = shot_list(flipped())
    older = {name: getattr(shots.totals, name) for name in Totals.model_fields if not name.endswith("e_s")}
    told = shots.model_copy(update={"totals": Totals(**older)})
    (found,) = audit_shot_list(told).violations
    assert found.message.startswith("value_s is missing, as in a list of an earlier version; plan anew; ")


def test_list_of_an_earlier_version_is_held_against_what_it_was_planned_by() -> None:
    """It knew neither balance nor scarcity nor slack: none of them is asked of it, and its objective stands."""
    data = as_json_data(shot_list(asking(flipped(), aim__slack_s=0)))
    for key in ("balance", "scarcity", "slack_s"):
        del data["request"]["aim"][key]
    for key in ("targets", "value_s", "set_s", "least_slack_s", "least_slack_step"):
        del data["totals"][key]
    shots = shots_from_data(data, "older.shots.json")
    report = audit_shot_list(shots)
    assert [(each.rule, each.message.partition(";")[0]) for each in report.violations] == [
        ("totals", "value_s is missing, as in a list of an earlier version")
    ]
    assert report.quality == ()
    assert "slack_s" not in data["request"]["aim"]  # what was given is left as it is


def test_own_list_lets_the_mount_stand_before_a_flip_only_where_it_must() -> None:
    """Typed by hand it is no fault; a list of ours would have tracked on."""
    wait = number_of(standing(), "wait")
    assert audit_steps(*standing()).violations == ()
    (found,) = audit_shot_list(shot_list(standing())).violations
    assert (found.rule, found.step, found.unit) == ("tracking", wait, "s")
    assert found.amount == standing().steps[wait - 1].seconds
    assert audit_shot_list(shot_list(tight())).violations == ()  # the first side must be left long before


@pytest.mark.parametrize(("name", "rule", "build", "amount", "unit"), UNTRUE, ids=NAMES)
def test_untruth_is_caught(
    name: str, rule: str, build: Callable[[], ShotList], amount: float | None, unit: str | None
) -> None:
    found = audit_shot_list(build()).violations
    assert {violation.rule for violation in found} == {rule}, name
    assert all(violation.step is None for violation in found)
    if amount is not None:
        assert amount in [
            pytest.approx(violation.amount, abs=2.1 if unit == "s" and amount == 10 else 1e-4)
            for violation in found
        ]
    if unit is not None:
        assert unit in {violation.unit for violation in found}


@pytest.mark.parametrize("event", ["sunset", "astronomical_dawn", "moonset"])
def test_events_may_be_rounded_either_way(event: str) -> None:
    """The whole second before an event and the one after both tell it; two seconds on, neither does."""
    broken = [
        bool(audit_shot_list(moved(f"night.{event}_utc", seconds)()).violations)
        for seconds in (-2, -1, 0, 1, 2)
    ]
    assert broken in ([True, True, False, False, True], [True, False, False, True, True])


def test_gap_of_a_list_without_value_is_anything() -> None:
    nothing = changed(whole(), "steps", ())
    found = audit_shot_list(nothing).violations
    assert {violation.rule for violation in found} == {"totals", "proof"}


@pytest.mark.parametrize("kind", ["expose", "flip"])
def test_own_list_must_tell_latest_starts(kind: str) -> None:
    """One that is missing in a list of ours is told; in a list typed by hand it is not."""
    night = edited(flipped(), number_of(flipped(), kind), latest_start_utc=None)
    assert audit_steps(*night).violations == ()
    found = audit_shot_list(shot_list(night)).violations
    assert [(each.rule, each.step) for each in found] == [("latest_start", number_of(flipped(), kind))]


COLUMNS = [
    ("hour_angle_h", 2e-5, "h"),
    ("altitude_deg", 0.0002, "deg"),
    ("azimuth_deg", 0.001, "deg"),
    ("azimuth_deg", 180.0, "deg"),
    ("airmass", 0.0002, "airmasses"),
    ("moon_separation_deg", 0.0002, "deg"),
]


@pytest.mark.parametrize(("column", "wrong", "unit"), COLUMNS)
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("night", [flipped, moonlit], ids=lambda night: night.__name__)
def test_columns_are_right_to_their_last_digit(
    night: Callable[[], Night], column: str, wrong: float, unit: str, sign: int
) -> None:
    """Rounded as the builder rounds them they pass (the valid nights); two digits farther they do not."""
    number = number_of(night(), "expose", 2)
    value = getattr(night().steps[number - 1], column)
    found = audit_steps(*edited(night(), number, **{column: value + sign * wrong})).violations
    assert [(each.rule, each.step, each.unit) for each in found] == [("columns", number, unit)]
    assert found[0].amount == pytest.approx(wrong, rel=0.6)


def test_azimuth_wraps() -> None:
    number = number_of(flipped(), "expose")
    value = flipped().steps[number - 1].azimuth_deg
    assert audit_steps(*edited(flipped(), number, azimuth_deg=(value or 0) - 360)).violations == ()


def test_hour_angle_wraps() -> None:
    """An hour angle of -13 h is the 11 h that a step past the lower culmination has."""
    number = number_of(flipped(), "expose")
    value = flipped().steps[number - 1].hour_angle_h
    assert audit_steps(*edited(flipped(), number, hour_angle_h=(value or 0) - 24)).violations == ()


def test_moonlit_columns_tell_refracted_altitudes() -> None:
    """The same list without the air is 0.01 degrees off in altitude, and in nothing else."""
    found = audit_steps(*asking(moonlit(), site__pressure_hpa=0.0)).violations
    assert {each.rule for each in found} == {"columns"}
    assert {each.unit for each in found} <= {"deg", "airmasses"}
    assert dt.timedelta(0) < moonlit().steps[-1].end_utc - moonlit().steps[0].start_utc
