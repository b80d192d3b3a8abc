"""Work done in a thread of its own, while this one waits, hears Ctrl-C, or does something else."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable
from types import TracebackType
from typing import Generic, TypeVar

from optimizer import ctrl_c

Result = TypeVar("Result")


class Background(Generic[Result]):
    """Within its `with` block the work goes on; at the end of the block it is told to stop and waited for.

    An error of the work is raised at the end of the block.
    """

    def __init__(self, work: Callable[[], Result], stop: Callable[[], None], *, beside: bool = True) -> None:
        """`stop` makes the work end soon, and may be called more than once.

        Without `beside` all of the work is done as the block is entered, in this thread.
        """
        self._work, self._stop = work, stop
        self._done: list[Result] = []
        self._error: BaseException | None = None
        self._thread = threading.Thread(target=self._run, daemon=True) if beside else None

    @property
    def result(self) -> Result:
        """What the work came to; to be asked once it is over."""
        if self._error is not None:
            raise self._error
        return self._done[0]

    @property
    def is_over(self) -> bool:
        """Whether the work has ended."""
        return bool(self._done) or self._error is not None

    def wait(self, seconds: float = math.inf, until: Callable[[], bool] = lambda: False) -> bool:
        """Wait until the work is over, so many seconds, something else, or Ctrl-C; whether it is over."""
        deadline = time.monotonic() + seconds
        while self._thread is not None and not (self.is_over or ctrl_c.presses() or until()):
            left_s = deadline - time.monotonic()
            if left_s <= 0:
                break
            self._thread.join(min(left_s, ctrl_c.POLL_S))
        return self.is_over

    def _run(self) -> None:
        try:
            self._done.append(self._work())
        except BaseException as error:
            self._error = error

    def __enter__(self) -> Background[Result]:
        """Begin."""
        if self._thread is None:
            self._run()
        else:
            self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the work, whether or not it is done, and raise its error where the block raised none."""
        while self._thread is not None and self._thread.is_alive():
            if not self.is_over:  # else its thread ends by itself, and others may share what would be stopped
                self._stop()  # again until it is heard: the work may not have begun when it was said first
            self._thread.join(ctrl_c.POLL_S)
        if error is None and self._error is not None:
            raise self._error
