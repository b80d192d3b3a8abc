"""Jobs of a season done side by side, by processes or threads, and never twice: answers are kept.

    with engine_of("processes", 0, desk, folder) as engine:
        answers = engine.run(job, tasks)

Answers come in the order of the tasks, and are the same whoever works. What a job answered is kept in the
cache under the content of the job's task and of the desk, so that a season that was killed goes on by asking
the same again.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import sys
import tempfile
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Future,
    ThreadPoolExecutor,
    wait,
)
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, Protocol, TypeVar

from optimizer import ctrl_c
from optimizer.errors import WorkerLostError
from optimizer.packing import compiled
from optimizer.packing.preparation import Preparation, is_python
from optimizer.season.cache import Cache, Tell, user_folder
from optimizer.season.content_key import content_key
from optimizer.season.desk import Desk, Engine, NightRef, work_until
from optimizer.season.stored import NotStoredError, loaded, stored
from optimizer.season.workers import Worker

T = TypeVar("T")
EngineKind = Literal["processes", "threads"]
AHEAD = 2  # tasks that a worker has at once: the next one is there when it is done
TRIES = 2  # of a task whose worker ended
SPARED = 2  # tasks that wait for the worker that has their nights before another one takes one of them
_MISSING = object()


def cores() -> int:
    """The processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextlib.contextmanager
def engine_of(
    kind: EngineKind, workers: int, desk: Desk, cache: Path | None, *, tell: Tell = lambda sentence: None
) -> Iterator[Engine]:
    """An engine of so many workers, 0: one for each processor, for the block.

    The desk's nights and all answers are kept in the folder `cache`, None: in the user's own; where it cannot
    be used, in one that lasts as long as the block. `tell` gets a sentence for people for each thing that is
    amiss and does not change the answers. An exception that ends the block, Ctrl-C too, ends what processes
    do at once, and what threads do at the next night that they ask for.
    """
    number = workers or cores()
    with contextlib.ExitStack() as block:
        kept = Cache(user_folder() if cache is None else cache, tell)
        if not kept.is_usable:
            passing = tempfile.TemporaryDirectory(prefix="darkfill-", ignore_cleanup_errors=True)
            kept = Cache(Path(block.enter_context(passing)), tell)
        block.callback(kept.close)
        for by_depth in sorted({rig.request.aim.value == "depth" for rig in desk.rigs}):
            with Preparation(by_time=by_depth) as preparation:
                preparation.finish()
        if kind == "processes" and (why := _why_no_processes()):
            tell(f"{why}, so that threads do the work instead of processes")
            kind = "threads"
        before, desk.cache = desk.cache, kept
        block.callback(setattr, desk, "cache", before)
        seats: _Seats = _Threads(desk, number)
        if kind == "processes":
            seats = _Processes(desk, kept.folder, number, tell)
        try:
            yield _Engine(desk, kept, seats)
        except BaseException:
            seats.kill()
            raise
        finally:
            seats.close()


def _why_no_processes() -> str | None:
    """What is in the way of workers that are processes; None: nothing that is known."""
    if compiled.kept_in() is None:
        return "machine code cannot be kept on the disk"
    if not is_python(sys.executable):  # within another application it may be that application itself
        return "no Python interpreter is known that could be started"
    try:
        multiprocessing.get_context("spawn").Lock()
    except (ImportError, OSError):
        return "the system has no semaphores for processes"
    return None


class _Seats(Protocol):
    """Where tasks are done: some workers, by number."""

    count: int

    def submit(
        self, seat: int, job: Callable[..., Any], task: tuple[Any, ...], key: bytes | None
    ) -> Future[Any]:
        """Have a task done by a worker."""

    def answer(self, future: Future[Any]) -> Any:
        """What a task came to; raises BrokenExecutor where its worker has ended."""

    def lost(self, seat: int) -> None:
        """Hear that a worker has ended."""

    def kill(self) -> None:
        """End what is being done."""

    def close(self) -> None:
        """End the workers."""


class _Processes:
    def __init__(self, desk: Desk, folder: Path, count: int, tell: Tell) -> None:
        self.count, self._tell = count, tell
        self._workers = [Worker(desk, folder) for _ in range(count)]

    def submit(
        self, seat: int, job: Callable[..., Any], task: tuple[Any, ...], key: bytes | None
    ) -> Future[Any]:
        try:
            return self._workers[seat].submit(job, task, key)
        except BrokenExecutor:  # it ended while it had nothing to do
            self._workers[seat].kill()
            return self._workers[seat].submit(job, task, key)

    def answer(self, future: Future[Any]) -> Any:
        data, sentences = future.result()
        for sentence in sentences:
            self._tell(sentence)
        return loaded(data)

    def lost(self, seat: int) -> None:
        self._workers[seat].kill()
        self._tell("a worker ended unexpectedly; its task is tried once more")

    def kill(self) -> None:
        for worker in self._workers:
            worker.kill()

    def close(self) -> None:
        self.kill()  # answers are here and in the cache: there is nothing to wait for


class _Threads:
    def __init__(self, desk: Desk, count: int) -> None:
        self.count, self._desk = count, desk
        self._pool: ThreadPoolExecutor | None = None
        self._halted = threading.Event()

    def submit(
        self, seat: int, job: Callable[..., Any], task: tuple[Any, ...], key: bytes | None
    ) -> Future[Any]:
        del seat
        if self._pool is None:
            self._halted = threading.Event()
            self._pool = ThreadPoolExecutor(self.count, "season", work_until, (self._halted,))
        return self._pool.submit(self._do, job, task, key)

    def _do(self, job: Callable[..., Any], task: tuple[Any, ...], key: bytes | None) -> Any:
        answer, cache = job(self._desk, *task), self._desk.cache
        if key is not None and cache is not None:
            cache.put(key, stored(answer))
        return answer

    def answer(self, future: Future[Any]) -> Any:
        return future.result()

    def lost(self, seat: int) -> None:
        del seat

    def kill(self) -> None:
        pool, self._pool = self._pool, None
        self._halted.set()
        if pool is not None:
            pool.shutdown(wait=False, cancel_futures=True)

    def close(self) -> None:
        pool, self._pool = self._pool, None
        if pool is not None:
            pool.shutdown(wait=True, cancel_futures=True)


@dataclass(eq=False)
class _Engine:
    desk: Desk
    cache: Cache
    seats: _Seats
    homes: dict[NightRef, int] = field(default_factory=dict)
    heeded: int = 0

    def run(self, job: Callable[..., T], tasks: Sequence[tuple[Any, ...]]) -> list[T]:
        """The answers in the order of the tasks."""
        return list(self.stream(job, tasks))

    def stream(self, job: Callable[..., T], tasks: Sequence[tuple[Any, ...]]) -> Iterator[T]:
        """The same, each as soon as it and all before it are there; whoever has enough may end it."""
        keys = [content_key(self.desk.key, job, task) for task in tasks]
        answers = {
            number: answer for number, key in enumerate(keys) if (answer := self._kept(key)) is not _MISSING
        }
        run = _Run(self, job, tasks, keys, [number for number in range(len(tasks)) if number not in answers])
        try:
            for number in range(len(tasks)):
                while number not in answers:
                    answers.update(run.more())
                yield answers.pop(number)
        except GeneratorExit:
            raise
        except BaseException:
            self.seats.kill()
            raise
        finally:
            run.drop()

    def _kept(self, key: bytes) -> Any:
        data = self.cache.get(key)
        if data is None:
            return _MISSING
        try:
            return loaded(data)
        except NotStoredError:
            return _MISSING

    def heed(self) -> None:
        """Raise KeyboardInterrupt for each Ctrl-C that was only counted, once."""
        if ctrl_c.presses() > self.heeded:
            self.heeded = ctrl_c.presses()
            raise KeyboardInterrupt


class _Run:
    """The tasks of one call on their way through the workers."""

    def __init__(
        self,
        engine: _Engine,
        job: Callable[..., Any],
        tasks: Sequence[tuple[Any, ...]],
        keys: Sequence[bytes],
        waiting: Sequence[int],
    ) -> None:
        self._engine, self._job, self._tasks, self._keys = engine, job, tasks, keys
        self._seats = engine.seats
        self._tries = dict.fromkeys(waiting, 0)
        self._waiting = list(waiting)
        self._refs = {number: _first_ref(tasks[number]) for number in waiting}
        self._at: list[deque[tuple[int, Future[Any]]]] = [deque() for _ in range(self._seats.count)]

    def more(self) -> dict[int, Any]:
        """Wait for answers, and give out tasks; there may be none yet. Raises KeyboardInterrupt on Ctrl-C."""
        self._fill()
        self._engine.heed()
        futures = [future for own in self._at for _, future in own]
        wait(futures, timeout=ctrl_c.POLL_S, return_when=FIRST_COMPLETED)
        return dict(answer for seat in range(self._seats.count) for answer in self._collected(seat))

    def drop(self) -> None:
        """Give up what has not begun."""
        for own in self._at:
            for _, future in own:
                future.cancel()

    def _collected(self, seat: int) -> Iterator[tuple[int, Any]]:
        own = self._at[seat]
        while own and own[0][1].done():
            number, future = own[0]
            try:
                answer = self._seats.answer(future)
            except (BrokenExecutor, CancelledError) as error:
                self._tries[number] += 1
                if self._tries[number] >= TRIES:
                    raise WorkerLostError(LOST) from error
                self._seats.lost(seat)
                self._waiting = sorted([*self._waiting, *(each for each, _ in own)])
                own.clear()
                return
            own.popleft()
            yield number, answer

    def _fill(self) -> None:
        for depth in range(AHEAD):  # first one for each worker, then the next
            for seat in range(self._seats.count):
                if len(self._at[seat]) > depth or not self._waiting:
                    continue
                number = self._next(seat)
                if number is None:
                    continue
                self._waiting.remove(number)
                ref = self._refs[number]
                if ref is not None:
                    self._engine.homes.setdefault(ref, seat)
                future = self._seats.submit(seat, self._job, self._tasks[number], self._keys[number])
                self._at[seat].append((number, future))

    def _next(self, seat: int) -> int | None:
        """The task that a worker does next: of its own nights or new ones, else one of many that wait."""
        waits = [0] * self._seats.count
        homes = [self._home(number, seat) for number in self._waiting]
        for number, home in zip(self._waiting, homes, strict=True):
            if home == seat:
                return number
            waits[home] += 1
        for number, home in zip(self._waiting, homes, strict=True):
            if waits[home] > SPARED:
                return number
        return None

    def _home(self, number: int, seat: int) -> int:
        ref = self._refs[number]
        return seat if ref is None else self._engine.homes.get(ref, seat)


def _first_ref(task: Sequence[Any], depth: int = 2) -> NightRef | None:
    """The first night that a task names, by which it goes to the worker that has it in memory."""
    for part in task:
        if isinstance(part, NightRef):
            return part
        if isinstance(part, tuple | list) and depth and (found := _first_ref(part, depth - 1)) is not None:
            return found
    return None


LOST = (
    "a worker of the season ended unexpectedly twice at the same task, as one does that is killed or runs"
    " out of memory; fewer workers (`--workers 1`) need less memory, `--engine threads` no other process"
)
