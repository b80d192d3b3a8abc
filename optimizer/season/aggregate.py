"""The season as one linear programme of hours: what frames are worth in view of the season, roughly and soon.

Each night is cut into half hours, in which any goal takes some of the seconds that are open to it; arrivals,
focus runs and dithers are a flat loss of each frame. Its duals are good prices. Its mixtures are no plans: a
night's share of fifty goals is a crumb of each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from optimizer.problem import Problem
from optimizer.season.desk import Desk, Engine, NightRef, blocks_of
from optimizer.season.prepared import BIN_S
from optimizer.season.pricing import Prices
from optimizer.season.projects import Floats, Ints, Projects

METHOD = "highs-ipm"
MANY, MOST_APART = 45, 3  # nights that are all looked at; of more, every second or third
MOST_NIGHTS = 1500  # of several rigs, that one programme holds: a minute or two
STAY_S = 10800  # a visit lasts about so long: by it the time of an arrival is shared out


@dataclass(frozen=True, eq=False)
class NightHours:
    """What the programme knows of a night.

    `open_s` [tasks, bins] are seconds in which each goal may be shot, `share` [tasks, bins] what part of its
    full worth a second then counts, `frame_s` [tasks] the seconds of a frame with all that goes with it.
    """

    open_s: Floats
    share: Floats
    frame_s: Floats


@dataclass(frozen=True, eq=False)
class Aggregate:
    """Its most value in weighted seconds (no bound: the flat loss is a guess), and its prices."""

    value_s: float
    prices: Prices


def sampled(
    refs: Sequence[NightRef], odds: Sequence[Fraction]
) -> tuple[list[int], list[Fraction], list[int]]:
    """Which nights of a long season stand for all, the odds of those that each stands for, and when they are.

    Whole evenings are taken, with all rigs that have a night then; the last answer is the place of the
    evening of each night taken among all evenings. With every third evening of 90 the prices are as good as
    with all, in a fifth of the time; with every fifth those of filter sets may prove 2 % less.
    """
    evenings = sorted({ref.evening for ref in refs})
    every = min(MOST_APART, 1 + (len(evenings) - 1) // MANY)
    if len(refs) > len(evenings):
        every = max(every, -(-len(refs) // MOST_NIGHTS))
    place = {evening: number for number, evening in enumerate(evenings)}
    stand: dict[tuple[int, int], list[int]] = {}  # by when and which rig: the nights that one stands for
    for number, ref in enumerate(refs):
        stand.setdefault((place[ref.evening] // every, ref.rig), []).append(number)
    chosen = [stand[key][min(every // 2, len(stand[key]) - 1)] for key in sorted(stand)]
    weights = [sum((odds[number] for number in stand[key]), Fraction(0)) for key in sorted(stand)]
    return chosen, weights, [place[refs[number].evening] for number in chosen]


def prices_by_hours(
    desk: Desk,
    refs: Sequence[NightRef],
    odds: Sequence[Fraction],
    engine: Engine,
    discount_per_night: float = 0.0,
) -> Prices:
    """The programme's prices of a season of one group of rigs; later nights may count less (`aggregate`)."""
    projects = desk.group(refs).projects
    if not refs:
        return Prices(projects.progress.plain.copy(), np.zeros(len(projects.goals)))
    chosen, weights, places = sampled(refs, odds)
    own = [refs[number] for number in chosen]
    hours = [each for found in engine.run(hours_of, [(each,) for each in blocks_of(own)]) for each in found]
    counts = np.power(1.0 - discount_per_night, np.array(places), dtype=np.float64)
    numbers = [desk.numbers(ref) for ref in own]
    return aggregate(projects, hours, numbers, weights, counts).prices


def hours_of(desk: Desk, refs: Sequence[NightRef]) -> list[NightHours]:
    """A job: the hours of some nights."""
    nights = [desk.outline(ref) for ref in refs]
    return [
        NightHours(night.openings.open_s, night.openings.share, frames_take_s(night.problem))
        for night in nights
    ]


def frames_take_s(problem: Problem) -> Floats:
    """Seconds of a frame of each task with its part of dithers, focus runs and arrivals, [tasks].

    Without end where no frame fits between two focus runs.
    """
    rules, seconds = problem.rules, []
    arrival_s = rules.centre_s + rules.settle_s + rules.slew_extra_s + rules.focus_s
    for task in problem.tasks:
        lengths_s = problem.run_lengths.least_runs_s(task, max(1, STAY_S // task.frame_s))
        run_s = lengths_s[-1] + task.tail_s + task.change_s + arrival_s if len(lengths_s) else np.inf
        seconds.append(float(run_s) / max(1, len(lengths_s)))
    return np.array(seconds)


def aggregate(
    projects: Projects,
    hours: Sequence[NightHours],
    numbers: Sequence[Ints],
    odds: Sequence[Fraction],
    counts: Floats | None = None,
) -> Aggregate:
    """Solve the programme of some nights; `numbers` has for each night the goal of each of its tasks.

    What a night gathers counts its part of `counts` [nights], by default all. `odds` are how many nights like
    each are clear.
    """
    from scipy.optimize import linprog
    from scipy.sparse import coo_array

    counts = np.ones(len(hours)) if counts is None else counts
    goals, bins, most, frames, gathered = _hours_as_variables(projects, hours, numbers, odds, counts)
    progress, left = projects.progress, np.maximum(1, projects.left).astype(np.float64)
    if not len(goals):  # no frame on any night: at these prices the bound is 0
        return Aggregate(0.0, Prices(progress.plain + progress.at_first, np.zeros(len(projects.goals))))
    count, first_bin = len(projects.goals), int(bins.max(initial=-1)) + 1
    in_set = np.flatnonzero(progress.in_set)
    of_row = np.full(count, -1)
    of_row[in_set] = np.arange(len(in_set))
    wanted = np.where(progress.in_set, progress.wanted, 1.0)
    hours_, sets = len(goals), len(progress.least)
    # rows: caps, bins, progress of goals in sets; columns: hours, y of each set, what each goal lacks
    own = np.flatnonzero(progress.in_set[goals])
    rows = [goals, count + bins, count + first_bin + of_row[goals[own]]]
    columns = [np.arange(hours_), np.arange(hours_), own]
    values = [frames / left[goals], np.ones(hours_), -gathered[own] / wanted[goals[own]]]
    of_sets = count + first_bin + np.arange(len(in_set))
    rows += [of_sets, of_sets]
    columns += [hours_ + progress.of_set[in_set], hours_ + sets + np.arange(len(in_set))]
    values += [np.ones(len(in_set)), -np.ones(len(in_set))]
    bin_most = np.zeros(first_bin)
    np.maximum.at(bin_most, bins, most)
    rhs = np.concatenate([np.ones(count), bin_most, (progress.in_hand / wanted)[in_set]])
    gains = np.concatenate(
        [progress.plain[goals] * gathered, progress.whole, -(progress.most * progress.wanted)[in_set]]
    )
    lower = np.concatenate([np.zeros(hours_), progress.least, np.zeros(len(in_set))])
    upper = np.concatenate([most, np.ones(sets), np.full(len(in_set), np.inf)])
    shape = len(rhs), len(gains)
    matrix = coo_array(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape=shape
    ).tocsr()
    solved = linprog(
        -gains / BIN_S, A_ub=matrix, b_ub=rhs, bounds=np.stack([lower, upper], axis=1), method=METHOD
    )
    duals = -BIN_S * solved.ineqlin.marginals
    shares = progress.plain.copy()
    shares[in_set] += np.clip(duals[count + first_bin :] / wanted[in_set], 0.0, progress.most[in_set])
    value_s = -BIN_S * solved.fun - progress.before
    return Aggregate(value_s, Prices(shares, np.maximum(0.0, duals[:count] / left)))


def _hours_as_variables(
    projects: Projects,
    hours: Sequence[NightHours],
    numbers: Sequence[Ints],
    odds: Sequence[Fraction],
    counts: Floats,
) -> tuple[Ints, Ints, Floats, Floats, Floats]:
    """Goal and bin of all nights, most, frames and weighted seconds of each variable, odds-weighted.

    A variable is how much of a bin of a night a goal takes; `counts` [nights] is what part of it counts.
    """
    frame_s = np.array([float(goal.frame_s) for goal in projects.goals])
    parts, first = [], 0
    for each, own, chance, count in zip(hours, numbers, odds, counts, strict=True):
        task, place = np.nonzero((each.open_s > 0) & (each.share > 0) & (projects.left[own] > 0)[:, None])
        if chance == 0 or not len(task):
            continue
        frames = float(chance) * BIN_S / each.frame_s[task]
        gathered = count * frames * each.share[task, place] * frame_s[own[task]]
        most = each.open_s[task, place] / BIN_S
        parts.append((own[task], first + place, most, frames, gathered))
        first += each.open_s.shape[1]
    if not parts:
        return np.zeros(0, np.int64), np.zeros(0, np.int64), *np.zeros((3, 0))
    goals, bins, most, frames, gathered = (np.concatenate(each) for each in zip(*parts, strict=True))
    _, bins = np.unique(bins, return_inverse=True)
    return goals, bins, most, frames, gathered
