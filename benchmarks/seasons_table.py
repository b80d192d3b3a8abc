"""Simulated seasons as a table for people."""

from __future__ import annotations

from typing import Any

import numpy as np

WORDS = {
    "open_h": "open shutter, h",
    "depth_h": "the same by depth, h",
    "balanced_h": "filter sets: hours times the share of the slowest half",
    "balanced_depth_h": "the same by depth",
    "complete_sets": "complete sets",
    "complete_h": "hours of complete sets",
}


def seasons_text(raw: dict[str, Any], old: str, new: str) -> str:
    """The page that is kept beside the raw figures."""
    lines = [
        "# Seasons of thirty nights",
        "",
        f"Measured {raw['date'][:10]} at commit {raw['commit']}, {raw['seasons']} seasons of each list, seed "
        f"{raw['seed']}, {raw['seconds']} s in all; `python -m benchmarks.seasons`.",
        "",
        "Each clear night is priced for all targets, not searched: its harvest is a mixture of paths",
        "through the night. The figures compare aims, they promise no plan. *hours*: plain open shutter.",
        "*defaults*: by depth, scarce goals first (0.5), filter sets balanced (0.3); slack is left out.",
        "Nights are clear at odds of 0.5, independent of each other or (persistent) like the night",
        "before at odds of 0.6. Means over the seasons; the last columns are the change of one season,",
        "in the mean and for the middle 80 % of the weathers.",
        "On a few nights looked at, mixtures came to within 0 to 13 % of a bound, by both aims: differences",
        "of a few per cent in open shutter say little.",
    ]
    for name, found in raw["lists"].items():
        lines += ["", f"## {name}: {found['targets']} targets, {found['wanted_h']:g} h wanted"]
        for kind, metrics in found["metrics"].items():
            lines += [
                "",
                f"Nights {kind}",
                "",
                f"| | {old} | {new} | change | of 80 % |",
                "|---|---|---|---|---|",
            ]
            lines += [_row(key, metrics[old], metrics[new]) for key in WORDS]
    return "\n".join([*lines, ""])


def _row(key: str, old: list[dict[str, float]], new: list[dict[str, float]]) -> str:
    before, after = (np.array([season[key] for season in seasons]) for seasons in (old, new))
    change = after - before
    low, high = np.percentile(change, [10, 90])
    relative = f" ({change.mean() / before.mean():+.0%})" if before.mean() else ""
    return (
        f"| {WORDS[key]} | {before.mean():.1f} | {after.mean():.1f} "
        f"| {change.mean():+.1f}{relative} | {low:+.1f} to {high:+.1f} |"
    )
