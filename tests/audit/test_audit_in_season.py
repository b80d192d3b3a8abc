"""What a list says of its season is held against its steps, by the audit's own law."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, partial

import pytest

from optimizer.audit import audit_shot_list
from optimizer.models.season_tonight import InSeason
from optimizer.models.shots import ShotList
from optimizer.seasons import Season
from tests.support.checks import there
from tests.support.season_view_cases import a_season, season_request


@lru_cache(maxsize=4)
def planned(by: str = "season values", value: str = "hours") -> ShotList:
    season = a_season(season_request(balance=0.5, value=value), by=by)  # type: ignore[arg-type]
    return Season(season).tonight()


def broken(shots: ShotList, change: Callable[[InSeason], InSeason]) -> list[tuple[str, str]]:
    changed = shots.model_copy(update={"season": change(there(shots.season))})
    return [(each.rule, each.message) for each in audit_shot_list(changed).violations]


def with_sum(season: InSeason, key: str, seconds: float) -> InSeason:
    return season.model_copy(update={key: seconds})


def with_rows(season: InSeason, key: str, place: int, **changes: object) -> InSeason:
    rows = list(getattr(season, key))
    rows[place] = rows[place].model_copy(update=changes)
    return season.model_copy(update={key: tuple(rows)})


@pytest.mark.parametrize("by", ["season values", "scarce hours"])
@pytest.mark.parametrize("value", ["hours", "depth"])
def test_what_was_planned_passes(by: str, value: str) -> None:
    shots = planned(by, value)
    assert shots.audit_report.violations == ()
    assert there(shots.season).balance == 0.5


@pytest.mark.parametrize("by", ["season values", "scarce hours"])
@pytest.mark.parametrize("key", ["with_s", "without_s"])
def test_a_sum_that_is_off_by_a_second_is_found(by: str, key: str) -> None:
    shots = planned(by)
    told = there(getattr(there(shots.season), key))
    for wrong in (told + 1, told - 1):
        ((rule, words),) = broken(shots, partial(with_sum, key=key, seconds=wrong))
        assert rule == "season"
        assert words.startswith(f"{key} of the season says {wrong:.3f}; it is {told:.3f}")
    assert broken(shots, partial(with_sum, key=key, seconds=told + 5e-4)) == []


def test_a_sum_that_is_missing_is_found() -> None:
    found = broken(planned(), lambda season: season.model_copy(update={"with_s": None}))
    assert found == [("season", "with_s is missing")]


def test_a_target_that_is_said_to_be_off_and_is_shot_is_found() -> None:
    shots = planned()
    place = next(number for number, row in enumerate(there(shots.season).targets) if row.on)
    name = there(shots.season).targets[place].target
    found = broken(shots, lambda season: with_rows(season, "targets", place, on=False))
    assert found == [("season", f"{name} is said to be off tonight, and the steps say otherwise")]


def test_more_moonlit_nights_than_nights_are_found() -> None:
    ((rule, _),) = broken(planned(), lambda season: with_rows(season, "targets", 0, moonlit=9))
    assert rule == "season"


def test_rows_out_of_order_or_missing_are_found() -> None:
    shots = planned()
    backwards = broken(shots, lambda season: season.model_copy(update={"targets": season.targets[::-1]}))
    assert [rule for rule, _ in backwards] == ["season"]
    fewer = broken(shots, lambda season: season.model_copy(update={"goals": season.goals[:-1]}))
    assert ("season", "the season names nothing where the request has South in L with 120 s") in fewer


def test_another_factor_is_found() -> None:
    """By the season's values the plan's value then is another; by scarce hours it is not the one of `values`."""
    by_values = broken(planned(), lambda season: with_rows(season, "goals", 0, factor=0.7))
    assert {"totals", "proof"} <= {rule for rule, _ in by_values}
    ((rule, words),) = broken(
        planned("scarce hours"), lambda season: with_rows(season, "goals", 0, factor=0.7)
    )
    assert rule == "season"
    assert words == "the factor of High in L says 0.7; the night was planned by 1"


def test_later_frames_beyond_what_is_wanted_count_no_more() -> None:
    """50 are lacking: whether as many are taken later or a thousand, the goal is complete without tonight."""
    just, beyond = (
        broken(planned(), partial(with_rows, key="goals", place=0, later_frames=frames, later_s=120 * frames))
        for frames in (50.0, 1000.0)
    )
    assert just == beyond
    assert just[0][1].startswith("without_s of the season says 4650.000; it is ")
