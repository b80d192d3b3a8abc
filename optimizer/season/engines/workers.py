"""Processes that do a season's jobs, each with a desk of its own, and what is sent between them.

Each worker is a pool of one process: so that a night stays with the worker that has it in memory, and one
that dies takes no other with it.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from multiprocessing.context import SpawnContext, SpawnProcess
from pathlib import Path
from types import ModuleType
from typing import Any

from optimizer import ctrl_c
from optimizer.season.desk import Desk
from optimizer.season.kept.cache import Cache
from optimizer.season.kept.stored import stored

END_S = 5.0  # that a killed process is waited for
_main: list[Any] = []  # the program's own main module, once for each process that is being started


class _Process(SpawnProcess):
    """A fresh interpreter that imports nothing of the program's main module, and does not hear Ctrl-C.

    Jobs are functions of this package. So a script needs no guard for `__main__`, and one that has none is
    not run again in each worker.
    """

    @staticmethod
    def _Popen(process_obj: Any) -> Any:  # noqa: N802  the name that multiprocessing calls
        with without_main(), _deaf_children():
            return SpawnProcess._Popen(process_obj)


class _Context(SpawnContext):
    Process = _Process


@contextlib.contextmanager
def without_main() -> Iterator[None]:
    """Within the block processes that are started import nothing of the program's main module.

    So a script needs no guard for `__main__`, and one that has none is not run again in each worker. Blocks
    of several coroutines may overlap.
    """
    main = _main[0] if _main else sys.modules["__main__"]
    _main.append(main)
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        _main.pop()
        if not _main:
            sys.modules["__main__"] = main


@contextlib.contextmanager
def _deaf_children() -> Iterator[None]:
    """Within the block Ctrl-C waits; a process that is started in it never hears it."""
    if sys.platform == "win32":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class Worker:
    """One process, started when it first gets something to do."""

    def __init__(self, desk: Desk, folder: Path | None) -> None:
        """Take the desk that the process gets a copy of, and the folder of its cache."""
        self._given = desk, folder
        self._pool: ProcessPoolExecutor | None = None

    def submit(self, job: Callable[..., Any], task: tuple[Any, ...], key: bytes | None) -> Future[Any]:
        """Have a job done; what comes back is that of `_do`. Ctrl-C while the process starts comes after."""
        before = ctrl_c.presses()
        with ctrl_c.counted():  # a process half started gets no further, and says so with a traceback
            if self._pool is None:
                self._pool = ProcessPoolExecutor(
                    1, mp_context=_Context(), initializer=_begin, initargs=self._given
                )
            future = self._pool.submit(_do, job, task, key)
            pressed = ctrl_c.presses() > before
        if pressed and not ctrl_c.presses():  # no handler of ours is set: it is not counted any more
            raise KeyboardInterrupt
        return future

    def kill(self) -> None:
        """End the process at once, whatever it is doing; it is started again when it is needed."""
        pool, self._pool = self._pool, None
        if pool is None:
            return
        processes = list((pool._processes or {}).values())
        pool.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.kill()
        for process in processes:
            process.join(END_S)


# In the worker: what it was given as it began.
_desk: Desk | None = None
_sentences: list[str] = []  # of its cache, on their way


def _begin(desk: Desk, folder: Path | None) -> None:
    global _desk
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches this process too; its parent ends it
    threading.Thread(target=_end_with_parent, daemon=True).start()
    desk.cache = None if folder is None else Cache(folder, _sentences.append)
    _desk = desk


def _end_with_parent() -> None:
    """End the process where its parent has gone, however that came about."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _do(job: Callable[..., Any], task: tuple[Any, ...], key: bytes | None) -> tuple[bytes, list[str]]:
    """The answer of a job as bytes, kept in the cache, and what there is to tell of that."""
    assert _desk is not None
    answer = stored(job(_desk, *task))
    if key is not None and _desk.cache is not None:
        _desk.cache.put(key, answer)
    told = _sentences.copy()
    _sentences.clear()
    return answer, told
