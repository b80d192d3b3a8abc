"""Nights of a rig whose real lengths are known: each number is found within a tenth, or said to be unknown."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator

import pytest

from optimizer.learn.acts import Learned, LearnedAct, learned
from optimizer.learn.changes import Change, changes_of
from tests.support.followed_nights import list_of
from tests.support.learned_nights import Rig, frames_of, real_rig
from tests.support.speeds import deep, sampled

NAMES = ("first-night", "long-winter-night", "flipping")
SEEDS = 22
NIGHTS = [(name, seed) for seed in range(SEEDS) for name in NAMES]
LEAST_S = 1.0  # a smaller difference changes no plan
given = pytest.mark.parametrize("with_list", [True, False], ids=["with the list", "by the rules"])


def learned_of(name: str, seed: int, rig: Rig | None, *, with_list: bool) -> tuple[Rig, Learned]:
    """What is learned of one night of a rig, or of four; None: a rig that is as planned."""
    rng = random.Random(f"learn {name} {seed}")
    real = real_rig(name, rng) if rig is None else rig
    frames = frames_of(name, real, rng, rng.choice((1, 1, 4)))
    shots = list_of(name)
    return real, learned(shots.request, frames, shots if with_list else None)


def rows_of(found: Learned) -> tuple[LearnedAct, ...]:
    return (*found.acts, *found.sums)


def wrong(name: str, rig: Rig, row: LearnedAct) -> Iterator[str]:
    """What is wrong in a row that is said to be known, in clauses."""
    assert row.planned_s is not None
    assert row.median_s is not None
    assert row.longer_s is not None
    least, most = (
        sum(each) for each in zip(*(rig.longer_s(name, act, row.filter) for act in row.acts), strict=True)
    )
    tenth = 0.1 * (row.planned_s + (least + most) / 2)
    what = f"{'+'.join(row.acts)} {row.filter or ''} of {row.count} gaps"
    if not least - tenth <= row.longer_s <= most + tenth:
        yield f"{what}: {row.longer_s:.2f} s longer than planned, not {least:.2f} to {most:.2f} s"
    if not least - tenth <= row.median_s - row.planned_s <= most + tenth:
        yield f"{what}: {row.median_s:.2f} s, planned {row.planned_s:.2f} s and {least:.2f} to {most:.2f} s longer"


def is_true(name: str, rig: Rig, change: Change, found: Learned) -> bool:
    """Whether the number that a request is to get is within a tenth of what the act really takes.

    If it stands for several acts together, what is planned for all of them is then within a tenth.
    """
    request = list_of(name).request
    if change.together:
        (row,) = (each for each in found.sums if each.acts == change.together)
        assert row.planned_s is not None
        least, most = (
            sum(each) for each in zip(*(rig.longer_s(name, act, None) for act in row.acts), strict=True)
        )
        tenth = 0.1 * (row.planned_s + (least + most) / 2) + 0.05
        return bool(least - tenth <= change.new - change.old <= most + tenth)
    centre_s = request.mount.centre_s
    truth = {
        "camera.overhead_s": (rig.lasts["expose"] - request.camera.download_s, rig.lasts["expose"]),
        "camera.dither_s": (rig.lasts["dither"],) * 2,
        "focus.run_s": (rig.lasts["focus"],) * 2,
        "filters.change_s": (rig.lasts.get(f"filter {change.filter}", 0.0),) * 2,
        # with what a slew takes beyond the planned motion of the axes; a tenth of slew, centring and settling
        "mount.centre_s": (centre_s + sum(rig.longer_s(name, "slew", None)) / 2, 2 * centre_s),
    }
    true_s, whole_s = truth[change.key]
    return abs(change.new - true_s) <= 0.1 * whole_s + 0.05  # a request has tenths


def test_every_second_file_missing_is_not_taken_for_a_long_overhead_by_a_list() -> None:
    """So many are missing that the frames are laid beside the wrong subs."""
    shots = list_of("first-night")
    rng = random.Random("halffirst-night100")
    frames = frames_of("first-night", real_rig("first-night", rng), rng, 1)
    frames.sort(key=lambda frame: str(frame.taken_utc))
    found = learned(shots.request, frames[::2], shots)
    between = found.of("between_subs")
    assert between is not None
    assert between.median_s is None or between.median_s < 20.0


@given
@pytest.mark.parametrize(("name", "seed"), sampled(NIGHTS, quick=6, several=True))
def test_each_number_is_found_within_a_tenth_or_said_to_be_unknown(
    name: str, seed: int, with_list: bool
) -> None:
    rig, found = learned_of(name, seed, None, with_list=with_list)
    known = [row for row in rows_of(found) if row.known]
    assert [clause for row in known for clause in wrong(name, rig, row)] == []
    assert all(row.unknown for row in rows_of(found) if row not in known)
    assert [
        each for each in changes_of(list_of(name).request, found) if not is_true(name, rig, each, found)
    ] == []


@deep
@given
def test_most_numbers_are_found_and_the_intervals_hold_them(with_list: bool) -> None:
    """Else "unknown" would be an easy answer."""
    rows: Counter[str] = Counter()
    known: Counter[str] = Counter()
    held = 0
    for name, seed in NIGHTS:
        rig, found = learned_of(name, seed, None, with_list=with_list)
        for row in rows_of(found):
            act = "+".join(row.acts)
            rows[act] += 1
            known[act] += row.known
            if row.known:
                held += _holds(name, rig, row)
    assert len(NIGHTS) >= 60
    least = {
        "between_subs": 0.95,
        "dither": 0.95,
        "focus": 0.4,
        "focus+filter": 0.4,
        "focus+filter+slew": 0.3,
    }
    assert {act: (known[act], rows[act]) for act in least if known[act] < least[act] * rows[act]} == {}
    assert held >= 0.9 * sum(known.values())


def _holds(name: str, rig: Rig, row: LearnedAct) -> bool:
    """Whether the interval of a row holds the truth, to what a header can tell of it."""
    assert row.longer_from_s is not None
    assert row.longer_to_s is not None
    least, most = (
        sum(each) for each in zip(*(rig.longer_s(name, act, row.filter) for act in row.acts), strict=True)
    )
    told_s = 0.1 if rig.whole_seconds or rig.jitter else 0.002  # as a request has it, or to the millisecond
    return bool(row.longer_from_s - told_s <= most and least <= row.longer_to_s + told_s)


@given
@pytest.mark.parametrize("whole_seconds", [True, False], ids=["whole seconds", "milliseconds"])
@pytest.mark.parametrize(("name", "seed"), sampled(NIGHTS, quick=6, several=True))
def test_night_that_went_as_planned_changes_nothing(
    name: str, seed: int, whole_seconds: bool, with_list: bool
) -> None:
    _, found = learned_of(name, seed, Rig(whole_seconds=whole_seconds), with_list=with_list)
    assert [(row.acts, row.filter, row.longer_s) for row in rows_of(found) if _changes(row)] == []
    assert changes_of(list_of(name).request, found) == ()
    assert found.pairs > 20


def _changes(row: LearnedAct) -> bool:
    """Whether a row advises a change: surely longer or shorter, and by a second or more."""
    if not row.known or row.longer_s is None or row.longer_from_s is None or row.longer_to_s is None:
        return False
    return abs(row.longer_s) >= LEAST_S and not row.longer_from_s <= 0 <= row.longer_to_s
