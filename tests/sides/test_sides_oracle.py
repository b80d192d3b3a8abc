"""Before, after and across, each against the exact oracle on small nights: alone exactly, in the night nearly so."""

from __future__ import annotations

from collections import Counter
from functools import cache
from typing import NamedTuple

import pytest

from optimizer.models.request import Request
from optimizer.reading.load import request_from_data
from optimizer.sides.cases import CHOICES, SideChoice
from optimizer.sides.compare import SidesOfNight, Sureness, compare_sides
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows
from tests.support.oracle.sides import OracleOfSides
from tests.support.scenarios.small import small_night
from tests.support.speeds import deep

pytestmark = deep

CHUNKS, NIGHTS = 4, 12
SEEDS = (
    *range(CHUNKS * NIGHTS - 2),
    88,
    90,
)  # the last two have forks that shoot a target across its transit
TIME_LIMIT_S = 3.0


def request_of(seed: int) -> Request:
    data = small_night(seed)
    data["aim"]["time_limit_s"] = TIME_LIMIT_S
    return request_from_data(data, f"small night {seed}")


class Compared(NamedTuple):
    """One choice for one target: what was found, and the exact best (on a fork's `across` a bound).

    `own`: the target's part of the night that was found. Where the others help it to more than it gets with
    nothing else planned (a focus run of theirs saves it one), that part is what it gets alone.
    """

    seed: int
    target: str
    choice: SideChoice
    alone: float | None
    night: float | None
    own: float | None
    oracle_alone: float | None
    oracle_night: float | None
    exact: bool
    alone_sure: Sureness
    night_sure: Sureness

    @property
    def best_alone(self) -> float | None:
        found = [value for value in (self.oracle_alone, self.own) if value is not None]
        return max(found, default=None)


@cache
def found_in(seed: int) -> SidesOfNight:
    return compare_sides(request_of(seed))


@cache
def chunk_of(chunk: int) -> tuple[Compared, ...]:
    rows = []
    for seed in SEEDS[chunk * NIGHTS : (chunk + 1) * NIGHTS]:
        request = request_of(seed)
        sky = night_sky(request)
        oracle = OracleOfSides(request, sky, sky_windows(request, sky))
        for each in found_in(seed).targets:
            for choice in CHOICES:
                alone, night = each.alone[choice], each.night[choice]
                rows.append(
                    Compared(
                        seed,
                        each.target.name,
                        choice,
                        None if alone is None else alone.value,
                        None if night is None else night.value,
                        None if night is None else night.target_value,
                        oracle.value(each.target.name, choice, alone=True),
                        oracle.value(each.target.name, choice, alone=False),
                        oracle.exact(each.target.name, choice),
                        each.alone_sure[choice],
                        each.night_sure[choice],
                    )
                )
    return tuple(rows)


by_chunk = pytest.mark.parametrize("chunk", range(CHUNKS))


def same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return one == pytest.approx(other, abs=1e-6)


@by_chunk
def test_target_alone_gets_its_best(chunk: int) -> None:
    rows = [row for row in chunk_of(chunk) if row.exact]
    assert [row for row in rows if not same(row.alone, row.best_alone)] == []
    assert sum(row.alone is not None for row in rows) >= 2 * NIGHTS


@by_chunk
def test_whole_night_is_never_better_than_the_best(chunk: int) -> None:
    rows = chunk_of(chunk)
    above = [row for row in rows if row.night is not None and row.night > (row.oracle_night or 0.0) + 1e-6]
    assert above == []
    beyond = [row for row in rows if row.alone is not None and row.alone > (row.best_alone or 0.0) + 1e-6]
    assert beyond == []


@by_chunk
def test_choice_is_possible_where_the_oracle_has_a_plan_for_it(chunk: int) -> None:
    rows = [row for row in chunk_of(chunk) if row.exact]
    assert [row for row in rows if (row.night is None) != (row.oracle_night is None)] == []


@by_chunk
def test_what_is_called_proven_is(chunk: int) -> None:
    """Impossible: the oracle has no plan; a bound: no less than its best; proven: its best, the gap being 0."""
    seen: Counter[str] = Counter()
    for row in chunk_of(chunk):
        pairs = ((row.alone, row.alone_sure, row.oracle_alone), (row.night, row.night_sure, row.oracle_night))
        for value, sure, best in pairs:
            seen[sure.status] += 1
            if sure.status == "impossible":
                assert best is None or not row.exact, row
            if sure.bound is not None and best is not None and row.exact:
                assert sure.bound >= best - 1e-6, row
            if sure.status == "proven" and row.exact:
                assert same(value, best), row
    assert min(seen["proven"], seen["impossible"]) >= 10
    assert seen["not_found"] <= 0.05 * seen.total()


def test_whole_nights_are_the_best_in_nine_of_ten() -> None:
    """Its searches are short; most find the best all the same."""
    rows = [row for chunk in range(CHUNKS) for row in chunk_of(chunk) if row.exact]
    equal = sum(same(row.night, row.oracle_night) for row in rows)
    assert equal >= 0.9 * len(rows)
    possible = [row for row in rows if row.oracle_night is not None]
    assert len(possible) >= 100
    assert sum(same(row.night, row.oracle_night) for row in possible) >= 0.9 * len(possible)
    seen = Counter((row.choice, row.night is not None) for row in rows)
    assert min(seen[choice, there] for choice in CHOICES for there in (True, False)) >= 10


def test_what_the_best_plan_does_is_possible_and_profit_as_much() -> None:
    """The choice that is taken has the whole night's value, and no other choice has more of it when proven."""
    taken: Counter[str | None] = Counter()
    for seed in SEEDS:
        found = found_in(seed)
        value = found.problem.weighted_seconds(found.best.profit)
        bound = found.problem.weighted_seconds(found.best.bound)
        for each in found.targets:
            taken[each.taken] += 1
            if each.taken is not None:
                outcome = each.night[each.taken]
                assert outcome is not None, (seed, each.target.name, each.taken)
                assert outcome.value == pytest.approx(value)
            if each.target.sides == "either":
                others = [outcome.value for outcome in each.night.values() if outcome is not None]
                assert max(others, default=0.0) <= bound + 1e-6, (seed, each.target.name)
    assert min(taken[choice] for choice in (None, *CHOICES)) >= 5


def test_nights_cross_by_flip_by_return_and_on_forks() -> None:
    crossings: Counter[str] = Counter()
    for seed in SEEDS:
        request = request_of(seed)
        for each in found_in(seed).targets:
            outcome = each.night["across"]
            if outcome is not None:
                flips = "flip" if outcome.flips else "return"
                crossings["fork" if request.mount.kind == "fork" else flips] += 1
    assert min(crossings[kind] for kind in ("flip", "return", "fork")) >= 1
