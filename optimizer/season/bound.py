"""The season's bound: prices of frames, and what no policy can expect more of, better with each round.

The first comes from the prices of the linear programme of hours, each later one from a round of column
generation over all nights. Every pricing of all nights proves a bound, whatever the prices.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from optimizer.season.aggregate import prices_by_hours
from optimizer.season.desk import Desk, Engine, NightRef, blocks_of
from optimizer.season.master import SeasonMaster
from optimizer.season.pricing import NightColumn, Prices, bound_s, price

CLOSE = 1e-4  # of the bound: so near to the value of the mixture it is at its best
SMOOTHING = 0.5  # share of the best prices in the next ones, the rest being the master's
PATHS = 3  # of a night in a round: the best, and the best of those that end elsewhere
MOST_ROUNDS = 200
REACH = 0.007  # of a frame's worth: so far the next prices may lie from the best
WIDER = 8.0  # the reach grows by, where all is settled within it
FARTHER = 2.0  # and by this where the bound falls, as it shrinks where it does not
MOST_IDLE = 2  # rounds that bring neither a new path nor a lower bound


@dataclass(frozen=True, eq=False)
class SeasonBound:
    """No policy can expect more than `bound_s`, in weighted seconds, odds-weighted and undiscounted.

    `prices` are those that prove it, [goals], and `nights_s` [nights] what the best path of each night is
    worth at them: what one more clear night like it would give. `columns` has for each night the paths that
    were found, `shares` their parts in the best mixture, worth `lp_value_s` (no bound, no plan; 0 before the
    first round).
    """

    prices: Prices
    bound_s: float
    nights_s: tuple[float, ...]
    columns: tuple[tuple[NightColumn, ...], ...]
    shares: tuple[tuple[float, ...], ...]
    lp_value_s: float


def priced(
    desk: Desk, refs: Sequence[NightRef], prices: Prices, most: int = 1, step_s: int | None = None
) -> list[list[NightColumn]]:
    """A job: the best paths of some nights at prices by goal, best first."""
    found = []
    for ref in refs:
        numbers, projects = desk.numbers(ref), desk.group((ref,)).projects
        of_tasks, left = prices.of_tasks(numbers), projects.left[numbers]
        night = desk.priced(ref) if step_s is None else desk.night(ref)
        found.append(price(night, of_tasks, left, most, step_s))
    return found


def season_bounds(
    desk: Desk,
    refs: Sequence[NightRef],
    odds: Sequence[Fraction],
    engine: Engine,
    step_s: int | None = None,
    is_over: Callable[[], bool] = lambda: False,
) -> Iterator[SeasonBound]:
    """Bounds of a season of one group of rigs, each no higher than the one before.

    It ends where they can hardly get lower. After the first one it ends as well once `is_over`, which is
    asked after each block of nights.
    """
    projects, numbers = desk.group(refs).projects, [desk.numbers(ref) for ref in refs]
    blocks = blocks_of(refs)
    prices = prices_by_hours(desk, refs, odds, engine)
    master, reach, idle, held = SeasonMaster(projects, numbers, odds), REACH, 0, False
    best: SeasonBound | None = None
    for _ in range(MOST_ROUNDS):
        tasks = [(block, prices, PATHS, step_s) for block in blocks]
        found: list[list[NightColumn]] = []
        for own in engine.stream(priced, tasks):
            found += own
            if best is not None and is_over():
                return
        nights_s = tuple(own[0].worth_s if own else 0.0 for own in found)
        is_any = any(own and chance > 0 for own, chance in zip(found, odds, strict=True))
        bound = bound_s(projects, prices, odds, nights_s) if is_any else 0.0  # without what is rounded up
        new = [master.add(night, each) for night, own in enumerate(found) for each in own]
        if held and not any(new):
            reach *= WIDER  # all that lies within reach is known
        if fell := best is None or bound < best.bound_s:
            reach *= FARTHER if held else 1.0  # the best lies beyond
            best = SeasonBound(prices, bound, nights_s, (), (), 0.0)
        elif any(new):
            reach = max(reach / FARTHER, REACH)
        master.near(best.prices, reach)
        master.solve()
        held = master.is_held
        best = _with_columns(best, master)
        yield best
        idle = 0 if any(new) or fell else idle + 1
        if best.bound_s - best.lp_value_s <= CLOSE * best.bound_s or idle == MOST_IDLE:
            if not held:
                return
            reach, idle = WIDER * reach, 0
            master.near(best.prices, reach)
            master.solve()
            held = master.is_held
        prices = _between(best.prices, master.prices, SMOOTHING if idle == 0 else 0.0)


def _with_columns(bound: SeasonBound, master: SeasonMaster) -> SeasonBound:
    columns = tuple(tuple(own) for own in master.columns)
    shares = tuple(tuple(own) for own in master.shares)
    return SeasonBound(bound.prices, bound.bound_s, bound.nights_s, columns, shares, master.value_s)


def _between(one: Prices, other: Prices, share: float) -> Prices:
    """Prices between two others, with so great a share of the first."""
    return Prices(
        share * one.shares + (1 - share) * other.shares, share * one.costs_s + (1 - share) * other.costs_s
    )
