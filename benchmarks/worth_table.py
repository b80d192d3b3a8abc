"""The twelve nights as a table for people, from raw figures and from what was said of each plan by hand."""

from __future__ import annotations

import statistics
import textwrap
from typing import Any

Run = dict[str, Any]
WIDTH = 110  # of a line that is in no table
HEAD = (
    "| night | aim | targets | set shares, mean | least | broadband in the moonless dark | open "
    "| hours given up | gap | slack |",
    "|---|---|---|---|---|---|---|---|---|---|",
)


def worth_text(raw: dict[str, Any], said: dict[str, Any], aims: tuple[str, ...]) -> str:
    """The page that is kept beside the raw figures."""
    nights = list(dict.fromkeys(run["night"] for run in raw["runs"]))
    of = {(run["night"], run["aim"]): run for run in raw["runs"]}
    lines = [
        "# Twelve nights by three aims",
        "",
        f"Measured {raw['date'][:10]} at commit {raw['commit']}, {raw['time_limit_s']:g} s for each search, "
        f"{raw['machine']};",
        "`python -m benchmarks.worth`.",
        "",
        "- *hours*: open shutter, each second like the other. *depth, scarcity*: each second weighed by",
        "  its sky, scarce goals first (0.5). *with balance*: the same with filter sets balanced (0.3) and",
        "  60 s of slack.",
        "- *targets*: with subs tonight, of all on the list. *set shares*: of those, in hand before and",
        "  after the night (the mean share of the slowest half of the filter set, by hours).",
        "- *broadband in the moonless dark*: open shutter in L, R, G and B as a share of the time in which",
        "  the Sun is below -18° and the Moon's upper limb down; in brackets how much of that time there is.",
        "- *hours given up*: open shutter that the plan by hours has more: the price, plainly.",
        "- *slack*: how late the list may run before a row misses its latest start.",
        "",
        *HEAD,
        *(_row(of[night, aim], of[night, aims[0]]) for night in nights for aim in aims if (night, aim) in of),
        "",
        *_summary(raw["runs"], aims),
        "",
        "## What an imager would object to",
        "",
        f"Written by hand on {said['date']}, after a look at each plan.",
        "",
    ]
    for night in nights:
        first = of[night, aims[0]]
        lines += [f"Night {night}, {first['evening']}, {first['kind']}, {_moon(first)}", ""]
        for aim in aims:
            if (night, aim) in of:
                said_of_it = f"- *{aim}*: {_said(said, of[night, aim])}"
                lines += textwrap.wrap(said_of_it, WIDTH, subsequent_indent="  ", break_long_words=False)
        lines.append("")
    return "\n".join(lines)


def _row(run: Run, plain: Run) -> str:
    before, after = zip(*run["touched_shares"], strict=True)
    given_up_h = (plain["open_s"] - run["open_s"]) / 3600
    dark_h = run["moonless_s"] / 3600
    broadband = (
        "-" if run["kind"] == "narrowband" or not dark_h else f"{_broadband(run):.0%} ({dark_h:.1f} h)"
    )
    return (
        f"| {run['night']} {run['kind']}, {_moon(run)} | {run['aim']} | {run['touched']} of {run['targets']} "
        f"| {statistics.mean(before):.0%} to {statistics.mean(after):.0%} "
        f"| {min(before):.0%} to {min(after):.0%} "
        f"| {broadband} | {run['open_s'] / 3600:.2f} h | {given_up_h:+.2f} h "
        f"| {100 * run['gap']:.1f} % | {run['least_slack_s']} s |"
    )


def _moon(run: Run) -> str:
    return f"Moon {run['moon_lit']:.0%}"


def _broadband(run: Run) -> float:
    return float(run["broadband_s"] / run["moonless_s"])


def _summary(runs: list[Run], aims: tuple[str, ...]) -> list[str]:
    """One line an aim: what all nights come to together."""
    lines = [
        "| aim | sets of touched targets, gain in the mean "
        "| broadband of the moonless dark on mixed lists, least "
        "| open shutter in all | gap, median | worst |",
        "|---|---|---|---|---|---|",
    ]
    for aim in aims:
        own = [run for run in runs if run["aim"] == aim]
        mixed = [run for run in own if run["kind"] == "mixed" and run["moonless_s"]]
        gains = [after - before for run in own for before, after in run["touched_shares"]]
        gaps = [100 * run["gap"] for run in own]
        least = min(map(_broadband, mixed), default=0.0)
        whole = sum(run["broadband_s"] for run in mixed) / max(1, sum(run["moonless_s"] for run in mixed))
        lines.append(
            f"| {aim} | {statistics.mean(gains):+.1%} | {whole:.0%}, {least:.0%} "
            f"| {sum(run['open_s'] for run in own) / 3600:.1f} h "
            f"| {statistics.median(gaps):.2f} % | {max(gaps):.2f} % |"
        )
    broken = sorted({rule for run in runs for rule in run["violations"]})
    lines += ["", f"Audit: {', '.join(broken) or 'none of the plans breaks a rule'}."]
    return lines


def _said(said: dict[str, Any], run: Run) -> str:
    entry = said.get(str(run["night"]), {}).get(run["aim"])
    if entry is None:
        return "not looked at."
    earlier = "" if entry["plan"] == run["plan"] else " (said of an earlier plan)"
    return f"{entry['says']}{earlier}"
