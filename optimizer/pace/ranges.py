"""Numbers of steps as people write them: 1-150,153-188."""

from __future__ import annotations

from collections.abc import Iterable


def ranges_of(numbers: Iterable[int]) -> str:
    """Write whole numbers as ranges from low to high, such as `1-150,153`; empty where there are none."""
    parts: list[list[int]] = []
    for number in sorted(set(numbers)):
        if parts and number == parts[-1][1] + 1:
            parts[-1][1] = number
        else:
            parts.append([number, number])
    return ",".join(str(low) if low == high else f"{low}-{high}" for low, high in parts)
