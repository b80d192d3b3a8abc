"""What a worker of a cluster does for a season: it keeps a desk for each season that asks it, and does jobs.

All of it is called by the cluster, in threads of the worker. Seasons are told apart by a token, and workers
by their address, since several may live in one process.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import signal
import tempfile
import threading
import time
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from optimizer.season.desk import Desk, work_until
from optimizer.season.engines.seats import make_loops_ready
from optimizer.season.kept.cache import Cache
from optimizer.season.kept.program import program_key
from optimizer.season.kept.stored import stored

LEVEL = 1  # of the compression: higher ones take long and save little
IDLE_S = 600.0  # after which a season gives way to a new one: whoever asked for it may be gone
Place = tuple[str, str]  # token of the season, address of the worker


class NotBegunError(Exception):
    """The worker has no desk of this season: it was started anew, or was not asked for very long."""


@dataclass(eq=False)
class _Begun:
    """A season at this worker."""

    desk: Desk
    sentences: list[str] = field(default_factory=list)  # of its cache, on their way
    halted: dict[int, threading.Event] = field(default_factory=dict)  # by turn
    passing: tempfile.TemporaryDirectory[str] | None = None
    used_s: float = field(default_factory=time.monotonic)


_begun: dict[Place, _Begun] = {}


def text_key() -> str:
    """The key of the worker's own software and libraries, in hexadecimal digits."""
    return program_key().hex()


def deafen() -> None:
    """Leave Ctrl-C to the process that started this one. Called by the cluster in the main thread."""
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, signal.SIG_IGN)


def begin(place: Place, desk_data: bytes, folder: str | None) -> int:
    """Take a season's desk and have the compiled loops ready; which process it is.

    Nights are kept in the folder; None: in that of DARKFILL_CACHE of the worker's own environment, or else
    in a passing one of this worker alone.
    """
    for other, idle in list(_begun.items()):
        if time.monotonic() > idle.used_s + IDLE_S:
            _forget(other)
    desk = pickle.loads(desk_data)
    make_loops_ready(desk)
    begun = _Begun(desk)
    named = folder or os.environ.get("DARKFILL_CACHE")
    if not named:  # not the user's own folder: it may lie on a disk that many machines share
        begun.passing = tempfile.TemporaryDirectory(prefix="darkfill-", ignore_cleanup_errors=True)
        named = begun.passing.name
    desk.cache = Cache(Path(named), begun.sentences.append)
    _begun[place] = begun
    return os.getpid()


def carried(data: bytes) -> bytes:
    """Bytes as they go over the network: tables of what each goal gets on a night are nearly all noughts."""
    return zlib.compress(data, LEVEL)


def delivered(packet: bytes) -> bytes:
    """The bytes again."""
    return zlib.decompress(packet)


def do(place: Place, turn: int, call: bytes) -> tuple[bytes, list[str]]:
    """The answer of a job as `carried` bytes, and what there is to tell of the cache.

    `call` holds the job and its task in the same way. Raises what the job raises, and NotBegunError where the
    season has not begun here.
    """
    begun = _begun.get(place)
    if begun is None:
        raise NotBegunError
    begun.used_s = time.monotonic()
    work_until(begun.halted.setdefault(turn, threading.Event()))
    job: Callable[..., Any]
    job, task = pickle.loads(delivered(call))
    answer = carried(stored(job(begun.desk, *task)))
    begun.used_s = time.monotonic()
    told = begun.sentences.copy()
    del begun.sentences[: len(told)]
    return answer, told


def halt(token: str, turn: int) -> None:
    """Have all jobs of a turn end at the next night that they ask for."""
    for (own, _), begun in list(_begun.items()):
        if own == token:
            begun.halted.setdefault(turn, threading.Event()).set()


def end(token: str) -> None:
    """Forget a season."""
    for place in [place for place in _begun if place[0] == token]:
        _forget(place)


def _forget(place: Place) -> None:
    begun = _begun.pop(place)
    if begun.desk.cache is not None:
        begun.desk.cache.close()
    if begun.passing is not None:
        with contextlib.suppress(OSError):
            begun.passing.cleanup()
