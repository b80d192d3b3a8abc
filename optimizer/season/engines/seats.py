"""Where jobs of a season are done: some workers, by number; on this machine as processes or as threads."""

from __future__ import annotations

import multiprocessing
import sys
import threading
from collections.abc import Callable, Collection
from concurrent.futures import BrokenExecutor, Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any, Protocol

from optimizer.packing import compiled
from optimizer.packing.preparation import Preparation, is_python
from optimizer.season.desk import Desk, work_until
from optimizer.season.engines.workers import Worker
from optimizer.season.kept.cache import Tell
from optimizer.season.kept.stored import loaded, stored

TRIES = 2  # of a task whose worker ended


def make_loops_ready(desk: Desk) -> None:
    """Load the compiled loops that the desk's nights need, or compile them."""
    for by_depth in sorted({rig.request.aim.value == "depth" for rig in desk.rigs}):
        with Preparation(by_time=by_depth) as preparation:
            preparation.finish()


def why_no_processes() -> str | None:
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


class TaskFailedError(Exception):
    """A task failed on a machine that may be to blame for it; `__cause__` is what was raised there."""


class Seats(Protocol):
    """Where tasks are done: some workers, by number."""

    tries: int  # of a task whose worker ended

    @property
    def dashboard(self) -> str:
        """Address of a page that shows what the workers do; empty: there is none."""

    def open(self) -> Collection[int]:
        """The workers that take tasks now. Raises WorkerLostError where there will be none any more."""

    def submit(
        self, seat: int, job: Callable[..., Any], task: tuple[Any, ...], key: bytes | None
    ) -> Future[Any]:
        """Have a task done by a worker."""

    def answer(self, future: Future[Any]) -> Any:
        """What a task came to, or what it raised.

        Raises BrokenExecutor where its worker has ended, TaskFailedError where another one may succeed.
        """

    def lost(self, seat: int) -> None:
        """Hear that a worker has ended and that its task is tried again: told in a sentence."""

    def failed(self, seat: int, error: TaskFailedError) -> None:
        """Hear that a task failed there and is tried once more: told in a sentence."""

    def kill(self) -> None:
        """End what is being done."""

    def close(self) -> None:
        """End the workers."""


class Processes:
    """Processes on this machine, each with a desk of its own and the one cache."""

    tries, dashboard = TRIES, ""

    def __init__(self, desk: Desk, folder: Path, count: int, tell: Tell) -> None:
        """Take so many; each is started when it first gets something to do."""
        self._tell = tell
        self._workers = [Worker(desk, folder) for _ in range(count)]

    def open(self) -> Collection[int]:
        """All of them."""
        return range(len(self._workers))

    def submit(
        self, seat: int, job: Callable[..., Any], task: tuple[Any, ...], key: bytes | None
    ) -> Future[Any]:
        """Have a task done by a worker."""
        try:
            return self._workers[seat].submit(job, task, key)
        except BrokenExecutor:  # it ended while it had nothing to do
            self._workers[seat].kill()
            return self._workers[seat].submit(job, task, key)

    def answer(self, future: Future[Any]) -> Any:
        """What a task came to, or what it raised; raises BrokenExecutor where its worker has ended."""
        data, sentences = future.result()
        for sentence in sentences:
            self._tell(sentence)
        return loaded(data)

    def lost(self, seat: int) -> None:
        """Have another process take the place of one that has ended."""
        self._workers[seat].kill()
        self._tell("a worker ended unexpectedly; its task is tried once more")

    def failed(self, seat: int, error: TaskFailedError) -> None:
        """Nothing: here what a task raises ends its run."""

    def kill(self) -> None:
        """End all processes at once."""
        for worker in self._workers:
            worker.kill()

    def close(self) -> None:
        """The same."""
        self.kill()  # answers are here and in the cache: there is nothing to wait for


class Threads:
    """Threads of this process, which share the desk."""

    tries, dashboard = TRIES, ""

    def __init__(self, desk: Desk, count: int) -> None:
        """Take so many; they are started when there is something to do."""
        self._count, self._desk = count, desk
        self._pool: ThreadPoolExecutor | None = None
        self._halted = threading.Event()

    def open(self) -> Collection[int]:
        """All of them."""
        return range(self._count)

    def submit(
        self, seat: int, job: Callable[..., Any], task: tuple[Any, ...], key: bytes | None
    ) -> Future[Any]:
        """Have a task done by whichever thread is free."""
        del seat
        if self._pool is None:
            self._halted = threading.Event()
            self._pool = ThreadPoolExecutor(self._count, "season", work_until, (self._halted,))
        return self._pool.submit(self._do, job, task, key)

    def _do(self, job: Callable[..., Any], task: tuple[Any, ...], key: bytes | None) -> Any:
        answer, cache = job(self._desk, *task), self._desk.cache
        if key is not None and cache is not None:
            cache.put(key, stored(answer))
        return answer

    def answer(self, future: Future[Any]) -> Any:
        """What a task came to, or what it raised."""
        return future.result()

    def lost(self, seat: int) -> None:
        """Nothing: a thread does not end by itself."""

    def failed(self, seat: int, error: TaskFailedError) -> None:
        """Nothing: here what a task raises ends its run."""

    def kill(self) -> None:
        """Have each thread end at the next night that it asks for."""
        pool, self._pool = self._pool, None
        self._halted.set()
        if pool is not None:
            pool.shutdown(wait=False, cancel_futures=True)

    def close(self) -> None:
        """Wait for what is being done."""
        pool, self._pool = self._pool, None
        if pool is not None:
            pool.shutdown(wait=True, cancel_futures=True)
