"""Workers of a cluster of Dask as places where a season's jobs are done: of a local one, or one that runs.

The cluster carries tasks and answers. Which worker does a task is said here, as it is for processes: nights
stay with the worker that has them in memory, and nothing reaches a worker whose software was not checked.
Workers may join, and go, at any time.
"""

from __future__ import annotations

import contextlib
import logging
import pickle
import time
from collections.abc import Callable, Collection, Iterator
from concurrent.futures import Future
from typing import Any

from optimizer.errors import WorkerLostError
from optimizer.season.desk import Desk
from optimizer.season.engines.cluster_crew import WAIT_S, Crew, Member
from optimizer.season.engines.cluster_worker import delivered
from optimizer.season.engines.loop_thread import LoopThread
from optimizer.season.engines.seats import TaskFailedError
from optimizer.season.kept.cache import Cache, Tell
from optimizer.season.kept.stored import loaded

TRIES = 5  # of a task: machines of a cluster come and go, so two that went at one task prove nothing
CLOSE_S = 30.0  # for a local cluster to end
LOGGERS = ("distributed", "distributed.client")


class Cluster:
    """Seats of a cluster: one for each thread of each worker."""

    tries = TRIES

    def __init__(self, name: str, desk: Desk, kept: Cache, count: int, tell: Tell) -> None:
        """Begin at the scheduler of that address, or, by the name `dask`, at a local cluster of so many.

        Of a running one `count` workers are used, 0: all. Answers are kept in `kept`, and the nights of a
        local cluster. Raises ClusterError where it cannot be used.
        """
        self._kept, self._tell, self._turn = kept, tell, 0
        self._alone_since: float | None = None
        self._told: set[Member] = set()  # those of whom it was told that they have gone
        self._crew = Crew(name, pickle.dumps(desk), str(kept.folder), count)
        self._loop = LoopThread("season-cluster")
        self._block = contextlib.ExitStack()
        self._block.enter_context(_quiet())
        try:
            self._loop.result(self._crew.join())
        except BaseException:
            self.close()
            raise

    @property
    def dashboard(self) -> str:
        """Address of the scheduler's page."""
        return self._crew.dashboard

    def open(self) -> Collection[int]:
        """The seats where the season has begun. Raises WorkerLostError where none is left for too long."""
        crew = self._crew
        while crew.sentences:
            self._tell(crew.sentences.popleft())
        if crew.lost:
            raise WorkerLostError(crew.lost)
        if crew.members:
            self._alone_since = None
        elif self._alone_since is None:
            self._alone_since = time.monotonic()
        elif time.monotonic() > self._alone_since + WAIT_S:
            raise WorkerLostError(
                f"there has been no worker of the cluster for {WAIT_S:g} s; what was answered is kept: the"
                " same command goes on once there is one"
            )
        return crew.seats.copy().keys()

    def submit(
        self, seat: int, job: Callable[..., Any], task: tuple[Any, ...], key: bytes | None
    ) -> Future[Any]:
        """Have a task done by the worker of a seat."""
        call = pickle.dumps((job, task))
        return self._loop.send(self._crew.answer(self._crew.places[seat], self._turn, call, key))

    def answer(self, future: Future[Any]) -> Any:
        """What a task came to, which is kept from now on.

        Raises BrokenExecutor where its worker has gone, TaskFailedError where the job has raised something.
        """
        member, key, packet, sentences = future.result()
        data = delivered(packet)
        for sentence in sentences:
            self._tell(f"the worker {member.address}: {sentence}")
        if key is not None:
            self._kept.put(key, data)
        return loaded(data)

    def lost(self, seat: int) -> None:
        """Say, once for each worker, that it has gone."""
        member = self._crew.places[seat]
        if member not in self._told:
            self._told.add(member)
            self._tell(f"the worker {member.address} {member.why}; what it was doing is tried again")

    def failed(self, seat: int, error: TaskFailedError) -> None:
        """Say that a task failed, and where."""
        address, cause = self._crew.places[seat].address, error.__cause__
        self._tell(
            f"a task failed at the worker {address} ({type(cause).__name__}: {cause}); it is tried once more"
        )

    def kill(self) -> None:
        """Have each worker end at the next night that it asks for."""
        turn, self._turn = self._turn, self._turn + 1
        self._loop.send(self._crew.halt(turn))

    def close(self) -> None:
        """Have the workers forget the season, and end the cluster if it is a local one."""
        try:
            self._loop.close(self._crew.leave(), CLOSE_S)
        finally:
            self._block.close()


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Within the block the cluster's own log, which tells much that is no fault, is not shown."""
    before = {name: logging.getLogger(name).level for name in LOGGERS}
    for name in LOGGERS:
        logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for name, level in before.items():
            logging.getLogger(name).setLevel(level)
