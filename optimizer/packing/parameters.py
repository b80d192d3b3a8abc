"""Every number by which the search is tuned, with what it was measured on, and the switches of its parts."""

from __future__ import annotations

from dataclasses import dataclass


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
    insertion: bool = True
    reorder: bool = True
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
    most_followed: int = 12  # columns of the bound, those of greatest share, that are made plans

    # The portfolio: how often runs are put in by the second, or a sequence is reordered on a grid. Where the
    # sky decides, runs as soon as may be are seldom better.
    insertion_share: float = 0.5
    insertion_share_by_depth: float = 0.2
    insertion_tries: tuple[int, ...] = (1000, 3000, 10_000)
    insertion_tries_by_depth: tuple[int, ...] = (300, 1000, 3000)
    reorder_tries: int = 30
    # Coarse grids allow many tries, fine ones are true where runs are short: each has the same share of time.
    reorder_steps_s: tuple[int, ...] = (40, 20, 10)
    most_profits: float = 2e7  # of runs by the tick, 12 bytes each, that a grid of a search may hold
    coarse_step_s: int = 60  # of the grid for nights that would need more


DEFAULT = SearchParameters()
