"""By what names engines of a season are asked for."""

from __future__ import annotations

import re

KINDS = ("processes", "threads", "dask")
NAMES = "processes, threads, dask or tcp://HOST:PORT"
_SCHEDULER = re.compile(r"tcp://(\[[0-9a-fA-F:.]+\]|[^\s:/\[\]]+):([0-9]{1,5})")


def is_engine(name: str) -> bool:
    """Whether there is an engine of that name: one on this machine, or a scheduler's address."""
    found = _SCHEDULER.fullmatch(name)
    return name in KINDS or (found is not None and 0 < int(found[2]) < 65536)
