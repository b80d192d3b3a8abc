"""What the season's page says of each target and each night, in words and cells of tables."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from optimizer.models.season import Project, ProjectGoalState, ProjectStep, SeasonNight
from optimizer.report.season_page.dates import short_date
from optimizer.report.season_page.facts import Cell, Column, Row, SeasonFacts, open_shutter_s
from optimizer.report.season_page.marks import short_hours
from optimizer.report.season_words import day, hours, hours_told, share_words
from optimizer.report.words import count, duration, name, percent

HELPS = 0.05  # what a step must add to a share to be told: less may be chance in a few hundred seasons


def hours_in_hand(project: Project) -> str:
    """Hours in hand of those wanted, in short."""
    return f"{project.in_hand_s / 3600:.1f} of {project.wanted_s / 3600:.1f} h"


def finish_dates(row: Row) -> tuple[str, str]:
    """The two finish dates in short, or why there is none; without weather the last useful evening."""
    project = row.project
    if row.done:
        return "in hand", ""
    if row.cannot:
        return "cannot", ""
    if project.finish_share is None:
        return day(project.last_useful_evening), ""
    if project.finish_50 is None and project.finish_90 is None:
        return f"in {share_words(project.finish_share)}" if project.finish_share > 0 else "in none", ""
    return day(project.finish_50), day(project.finish_90)


def summary(row: Row) -> str:
    """How a target stands, in one line."""
    project = row.project
    if row.done:
        return f"all {hours(project.wanted_s)} in hand"
    words = [f"{hours(project.in_hand_s)} of {hours(project.wanted_s)} in hand"]
    if row.cannot:
        words.append("cannot be finished in these nights")
    elif project.finish_share is not None:
        if project.finish_50:
            words.append(f"finished by {day(project.finish_50)} in half of the simulated seasons")
        if project.finish_90:
            words.append(f"by {day(project.finish_90)} in 90 %")
        elif project.finish_share > 0:
            words.append(f"finished at all in {share_words(project.finish_share)} of the simulated seasons")
        else:
            words.append("finished in none of the simulated seasons")
    return "; ".join(words)


def helpful_steps(project: Project) -> list[ProjectStep]:
    """The steps that make a project so much likelier to be finished that they are worth a word."""
    share = project.finish_share or 0.0
    return [step for step in project.steps if (step.finish_share or 0.0) - share >= HELPS - 1e-9]


def urgency_words(row: Row) -> str:
    """What the urgency says, in words."""
    if row.done:
        return "Nothing is left to do."
    left = hours(row.left_s)
    if row.urgency == math.inf:
        return f"{left} are left, and no night that may be clear has room for them."
    open_s = row.left_s / row.urgency
    rigs = " by all its rigs together" if len(row.project.rigs) > 1 else ""
    return (
        f"{left} are left. The goal that its sky serves best may be shot for {hours(open_s)}{rigs}, each"
        f" night by its odds: what is left is {percent(row.urgency)} of that."
    )


def goal_cells(row: Row, goal: ProjectGoalState) -> tuple[str, ...]:
    """A goal's row: filter, exposure, wanted, in hand, planned, nights, last useful evening, left.

    Gain, offset and binning are each camera's own, so of a project of several rigs they are told only where
    they tell two of its goals apart.
    """
    words = [f"{goal.exposure_s:g} s"]
    alike = [(each.filter, each.exposure_s) for each in row.project.goals]
    if len(row.project.rigs) == 1 or alike.count((goal.filter, goal.exposure_s)) > 1:
        words += [f"gain {goal.gain}"] if goal.gain is not None else []
        words += [f"offset {goal.offset}"] if goal.offset is not None else []
        words += [f"binning {goal.binning}"] if goal.binning != 1 else []
    return (
        name(goal.filter, 24),
        ", ".join(words),
        str(goal.wanted),
        str(goal.in_hand),
        f"{goal.planned:.1f}".removesuffix(".0"),
        str(goal.nights),
        day(goal.last_useful_evening),
        "–" if goal.left_after is None else f"{goal.left_after:.1f}".removesuffix(".0"),
    )


def planned_nights(cells: Sequence[Cell], facts: SeasonFacts) -> list[tuple[int, str, str]]:
    """The evenings on which a target is in the plan, with its hours."""
    return [
        (number, short_date(facts.columns[number].evening), f"{float(short_hours(cell.hours)):g} h")
        for number, cell in enumerate(cells)
        if cell.serves == "used"
    ]


def night_words(night: SeasonNight) -> Mapping[str, str]:
    """What is said of a night: in brief, of its sky, and what its plan is worth."""
    sky = (
        f"{duration(night.dark_s)} dark, {duration(min(night.moonless_dark_s, night.dark_s))} of it moonless;"
        f" Moon {percent(night.moon_illuminated)} lit; {percent(night.odds)} likely clear."
    )
    worth = (
        f"Without this night's plan all plans together would be worth {hours(night.value_s)} less; one more"
        f" clear night like it raises what they can be worth by {hours_told(night.worth_s, up=True)} at most."
    )
    brief = duration(open_shutter_s(night.plan)) if night.visits else "nothing planned"
    return {"brief": brief, "sky": sky, "worth": worth}


def evening_brief(column: Column) -> str:
    """What all rigs do on an evening, in brief."""
    used = [night for night in column.nights.values() if night.visits]
    if not used:
        return "nothing planned"
    total = duration(sum(open_shutter_s(night.plan) for night in used))
    return total if len(column.nights) == 1 else f"{total} of {count(len(used), 'rig')}"
