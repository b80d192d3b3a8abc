"""Every number by which the search is tuned, with what it was measured on, and the switches of its parts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


class RuinParameters(NamedTuple):
    """How runs are taken out of a plan and put in again; a tuple, for compiled loops read it.

    Set on ten of the 24 invented nights by hours and, but for `time_price`, little felt: half or twice of
    each moved the median by less than 0.05 %.
    """

    one_string: float = 0.6  # share of the tries that take out one string of runs
    two_strings: float = 0.85  # the same for up to two; the others take three
    longest_string: int = 10  # runs
    whole_visits: float = 0.5  # share of the strings that are widened to whole visits
    blink_rate: float = 0.3  # by how much of its gain a run may seem worse
    time_price: float = 1.5  # most that a second may cost, as a share of what the night brings on average


@dataclass(frozen=True)
class MultiStartParameters:
    """How the turns of a search follow each other."""

    most_plans: int = 4  # the best of different profit, at which turns begin
    most_in_vain: int = 200  # turns on end that bring nothing better
    longest_turn: float = 0.1  # share of the time that is left
    most_threads: int = 2
    tries: tuple[int, ...] = (1000, 3000, 10_000)  # of a turn, one of them drawn
    tries_by_depth: tuple[int, ...] = (300, 1000, 3000)


@dataclass(frozen=True)
class SearchParameters:
    """How a night is searched. All shares are of the time that is left when a part begins.

    The numbers were found on the 24 invented nights of `benchmarks/nights.py` (8 targets with 4 filters, 10 s
    each) and on nights of 40 targets with 5 filters (60 s); what each part brings stands in
    `benchmarks/results/ablation.md`, made by the switches below.
    """

    # The parts of the search.
    constraint_model: bool = True
    column_generation: bool = True
    ruin_and_recreate: bool = True
    opening: bool = True
    ties: bool = True

    # The order of play.
    ties_limit_s: float = 1.0
    ties_share: float = 0.05
    bound_share: float = 0.25  # for the bound that prices the goals' caps
    warm_bound_share: float = 0.45  # the same where a limit is short and the duals of a like night are known
    opening_share: float = 0.1  # of the first bound's time, where all is done one after the other
    tighten_share: float = 0.4  # for the bound alone, where all is done one after the other
    # On nights of so few runs the constraint model mostly proves its best within a part of that time.
    few_runs: int = 400
    few_share: float = 0.15
    # The same model while loops are compiled: so short and with so few searches that it hardly holds the
    # compiler up. Its plan of the demo night is worth some 97 % of the best, the constructed one 86 %.
    beside_compiler_s: float = 3.0
    beside_compiler_workers: int = 2
    most_followed: int = 12  # columns of the bound, those of greatest share, that are made plans

    # Ruin and recreate, and its turns.
    ruin: RuinParameters = RuinParameters()
    # Shares of the profit, one drawn for each turn, that a trial may lose at first and still be accepted.
    thresholds: tuple[float, ...] = (0.003, 0.01, 0.02)
    multi_start: MultiStartParameters = MultiStartParameters()
    # Where the sky decides: seconds of a tick, the first for which profits of runs by the tick are so few.
    sky_steps_s: tuple[int, ...] = (10, 20, 40, 60)
    most_profits: float = 2e7  # 12 bytes each


DEFAULT = SearchParameters()
