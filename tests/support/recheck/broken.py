"""Lists with one fact broken each, as edits of a clean one: plain data in, plain data out."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Callable
from typing import Any

from tests.support.recheck.facts import Facts
from tests.support.recheck.motion import changes, must_leave

Shots = dict[str, Any]
Row = dict[str, Any]


def moved(text: str, seconds: int) -> str:
    at = dt.datetime.fromisoformat(text) + dt.timedelta(seconds=seconds)
    return at.strftime("%Y-%m-%dT%H:%M:%SZ")


class Broken:
    """A copy of a list to be edited, with the facts of the clean one."""

    def __init__(self, shots: Shots, facts: Facts) -> None:
        self.clean, self.shots = facts, copy.deepcopy(shots)
        self.rows: list[Row] = self.shots["steps"]
        self.request: dict[str, Any] = self.shots["request"]

    def find(self, ask: Callable[[Row], bool], last: bool = False) -> int:
        """Index of the first (or last) row of that kind; StopIteration where the list has none."""
        order = reversed(range(len(self.rows))) if last else range(len(self.rows))
        return next(index for index in order if ask(self.rows[index]))

    def kind(self, kind: str, last: bool = False) -> int:
        return self.find(lambda row: row["kind"] == kind, last)

    @property
    def flip(self) -> int:
        return self.kind("flip")

    def west(self) -> int:
        """The last exposure before the flip."""
        return max(i for i in range(self.flip) if self.rows[i]["kind"] == "expose")

    def east(self) -> int:
        """The last exposure of the visit after the flip."""
        i = self.flip + 1
        while self.rows[i]["kind"] not in ("slew", "park") and self.rows[i]["target"]:
            i += 1
        return max(j for j in range(i) if self.rows[j]["kind"] == "expose")

    def remove(self, index: int) -> None:
        """Take a row out; the one before it lasts as long as both."""
        row = self.rows.pop(index)
        self.rows[index - 1]["end_utc"] = row["end_utc"]
        self.number()

    def number(self) -> None:
        for place, row in enumerate(self.rows, start=1):
            row["step"] = place

    def shift(self, first: int, seconds: int, last: int | None = None) -> None:
        """Move rows with their latest starts left as they are."""
        for row in self.rows[first : None if last is None else last + 1]:
            row["start_utc"], row["end_utc"] = (moved(row[key], seconds) for key in ("start_utc", "end_utc"))

    def at(self, second: int) -> str:
        return moved(self.clean.sky.origin.isoformat(), second)

    def target(self, index: int) -> dict[str, Any]:
        named: dict[str, Any] = next(
            each for each in self.request["targets"] if each["name"] == self.rows[index]["target"]
        )
        return named

    def filter_of(self, index: int) -> dict[str, Any]:
        named: dict[str, Any] = next(
            each for each in self.request["filters"] if each["name"] == self.rows[index]["filter"]
        )
        return named

    def altitude(self, index: int, second: int) -> float:
        return float(self.clean.star(self.rows[index]["target"]).altitude_deg[second])

    def leave(self) -> int:
        return must_leave(self.clean, changes(self.clean)[0])

    def wait_before_flip(self, seconds: int, tracking: bool) -> int:
        """Put a wait before the flip and everything behind it later."""
        flip = self.flip
        row = copy.deepcopy(self.rows[flip - 1]) | {"kind": "wait", "filter": None, "exposure_s": None}
        row |= {
            "start_utc": self.rows[flip]["start_utc"],
            "end_utc": moved(self.rows[flip]["start_utc"], seconds),
        }
        row |= {"tracking": tracking, "binning": None}
        if not tracking:
            row |= {"target": None, "pier_side": None, "hour_angle_h": None}
        self.shift(flip, seconds)
        self.rows.insert(flip, row)
        self.number()
        return flip
