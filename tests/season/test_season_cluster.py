"""A cluster of Dask gives the answers of one machine; workers are checked, may join, go and fail, and it is told."""

from __future__ import annotations

import contextlib
import socket
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from distributed import Status
from distributed.versions import get_versions

from benchmarks.season_kills import bytes_of
from benchmarks.season_scale import rigs_of
from optimizer import ctrl_c, season
from optimizer.errors import ClusterError, WorkerLostError
from optimizer.season.desk import Desk, Inline, NightRef, blocks_of
from optimizer.season.engines import cluster as seats
from optimizer.season.engines import cluster_check, cluster_crew, cluster_worker
from optimizer.season.engines.engine import engine_of
from optimizer.season.engines.kinds import is_engine
from tests.season import season_jobs as jobs
from tests.season.test_season_desk import desk_of, refs_of, request_of
from tests.support.clusters import cluster_here

OLD = "0.0.1"


@pytest.fixture(autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DARKFILL_CACHE", str(tmp_path_factory.mktemp("cache")))
    monkeypatch.setattr(cluster_crew, "LOOK_S", 0.05)
    monkeypatch.setattr(cluster_worker, "_begun", {})  # a worker that has gone without a word forgot nothing


@pytest.fixture
def cluster() -> Iterator[Any]:
    with cluster_here(2) as found:
        yield found


@pytest.fixture
def desk() -> Desk:
    return desk_of(request_of("hours"))


def has_other(worker: Any, library: str) -> None:
    """Have a worker tell that it has another version of a library."""
    told = get_versions(packages=cluster_check.OF_WORKER)
    told["packages"][library] = OLD
    worker.handlers["versions"] = lambda packages=None: told


def until(condition: Callable[[], object], seconds: float = 30.0) -> None:
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end
        time.sleep(0.01)


def has_begun(address: str) -> bool:
    return any(place[1] == address for place in list(cluster_worker._begun))


def test_answers_come_in_order_and_only_once(cluster: Any, desk: Desk, tmp_path: Path) -> None:
    """Nights too; an engine begun anew takes up what the one before has left, and does only the rest."""
    cache, marks = tmp_path / "cache", tmp_path / "marks"
    marks.mkdir()
    targets, refs = len(desk.rigs[0].request.targets), refs_of(desk.rigs[0].request, 4)
    tasks = [(number, marks) for number in range(7)]
    with engine_of(cluster.scheduler_address, 0, desk, cache, tell=pytest.fail) as engine:
        assert engine.dashboard == cluster.dashboard_link
        assert engine.run(jobs.slowly, [(number,) for number in range(9)]) == list(range(9))
        engine.run(jobs.told, tasks[:4])
        blocks = [(block,) for block in blocks_of(refs, 2)]
        plain = Inline(desk_of(request_of("hours"))).run(jobs.slots_of, blocks)
        assert engine.run(jobs.slots_of, blocks) == plain
        assert engine.run(jobs.slowly, []) == []
    assert len(list(marks.iterdir())) == 4
    with engine_of("threads", 1, desk, cache, tell=pytest.fail) as engine:
        assert engine.run(jobs.told, tasks) == [(number, targets) for number in range(7)]
    assert len(list(marks.iterdir())) == 7
    assert not cluster_worker._begun  # the workers have forgotten it


@pytest.mark.parametrize(("library", "where"), [("numpy", "worker"), ("dask", "scheduler")])
def test_machine_of_other_versions_is_named_and_gets_nothing(
    library: str, where: str, cluster: Any, desk: Desk
) -> None:
    machine = cluster.scheduler if where == "scheduler" else cluster.workers[1]
    has_other(machine, library)
    ours = get_versions(packages=[library])["packages"][library]
    with pytest.raises(ClusterError) as error, engine_of(cluster.scheduler_address, 0, desk, None):
        pytest.fail("it began")
    assert str(error.value) == (
        f"--engine {cluster.scheduler_address}: the {where} {machine.address} has {library} {OLD} where this"
        f" machine has {ours}; every machine needs the same versions of Python, darkfill and its libraries"
    )
    assert not has_begun(machine.address)
    assert not cluster.scheduler.tasks if where == "scheduler" else not machine.data


def test_worker_of_other_files_is_named(cluster: Any, desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same version of everything, but one module differs by a letter."""
    keys = iter([b"\x01" * 32, b"\x02" * 32])
    monkeypatch.setattr(cluster_worker, "program_key", lambda: next(keys))
    with pytest.raises(ClusterError) as error, engine_of(cluster.scheduler_address, 1, desk, None):
        pytest.fail("it began")
    assert str(error.value).split("; every")[0] in [
        f"--engine {cluster.scheduler_address}: the worker {each.address} has other files of darkfill than this"
        " machine: their key is 020202020202 there and 010101010101 here"
        for each in cluster.workers.values()
    ]


def test_differences_are_told_in_words() -> None:
    here = {"python": "3.11.7.final.0", "numpy": "2.1.0", "numba": "0.61.0"}
    there = {"python": "3.12.1.final.0", "numpy": "2.1.0", "numba": None}
    assert cluster_check.difference("the worker A", ("python", "numpy", "numba"), there, here) == (
        "the worker A has python 3.12.1 where this machine has 3.11.7 and numba missing where this machine has"
        " 0.61.0"
    )
    assert cluster_check.difference("the worker A", ("numpy",), there, here) == ""


def test_workers_that_join_are_used_after_the_same_check(cluster: Any, desk: Desk) -> None:
    told: list[str] = []
    with engine_of(cluster.scheduler_address, 0, desk, None, tell=told.append) as engine:
        assert engine.run(jobs.slowly, [(3,)]) == [3]
        cluster.scale(3)
        until(lambda: len(cluster.workers) == 3 and has_begun(cluster.workers[2].address))
        until(lambda: len(engine.seats.open()) == 3)  # type: ignore[attr-defined]
    assert told == []


def test_worker_that_joins_with_other_versions_is_left_alone(
    cluster: Any, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    with engine_of(cluster.scheduler_address, 0, desk, None, tell=told.append) as engine:
        known = set(cluster.scheduler_info["workers"])

        async def wrong(client: Any, addresses: list[str]) -> dict[str, str]:
            assert not known & set(addresses)  # nobody is checked twice
            return dict.fromkeys(addresses, f"the worker {addresses[0]} has numpy {OLD}")

        monkeypatch.setattr(cluster_crew, "differences", wrong)
        cluster.scale(3)
        until(lambda: engine.seats.open() and told)  # type: ignore[attr-defined]
        time.sleep(0.3)  # a few more looks, which say nothing again
        assert engine.run(jobs.slowly, [(number,) for number in range(6)]) == list(range(6))
    address = cluster.workers[2].address
    assert told == [f"the worker {address} has numpy {OLD}, so that it is not used"]
    assert not has_begun(address)


def test_only_so_many_workers_are_used(cluster: Any, desk: Desk) -> None:
    with engine_of(cluster.scheduler_address, 1, desk, None, tell=pytest.fail) as engine:
        assert engine.run(jobs.slowly, [(1,), (2,), (3,)]) == [1, 2, 3]
        assert len(engine.seats.open()) == 1  # type: ignore[attr-defined]


def test_worker_that_goes_is_told_and_its_task_done_by_another(
    cluster: Any, desk: Desk, tmp_path: Path
) -> None:
    """It goes while it works: what it was doing is begun anew, and the answers are the same."""
    told: list[str] = []
    gone: list[str] = []
    first = cluster.workers[0].address

    def asked() -> int:
        return len(list(tmp_path.iterdir()))

    with engine_of(cluster.scheduler_address, 0, desk, None, tell=told.append) as engine:
        until(lambda: len(engine.seats.open()) == 2)  # type: ignore[attr-defined]
        for number in engine.stream(jobs.naps, [(number, 0.2, tmp_path) for number in range(6)]):
            if not gone:
                gone.append(first)
                cluster.sync(cluster.workers[0].close, executor_wait=False, nanny=False)
            assert number in range(6)
    assert told == [f"the worker {first} has gone; what it was doing is tried again"]
    assert asked() >= 6


def test_worker_that_is_short_of_memory_is_told_and_comes_back(
    cluster: Any, desk: Desk, tmp_path: Path
) -> None:
    """Dask then has it begin no more tasks: nobody waits for it, and it is used again once it is ready."""
    told: list[str] = []
    worker = cluster.workers[0]
    cluster.loop.add_callback(worker.periodic_callbacks["memory_monitor"].stop)  # it would see enough of it
    with engine_of(cluster.scheduler_address, 0, desk, None, tell=told.append) as engine:
        seats = engine.seats  # type: ignore[attr-defined]
        until(lambda: len(seats.open()) == 2)
        for number in engine.stream(jobs.naps, [(number, 0.2, tmp_path) for number in range(6)]):
            if number == 0:
                cluster.loop.add_callback(setattr, worker, "status", Status.paused)
        until(lambda: len(seats.open()) == 1)
        cluster.loop.add_callback(setattr, worker, "status", Status.running)
        until(lambda: len(seats.open()) == 2)
    why = "begins no more tasks, as one that closes or is short of memory; what it was doing is tried again"
    assert told == [f"the worker {worker.address} {why}"]


def test_task_that_fails_is_told_and_tried_at_another_worker(
    cluster: Any, desk: Desk, tmp_path: Path
) -> None:
    told: list[str] = []
    with engine_of(cluster.scheduler_address, 0, desk, None, tell=told.append) as engine:
        until(lambda: len(engine.seats.open()) == 2)  # type: ignore[attr-defined]
        assert engine.run(jobs.fails_once, [(5, tmp_path)]) == [5]
        assert told in [
            [f"a task failed at the worker {each.address} (OSError: no room for 5); it is tried once more"]
            for each in cluster.workers.values()
        ]
        with pytest.raises(ValueError, match="no answer to 7"):
            engine.run(jobs.fails, [(7,)])
        assert engine.run(jobs.slowly, [(3,)]) == [3]  # and the engine goes on
    assert len(told) == 2


def test_ctrl_c_ends_what_workers_do_at_the_next_night(
    cluster: Any, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    refs, prepared = refs_of(desk.rigs[0].request, 30), list[NightRef]()
    fetched, presses = Desk._fetched, [0]

    def slowly(self: Desk, ref: NightRef) -> object:
        prepared.append(ref)
        if len(prepared) == 3:
            presses[0] = 1
        time.sleep(0.05)
        return fetched(self, ref)

    monkeypatch.setattr(Desk, "_fetched", slowly)
    monkeypatch.setattr(ctrl_c, "presses", lambda: presses[0])
    with engine_of(cluster.scheduler_address, 0, desk, None) as engine:
        with pytest.raises(KeyboardInterrupt):
            engine.run(jobs.slots_of, [(refs,)])
        assert engine.run(jobs.slowly, [(1,)]) == [1]  # the audit of what was found goes on
    assert len(prepared) < 12


def test_ctrl_c_is_heard_while_there_is_no_worker(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    with cluster_here(0) as empty:
        monkeypatch.setattr(ctrl_c, "presses", lambda: 1)
        with pytest.raises(KeyboardInterrupt), engine_of(empty.scheduler_address, 0, desk, None):
            pytest.fail("it began")


def test_cluster_without_workers_is_waited_for_and_told(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_crew, "WAIT_S", 0.2)
    with (
        cluster_here(0) as empty,
        pytest.raises(ClusterError, match=r"no worker has joined it within 0\.2 s; `dask worker tcp://127"),
        engine_of(empty.scheduler_address, 0, desk, None),
    ):
        pytest.fail("it began")


def test_nobody_at_the_address_is_told(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_crew, "CONNECT_S", 0.3)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        name = f"tcp://127.0.0.1:{free.getsockname()[1]}"
        with (
            pytest.raises(
                ClusterError, match=rf"^--engine {name}: no scheduler answers there within 0\.3 s .*dask"
            ),
            engine_of(name, 0, desk, None),
        ):
            pytest.fail("it began")


@pytest.mark.parametrize("what", ["workers", "scheduler"])
def test_cluster_that_goes_ends_the_season_with_a_remedy(
    what: str, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(seats, "WAIT_S", 0.2)
    monkeypatch.setattr(cluster_crew, "CONNECT_S", 1.5)
    with contextlib.ExitStack() as block:
        cluster = block.enter_context(cluster_here(1))
        with engine_of(cluster.scheduler_address, 0, desk, None) as engine:
            assert engine.run(jobs.slowly, [(1,)]) == [1]
            if what == "workers":
                cluster.scale(0)
            else:
                block.close()
            with pytest.raises(WorkerLostError, match="the same command goes on once"):
                engine.run(jobs.slowly, [(number,) for number in range(100, 400)])


def test_without_dask_the_extra_is_named(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with (
        pytest.raises(ClusterError, match=r"pip install 'darkfill\[cluster\]'"),
        engine_of("dask", 1, desk, None),
    ):
        pytest.fail("it began")


def test_worker_keeps_nights_in_a_folder_of_its_own(
    cluster: Any, desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not in the user's own, which may lie on a disk that many machines share: a passing one, unless named."""
    monkeypatch.delenv("DARKFILL_CACHE")
    with engine_of(cluster.scheduler_address, 0, desk, tmp_path / "main", tell=pytest.fail) as engine:
        refs = refs_of(desk.rigs[0].request, 2)
        engine.run(jobs.slots_of, [((ref,),) for ref in refs])
        folders = {begun.desk.cache.folder for begun in cluster_worker._begun.values() if begun.desk.cache}
        assert len(folders) == 2
        assert all(folder.is_dir() and folder.name.startswith("darkfill-") for folder in folders)
    assert not any(folder.exists() for folder in folders)
    assert list((tmp_path / "main").iterdir())  # answers are kept here


def test_season_that_nobody_asks_for_any_more_gives_way(
    cluster: Any, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As one whose machine was switched off; if it was only slow, it begins anew at its next task."""
    monkeypatch.setattr(cluster_worker, "IDLE_S", 0.0)
    told: list[str] = []
    with engine_of(cluster.scheduler_address, 1, desk, None, tell=told.append) as slow:
        assert slow.run(jobs.slowly, [(1,)]) == [1]
        (before,) = cluster_worker._begun
        with engine_of(cluster.scheduler_address, 1, desk_of(request_of("hours", 4)), None) as other:
            assert other.run(jobs.slowly, [(1,)]) == [1]
            assert before not in cluster_worker._begun
        assert slow.run(jobs.slowly, [(2,)]) == [2]
    why = "has forgotten the season, as one does that was started anew; what it was doing is tried again"
    assert told == [f"the worker {before[1]} {why}"]


def test_season_of_two_rigs_is_the_same_whoever_works(cluster: Any, tmp_path: Path) -> None:
    rigs = rigs_of(2, 1, 2)
    files = [
        season(
            rigs, engine=engine, workers=workers, cache=tmp_path / kept, gap=0.0, rounds=0, say=pytest.fail
        )
        for engine, workers, kept in (("threads", 1, "a"), (cluster.scheduler_address, 0, "b"))
    ]
    first, second = (bytes_of(each.file) for each in files)
    assert first == second
    assert files[0].proof.value > 0


@pytest.mark.parametrize(
    ("name", "is_one"),
    [
        *((name, True) for name in ("processes", "threads", "dask", "tcp://10.0.0.4:8786", "tcp://head:1")),
        ("tcp://[fe80::1]:8786", True),
        *((name, False) for name in ("", "clouds", "tcp://10.0.0.4", "tcp://:8786", "http://head:8786")),
        *((name, False) for name in ("tcp://head:0", "tcp://head:70000", "tcp://head:8786/x", "Dask")),
    ],
)
def test_engines_have_names(name: str, is_one: bool) -> None:
    assert is_engine(name) == is_one
