"""A cluster whose workers are processes: killed ones change nothing, one that runs other files is found out."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from benchmarks.season_cluster import killed
from optimizer.errors import ClusterError
from optimizer.season.engines.engine import engine_of
from tests.season import season_jobs as jobs
from tests.season.test_season_cluster import until
from tests.season.test_season_desk import desk_of, refs_of, request_of
from tests.support.clusters import cluster_here
from tests.support.speeds import deep

KILLS = 2  # `python -m benchmarks.season_cluster kills` has more of them
ROOT = Path(__file__).resolve().parents[2]


@deep
def test_killed_workers_change_no_byte_of_a_season(tmp_path: Path) -> None:
    kills, seasons, told = killed(KILLS, tmp_path)
    assert kills >= KILLS
    assert seasons >= 1
    assert told <= kills


@deep
def test_worker_that_dies_is_told_and_another_takes_its_place(tmp_path: Path) -> None:
    """Its task is tried again, and what the workers do is shown."""
    desk, marks, told = desk_of(request_of("hours")), tmp_path / "marks", list[str]()
    marks.mkdir()
    refs = refs_of(desk.rigs[0].request, 4)
    with engine_of("dask", 2, desk, tmp_path / "cache", tell=told.append) as engine:
        with urllib.request.urlopen(engine.dashboard) as page:
            assert page.status == 200
        before = set(engine.run(jobs.pid_of, [(ref, 0) for ref in refs]))
        assert len(before) == 2
        assert engine.run(jobs.dies, [(1, marks, 1), (2, marks, 0), (3, marks, 0)]) == [1, 2, 3]
        assert len(told) == 1
        assert told[0].endswith("has gone; what it was doing is tried again")
        until(lambda: len(engine.seats.open()) == 2)  # type: ignore[attr-defined]
        after = set(engine.run(jobs.pid_of, [(ref, 1) for ref in refs]))
    assert len(after) == 2
    assert len(after & before) == 1


@deep
@pytest.mark.parametrize(
    ("file", "text", "words"),
    [
        ("season/pricing.py", "\n# another text\n", "has other files of darkfill than this machine"),
        (
            "season/engines/cluster_worker.py",
            "\nraise ImportError('nothing here')\n",
            "cannot load darkfill as it is",
        ),
    ],
)
def test_worker_that_runs_another_darkfill_is_found_out(
    file: str, text: str, words: str, tmp_path: Path
) -> None:
    """Truly another process with other files, of the same version."""
    shutil.copytree(ROOT / "optimizer", tmp_path / "optimizer", ignore=shutil.ignore_patterns("*.pyc"))
    with (tmp_path / "optimizer" / file).open("a", encoding="utf-8") as module:
        module.write(text)
    with cluster_here(0) as cluster:
        address = cluster.scheduler_address
        with subprocess.Popen(
            [
                *(sys.executable, "-m", "distributed.cli.dask_worker", address),
                "--nthreads",
                "1",
                "--no-nanny",
            ],
            env={**os.environ, "PYTHONPATH": str(tmp_path)},
            cwd=tmp_path,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        ) as child:
            try:
                until(lambda: cluster.scheduler.workers)
                (worker,) = cluster.scheduler.workers
                with (
                    pytest.raises(ClusterError, match=f"the worker {worker} {words}"),
                    engine_of(address, 0, desk_of(request_of("hours")), tmp_path / "cache"),
                ):
                    pytest.fail("it began")
            finally:
                child.kill()
