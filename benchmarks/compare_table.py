"""The readable tables of compare.py, from its raw figures alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from statistics import median
from typing import Any

Run = dict[str, Any]
DARKFILL = "darkfill"
MARGIN = 1e-9  # of rounding, where values are held against bounds
NEAR = 0.01  # what "proven 1 %" is about
CHECKPOINTS_S = (0.3, 1, 3, 10, 30, 60)


def compare_text(raw: dict[str, Any], hand: Sequence[str], exact: Sequence[str]) -> str:
    """Heading, one row a planner, one row a night, what to look at."""
    runs = raw["runs"]
    good = [run for run in runs if _counts(run)]
    parts = [_heading("Planners compared", raw), *_planners(good, hand, exact), ""]
    parts += [*_anytime(good), "", *_nights(good, hand, exact), "", *_remarks(runs, hand)]
    return "\n".join(parts) + "\n"


def scale_text(raw: dict[str, Any]) -> str:
    """One row a size."""
    good = [run for run in raw["runs"] if _counts(run)]
    parts = [
        _heading("darkfill on growing nights", raw),
        "| size | runs | gap % median | worst | first plan s worst | proven 1 % s median | nights proven "
        "| peak MiB worst | seconds worst |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for size in dict.fromkeys(run["size"] for run in good):
        mine = [run for run in good if run["size"] == size and run["planner"] == DARKFILL]
        gaps = [100 * run["gap"] for run in mine]
        proven = [run["proven_s"] for run in mine if run["proven_s"] is not None]
        first = max(run["first_plan_s"] + run["prepare_s"] for run in mine)
        parts.append(
            f"| {size} | {len(mine)} | {median(gaps):.3f} | {max(gaps):.3f} | {first:.1f} "
            f"| {_known(median(proven) if proven else None, '.1f')} | {len(proven)} of {len(mine)} "
            f"| {max(run['peak_mib'] for run in mine):.0f} | {max(run['seconds'] for run in mine):.1f} |"
        )
    return "\n".join([*parts, "", *_remarks(raw["runs"], ())]) + "\n"


def _heading(title: str, raw: dict[str, Any]) -> str:
    limits = sorted({(run["planner"] == DARKFILL, run["time_limit_s"]) for run in raw["runs"]})
    own = ", ".join(f"{limit:g}" for is_own, limit in limits if is_own)
    others = ", ".join(f"{limit:g}" for is_own, limit in limits if not is_own)
    loads = [run["load"] for run in raw["runs"] if "load" in run] or [0.0]
    versions = ", ".join(f"{name} {number}" for name, number in raw["versions"].items())
    warmed = ["Before each run the planner planned a small night, which does not count: all code is loaded."]
    return "\n".join(
        [
            f"# {title}",
            "",
            f"`{raw['command']}` on {raw['date'][:10]} at commit {raw['commit']}; {raw['machine']}"
            f"{' (with priority)' if raw.get('real_time_priority') else ''}, "
            f"load {median(loads):.1f} in the median and {max(loads):.1f} at most; "
            f"Python {raw['python']}, {versions}.",
            f"Time limit {own or '-'} s for darkfill" + (f", {others} s for the others." if others else "."),
            "Every plan was laid out to the second and audited by darkfill; broken ones are not counted.",
            *(warmed if any(run.get("warmed") for run in raw["runs"]) else []),
            "",
        ]
    )


def _planners(good: list[Run], hand: Sequence[str], exact: Sequence[str]) -> list[str]:
    lines = [
        "Value is weighted open shutter as a share of darkfill's bound on that night (no plan can reach more",
        "than 100 %). Gain is what darkfill has more. Gaps are each method's own: a rival's bound holds for",
        "its own model only, not for the night. So a rival's proof counts where it is true, its plan within",
        "1 % of darkfill's bound as well; in brackets those that are not. `times darkfill's`: the ratio of",
        "the seconds to a proven 1 % on the nights where both get there, and how many those are.",
        "",
        "| planner | nights | value % median | worst | darkfill's gain % median | least | most "
        "| gap % median | worst | proven 1 % | times darkfill's | peak MiB |",
        "|---|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    own = _by_night(good, DARKFILL)
    for planner in (DARKFILL, *hand, *exact):
        mine = _by_night(good, planner)
        if not mine:
            continue
        shares = [_middle(runs, "value") / bound for n, runs in mine.items() if (bound := _bound(own, n))]
        gains = [gain for n in mine if (gain := _gain(own, n, _middle(mine[n], "value"))) is not None]
        gaps = [100 * run["gap"] for runs in mine.values() for run in runs if run.get("gap") is not None]
        all_runs = [run for runs in mine.values() for run in runs]
        claimed = [run for run in all_runs if run.get("proven_s") is not None]
        proven = [run for run in claimed if _is_near(own, run)]
        ratios = _slower(own, mine) if planner in exact else []
        cells = [planner, str(len(mine)), _of(shares, median, 100, ".2f"), _of(shares, min, 100, ".2f")]
        own_row = planner == DARKFILL
        cells += ["" if own_row else _of(gains, how, 100, ".2f") for how in (median, min, max)]
        cells += [_of(gaps, median, 1, ".3f"), _of(gaps, max, 1, ".3f")]
        untrue = f" ({len(claimed) - len(proven)})" if len(claimed) > len(proven) else ""
        cells.append(f"{len(proven)} of {len(all_runs)}{untrue}" if own_row or planner in exact else "-")
        cells.append(f"{median(ratios):.1f} ({len(ratios)})" if ratios else "-")
        cells.append(f"{median(run['peak_mib'] for run in all_runs):.0f}")
        lines.append("| " + " | ".join(cells) + " |")
    best = [gain for n in own if (gain := _gain(own, n, _best_by_hand(good, n, hand))) is not None]
    if best:
        lines.append(
            f"| best of the three by hand, each night | {len(best)} | | | {100 * median(best):.2f} "
            f"| {100 * min(best):.2f} | {100 * max(best):.2f} | - | - | - | - | |"
        )
    return lines


def _anytime(good: list[Run]) -> list[str]:
    own = [run for run in good if run["planner"] == DARKFILL and run["bound"] > 0]
    if not own:
        return []
    columns = [at for at in CHECKPOINTS_S if at < max(run["seconds"] for run in own)]
    shares = [[_value_at(run, at) / run["bound"] for run in own] for at in columns]
    return [
        "darkfill's plan after so many seconds, as a share of its final bound:",
        "",
        "| | " + " | ".join(f"{at:g} s" for at in columns) + " | end |",
        "|---" * (len(columns) + 2) + "|",
        *(
            f"| {name} | "
            + " | ".join(f"{100 * how(values):.2f}" for values in shares)
            + f" | {100 * how([run['value'] / run['bound'] for run in own]):.2f} |"
            for name, how in (("median", median), ("worst", min))
        ),
    ]


def _nights(good: list[Run], hand: Sequence[str], exact: Sequence[str]) -> list[str]:
    own = _by_night(good, DARKFILL)
    lines = [
        "Night by night; gap and seconds are darkfill's (over its seeds), the last columns values as shares",
        "of darkfill's.",
        "",
        "| night | latitude | month | Moon | mount | load | dark h | wanted h | gap % median | worst "
        "| first plan s | 1 % proven s | best by hand % | "
        + " | ".join(f"{name} %" for name in exact)
        + " |",
        "|---" * (13 + len(exact)) + "|",
    ]
    for night, runs in own.items():
        facts = runs[0]["facts"]
        gaps = [100 * run["gap"] for run in runs]
        value = _middle(runs, "value")
        rivals = [_best_by_hand(good, night, hand)]
        rivals += [_middle(_by_night(good, planner).get(night, []), "value") for planner in exact]
        lines.append(
            f"| {night} | {facts['latitude_deg']:.0f} | {facts['month']} | {facts['moon']} "
            f"| {facts['mount']} | {facts['load']} | {facts['dark_h']:.1f} | {facts['wanted_h']:.1f} "
            f"| {median(gaps):.3f} | {max(gaps):.3f} "
            f"| {_middle(runs, 'first_plan_s'):.2f} | {_known(_middle_or_none(runs, 'proven_s'), '.1f')} | "
            + " | ".join(f"{100 * rival / value:.2f}" if rival and value else "-" for rival in rivals)
            + " |"
        )
    return lines


def _remarks(runs: list[Run], hand: Sequence[str]) -> list[str]:
    """What would be a defect, told whether there is any or not."""
    failed = [f"{run['planner']} on night {run['night']}: {run['failed']}" for run in runs if "failed" in run]
    broken = [
        f"{run['planner']} on night {run['night']}: {', '.join(run['violations'])}"
        for run in runs
        if run.get("violations")
    ]
    good = [run for run in runs if _counts(run)]
    over, below = [], []
    for night, size in dict.fromkeys((run["night"], run["size"]) for run in good):
        same = [run for run in good if (run["night"], run["size"]) == (night, size)]
        own = _by_night(same, DARKFILL)
        if night not in own:
            continue
        bound = _bound(own, night)
        for run in same:
            if run["value"] > bound * (1 + MARGIN):
                over.append(f"{run['planner']} on night {night}: {run['value']:g} over {bound:g}")
        worst, best = min(run["value"] for run in own[night]), _best_by_hand(same, night, hand)
        if hand and worst < best * (1 - MARGIN):
            below.append(f"night {night}: {100 * (1 - worst / best):.2f} %")
    return [
        "Runs that failed: " + (_list(failed)),
        "",
        "Plans with violations: " + _list(broken),
        "",
        "Plans above darkfill's bound (would be a defect of the bound): " + _list(over),
        *(["", "Nights on which some rule by hand beat darkfill: " + _list(below)] if hand else []),
    ]


def _list(items: Iterable[str]) -> str:
    return "; ".join(items) or "none"


def _counts(run: Run) -> bool:
    return "failed" not in run and not run["violations"]


def _by_night(runs: Iterable[Run], planner: str) -> dict[int, list[Run]]:
    found: dict[int, list[Run]] = {}
    for run in runs:
        if run["planner"] == planner:
            found.setdefault(run["night"], []).append(run)
    return found


def _bound(own: dict[int, list[Run]], night: int) -> float:
    """The lowest that darkfill proved, whatever the seed; 0 where it was not run."""
    return min((run["bound"] for run in own.get(night, [])), default=0.0)


def _is_near(own: dict[int, list[Run]], run: Run) -> bool:
    """Whether a plan is within 1 % of the most that the night can give, as far as darkfill knows."""
    return bool(_bound(own, run["night"]) - run["value"] <= NEAR * run["value"])


def _middle(runs: Iterable[Run], key: str) -> float:
    values = [run[key] for run in runs]
    return median(values) if values else 0.0


def _middle_or_none(runs: Sequence[Run], key: str) -> float | None:
    """The median, None where half of the runs or more have no such figure."""
    values = sorted(float("inf") if run[key] is None else run[key] for run in runs)
    return None if median(values) == float("inf") else median(values)


def _gain(own: dict[int, list[Run]], night: int, other: float) -> float | None:
    """What darkfill has more, as a share of the other; None where there is nothing to compare."""
    return _middle(own[night], "value") / other - 1 if night in own and other else None


def _best_by_hand(good: list[Run], night: int, hand: Sequence[str]) -> float:
    return max(
        (run["value"] for run in good if run["night"] == night and run["planner"] in hand), default=0.0
    )


def _slower(own: dict[int, list[Run]], mine: dict[int, list[Run]]) -> list[float]:
    """Seconds to a proven 1 %, over darkfill's, on nights where both got there and the proof is true."""
    pairs = [
        (_middle_or_none(own[n], "proven_s"), _middle_or_none(runs, "proven_s"))
        for n, runs in mine.items()
        if n in own and all(_is_near(own, run) for run in runs)
    ]
    return [theirs / ours for ours, theirs in pairs if ours and theirs]


def _value_at(run: Run, seconds: float) -> float:
    return max([value for at, value, _ in run["curve"] if at <= seconds], default=0.0)


def _of(values: list[float], how: Callable[[list[float]], float], factor: float, form: str) -> str:
    return f"{factor * how(values):{form}}" if values else "-"


def _known(value: float | None, form: str) -> str:
    return "-" if value is None else f"{value:{form}}"
