"""The algebra of windows, checked second by second."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.sky.spans import (
    NIGHT_BEGINS,
    NIGHT_ENDS,
    WHOLE_NIGHT,
    Edge,
    Window,
    Windows,
    complement,
    intersect,
    intersect_all,
    total_s,
    unite,
    windows_of,
)

LENGTH = 86400


@st.composite
def some_windows(draw: st.DrawFn) -> Windows:
    """Disjoint windows on a coarse grid of 40 cells, each edge with words that name it."""
    cuts = sorted(draw(st.sets(st.integers(0, 40), max_size=12)))
    if len(cuts) % 2:
        cuts.pop()
    name = draw(st.sampled_from(["a", "b"]))
    return tuple(
        Window(s * 2160.0, e * 2160.0, Edge("floor", f"{name}+{s}"), Edge("floor", f"{name}-{e}"))
        for s, e in zip(cuts[::2], cuts[1::2], strict=True)
    )


def cells(windows: Windows) -> set[int]:
    """The cells whose middles are open."""
    return {c for c in range(40) if any(w.start_s < (c + 0.5) * 2160 < w.end_s for w in windows)}


def ascend(windows: Windows) -> bool:
    edges = [edge for w in windows for edge in (w.start_s, w.end_s)]
    return edges == sorted(edges) and all(w.seconds > 0 for w in windows)


@settings(deadline=None)
@given(some_windows(), some_windows())
def test_intersection_is_and(one: Windows, other: Windows) -> None:
    both = intersect(one, other)
    assert cells(both) == cells(one) & cells(other)
    assert ascend(both)
    for w in both:  # each end carries an edge that really lies there
        assert any(x.start_s == w.start_s and x.opened_by == w.opened_by for x in (*one, *other))
        assert any(x.end_s == w.end_s and x.closed_by == w.closed_by for x in (*one, *other))


@settings(deadline=None)
@given(some_windows(), some_windows())
def test_union_is_or(one: Windows, other: Windows) -> None:
    either = unite(one, other)
    assert cells(either) == cells(one) | cells(other)
    assert ascend(either)
    assert all(a.end_s < b.start_s for a, b in pairwise(either))
    for w in either:
        assert any(x.start_s == w.start_s and x.opened_by == w.opened_by for x in (*one, *other))
        assert any(x.end_s == w.end_s and x.closed_by == w.closed_by for x in (*one, *other))


@settings(deadline=None)
@given(some_windows())
def test_complement_is_not(windows: Windows) -> None:
    opens, closes = Edge("blocked", "opens"), Edge("blocked", "closes")
    rest = complement(windows, opens, closes)
    assert cells(rest) == set(range(40)) - cells(windows)
    assert abs(total_s(rest) + total_s(windows) - LENGTH) < 1e-6
    for w in rest:
        assert w.opened_by == (NIGHT_BEGINS if w.start_s == 0 else opens)
        assert w.closed_by == (NIGHT_ENDS if w.end_s == LENGTH else closes)


@settings(deadline=None)
@given(st.lists(some_windows(), max_size=4))
def test_intersection_of_many_is_and_of_all(lists: list[Windows]) -> None:
    open_cells = set(range(40))
    for windows in lists:
        open_cells &= cells(windows)
    assert cells(intersect_all(lists)) == open_cells


def test_the_binding_edge_is_kept() -> None:
    dark = windows_of([(100.0, 900.0)], Edge("darkness", "falls"), Edge("darkness", "rises"))
    high = windows_of([(0.0, 500.0)], Edge("floor", "up"), Edge("floor", "down"))
    (window,) = intersect_all([dark, high])
    assert (window.opened_by, window.closed_by) == (Edge("darkness", "falls"), Edge("floor", "down"))
    assert high[0].opened_by == NIGHT_BEGINS  # a window that begins with the night is not opened by a floor


def test_the_night_itself_binds_last() -> None:
    whole = (Window(0.0, 86400.0, Edge("clear", "begins"), Edge("clear", "ends")),)
    assert intersect_all([whole])[0].opened_by.cause == "clear"
    assert intersect_all([]) == WHOLE_NIGHT


def test_spans_without_length_are_left_out() -> None:
    assert windows_of([(5.0, 5.0)], Edge("floor", "up"), Edge("floor", "down")) == ()
