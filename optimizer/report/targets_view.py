"""The targets of a request in the terminal: object, place, and what is in hand of each goal."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.report.fitted import Fitted
from optimizer.report.tables import heading, indented, plain_table
from optimizer.report.targets_facts import GoalOfTarget, TargetListed, TargetsReport
from optimizer.report.words import count, name
from optimizer.words import number


def targets_view(report: TargetsReport) -> RenderableType:
    """One table; where it is too wide, a line for each target and each goal."""
    columns = ("target", "object", "place (ICRS)", "filter", "exposure", "wanted", "in hand", "left")
    table = plain_table(*columns, right=columns[4:])
    stacked: list[RenderableType] = []
    for target in report.targets:
        place, called = f"{target.ra} {target.dec}", _called(target)
        stacked.append(Text(f"{name(target.name)}{f' ({called})' if called else ''}, {place}"))
        for index, goal in enumerate(target.goals):
            first = (name(target.name), called, place) if index == 0 else ("", "", "")
            table.add_row(
                *map(Text, first),
                Text(name(goal.filter, 12)),
                f"{number(goal.exposure_s)} s",
                str(goal.wanted),
                str(goal.in_hand),
                _left(goal),
            )
            words = f"{name(goal.filter, 12)} {number(goal.exposure_s)} s"
            left = f"{goal.left} left" if goal.left else _left(goal)
            stacked.append(indented(Text(f"{words}: {goal.in_hand} in hand of {goal.wanted}, {left}")))
    title = f"{count(len(report.targets), 'target')}, in subs"
    return Group(heading(title), Fitted(table, ("object",), ("target",), lambda: stacked))


def _called(target: TargetListed) -> str:
    return target.called or ("" if target.object is None else name(target.object))


def _left(goal: GoalOfTarget) -> str:
    return str(goal.left) if goal.left else "complete"
