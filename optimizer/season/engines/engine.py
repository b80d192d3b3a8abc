"""Jobs of a season done side by side, on this machine or a cluster, and never twice: answers are kept.

    with engine_of("processes", 0, desk, folder) as engine:
        answers = engine.run(job, tasks)

Answers come in the order of the tasks, and are the same whoever works. What a job answered is kept in the
cache under the content of the job's task and of the desk, so that a season that was killed goes on by asking
the same again.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
import time
from collections import defaultdict, deque
from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, CancelledError, Future, wait
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any, TypeVar

from optimizer import ctrl_c
from optimizer.errors import WorkerLostError
from optimizer.season.desk import Desk, Engine, NightRef
from optimizer.season.engines.seats import (
    Processes,
    Seats,
    TaskFailedError,
    Threads,
    make_loops_ready,
    why_no_processes,
)
from optimizer.season.kept.cache import Cache, Tell, user_folder
from optimizer.season.kept.content_key import content_key
from optimizer.season.kept.stored import NotStoredError, loaded

T = TypeVar("T")
AHEAD = 2  # tasks that a worker has at once: the next one is there when it is done
SPARED = 2  # tasks that wait for the worker that has their nights before another one takes one of them
_MISSING = object()


def cores() -> int:
    """The processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextlib.contextmanager
def engine_of(
    kind: str, workers: int, desk: Desk, cache: Path | None, *, tell: Tell = lambda sentence: None
) -> Iterator[Engine]:
    """An engine of so many workers for the block, of a kind that `is_engine` knows.

    0 workers: one for each processor, or all that a running cluster has. The desk's nights and all answers
    are kept in the folder `cache`, None: in the user's own; where it cannot be used, in one that lasts as
    long as the block. `tell` gets a sentence for people for each thing that is amiss and does not change the
    answers. An exception that ends the block, Ctrl-C too, ends what processes do at once, and what threads
    and workers of a cluster do at the next night that they ask for. Raises ClusterError where a cluster
    cannot be used.
    """
    with contextlib.ExitStack() as block:
        kept = Cache(user_folder() if cache is None else cache, tell)
        if not kept.is_usable:
            passing = tempfile.TemporaryDirectory(prefix="darkfill-", ignore_cleanup_errors=True)
            kept = Cache(Path(block.enter_context(passing)), tell)
        block.callback(kept.close)
        make_loops_ready(desk)
        before, desk.cache = desk.cache, kept
        block.callback(setattr, desk, "cache", before)
        seats = _seats_of(kind, workers, desk, kept, tell)
        try:
            yield _Engine(desk, kept, seats)
        except BaseException:
            seats.kill()
            raise
        finally:
            seats.close()


def _seats_of(kind: str, workers: int, desk: Desk, kept: Cache, tell: Tell) -> Seats:
    number = workers or cores()
    if kind not in ("processes", "threads"):
        from optimizer.season.engines.cluster import Cluster

        return Cluster(kind, desk, kept, number if kind == "dask" else workers, tell)
    if kind == "processes" and (why := why_no_processes()):
        tell(f"{why}, so that threads do the work instead of processes")
        kind = "threads"
    return Threads(desk, number) if kind == "threads" else Processes(desk, kept.folder, number, tell)


@dataclass(eq=False)
class _Engine:
    desk: Desk
    cache: Cache
    seats: Seats
    homes: dict[NightRef, int] = field(default_factory=dict)
    heeded: int = 0

    @property
    def dashboard(self) -> str:
        """Address of a page that shows what the workers do; empty: there is none."""
        return self.seats.dashboard

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
        self._failed_at: dict[int, int] = {}  # tasks that failed: by which worker
        self._at = defaultdict[int, deque[tuple[int, Future[Any]]]](deque)

    def more(self) -> dict[int, Any]:
        """Wait for answers, and give out tasks; there may be none yet. Raises KeyboardInterrupt on Ctrl-C."""
        self._fill()
        self._engine.heed()
        futures = [future for own in self._at.values() for _, future in own]
        if futures:
            wait(futures, timeout=ctrl_c.POLL_S, return_when=FIRST_COMPLETED)
        else:  # no worker is there as yet
            time.sleep(ctrl_c.POLL_S)
        return dict(answer for seat in list(self._at) for answer in self._collected(seat))

    def drop(self) -> None:
        """Give up what has not begun."""
        for own in self._at.values():
            for _, future in own:
                future.cancel()

    def _collected(self, seat: int) -> Iterator[tuple[int, Any]]:
        own = self._at[seat]
        for number, future in [each for each in own if each[1].done()]:
            own.remove((number, future))
            try:
                answer = self._seats.answer(future)
            except (BrokenExecutor, CancelledError) as error:
                if self._was_last_try(number):
                    raise WorkerLostError(lost(self._seats.tries)) from error
                self._seats.lost(seat)
                self._waiting = sorted([*self._waiting, number, *(each for each, _ in own)])
                own.clear()
                return
            except TaskFailedError as error:
                if number in self._failed_at or self._was_last_try(number):
                    raise error.__cause__ or error from None
                self._seats.failed(seat, error)
                self._failed_at[number] = seat
                self._waiting = sorted([*self._waiting, number])
            else:
                yield number, answer

    def _was_last_try(self, number: int) -> bool:
        self._tries[number] += 1
        return self._tries[number] >= self._seats.tries

    def _fill(self) -> None:
        there = self._seats.open()
        own_first = (False, True)  # what is another worker's is taken once each has been given its own
        for depth, may_take in product(range(AHEAD), own_first):  # first one for each worker, then the next
            for seat in there:
                if len(self._at[seat]) > depth or not self._waiting:
                    continue
                number = self._next(seat, there, may_take=may_take)
                if number is None:
                    continue
                self._waiting.remove(number)
                ref = self._refs[number]
                if ref is not None and self._engine.homes.get(ref) not in there:
                    self._engine.homes[ref] = seat
                future = self._seats.submit(seat, self._job, self._tasks[number], self._keys[number])
                self._at[seat].append((number, future))

    def _next(self, seat: int, there: Collection[int], *, may_take: bool) -> int | None:
        """The task that a worker does next: of its own nights or new ones, else, if it may, one of many."""
        waits = dict.fromkeys(there, 0)
        homes = {
            number: self._home(number, seat, there)
            for number in self._waiting
            if len(there) == 1 or self._failed_at.get(number) != seat
        }
        for number, home in homes.items():
            if home == seat:
                return number
            waits[home] += 1
        for number, home in homes.items() if may_take else ():
            if waits[home] > SPARED or number in self._failed_at:
                return number
        return None

    def _home(self, number: int, seat: int, there: Collection[int]) -> int:
        """The worker that has the night of a task in memory; `seat` where none has."""
        ref = self._refs[number]
        home = None if ref is None else self._engine.homes.get(ref)
        return home if home is not None and home in there else seat


def _first_ref(task: Sequence[Any], depth: int = 2) -> NightRef | None:
    """The first night that a task names, by which it goes to the worker that has it in memory."""
    for part in task:
        if isinstance(part, NightRef):
            return part
        if isinstance(part, tuple | list) and depth and (found := _first_ref(part, depth - 1)) is not None:
            return found
    return None


def lost(tries: int) -> str:
    """What to say of a task whose worker has ended so many times."""
    times = "twice" if tries == 2 else f"{tries} times"
    return (
        f"a worker of the season ended unexpectedly {times} at the same task, as one does that is killed or"
        " runs out of memory; fewer workers (`--workers 1`) need less memory, `--engine threads` no other"
        " process"
    )
