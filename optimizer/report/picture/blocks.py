"""Which step each block of a drawing stands for, said once for all of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from optimizer.report.picture.shapes import Shape

STEP = "data-i"  # a block's attribute with the index of its step in the list, from 0


def block_ranges(shapes: Iterable[Shape]) -> str:
    """The indices of the blocks in the order in which they are drawn, rising ones as a range: `5-7 9 2-4`."""
    ranges: list[list[int]] = []
    for index in _indices(shapes):
        if ranges and index == ranges[-1][-1] + 1:
            ranges[-1][1:] = [index]
        else:
            ranges.append([index])
    return " ".join("-".join(map(str, ends)) for ends in ranges)


def _indices(shapes: Iterable[Shape]) -> Iterator[int]:
    for shape in shapes:
        yield from (int(value) for key, value in shape.attributes if key == STEP)
        yield from _indices(shape.children)
