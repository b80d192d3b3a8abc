"""Clusters of Dask in the test's own process: its scheduler and workers are threads, its addresses true ones."""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Iterator
from typing import Any

from distributed import LocalCluster


@contextlib.contextmanager
def cluster_here(workers: int) -> Iterator[Any]:
    """A cluster of so many workers of one thread; `scheduler_address` is what an engine is named by."""
    with LocalCluster(
        n_workers=workers,
        threads_per_worker=1,
        processes=False,
        protocol="tcp",
        dashboard_address="127.0.0.1:0",
        silence_logs=logging.CRITICAL,
    ) as cluster:
        yield cluster
