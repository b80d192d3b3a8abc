"""A page that a server hands out: what the page must know of it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Served:
    """The list behind a page as its server names it, and what its images say.

    `etag` is the ETag under which the server hands out `list.json`, with or without its quotes: the page asks
    for it again and tells when it has changed. `seen` are whole lines of words by the images, as of the
    instant at which the page was made: the first names that instant and each is a sentence for people.
    `warns`: they call for another plan, so they come before what runs by this one.
    """

    etag: str
    seen: tuple[str, ...] = ()
    warns: bool = False

    @property
    def bare_etag(self) -> str:
        """The ETag without its quotes and the sign of a weak one."""
        return self.etag.removeprefix("W/").strip('"')
