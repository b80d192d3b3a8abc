"""The loop over sampled seasons that mixes a coarse night of its paths, compiled.

It works in floating weighted seconds, by the law of `GatheredLaw`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimizer.packing.compiled import Floats, Ints, compiled, inner

LEVEL = 1e-6  # shares of goals that differ by less stand level
LEAST = 1e-9


class PathArrays(NamedTuple):
    """Paths of a night, one after the other: where each begins, and its goals with frames and seconds."""

    starts: Ints  # [paths + 1]
    goals: Ints
    frames: Floats
    gathered_s: Floats
    met: Ints  # the goals that any path has
    sets: Ints  # the sets of these


class LawArrays(NamedTuple):
    """The filter sets of a season; none where nothing is balanced."""

    of_goal: Ints  # the number of each goal's set, -1: in none
    starts: Ints  # [sets + 1], where the members of each begin
    members: Ints  # goals, set by set
    wanted_s: Floats  # [goals]
    balance: float
    half: float  # the part of a set that counts


@inner
def _slopes(law: LawArrays, paths: PathArrays, factors: Floats, share: Floats, slope: Floats) -> None:
    """What one more second of each goal is worth, beside its factor."""
    for goal in paths.met:
        slope[goal] = 1.0
    for number in paths.sets:
        members = law.members[law.starts[number] : law.starts[number + 1]]
        whole = 0.0
        for goal in members:
            whole += law.wanted_s[goal] * factors[goal]
        for goal in members:
            slower, level = 0.0, 0.0
            for other in members:
                wanted = law.wanted_s[other] * factors[other]
                if share[other] < share[goal] - LEVEL:
                    slower += wanted
                elif share[other] <= share[goal] + LEVEL:
                    level += wanted
            part = min(1.0, max(0.0, (law.half * whole - slower) / max(level, LEAST)))
            slope[goal] = (1.0 - law.balance) + law.balance * part / law.half


@inner
def _worth(law: LawArrays, paths: PathArrays, factors: Floats, reached: Floats, order: Ints) -> float:
    """What the goals that the night's paths have are worth, and the sets that these are of."""
    total = 0.0
    for goal in paths.met:
        part = 1.0 if law.of_goal[goal] < 0 else 1.0 - law.balance
        total += part * factors[goal] * reached[goal]
    for number in paths.sets:
        first, end = law.starts[number], law.starts[number + 1]
        whole = 0.0
        for place in range(first, end):
            goal, other = law.members[place], place
            share = reached[goal] / law.wanted_s[goal]
            whole += law.wanted_s[goal] * factors[goal]
            while other > first and reached[order[other - 1]] / law.wanted_s[order[other - 1]] > share:
                order[other] = order[other - 1]
                other -= 1
            order[other] = goal
        left = law.half * whole
        for place in range(first, end):
            goal = order[place]
            part = min(left, law.wanted_s[goal] * factors[goal])
            total += law.balance / law.half * part * min(1.0, reached[goal] / law.wanted_s[goal])
            left -= part
            if left <= 0.0:
                break
    return total


@compiled
def mix_paths(
    law: LawArrays,
    paths: PathArrays,
    factors: Floats,
    reached_s: Floats,
    left: Floats,
    rounds: int,
    steps: Floats,
    out_frames: Floats,
    out_s: Floats,
    out_slope: Floats,
) -> None:
    """Mix the paths of a night for some seasons, all arrays [seasons, goals]; see `coarse.mixed`."""
    goals, count = reached_s.shape[1], len(paths.starts) - 1
    frames, gathered, now, share = np.zeros(goals), np.zeros(goals), np.zeros(goals), np.zeros(goals)
    slope, way_frames, way_s = np.zeros(goals), np.zeros(goals), np.zeros(goals)
    order = law.members.copy()
    for season in range(len(reached_s)):
        own, room, start = factors[season], left[season], reached_s[season]
        frames[:] = 0.0
        gathered[:] = 0.0
        now[:] = start
        best = _worth(law, paths, own, now, order)
        for number in range(rounds):
            for goal in range(goals):
                share[goal] = min(1.0, now[goal] / law.wanted_s[goal])
            _slopes(law, paths, own, share, slope)
            for goal in paths.met:
                slope[goal] = slope[goal] * own[goal] if frames[goal] < room[goal] else 0.0
            chosen, most = 0, -1.0
            for path in range(count):
                score = 0.0
                for place in range(paths.starts[path], paths.starts[path + 1]):
                    score += slope[paths.goals[place]] * paths.gathered_s[place]
                if score > most:
                    chosen, most = path, score
            for goal in paths.met:
                way_frames[goal], way_s[goal] = -frames[goal], -gathered[goal]
            for place in range(paths.starts[chosen], paths.starts[chosen + 1]):
                way_frames[paths.goals[place]] += paths.frames[place]
                way_s[paths.goals[place]] += paths.gathered_s[place]
            before = _worth(law, paths, own, now, order)
            step, value = 0.0, before
            for tried in steps:
                for goal in paths.met:
                    taken = frames[goal] + tried * way_frames[goal]
                    kept = min(1.0, room[goal] / max(taken, LEAST))
                    now[goal] = start[goal] + kept * (gathered[goal] + tried * way_s[goal])
                worth = _worth(law, paths, own, now, order)
                if worth > value:
                    step, value = tried, worth
            if step == 0.0:
                step = 1.0 / (number + 2)
            for goal in paths.met:
                frames[goal] += step * way_frames[goal]
                gathered[goal] += step * way_s[goal]
                kept = min(1.0, room[goal] / max(frames[goal], LEAST))
                now[goal] = start[goal] + kept * gathered[goal]
            if value > best:
                best = value
                for goal in paths.met:
                    kept = min(1.0, room[goal] / max(frames[goal], LEAST))
                    out_frames[season, goal] = kept * frames[goal]
                    out_s[season, goal] = kept * gathered[goal]
        for goal in paths.met:
            out_slope[season, goal] = slope[goal]
