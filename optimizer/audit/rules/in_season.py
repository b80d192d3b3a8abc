"""What a list says of its season: rows, which targets are on, and what tonight gives."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest

from optimizer.audit.in_season import season_worth
from optimizer.audit.rows import key_of
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import FACTOR_DIGIT
from optimizer.audit.values import factors_of
from optimizer.models.season_tonight import InSeason
from optimizer.models.shots import ShotList, Violation

NAME = "season"


def check_season(scene: Scene, shots: ShotList) -> Iterator[Violation]:
    """Wrong rows of goals and targets, factors beside those of scarce hours, and wrong sums.

    What later nights are to bring is taken as it is told, and so is what a sub counts for by the season.
    """
    if shots.season is None:
        return
    misplaced = list(_rows(scene, shots.season, shots))
    yield from misplaced
    if misplaced:
        return
    yield from _on_or_off(scene, shots.season)
    yield from _sums(scene, shots.season, shots)


def _rows(scene: Scene, season: InSeason, shots: ShotList) -> Iterator[Violation]:
    """Check one row for each goal, in file order, with the factor by which the night was planned."""
    factors = factors_of(shots)
    for row, asked in zip_longest(season.goals, scene.request.goals()):
        told, wanted = row and row.goal_key, asked and key_of(*asked)
        if told != wanted:
            words = [
                f"{key[0]} in {key[1]} with {key[2]:g} s" if key else "nothing" for key in (told, wanted)
            ]
            yield scene.violation(
                NAME, None, 1, "rows", f"the season names {words[0]} where the request has {words[1]}"
            )
            return
        assert row is not None
        right = factors.get(row.goal_key, 1.0)
        if abs(row.factor - right) > FACTOR_DIGIT:
            yield scene.violation(
                NAME,
                None,
                abs(row.factor - right),
                "times",
                f"the factor of {row.target} in {row.filter} says {row.factor:g}; the night was planned by "
                f"{right:g}",
            )


def _on_or_off(scene: Scene, season: InSeason) -> Iterator[Violation]:
    """Check one row for each target, in file order; a list that goes on with a night has none."""
    if scene.start is not None:
        if season.targets:
            what = "a list that goes on with a night says of no target why it is on or off"
            yield scene.violation(NAME, None, len(season.targets), "rows", what)
        return
    names = [target.name for target in scene.request.targets]
    if [row.target for row in season.targets] != names:
        what = "the targets of the season are not those of the request in their order"
        yield scene.violation(NAME, None, 1, "rows", what)
        return
    shot = {row.step.target for row in scene.rows if row.kind == "expose"}
    for row in season.targets:
        if row.on != (row.target in shot):
            what = (
                f"{row.target} is said to be {'on' if row.on else 'off'} tonight, and the steps say otherwise"
            )
            yield scene.violation(NAME, None, 1, "targets", what)
        if row.moonlit > row.nights_left or row.nights_left > season.nights_after:
            what = (
                f"{row.target} is said to have {row.nights_left} nights left, {row.moonlit} of them moonlit, "
                f"of {season.nights_after} nights"
            )
            yield scene.violation(NAME, None, 1, "nights", what)


def _sums(scene: Scene, season: InSeason, shots: ShotList) -> Iterator[Violation]:
    """Check what tonight and the later nights give together, and what those give alone."""
    worth = season_worth(scene, season)
    for key, told, truth in (
        ("with_s", season.with_s, worth.with_s),
        ("without_s", season.without_s, worth.without_s),
    ):
        if scene.start is not None or told is None:
            if (told is None) != (scene.start is not None):
                what = (
                    f"{key} is {'missing' if told is None else 'given, in a list that goes on with a night'}"
                )
                yield scene.violation(NAME, None, 1, "rows", what)
            continue
        if abs(told - truth) > worth.forgiven_s:
            yield scene.violation(
                NAME,
                None,
                abs(told - truth),
                "weighted s",
                f"{key} of the season says {told:.3f}; it is {truth:.3f} by what is told of later nights",
            )
