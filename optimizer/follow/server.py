"""A small HTTP server that hands out a page and a list, and refuses all else; it only reads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

PORT = 8777


@dataclass(frozen=True)
class Contents:
    """What is handed out: the page at `/`, the list at `/list.json` and `/list.csv`.

    `etag` stands for the list, such as the SHA-256 of its JSON; the page has one of its own.
    """

    page: bytes
    json: bytes
    csv: bytes
    etag: str


class ListServer:
    """The server; a context manager that starts and stops it."""

    def __init__(self, contents: Callable[[], Contents], *, port: int = PORT, lan: bool = False) -> None:
        """Prepare to serve what `contents` returns; it is asked at most once a second, never twice at once.

        Without `lan` only this computer is served.
        """
        self._contents, self._port, self._lan = contents, port, lan

    def start(self) -> None:
        """Listen, in threads of its own. Raises InputError where the port cannot be had."""
        raise NotImplementedError

    def stop(self) -> None:
        """End all connections and threads, within a second; may be called again."""
        raise NotImplementedError

    @property
    def addresses(self) -> tuple[str, ...]:
        """Sentences for people that say where a browser finds the page."""
        raise NotImplementedError

    def __enter__(self) -> ListServer:
        """Start."""
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop."""
        self.stop()
