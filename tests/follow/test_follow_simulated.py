"""The fake clock that runs nights: held against the list, the law of a late list, and the reader of folders."""

from __future__ import annotations

import ast
import datetime as dt
import inspect
import random
from itertools import pairwise
from pathlib import Path
from types import ModuleType

import pytest

from benchmarks import executor
from optimizer.models.shots import ShotList, Step
from optimizer.tally.folder import read_file, read_folder
from optimizer.tally.frames import Damaged, Frame
from tests.support import executing, night_files, run_night
from tests.support.executing import Cloud, execute
from tests.support.followed_nights import LISTS, list_of
from tests.support.night_files import Camera
from tests.support.replan_nights import at, laid_list
from tests.support.run_night import Happened
from tests.support.speeds import sampled

by_list = pytest.mark.parametrize("name", LISTS)
SECOND = dt.timedelta(seconds=1)


def run(shots: ShotList, seed: int = 1, **keys: object) -> Happened:
    return run_night.run_night(shots, random.Random(seed), **keys)  # type: ignore[arg-type]


def subs_of(shots: ShotList) -> list[Step]:
    return [step for step in shots.steps if step.kind == "expose"]


def found_in(folder: Path, now: dt.datetime) -> tuple[list[Frame], list[Damaged]]:
    found = list(read_folder(folder, clock=now.timestamp))
    return [each for each in found if isinstance(each, Frame)], [
        each for each in found if isinstance(each, Damaged)
    ]


@pytest.mark.parametrize("module", [executing, night_files, run_night], ids=lambda module: module.__name__)
def test_what_runs_a_night_is_an_independent_judge(module: ModuleType) -> None:
    rooms = [
        node.module or ""
        for node in ast.walk(ast.parse(inspect.getsource(module)))
        if isinstance(node, ast.ImportFrom)
    ]
    assert rooms
    assert not [
        room for room in rooms if room.startswith(("optimizer.pace", "optimizer.follow", "optimizer.learn"))
    ]


@by_list
def test_night_without_overheads_runs_exactly_as_the_list(name: str) -> None:
    shots = list_of(name)
    happened = run(shots)
    assert [(each.step, each.start_utc, each.end_utc) for each in happened.done] == [
        (step, step.start_utc, step.end_utc) for step in shots.steps
    ]
    assert (happened.executed.broken, happened.executed.skipped, happened.spoilt) == ((), (), frozenset())
    assert set(happened.lateness.values()) == {0.0}
    for step in shots.steps[::7]:
        under_way = happened.under_way(step.start_utc)
        assert under_way is not None
        assert under_way.step == (step if step.seconds else shots.steps[step.step])
    taken = [frame.taken_utc for frame in happened.frames()]
    assert taken == [step.start_utc for step in subs_of(shots)]


@pytest.mark.parametrize(
    ("name", "delay_s"),
    sampled([(name, delay_s) for delay_s in (1500, 97, 9000) for name in LISTS], quick=10, several=True),
)
def test_one_step_delayed_goes_as_another_executor_has_it(name: str, delay_s: int) -> None:
    """The benchmarks' executor has the same law and other code."""
    shots = list_of(name)
    zero = shots.steps[0].start_utc
    lost = 0
    for step in shots.steps[:: 1 if len(shots.steps) < 130 else 3]:
        if not step.seconds:
            continue
        night = executor.run(shots.steps, 1.0, OneDelay(step.step - 1, step.seconds, delay_s))
        went = execute(shots.steps, zero, lambda each, late=step: each.seconds + delay_s * (each is late))  # type: ignore[misc]
        opened = [round((each.start_utc - zero).total_seconds(), 3) for each in went.subs]
        assert opened == [round(span.start, 3) for span in night.opened], step.step
        moved = [
            round((each.start_utc - zero).total_seconds(), 3)
            for each in went.done
            if each.step.kind in executor.LEAVES
        ]
        assert moved == [round(span.start, 3) for span in night.moved], step.step
        lost += len(shots.steps) - len(went.done)
    assert lost or delay_s == 97  # else nothing was tried


class OneDelay(random.Random):
    """Nothing overruns but one step, and that by `delay_s`."""

    def __init__(self, place: int, length_s: float, delay_s: float) -> None:
        super().__init__(0)
        self.calls, self.place, self.more = 0, place, delay_s / length_s

    def expovariate(self, lambd: float = 1.0) -> float:
        self.calls += 1
        return self.more if self.calls == self.place + 1 else 0.0


def test_real_lengths_move_what_follows_and_waits_take_up_what_is_late() -> None:
    shots = laid_list()
    happened = run(shots, more={"focus": 20.0, "expose": 2.0, "filter Ha": 5.0})
    # focus 20, three subs 6; a sub 2, focus 20, a sub 2: 50 s, which the wait of 133 s takes up
    assert [happened.lateness[step.step] for step in subs_of(shots)] == [20, 22, 24, 26, 48, 25, 27, 20]
    assert [each.step.kind for each in happened.done if each.step.step == 14] == ["wait"]
    fixed = run(shots, lasts={"expose": 3.0, "focus": 150.0, "filter": 8.0})
    assert fixed.lateness == run(shots).lateness
    as_told = run(shots, lasts=lambda step: step.seconds + (7.0 if step.kind == "dither" else 0.0))
    assert [as_told.lateness[number] for number in (8, 10, 13)] == [0, 7, 14]


def test_jitter_keeps_the_median_and_the_same_seed_gives_the_same_night() -> None:
    shots = list_of("first-night")
    nights = [run(shots, seed, jitter=0.1, more={"expose": 5.0}).done for seed in range(6)]
    spans = [
        (after.start_utc - before.closes_utc).total_seconds()
        for done in nights
        for before, after in pairwise(done)
        if before.step.kind == after.step.kind == "expose"
    ]
    assert len(spans) > 500
    assert sorted(spans)[len(spans) // 2] == pytest.approx(8.0, abs=0.1)
    assert 0.5 < max(spans) - 8.0 <= 1.6 + 1e-6
    assert run(shots, 3, jitter=0.1).done == run(shots, 3, jitter=0.1).done
    assert run(shots, 3, jitter=0.1).done != run(shots, 4, jitter=0.1).done


def test_sub_whose_latest_start_has_passed_is_skipped_and_the_flip_leaves_in_time() -> None:
    shots = list_of("standstill")
    flip = next(step for step in shots.steps if step.kind == "flip")
    before = [step for step in subs_of(shots) if step.step < flip.step]
    happened = run(shots, stalls={before[-3].step: 700.0})
    assert happened.skipped_subs == (before[-2].step, before[-1].step)
    (went,) = [each for each in happened.done if each.step.kind == "flip"]
    assert flip.latest_start_utc is not None
    assert went.start_utc <= flip.latest_start_utc
    rest = happened.rest(before[-2].start_utc)
    assert [step.step for step in rest.skipped if step.kind == "expose"] == list(happened.skipped_subs)
    assert rest.done[0].step.step > before[-1].step


def test_clouds_spoil_pass_or_pause() -> None:
    shots = laid_list()
    span = (at("20:47"), at("20:51"))
    spoilt = run(shots, clouds=(Cloud(*span),))
    assert spoilt.spoilt == {7, 8, 10}
    assert spoilt.skipped_subs == ()
    passed = run(shots, clouds=(Cloud(*span, "passed"),))
    assert [step.step for step in passed.executed.passed] == [8, 10]
    assert passed.skipped_subs == (8, 10)
    assert set(passed.lateness.values()) == {0.0}
    paused = run(shots, clouds=(Cloud(*span, "paused"),))
    assert paused.lateness[8] == (span[1] - at("20:48:44")).total_seconds()
    assert paused.skipped_subs == ()


def test_calibration_and_late_begin_delay_the_list() -> None:
    shots = laid_list()
    happened = run(shots, darks={7: 60.0}, begins_late_s=11.0)
    assert [happened.lateness[number] for number in (6, 7, 8)] == [11, 11, 74]
    (dark,) = [file for file in happened.files if file.kind == "dark"]
    assert dark.whole_utc <= next(each for each in happened.done if each.step.step == 7).end_utc


@pytest.mark.parametrize("whole_seconds", [True, False])
def test_reader_of_the_folder_finds_what_was_written(tmp_path: Path, whole_seconds: bool) -> None:
    shots = list_of("small")
    subs = [step.step for step in subs_of(shots)]
    happened = run(
        shots,
        jitter=0.05,
        more={"expose": 1.3},
        darks={subs[9]: 30.0},
        lost=subs[3:5],
        damaged={subs[6]: "cut_short", subs[7]: "broken_header", subs[8]: "not_fits"},
        copies=subs[11:13],
        appears_late={subs[14]: 400.0},
        camera=Camera(clock_off_s=-7.5, whole_seconds=whole_seconds, written_over_s=6.0),
    )
    ends = happened.done[-1].end_utc
    for now in (happened.executed.subs[0].start_utc, happened.executed.subs[20].end_utc + 2 * SECOND, ends):
        happened.write_until(tmp_path, now)
        frames, damaged = found_in(tmp_path, now)
        assert frames == happened.frames(now, tmp_path)
        growing = [file for file in happened.files if file.appears_utc <= now < file.whole_utc]
        bad = [file for file in happened.files if file.damage and file.whole_utc <= now]
        assert len(damaged) == len(growing) + len(bad)
        assert {each.path.name for each in damaged} == {Path(file.name).name for file in (*growing, *bad)}
    # 82 subs less two lost and three damaged, two copies, a dark
    assert len(frames) == len(subs) - len(happened.skipped_subs) - 5 + 2 + 1
    assert [each.fault for each in damaged] == ["cut_short", "broken_header", "not_fits"]
    light = next(frame for frame in frames if frame.name == f"light-{subs[0]:04d}.fits")
    opened = happened.executed.subs[0].start_utc - dt.timedelta(seconds=7.5)
    assert light.taken_utc is not None
    assert dt.timedelta(0) <= opened - light.taken_utc < (SECOND if whole_seconds else SECOND / 1000)


def test_file_grows_and_is_counted_once_it_is_whole(tmp_path: Path) -> None:
    shots = laid_list()
    happened = run(shots, camera=Camera(written_over_s=8.0))
    file = happened.files[0]
    assert file.appears_utc == shots.steps[5].end_utc  # the shutter closed 3 s before
    sizes, faults = [], []
    for second in range(-1, 10):
        now = file.appears_utc + second * SECOND
        happened.write_until(tmp_path, now)
        path = tmp_path / file.name
        sizes.append(path.stat().st_size if path.exists() else None)
        found = read_file(path, clock=now.timestamp)
        faults.append(found.fault if isinstance(found, Damaged) else "")
        if path.exists():
            assert (
                dt.timedelta(0) <= now - dt.datetime.fromtimestamp(path.stat().st_mtime, dt.UTC) <= 2 * SECOND
            )
    assert sizes == [None, 0, 720, 1440, 2160, 2880, 3600, 4320, 5040, 5760, 5760]
    assert faults == ["unreadable", *["being_written"] * 8, "", ""]
    assert happened.whole(file.whole_utc) == {6}
    assert happened.whole(file.whole_utc - SECOND) == set()


def test_truth_at_an_instant() -> None:
    happened = run(laid_list(), more={"expose": 4.0}, lost=(7,))
    now = at("20:49:30")  # sub 8 began at 20:48:52
    under_way = happened.under_way(now)
    assert under_way is not None
    assert (under_way.step.step, under_way.start_utc) == (8, at("20:48:52"))
    assert happened.late_s(now) == 8.0
    assert happened.whole(now) == {6}
    newest = happened.newest_whole(now)
    assert newest is not None
    assert newest.step.step == 6
    assert [each.step.step for each in happened.over(now)] == list(range(1, 8))
    assert happened.rest(now).done[0].step.step == 9
    assert happened.late_s(at("20:40")) is None


def test_rest_of_a_list_is_gone_through_from_a_step_on() -> None:
    shots = laid_list()
    rest = execute(shots.steps[6:], at("20:46:51"))
    assert [(each.step.step, (each.start_utc - each.step.start_utc).total_seconds()) for each in rest.subs][
        :5
    ] == [
        (7, 10),
        (8, 10),
        (10, 10),
        (13, 10),
        (17, 0),
    ]
