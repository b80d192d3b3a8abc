"""Windows of time that remember what opens and what closes them, and their algebra."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from optimizer.sky.clock import SPAN_S
from optimizer.sky.crossings import Interval

Cause = Literal[
    "night",
    "sun",
    "darkness",
    "floor",
    "ceiling",
    "skyline",
    "moon_gap",
    "moonlight",
    "clear",
    "blocked",
    "zone",
    "quiet",
]


class Edge(NamedTuple):
    """What happens at one end of a window; `words` are for people."""

    cause: Cause
    words: str


NIGHT_BEGINS = Edge("night", "the night's first noon")
NIGHT_ENDS = Edge("night", "the night's second noon")


@dataclass(frozen=True)
class Window:
    """From `start_s` to `end_s`, seconds after the origin, both ends within."""

    start_s: float
    end_s: float
    opened_by: Edge
    closed_by: Edge

    @property
    def seconds(self) -> float:
        """Length of the window."""
        return self.end_s - self.start_s


Windows = tuple[Window, ...]
WHOLE_NIGHT: Windows = (Window(0.0, float(SPAN_S), NIGHT_BEGINS, NIGHT_ENDS),)


def windows_of(spans: Iterable[Interval], opens: Edge, closes: Edge) -> Windows:
    """Windows made of spans; an end that is also an end of the night carries the night's edge."""
    return tuple(
        Window(
            start_s,
            end_s,
            NIGHT_BEGINS if start_s <= 0.0 else opens,
            NIGHT_ENDS if end_s >= SPAN_S else closes,
        )
        for start_s, end_s in spans
        if end_s > start_s
    )


def intersect(one: Sequence[Window], other: Sequence[Window]) -> Windows:
    """The windows in which both lists are open, each end with its edge (on a tie the first list's).

    Both lists ascend without overlap; so does the result. Parts without length are left out.
    """
    both: list[Window] = []
    i = j = 0
    while i < len(one) and j < len(other):
        a, b = one[i], other[j]
        opening = a if a.start_s >= b.start_s else b
        closing = a if a.end_s <= b.end_s else b
        if closing.end_s > opening.start_s:
            both.append(Window(opening.start_s, closing.end_s, opening.opened_by, closing.closed_by))
        if a.end_s <= b.end_s:
            i += 1
        else:
            j += 1
    return tuple(both)


def intersect_all(lists: Iterable[Sequence[Window]]) -> Windows:
    """The windows in which all lists are open; the whole night if there is no list."""
    result = WHOLE_NIGHT
    for windows in lists:
        result = intersect(windows, result)  # the night itself binds last
    return result


def unite(one: Sequence[Window], other: Sequence[Window]) -> Windows:
    """The windows in which either list is open; those that touch become one."""
    united: list[Window] = []
    for window in sorted((*one, *other), key=lambda w: (w.start_s, -w.end_s)):
        if united and window.start_s <= united[-1].end_s:
            last = united[-1]
            if window.end_s > last.end_s:
                united[-1] = Window(last.start_s, window.end_s, last.opened_by, window.closed_by)
        else:
            united.append(window)
    return tuple(united)


def complement(windows: Sequence[Window], opens: Edge, closes: Edge) -> Windows:
    """The parts of the night in which no window is open.

    `opens` stands where a window ended, `closes` where one began.
    """
    ends = [0.0, *(edge for window in windows for edge in (window.start_s, window.end_s)), float(SPAN_S)]
    return windows_of(zip(ends[::2], ends[1::2], strict=True), opens, closes)


def total_s(windows: Iterable[Window]) -> float:
    """Total length of the windows in seconds."""
    return sum(window.seconds for window in windows)
