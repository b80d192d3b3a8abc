"""A rest of a night in the terminal: what is assumed, what to do now, what changes, then the plan."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.report.fitted import Fitted
from optimizer.report.plan_view import plan_view
from optimizer.report.replan_facts import GoalChange, Replanned, has_subs
from optimizer.report.tables import heading, indented, plain_table
from optimizer.report.words import minus, name

OLD_AND_NEW = "Old rest: what going on with the older list would still give. New rest: what this list gives."


def replan_view(again: Replanned) -> RenderableType:
    """Everything that `darkfill replan` shows; the first two lines are what a person at the mount needs."""
    parts: list[RenderableType] = [Text(again.assumed, style="bold"), Text(again.first, style="bold")]
    parts += [Text(note) for note in again.notes]
    if has_subs(again.shots):
        parts += [Text(), heading("What changes, in minutes of open shutter"), *_changes(again), Text()]
        parts.append(plan_view(again.shots))
    return Group(*parts)


def _changes(again: Replanned) -> Iterator[RenderableType]:
    """A row for each goal with any time in either list, and their sums."""
    changed = [change for change in again.changes if change.old_s or change.new_s]
    if again.kept_old:
        yield Text("The rest of the older list stays as it is: nothing better was found.")
    elif all(change.old_s == change.new_s for change in changed):
        yield Text("No goal gets more or less; times may differ.")
    table = plain_table(
        "target", "filter", "sub", "old rest", "new rest", "difference",
        right=("sub", "old rest", "new rest", "difference"),
    )  # fmt: skip
    stacked: list[RenderableType] = []
    shown = ""
    for change in changed:
        old, new, difference = _minutes(change)
        table.add_row(
            Text(name(change.target) if change.target != shown else ""),
            Text(name(change.filter, 12)),
            f"{change.exposure_s:g} s",
            old,
            new,
            difference,
        )
        if change.target != shown:
            stacked.append(Text(name(change.target)))
        words = f"{name(change.filter, 12)} {change.exposure_s:g} s: {_both(old, new, difference)}"
        stacked.append(indented(Text(words)))
        shown = change.target
    old_s, new_s = (sum(each) for each in zip(*((c.old_s, c.new_s) for c in changed), strict=True))
    whole = GoalChange(target="all", filter="", exposure_s=0.0, old_s=old_s, new_s=new_s)
    table.add_row(Text("all"), "", "", *_minutes(whole))
    stacked.append(Text(f"all: {_both(*_minutes(whole))}"))
    yield Fitted(table, (), ("target",), lambda: stacked)
    yield Text(OLD_AND_NEW, style="dim")


def _both(old: str, new: str, difference: str) -> str:
    return f"{old} in the old rest, {new} in the new ({difference})"


def _minutes(change: GoalChange) -> tuple[str, str, str]:
    """Minutes before, now, and the difference with its sign."""
    old, new = change.old_s / 60, change.new_s / 60
    difference = new - old
    sign = "+" if difference > 0 else ""
    return f"{old:.0f}", f"{new:.0f}", minus(f"{sign}{difference:.0f}") if round(difference) else "0"
