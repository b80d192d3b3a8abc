"""A thread with an event loop: what is asynchronous, for those who wait."""

from __future__ import annotations

import asyncio
import signal
import sys
import threading
from collections.abc import Coroutine
from concurrent.futures import Future, wait
from typing import Any, TypeVar

from optimizer import ctrl_c

T = TypeVar("T")
END_S = 5.0  # that the thread is waited for, and what is still being done there


class LoopThread:
    """An event loop in a thread of its own, until `close`; neither it nor what it starts hears Ctrl-C."""

    def __init__(self, name: str) -> None:
        """Start it."""
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        if sys.platform != "win32":  # threads and processes begin with the mask of who starts them
            signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        asyncio.set_event_loop(self._loop)
        self._loop.set_exception_handler(lambda *_: None)  # what nobody waits for any more may well fail
        self._loop.run_forever()

    def send(self, work: Coroutine[Any, Any, T]) -> Future[T]:
        """Have something done there."""
        return asyncio.run_coroutine_threadsafe(work, self._loop)

    def result(self, work: Coroutine[Any, Any, T]) -> T:
        """Have something done there and wait for it. Ctrl-C, also one only counted, ends it and raises."""
        future = self.send(work)
        try:
            while not future.done():
                ctrl_c.heed()
                wait([future], timeout=ctrl_c.POLL_S)
            return future.result()
        finally:
            future.cancel()

    def close(self, last: Coroutine[Any, Any, None], most_s: float) -> None:
        """Have a last thing done there, deaf to Ctrl-C for at most so many seconds; then end the thread."""
        wait([self.send(last)], timeout=most_s)
        wait([self.send(_end_others())], timeout=END_S)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(END_S)
        if not self._thread.is_alive():
            self._loop.close()


async def _end_others() -> None:
    others = [each for each in asyncio.all_tasks() if each is not asyncio.current_task()]
    for each in others:
        each.cancel()
    await asyncio.gather(*others, return_exceptions=True)
