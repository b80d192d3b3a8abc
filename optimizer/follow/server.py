"""A small HTTP server that hands out a page and a list, and refuses all else; it only reads.

Each connection carries one request, read by a thread of its own. There are a few dozen threads, each with a
deadline: a client that is slow holds one of them for some seconds.
"""

from __future__ import annotations

import contextlib
import math
import selectors
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from optimizer.follow.answers import END_OF_HEAD, Asked, Contents, Refusal, answer, asked, refusal, too_large
from optimizer.follow.ports import PORT, listening, names, own_address

__all__ = ["PORT", "Contents", "Limits", "ListServer"]

_PIECE = 4096
_MOST_LEFT = 4 << 20  # bytes of a refused request that are read and thrown away, so that its answer arrives


@dataclass(frozen=True)
class Limits:
    """How many are served at once, and how long what may take, in seconds.

    `connections` are open at once; further ones wait. `answers` are given at once; whoever has asked besides
    is refused. `request_s` is for a request to arrive, `answer_s` for its answer to go out, `left_s` for what
    else a client sends to be thrown away. Contents are made anew when they are older than `fresh_s`.
    """

    connections: int = 32
    answers: int = 8
    request_s: float = 5.0
    answer_s: float = 20.0
    left_s: float = 1.0
    fresh_s: float = 1.0


class ListServer:
    """The server; a context manager that starts and stops it."""

    def __init__(
        self,
        contents: Callable[[], Contents],
        *,
        port: int = PORT,
        lan: bool = False,
        limits: Limits | None = None,
    ) -> None:
        """Prepare to serve what `contents` returns; it is asked at most once a second, never twice at once.

        Without `lan` only this computer is served. The port 0 stands for any that is free.
        """
        self._limits = limits or Limits()
        self._fresh = _Fresh(contents, self._limits.fresh_s)
        self._lan = lan
        self.port = port
        self._names: frozenset[str] = frozenset()
        self._listening: list[socket.socket] = []
        self._wake: tuple[socket.socket, socket.socket] | None = None
        self._accepting: threading.Thread | None = None
        self._stopped = threading.Event()
        self._connections = threading.BoundedSemaphore(self._limits.connections)
        self._answers = threading.BoundedSemaphore(self._limits.answers)
        self._open: dict[socket.socket, threading.Thread] = {}
        self._lock = threading.Lock()  # of the open connections

    @property
    def trouble(self) -> str | None:
        """What went wrong when contents were made the last time; None: nothing."""
        return self._fresh.trouble

    @property
    def addresses(self) -> tuple[str, ...]:
        """Sentences for people that say where a browser finds the page."""
        own = f"On this computer: http://localhost:{self.port}/"
        if not self._lan:
            return (own,)
        if (address := own_address()) is not None:
            return own, f"On a phone in the same network: http://{address}:{self.port}/"
        return own, (
            f"On a phone in the same network: http://ADDRESS:{self.port}/ where ADDRESS is what this "
            "computer's network settings name as its address."
        )

    def start(self) -> None:
        """Listen, in threads of its own. Raises InputError where the port cannot be had."""
        self._listening = listening(self.port, lan=self._lan)
        self.port = self._listening[0].getsockname()[1]
        self._names = names(lan=self._lan)
        self._wake = socket.socketpair()
        self._stopped.clear()
        self._accepting = threading.Thread(target=self._accept, name="server", daemon=True)
        self._accepting.start()

    def stop(self) -> None:
        """End all connections and threads, within a second; may be called again."""
        if self._accepting is None or self._wake is None:
            return
        self._stopped.set()
        with contextlib.suppress(OSError):
            self._wake[1].send(b"x")
        self._accepting.join(0.5)
        for each in (*self._listening, *self._wake):
            each.close()
        with self._lock:
            left = dict(self._open)
        for connection in left:
            _shut(connection)  # whoever waits for it goes on, and ends
        until = time.monotonic() + 0.4
        for thread in left.values():
            thread.join(max(0.0, until - time.monotonic()))
        self._accepting = self._wake = None

    def __enter__(self) -> ListServer:
        """Start."""
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop."""
        self.stop()

    def _accept(self) -> None:
        """Hand each connection to a thread until the server is stopped; runs in a thread of its own."""
        assert self._wake is not None
        with selectors.DefaultSelector() as selector:
            for each in (*self._listening, self._wake[0]):
                selector.register(each, selectors.EVENT_READ)
            while not self._stopped.is_set():
                for key, _ in selector.select():
                    if isinstance(key.fileobj, socket.socket) and key.fileobj is not self._wake[0]:
                        self._take(key.fileobj)

    def _take(self, listening: socket.socket) -> None:
        while not self._connections.acquire(timeout=0.05):
            if self._stopped.is_set():
                return
        try:
            connection = listening.accept()[0]
        except OSError:  # the client has gone again, or the system lacks what a connection needs
            self._connections.release()
            self._stopped.wait(0.01)
            return
        thread = threading.Thread(target=self._serve, args=(connection,), name="connection", daemon=True)
        with self._lock:
            self._open[connection] = thread
        try:
            thread.start()
        except RuntimeError:  # the system has no thread left
            self._close(connection)

    def _serve(self, connection: socket.socket) -> None:
        """Answer one connection and close it; whatever a client does, nothing is raised."""
        try:
            with contextlib.suppress(OSError):
                self._answer(connection)
        finally:
            self._close(connection)

    def _close(self, connection: socket.socket) -> None:
        with self._lock:
            del self._open[connection]
        connection.close()
        self._connections.release()

    def _answer(self, connection: socket.socket) -> None:
        try:
            request = self._asked(connection)
            if request is None:
                return
            if not self._answers.acquire(blocking=False):
                raise Refusal(503)
            try:
                _send(connection, answer(request, self._fresh()), self._limits.answer_s)
            finally:
                self._answers.release()
        except Refusal as error:
            _send(connection, refusal(error.status), self._limits.answer_s)
        _end(connection, self._limits.left_s)

    def _asked(self, connection: socket.socket) -> Asked | None:
        """Read a request, or None where none came. Raises Refusal."""
        until = time.monotonic() + self._limits.request_s
        begin = bytearray()
        while (end := begin.find(END_OF_HEAD)) < 0:
            if status := too_large(bytes(begin)):
                raise Refusal(status)
            try:
                connection.settimeout(max(0.001, until - time.monotonic()))
                piece = connection.recv(_PIECE)
            except TimeoutError:
                if not begin:
                    return None
                raise Refusal(408) from None
            if not piece:
                if not begin:
                    return None
                raise Refusal(400)
            begin += piece
        return asked(bytes(begin[:end]), self._hosts(connection))

    def _hosts(self, connection: socket.socket) -> frozenset[str]:
        """What the Host of a request may be: own names and the address that it came in on, with the port."""
        own = str(connection.getsockname()[0]).partition("%")[0].lower()
        own_names = self._names | {f"[{own}]" if ":" in own else own}
        with_port = frozenset(f"{name}:{self.port}" for name in own_names)
        return with_port | own_names if self.port == 80 else with_port


class _Fresh:
    """Contents that are made anew when they are asked for and too old, by one thread at a time."""

    def __init__(self, make: Callable[[], Contents], fresh_s: float) -> None:
        self._make, self._fresh_s = make, fresh_s
        self._lock = threading.Lock()
        self._contents: Contents | None = None
        self._made_s = -math.inf
        self.trouble: str | None = None

    def __call__(self) -> Contents:
        """The contents; the last ones that could be made, if they cannot be now. Raises Refusal."""
        with self._lock:
            if time.monotonic() - self._made_s >= self._fresh_s:
                try:
                    self._contents, self.trouble = self._make(), None
                except Exception as error:  # a page that fails must not end the server
                    self.trouble = f"{type(error).__name__}: {error}"
                self._made_s = time.monotonic()
            if self._contents is None:
                raise Refusal(503)
            return self._contents


def _send(connection: socket.socket, data: bytes, seconds: float) -> None:
    connection.settimeout(seconds)
    connection.sendall(data)


def _end(connection: socket.socket, seconds: float) -> None:
    """End an answer; throw away for a while what the client still sends, or it may not get the answer."""
    connection.shutdown(socket.SHUT_WR)
    until, left = time.monotonic() + seconds, _MOST_LEFT
    while left > 0 and (wait_s := until - time.monotonic()) > 0:
        connection.settimeout(wait_s)
        piece = connection.recv(1 << 16)
        if not piece:
            return
        left -= len(piece)


def _shut(connection: socket.socket) -> None:
    with contextlib.suppress(OSError):
        connection.shutdown(socket.SHUT_RDWR)
