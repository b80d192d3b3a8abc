"""A list that runs late: what it still gives, as two executors of other code do, and how late it may be."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable, Iterator
from functools import cache

import pytest

from benchmarks import executor, late_by_slack
from benchmarks.interrupted_nights import NIGHTS, stored
from optimizer.models.shots import ShotList, Step
from optimizer.pace.late import LateRun, late_run, slack_by_step
from tests.support.executing import execute
from tests.support.late_judge import PLANS
from tests.support.modes.nights import plan_of
from tests.support.replan_nights import laid_list
from tests.support.speeds import sampled

RUNS = 16  # of each list
EXEMPT = ("wait", "park")
LISTS: tuple[tuple[str, str], ...] = (*(("stored", night) for night in NIGHTS), *PLANS)
SEEDS = sampled(range(40), quick=2)
Lasts = Callable[[Step], float]


@cache
def shots_of(mode: str, place: str) -> ShotList:
    return stored(place) if mode == "stored" else plan_of(mode, place)


@cache
def random_list(seed: int) -> ShotList:
    return late_by_slack.planned(seed)


by_list = pytest.mark.parametrize(("mode", "place"), LISTS, ids=lambda text: text.replace(" ", "-"))


class AsPlanned(random.Random):
    """Every step lasts longer by the same share."""

    def expovariate(self, lambd: float = 1.0) -> float:
        return 1.0


def asleep(shots: ShotList, late_s: float) -> tuple[Step, ...]:
    """The list behind a wait that puts it off."""
    begins = shots.steps[0].start_utc
    ends = begins + dt.timedelta(seconds=late_s)
    return Step(step=1, kind="wait", start_utc=begins, end_utc=ends, tracking=False), *shots.steps


def lateness(rng: random.Random) -> Iterator[tuple[int, float]]:
    """How late lists begin, and by which share of their length their steps last longer."""
    for _ in range(RUNS):
        late_s = rng.choice((0, 0, rng.randrange(1, 400), rng.randrange(400, 12000)))
        yield late_s, rng.choice((0.0, 0.015625, 0.0625, 0.25, 0.625))  # sums of them are exact


def as_executor_does(shots: ShotList, rng: random.Random) -> int:
    """Hold a list against the executor of the benchmarks; how many subs were lost in all runs."""
    lost, zero = 0, shots.steps[0].start_utc
    for late_s, share in lateness(rng):
        night = executor.run(asleep(shots, late_s), share, AsPlanned())
        found = late_run(shots.steps, zero + dt.timedelta(seconds=late_s), lasting_longer(share))
        opened = [
            ((each.start_utc - zero).total_seconds(), each.step.target, each.step.pier_side)
            for each in found.ran
            if each.step.kind == "expose"
        ]
        told = f"late by {late_s} s, {share} longer"
        assert opened == [(span.start, span.target, span.side) for span in night.opened], told
        moved = [(each.step.kind, each.start_utc, each.end_utc) for each in found.ran]
        assert [each for each in moved if each[0] in executor.LEAVES] == [
            (span.kind, *(zero + dt.timedelta(seconds=at) for at in (span.start, span.end)))
            for span in night.moved
        ], told
        subs = [step for step in shots.steps if step.kind == "expose"]
        assert len(found.lost) + len(opened) == len(subs), told
        leaves_in_time(shots, found)
        lost += len(found.lost)
    return lost


def lasting_longer(share: float) -> Lasts:
    return lambda step: step.seconds * (1.0 + share)


def leaves_in_time(shots: ShotList, found: LateRun) -> None:
    """No shutter opens too late, and nothing else tracks on when the mount must have left."""
    for each in found.ran:
        step, latest = each.step, each.step.latest_start_utc
        if step.kind == "expose":
            assert latest is not None
            assert each.start_utc <= latest
        elif step.tracking and step.kind not in executor.LEAVES:
            leaves = next(
                after
                for after in shots.steps[step.step :]
                if after.kind in executor.LEAVES or (after.kind == "wait" and not after.tracking)
            )
            assert leaves.latest_start_utc is None or each.end_utc <= leaves.latest_start_utc


@by_list
def test_late_list_gives_what_an_executor_gets_of_it(mode: str, place: str) -> None:
    assert as_executor_does(shots_of(mode, place), random.Random(f"{mode} {place}")) > 0


@pytest.mark.parametrize("seed", SEEDS)
def test_random_lists_give_what_an_executor_gets_of_them(seed: int) -> None:
    shots = random_list(seed)
    if shots.steps:
        as_executor_does(shots, random.Random(seed))


@by_list
def test_steps_that_each_last_another_time_end_as_a_plain_executor_has_them(mode: str, place: str) -> None:
    shots, rng = shots_of(mode, place), random.Random(f"{place} {mode}")
    for late_s, _ in lateness(rng):
        share = {step.step: rng.choice((1, 1, 1.125, 1.5, rng.expovariate(0.3))) for step in shots.steps}
        lasts = lasting(share)
        at = shots.steps[0].start_utc + dt.timedelta(seconds=late_s)
        truth, found = execute(shots.steps, at, lasts), late_run(shots.steps, at, lasts)
        assert [(each.step.step, each.start_utc, each.end_utc) for each in found.ran] == [
            (each.step.step, each.start_utc, each.end_utc) for each in truth.done
        ]


def lasting(share: dict[int, float]) -> Lasts:
    return lambda step: step.seconds * share[step.step]


@by_list
def test_list_on_time_loses_nothing(mode: str, place: str) -> None:
    shots = shots_of(mode, place)
    found = late_run(shots.steps, shots.steps[0].start_utc)
    assert found.lost == ()
    assert [(each.step, each.start_utc, each.end_utc) for each in found.ran] == [
        (step, step.start_utc, step.end_utc) for step in shots.steps
    ]


def test_flip_waits_for_a_download_no_longer_than_the_row_of_its_sub() -> None:
    """A camera that reads out for minutes while the mount stands leaves the flip too late."""
    shots = stored("first-night")
    flip = next(step for step in shots.steps if step.kind == "flip")
    assert flip.latest_start_utc is not None
    sub = shots.steps[flip.step - 2]
    assert (sub.kind, sub.seconds, sub.exposure_s) == ("expose", 303, 300.0)
    assert sub.latest_start_utc is not None
    closes = sub.latest_start_utc + dt.timedelta(seconds=300)
    for read_out_s, flips in ((3.0, True), (303.0, True), (303.5, False)):
        length_s = 300.0 + read_out_s
        found = late_run(shots.steps[sub.step - 1 :], sub.latest_start_utc, reading_out(sub, length_s))
        ran = {each.step.step: each for each in found.ran}
        assert ran[sub.step].end_utc == closes + dt.timedelta(seconds=read_out_s)
        assert (flip.step in ran) == flips, read_out_s


def reading_out(sub: Step, length_s: float) -> Lasts:
    return lambda step: length_s if step == sub else float(step.seconds)


def test_no_steps_give_nothing() -> None:
    assert late_run((), dt.datetime(2026, 10, 10, tzinfo=dt.UTC)) == LateRun((), ())
    assert slack_by_step((), by_mount=False) == ()


# --- how late it may be -------------------------------------------------------------------------------------


def is_harmed(shots: ShotList, place: int, late_s: int) -> bool:
    """Whether a list that is so late as a step begins loses a sub or a step, or begins one too late."""
    rest = shots.steps[place:]
    by_mount = shots.request.mount.flip_by == "mount"
    exempt = (*EXEMPT, "flip") if by_mount else EXEMPT
    found = late_run(rest, rest[0].start_utc + dt.timedelta(seconds=late_s), by_mount=by_mount)
    ran = {each.step.step for each in found.ran}
    left_out = any(step.step not in ran for step in rest if step.kind not in EXEMPT)
    return left_out or any(
        each.step.latest_start_utc is not None
        and each.start_utc > each.step.latest_start_utc
        and each.step.kind not in exempt
        for each in found.ran
    )


def slack_is_exact(shots: ShotList, many: int) -> None:
    """Hold slack against lists that are so late, and a second later, from some of their steps on."""
    by_mount = shots.request.mount.flip_by == "mount"
    slack = slack_by_step(shots.steps, by_mount=by_mount)
    assert len(slack) == len(shots.steps)
    places = range(len(slack))
    rng = random.Random(len(slack))
    for place in places if len(slack) <= many else sorted(rng.sample(places, many)):
        step = shots.steps[place]
        slack_s = slack[place]
        if slack_s is None:
            assert not is_harmed(shots, place, 36000), step
            continue
        assert not is_harmed(shots, place, slack_s), step
        assert is_harmed(shots, place, slack_s + 1), step


@by_list
def test_list_may_be_as_late_as_its_slack_and_no_second_later(mode: str, place: str) -> None:
    slack_is_exact(shots_of(mode, place), 25)


@pytest.mark.parametrize("seed", SEEDS)
def test_random_lists_may_be_as_late_as_their_slack(seed: int) -> None:
    slack_is_exact(random_list(seed), 25)


@by_list
def test_least_slack_of_a_list_without_waits_is_that_of_its_first_step(mode: str, place: str) -> None:
    shots = shots_of(mode, place)
    slack = slack_by_step(shots.steps, by_mount=shots.request.mount.flip_by == "mount")
    known = [each for each in slack if each is not None]
    assert min(known) == shots.totals.least_slack_s
    if not any(step.kind == "wait" for step in shots.steps):
        assert slack[0] == shots.totals.least_slack_s


def test_waits_take_up_what_is_late() -> None:
    shots = laid_list()
    latest = {13: 100, 17: 40}  # the sub before a wait of 133 s, and the sub after it
    steps = [
        step.model_copy(update={"latest_start_utc": step.start_utc + dt.timedelta(seconds=latest[step.step])})
        if step.step in latest
        else step
        for step in shots.steps
    ]
    slack = slack_by_step(steps, by_mount=False)
    assert slack[:18] == (*[100] * 13, 173, 40, 40, 40, None)
    assert slack_by_step(steps[13:], by_mount=False)[0] == 40 + steps[13].seconds


def test_flip_that_the_mount_makes_by_itself_is_never_late() -> None:
    flip = laid_list().steps[17]
    assert flip.kind == "flip"
    told = [flip.model_copy(update={"latest_start_utc": flip.start_utc})]
    assert slack_by_step(told, by_mount=True) == (None,)
    assert slack_by_step(told, by_mount=False) == (0,)


def test_flip_that_the_mount_makes_by_itself_loses_nothing_however_late_the_list_comes_to_it() -> None:
    shots = plan_of("mount", "through the zenith")
    place = next(index for index, step in enumerate(shots.steps) if step.kind == "flip") - 1
    rest, slack_s = shots.steps[place:], slack_by_step(shots.steps, by_mount=True)[place]
    assert slack_s is not None
    assert slack_s > rest[0].seconds  # the wait before the flip takes up less
    for late_s in (*range(0, 700, 7), slack_s, slack_s + 1):
        at = rest[0].start_utc + dt.timedelta(seconds=late_s)
        gave, went = late_run(rest, at, by_mount=True), execute(rest, at, by_mount=True)
        assert [(each.step, each.start_utc) for each in gave.ran] == [
            (each.step, each.start_utc) for each in went.done
        ]
        assert bool(gave.lost) == (late_s > slack_s)
    after = rest[0].start_utc + dt.timedelta(seconds=slack_s)
    assert len(late_run(rest, after).lost) > 20  # a flip of the plan's would come too late
