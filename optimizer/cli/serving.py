"""What `follow --serve` hands out: the page with what the images say, and the newest list."""

from __future__ import annotations

import datetime as dt
import hashlib
from typing import TYPE_CHECKING

from optimizer.cli.following import Clock, Follower
from optimizer.follow.server import Contents, ListServer

if TYPE_CHECKING:
    from optimizer.models.shots import ShotList
    from optimizer.report.picture.served import Served

PAGE_S = 30.0  # a page whose images say the same is made anew after so long, for it names its instant


def list_server(follower: Follower, clock: Clock, *, lan: bool, port: int | None) -> ListServer:
    """A server of what a follower tells, not started yet."""
    contents = _Contents(follower, clock)
    return ListServer(contents, lan=lan) if port is None else ListServer(contents, lan=lan, port=port)


class _Contents:
    """Makes page and lists anew where they have changed; called by one thread of the server at a time."""

    def __init__(self, follower: Follower, clock: Clock) -> None:
        self._follower, self._clock = follower, clock
        self._list: tuple[ShotList, bytes, bytes, str] | None = None
        self._key: object = None
        self._made: dt.datetime | None = None
        self._page = b""

    def __call__(self) -> Contents:
        from optimizer.export.csv_file import csv_text
        from optimizer.export.json_file import json_text
        from optimizer.report.follow_words import page_lines
        from optimizer.report.picture.served import Served

        now = self._clock()
        told = self._follower.told(now)
        if self._list is None or self._list[0] is not told.shots:
            json = json_text(told.shots).encode()
            csv = csv_text(told.shots.steps).encode()
            self._list = (told.shots, json, csv, hashlib.sha256(json).hexdigest())
        shots, json, csv, etag = self._list
        lines = page_lines(shots, told.followed)
        key = (etag, lines[1:])
        stale = self._made is None or not 0 <= (now - self._made).total_seconds() < PAGE_S
        if key != self._key or stale:
            self._page = self._drawn(shots, Served(etag, lines, told.followed.warns))
            self._key, self._made = key, now
        return Contents(self._page, json, csv, etag)

    def _drawn(self, shots: ShotList, served: Served) -> bytes:
        from optimizer.report.picture.page import page_text
        from optimizer.report.picture.shown import shown_list

        return page_text(shown_list(shots), served=served).encode()
