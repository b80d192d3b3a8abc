"""A cluster of Dask on this machine, of one process for each worker, for as long as a season is planned."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import signal
import sys
from collections.abc import AsyncIterator
from multiprocessing import resource_tracker
from typing import Any

from optimizer.season.engines.workers import without_main

LOOK_S = 1.0  # between two looks at whether all workers are there


def _deaf_again() -> None:
    """Have what this thread starts not hear Ctrl-C.

    The first process that is started also starts the one that keeps the semaphores of all, and with that lets
    Ctrl-C through again in the thread that starts it.
    """
    if sys.platform != "win32":
        resource_tracker.ensure_running()
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})


@contextlib.asynccontextmanager
async def local_cluster(count: int) -> AsyncIterator[str]:
    """The address of a scheduler with so many workers of one thread; those that die are started anew."""
    from distributed import LocalCluster, Nanny

    _deaf_again()

    class _Starter(Nanny):  # type: ignore[misc]
        async def instantiate(self) -> Any:
            with without_main():
                return await super().instantiate()

    cluster = LocalCluster(
        n_workers=count,
        threads_per_worker=1,
        processes=True,
        worker_class=_Starter,
        asynchronous=True,
        dashboard_address="127.0.0.1:0",
        memory_limit=0,  # a desk lets go of nights by itself
        silence_logs=logging.CRITICAL,
    )
    started = asyncio.ensure_future(cluster.__aenter__())
    keeper: asyncio.Task[None] | None = None
    try:
        await asyncio.shield(started)  # one that is half started could not be ended
        keeper = asyncio.create_task(_kept_up(cluster, count))
        yield cluster.scheduler_address
    finally:
        await asyncio.wait({started})
        if keeper is not None:
            keeper.cancel()
        await cluster.close()


async def _kept_up(cluster: Any, count: int) -> None:
    """Have workers that died while they were starting, which ends what would start them, replaced as well."""
    from distributed import Status

    while True:
        await asyncio.sleep(LOOK_S)
        for name, starter in list(cluster.workers.items()):
            if starter.status in (Status.closed, Status.failed):
                del cluster.workers[name]
        if len(cluster.workers) < count:
            cluster.scale(count)
