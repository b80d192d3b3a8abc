"""Jobs done side by side give the answers of one after the other, in their order, and none is asked twice."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from optimizer import ctrl_c
from optimizer.errors import WorkerLostError
from optimizer.season import desk as module
from optimizer.season.desk import Desk, Inline, NightRef, blocks_of
from optimizer.season.engines.engine import cores, engine_of
from optimizer.season.kept.stored import NotStoredError
from tests.season import season_jobs as jobs
from tests.season.test_season_desk import desk_of, refs_of, request_of
from tests.support.speeds import deep

ROOT = Path(__file__).resolve().parents[2]
KINDS = ["threads", "processes"]


@pytest.fixture(autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """What one test asks no other has asked before."""
    monkeypatch.setenv("DARKFILL_CACHE", str(tmp_path_factory.mktemp("cache")))


@pytest.fixture
def desk() -> Desk:
    return desk_of(request_of("hours"))


def _refuse(*_: object) -> None:
    raise OSError(38, "Function not implemented")


def asked(folder: Path) -> int:
    """How often the job `told` was asked."""
    return len(list(folder.iterdir()))


@pytest.mark.parametrize("kind", KINDS)
def test_answers_come_in_order_and_only_once(kind: str, desk: Desk, tmp_path: Path) -> None:
    """Nights too; an engine begun anew takes up what the one before has left, and does only the rest."""
    cache, marks = tmp_path / "cache", tmp_path / "marks"
    marks.mkdir()
    refs = refs_of(desk.rigs[0].request, 4)
    targets = len(desk.rigs[0].request.targets)
    tasks = [(number, marks) for number in range(7)]
    with engine_of(kind, 2, desk, cache, tell=pytest.fail) as engine:
        assert engine.run(jobs.slowly, [(number,) for number in range(9)]) == list(range(9))
        first = engine.run(jobs.told, tasks[:4])
        blocks = [(block,) for block in blocks_of(refs, 2)]
        assert engine.run(jobs.slots_of, blocks) == Inline(desk_of(request_of("hours"))).run(
            jobs.slots_of, blocks
        )
        assert engine.run(jobs.slowly, []) == []
    assert asked(marks) == 4
    with engine_of(kind, 1, desk, cache, tell=pytest.fail) as engine:
        assert engine.run(jobs.told, tasks) == [*first, *((number, targets) for number in (4, 5, 6))]
    assert asked(marks) == 7


def test_another_desk_or_program_is_asked_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache, marks = tmp_path / "cache", tmp_path / "marks"
    marks.mkdir()
    tasks = [(1, marks)]

    def ask(desk: Desk) -> None:
        with engine_of("threads", 1, desk, cache, tell=pytest.fail) as engine:
            engine.run(jobs.told, tasks)

    ask(desk_of(request_of("hours")))
    ask(desk_of(request_of("hours")))
    assert asked(marks) == 1
    ask(desk_of(request_of("hours").with_aim(slack_s=17)))
    assert asked(marks) == 2
    monkeypatch.setattr(module, "program_key", lambda: b"another program")
    ask(desk_of(request_of("hours")))
    assert asked(marks) == 3


def test_cache_that_cannot_be_used_leaves_nothing(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nights are kept all the same as long as the engine lasts."""
    (tmp_path / "file").touch()
    told, passing = list[str](), tmp_path / "passing"
    passing.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(passing))
    with engine_of("threads", 2, desk, tmp_path / "file", tell=told.append) as engine:
        assert engine.run(jobs.slowly, [(1,), (2,)]) == [1, 2]
        assert len(list(passing.iterdir())) == 1
    assert len(told) == 1
    assert not list(passing.iterdir())
    assert desk.cache is None


def test_the_users_folder_is_the_cache_by_default(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DARKFILL_CACHE", str(tmp_path / "own"))
    marks = tmp_path / "marks"
    marks.mkdir()
    for _ in range(2):
        with engine_of("threads", 2, desk, None, tell=pytest.fail) as engine:
            engine.run(jobs.told, [(1, marks)])
    assert asked(marks) == 1
    assert list((tmp_path / "own").iterdir())


def test_failure_of_a_job_is_raised_as_it_is(desk: Desk) -> None:
    with engine_of("threads", 2, desk, None) as engine:
        with pytest.raises(ValueError, match="no answer to 5"):
            engine.run(jobs.fails, [(5,), (6,)])
        assert engine.run(jobs.slowly, [(3,)]) == [3]  # and the engine goes on
        with pytest.raises(NotStoredError):
            engine.run(jobs.unstorable, [()])
        with pytest.raises(TypeError, match="no key"):
            engine.run(jobs.slowly, [(object(),)])


def test_whoever_has_enough_ends_the_stream(desk: Desk, tmp_path: Path) -> None:
    with engine_of("threads", 1, desk, None) as engine:
        answers = engine.stream(jobs.told, [(number, tmp_path) for number in range(50)])
        assert next(answers)[0] == 0
        answers.close()  # type: ignore[attr-defined]
        assert engine.run(jobs.slowly, [(3,)]) == [3]
    assert asked(tmp_path) < 10


def test_ctrl_c_that_is_counted_ends_one_run(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What comes after it, as the audit of the best season so far, is done as if nothing had been."""
    presses = [0]
    monkeypatch.setattr(ctrl_c, "presses", lambda: presses[0])

    def pressed() -> Iterator[int]:
        for answer in engine.stream(jobs.slowly, [(number,) for number in range(40)]):
            yield answer
            presses[0] = 1

    with engine_of("threads", 1, desk, tmp_path) as engine:
        with pytest.raises(KeyboardInterrupt):
            list(pressed())
        assert engine.run(jobs.slowly, [(50,)]) == [50]


def test_halted_thread_prepares_no_further_night(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    refs, prepared = refs_of(desk.rigs[0].request, 30), list[NightRef]()
    fetched = Desk._fetched

    def slowly(self: Desk, ref: NightRef) -> object:
        prepared.append(ref)
        if len(prepared) == 3:
            presses[0] = 1
        time.sleep(0.05)
        return fetched(self, ref)

    presses = [0]
    monkeypatch.setattr(Desk, "_fetched", slowly)
    monkeypatch.setattr(ctrl_c, "presses", lambda: presses[0])
    with engine_of("threads", 1, desk, None) as engine:
        with pytest.raises(KeyboardInterrupt):
            engine.run(jobs.slots_of, [(refs,)])
        assert engine.run(jobs.slowly, [(1,)]) == [1]
    assert len(prepared) < 12


def test_workers_are_counted() -> None:
    assert 1 <= cores() <= (os.cpu_count() or 1)


@pytest.mark.parametrize(
    ("name", "value", "why"),
    [
        ("optimizer.packing.compiled.kept_in", lambda: None, "machine code cannot be kept on the disk"),
        ("sys.executable", "/opt/viewer", "no Python interpreter is known that could be started"),
        ("multiprocessing.get_context", _refuse, "the system has no semaphores for processes"),
    ],
)
def test_threads_where_processes_cannot_be(
    name: str, value: object, why: str, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(name, value)
    told: list[str] = []
    with engine_of("processes", 2, desk, None, tell=told.append) as engine:
        assert engine.run(jobs.pid_of, [(refs_of(desk.rigs[0].request, 1)[0], 0)]) == [os.getpid()]
    assert told == [f"{why}, so that threads do the work instead of processes"]


def test_worker_that_dies_is_told_and_its_task_tried_once_more(desk: Desk, tmp_path: Path) -> None:
    marks = tmp_path / "marks"
    marks.mkdir()
    told: list[str] = []
    with engine_of("processes", 2, desk, tmp_path / "cache", tell=told.append) as engine:
        assert engine.run(jobs.dies, [(1, marks, 1), (2, marks, 0), (3, marks, 0)]) == [1, 2, 3]
        assert told == ["a worker ended unexpectedly; its task is tried once more"]
        with pytest.raises(WorkerLostError, match="ended unexpectedly twice at the same task"):
            engine.run(jobs.dies, [(4, marks, 9)])
        assert engine.run(jobs.slowly, [(5,)]) == [5]


@deep
def test_nights_stay_with_the_worker_that_has_them(desk: Desk) -> None:
    refs = refs_of(desk.rigs[0].request, 6)
    with engine_of("processes", 2, desk, None) as engine:
        first = engine.run(jobs.pid_of, [(ref, 0) for ref in refs])
        assert len(set(first)) == 2
        order = [4, 2, 0, 5, 3, 1]
        for turn, part in enumerate((order[:3], order[3:]), start=1):
            again = engine.run(jobs.pid_of, [(refs[number], turn) for number in part])
            assert again == [first[number] for number in part]


GUARDLESS = """
import sys
print("once")
from pathlib import Path
from tests.season import season_jobs as jobs
from tests.season.test_season_desk import desk_of, refs_of, request_of
from optimizer.season.engines.engine import engine_of
with engine_of("KIND", 2, desk_of(request_of("hours")), None, tell=print) as engine:
    print(engine.run(jobs.slowly, [(number,) for number in range(3)]))
"""


@deep
@pytest.mark.parametrize(
    ("kind", "how"),
    [*(("processes", how) for how in ("script", "argument", "stdin", "module")), ("dask", "script")],
)
def test_no_guard_is_needed_for_processes(kind: str, how: str, tmp_path: Path) -> None:
    """A script without `if __name__ == "__main__"` is run once, not again in each worker."""
    text = GUARDLESS.replace("KIND", kind)
    (tmp_path / "without_guard.py").write_text(text, encoding="utf-8")
    arguments = {
        "script": [str(tmp_path / "without_guard.py")],
        "argument": ["-c", text],
        "stdin": ["-"],
        "module": ["-m", "without_guard"],
    }
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(tmp_path)])}
    found = subprocess.run(
        [sys.executable, *arguments[how]],
        input=text,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    assert (found.stdout, found.stderr) == ("once\n[0, 1, 2]\n", "")


SLEEPS = """
import sys
from pathlib import Path
from tests.season import season_jobs as jobs
from tests.season.test_season_desk import desk_of, request_of
from optimizer import ctrl_c
from optimizer.season.engines.engine import engine_of
try:
    with ctrl_c.handled(), engine_of(sys.argv[1], 2, desk_of(request_of("hours")), None, tell=print) as engine:
        if sys.argv[3] == "keep":
            ctrl_c.keep()
        engine.run(jobs.sleeps, [(float(sys.argv[4]), Path(sys.argv[2])), (600.0, Path(sys.argv[2]))])
except KeyboardInterrupt:
    print("stopped")
"""


def _until(condition: object, seconds: float = 60.0) -> None:
    until = time.monotonic() + seconds
    while not condition():  # type: ignore[operator]
        assert time.monotonic() < until
        time.sleep(0.02)


def _is_alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").split()[2] != "Z"


@deep
@pytest.mark.skipif(sys.platform == "win32", reason="signals to a group of processes")
@pytest.mark.parametrize(
    ("kind", "what", "when"),
    [
        *(("processes", "throw", when) for when in ("at work", "while starting")),
        *(("processes", "keep", when) for when in ("at work", "while starting")),
        *(("dask", "keep", when) for when in ("at work", "while starting")),
    ],
)
def test_ctrl_c_ends_all_processes_at_once(kind: str, what: str, when: str, tmp_path: Path) -> None:
    """As from a terminal: the whole group gets the signal; no traceback, nobody left."""
    with subprocess.Popen(
        [sys.executable, "-c", SLEEPS, kind, str(tmp_path), what, "600"],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    ) as child:
        if when == "at work":
            _until(lambda: len(list(tmp_path.iterdir())) == 2)
        else:
            _until(lambda: len(_children(child.pid)) >= 2)
        pids = [int(path.name) for path in tmp_path.iterdir()] + _children(child.pid)
        pressed = time.monotonic()
        os.killpg(child.pid, signal.SIGINT)
        out, err = child.communicate(timeout=60)
        assert time.monotonic() - pressed < 30  # the tasks would take ten minutes
    assert (out, err, child.returncode) == ("stopped\n", "", 0)
    _until(lambda: not any(_is_alive(pid) for pid in pids))


def _children(pid: int) -> list[int]:
    """The processes that any of a process's threads has started."""
    found: list[int] = []
    for path in Path(f"/proc/{pid}/task").glob("*/children"):
        with contextlib.suppress(OSError):  # the thread has ended meanwhile
            found += map(int, path.read_text(encoding="utf-8").split())
    return found


@deep
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks for processes in /proc")
@pytest.mark.parametrize("kind", ["processes", "dask"])
def test_workers_end_with_whoever_started_them(kind: str, tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", SLEEPS, kind, str(tmp_path), "throw", "600"],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as child:
        _until(lambda: len(list(tmp_path.iterdir())) == 2)
        child.kill()
    _until(lambda: not any(_is_alive(int(path.name)) for path in tmp_path.iterdir()))
