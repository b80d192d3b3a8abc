"""Every number by which the search is tuned, with what it was measured on, and the switches of its parts."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple


class RuinTuning(NamedTuple):
    """How runs are taken out of a plan and put in again; a tuple, since compiled loops read it.

    Not measured anew since the search was rebuilt.
    """

    one_string: float = 0.6  # share of the tries that take out one string of runs
    two_strings: float = 0.85  # the same of those that take out one or two; the others take three
    longest_string: int = 10  # runs
    whole_visits: float = 0.5  # share of the strings that are widened to whole visits
    blink_rate: float = 0.3  # by how much of its gain a run may seem worse
    time_price: float = 1.5  # most that a second may cost, as a share of what the night brings on average
    # Share of the tries whose first run has a drawn part of the frames that fit. On 53 small nights by depth
    # plans fell short of the best by 0.44 % in the mean with it, by 0.50 % without.
    begins_short: float = 0.2
    # With filter sets, shares of the tries in which runs are no longer than a frame is worth as much as the
    # first of them, and in which frames beyond the slowest half of their set are taken out as well.
    to_level: float = 0.5
    trims: float = 0.5
    # The most steps in which such runs make a goal whole: frame by frame two goals would take turns for long.
    level_steps: int = 8


@dataclass(frozen=True)
class RuinAndRecreateParameters:
    """How one search by ruin and recreate goes on.

    Work is in the unit of a budget. It was measured on nights of 1 to 366 nodes with plans of 1 to 94 runs: a
    try takes 1.5 to 1300 microseconds, within a factor of two of what these numbers say.
    """

    tuning: RuinTuning = field(default_factory=RuinTuning)
    # Shares of the profit, one drawn for each search, that a trial may lose at first and still be accepted.
    # Not measured anew since the search was rebuilt.
    thresholds: tuple[float, ...] = (0.003, 0.01, 0.02)
    more_runs: int = 150  # that there is room for beside those of the start
    work_of_try: float = 1000.0  # whatever the night, and
    work_of_run: float = 25.0  # for each node of the graph and each run of the plan
    work_of_plan: float = 1e7  # of following a draft
    # Where the sky decides: seconds of a tick, and the most profits of runs by the tick, 8 bytes each, with
    # which a grid of them is taken; the last one in any case.
    sky_steps_s: tuple[tuple[int, float], ...] = ((1, 5e5), (10, 2e7), (20, 2e7), (40, 2e7), (60, 2e7))


@dataclass(frozen=True)
class MultiStartParameters:
    """How the turns of a search follow each other: each begins at one of the best plans so far.

    Not measured anew since the search was rebuilt.
    """

    tries: tuple[int, ...] = (1000, 3000, 10_000)  # of a turn, one of them drawn
    tries_by_depth: tuple[int, ...] = (300, 1000, 3000)
    longest_turn: float = 0.1  # share of the time that is left
    most_plans: int = 4  # the best of different profit, at which turns begin
    most_in_vain: int = 200  # turns on end that bring nothing better
    most_threads: int = 2


@dataclass(frozen=True)
class BoundParameters:
    """How a night is bounded. All shares are of the budget of a search for a bound.

    The numbers were found on the 24 invented nights of `benchmarks/nights.py` by hours and by depth (8
    targets with 4 filters, 10 s each), unless a line says otherwise. They are a compromise between a bound
    that is there soon and one that is low in the end.
    """

    # The cuts of the restricted master beside the goals' caps, by their names in `cut_list`. Without one, a
    # night's gap by hours grows by up to 2.5 points (focus_age), 0.5 (stretches) or 0.4 (segments), and the
    # bound of 40 targets with 5 filters (60 s) by 0.6 % (elapsed).
    cuts: tuple[str, ...] = ("elapsed", "focus_age", "segments", "stretches")
    # Goals of a slot that a visit on a path cannot run twice. Each more doubles the work of a labelling.
    most_remembered: int = 5

    # Grids, the finest first; which is taken depends on how many labellings there should be time for.
    coarse_steps_s: tuple[int, ...] = (10, 20, 40, 60)  # finer ones are slower to come near the bound
    fine_steps_s: tuple[int, ...] = (1, 2, 5, 10, 20, 40, 60)
    tight_steps_s: tuple[int, ...] = (1, 2, 5, 10)  # coarser ones say hardly more than is known by then
    most_cells: float = 2e7  # of the tables of a labelling, 8 bytes each
    most_tight_cells: float = 4e7
    quick_share: float = 0.02  # for a labelling without duals
    coarse_share: float = 0.7  # for good duals; the rest makes a bound of them on a finer grid
    usual_rounds: int = 400  # labellings on the coarse grid that there should be time for
    most_rounds: int = 250  # and that are made there
    fine_rounds: int = 4  # on the finer grid
    warm_rounds: int = 2  # the same where the duals of a night much like this one are known
    # For the bound beside the search: labellings that there should be time for on each finer grid, and by
    # when of the budget the work on it ends.
    tight_stages: tuple[tuple[int, float], ...] = ((120, 0.5), (40, 0.8), (8, 1.0))

    # Column generation.
    columns_at_once: int = 4  # from each labelling: duals settle in half as many rounds as with one
    smoothing: float = 0.8  # share of the best duals so far in the next ones
    work_of_master: float = 2.5e6  # of one solution of the master, in units of work of a labelling
    # The duals are near enough to the best where the bound is so near to the master's value: a share of it,
    # and of the gap asked for.
    close: float = 1e-5
    close_at_first: float = 3e-4  # on a coarse grid, whose rounding costs more
    close_of_gap: float = 0.1
    most_idle: int = 5  # labellings on end that bring no new column

    # The subgradient, found on nights of 40 targets with 5 filters. With fewer goals than this whose caps may
    # bind, the master alone comes near the bound sooner.
    many_tasks: int = 64
    least_incumbent: float = 0.1  # of what sums say, for what a second of the night may bring
    turn: float = 1.5  # how much of what is at odds with the step before is taken out
    steps_in_vain: int = 10  # labellings on end that lower nothing, after which steps are shorter
    shorter: float = 0.66
    # The master is solved so often. It takes over where its value is so near to the bound, or since it was
    # solved two times ago the bound fell by less than a share of what lies between the two.
    steps_between_masters: int = 10
    near_master: float = 0.01
    least_fall: float = 0.03


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
    opening: bool = True  # ruin and recreate beside the first bound
    ruin_and_recreate: bool = True  # the same after it
    ties: bool = True

    bound: BoundParameters = BoundParameters()

    # The order of play.
    # The choice among equal plans, in seconds and as a share of the limit. Not measured anew since the search
    # was rebuilt.
    ties_limit_s: float = 1.0
    ties_share: float = 0.05
    bound_share: float = 0.25  # for the first bound
    warm_bound_share: float = 0.45  # the same where a limit is short and the duals of a like night are known
    opening_share: float = 0.1  # of the first bound's time, where all is done one after the other
    tighten_share: float = 0.4  # for the bound alone, where all is done one after the other
    # Where the search finds nothing better any more, the bound beside it goes on as long as, within this
    # share of the time so far, it falls by so much of what lies between the two.
    patience_share: float = 0.2
    least_fall: float = 0.1
    least_share: float = 0.5  # of the limit, for the search, however long it took to make the night ready
    # To build a constraint model, for each pair of slots: twice what was measured, for other work may share
    # the cores.
    building_s: float = 2e-4
    # On nights of so few run options (as the graph counts them: one for each length of a run that fits into a
    # window) the constraint model mostly proves its best within a part of that time.
    few_runs: int = 400
    few_share: float = 0.15
    # The same model while loops are compiled: so short and with so few searches that it hardly holds the
    # compiler up. Its plan of the demo night is worth some 97 % of the best, the constructed one 86 %.
    beside_compiler_s: float = 3.0
    beside_compiler_workers: int = 2
    # Columns of the bound, those of greatest share, that are made plans. Not measured anew since the search
    # was rebuilt.
    most_followed: int = 12

    ruin: RuinAndRecreateParameters = RuinAndRecreateParameters()
    turns: MultiStartParameters = MultiStartParameters()
    opening_turns: MultiStartParameters = MultiStartParameters(tries=(1000,))


DEFAULT = SearchParameters()
