"""The season's page: one file that holds everything and asks for nothing, under a strict policy."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from optimizer.models.season import Project, ProjectGoalState, SeasonFile
from optimizer.report.picture.one_file import THEME_WORDS, policy_text, script_text, themes_css
from optimizer.report.picture.rendering import TEMPLATES as PICTURE_TEMPLATES
from optimizer.report.picture.rendering import templates
from optimizer.report.season_page.colours import STEP_ENDS_H, STEPS, season_values
from optimizer.report.season_page.dates import long_date, month_words, short_date
from optimizer.report.season_page.facts import LEVELS, Cell, Column, Row, SeasonFacts, season_facts
from optimizer.report.season_page.lanes import NightLanes, night_lanes
from optimizer.report.season_page.verdict import verdict
from optimizer.report.season_words import day, hours
from optimizer.report.words import count, duration, name, percent
from optimizer.words import safe

TEMPLATES = Path(__file__).with_name("templates")
LANE_PX, LANES_TOP_PX = 34, 20
FIGURES_PX = 372  # name, hours and dates beside the map, with the page's edges
NUMBER_PX = 24  # a cell that holds written hours
LABELLED_DAYS = (1, 8, 15, 22)
ORDER_WORDS = {"finish": "finish date", "urgency": "urgency", "request": "the request"}


@dataclass(frozen=True)
class Mark:
    """A cell of the map in short: its class and what is written in it."""

    class_: str
    text: str


def season_page(file: SeasonFile, theme: str | None = None) -> str:
    """The whole page; `theme`: what it opens with, unless its reader has chosen; None: as the system."""
    from markupsafe import Markup

    facts = season_facts(file)
    style, script = _style(len(facts.columns)), script_text([*_scripts()])
    axes, nights = night_lanes(facts)
    order = "finish" if file.policy is not None else "urgency"
    rows = sorted(facts.rows, key=lambda row: facts.orders[order][row.number])
    return (
        templates(TEMPLATES)
        .get_template("season.html.j2")
        .render(
            title=_title(facts),
            subtitle=_subtitle(facts),
            theme=theme,
            themes=THEME_WORDS,
            style=Markup(style),
            script=Markup(script),
            policy=policy_text(style, script),
            verdict=verdict(facts),
            order=order,
            order_words=ORDER_WORDS,
            orders=facts.orders,
            legend=_legend(),
            months=[
                (month_words(evening) if columns >= 12 else short_date(evening).split()[1], columns)
                for evening, columns in facts.months
            ],
            columns=facts.columns,
            labelled=[_labelled(column) for column in facts.columns],
            rows=rows,
            marks={row.number: _marks(row) for row in rows},
            sky={row.number: _sky(row) for row in rows},
            bars={row.project.target: _bar(row.project) for row in rows},
            hours={row.number: _hours(row.project) for row in rows},
            finish={row.number: _finish(row) for row in rows},
            summaries={row.number: _summary(row) for row in rows},
            states={row.number: [_goal(goal) for goal in row.project.goals] for row in rows},
            sampled=file.policy is not None,
            urgencies={row.number: _urgency(row) for row in rows},
            planned={row.number: _planned(row, facts) for row in rows},
            nights=list(zip(facts.columns, nights, strict=True)),
            night_words=[
                _night_words(column, lanes, facts)
                for column, lanes in zip(facts.columns, nights, strict=True)
            ],
            axes=axes,
            lane_px=LANE_PX,
            lanes_top_px=LANES_TOP_PX,
            months_worth=[
                (
                    month_words(dt.date.fromisoformat(f"{month.month}-01")),
                    month.nights,
                    f"{month.clear_nights:.1f}",
                    hours(month.worth_s),
                )
                for month in file.months
            ],
            long_date=long_date,
            short_date=short_date,
            count=count,
            safe=safe,
            day=day,
            tool=f"{file.tool.name} {file.tool.version}",
            created=f"{file.created_utc:%Y-%m-%d %H:%M} UTC",
        )
    )


def _scripts() -> tuple[Path, ...]:
    return PICTURE_TEMPLATES / "theme.js", TEMPLATES / "season.js"


def _style(columns: int) -> str:
    """The themes, the page's style, and what depends on how many nights the map has."""
    levels = "".join(f".b{level}{{--h:{100 * level // LEVELS}%}}" for level in range(1, LEVELS + 1))
    levels += "".join(f".l{level}{{--l:{100 * level // LEVELS}%}}" for level in range(1, LEVELS + 1))
    steps = "".join(
        f".q{step}{{--c:var(--q{step});--h:{100 * step // STEPS}%;--i:var(--i{step})}}"
        for step in range(1, STEPS + 1)
    )
    shared = f":root{{--n:{max(1, columns)};--figures:{FIGURES_PX}px}}"
    room = FIGURES_PX + NUMBER_PX * max(1, columns)
    wide = f"@media screen and (max-width:899px),screen and (min-width:{max(900, room)}px)"
    numbers = (TEMPLATES / "numbers.css").read_text(encoding="utf-8").strip()
    page = (TEMPLATES / "season.css").read_text(encoding="utf-8").strip()
    return "\n".join([themes_css(season_values), shared, page, levels, steps, f"{wide}{{{numbers}}}"])


def _title(facts: SeasonFacts) -> str:
    site = name(facts.file.request.site.name, 60)
    if not facts.columns:
        return f"A season without nights at {site}"
    return (
        f"Season from {short_date(facts.columns[0].evening)} to {_long(facts.columns[-1].evening)} at {site}"
    )


def _long(evening: dt.date) -> str:
    return f"{evening.day} {month_words(evening)}"


def _subtitle(facts: SeasonFacts) -> str:
    zone = facts.file.request.site.time_zone
    wanted, in_hand = (
        sum(getattr(row.project, key) for row in facts.rows) for key in ("wanted_s", "in_hand_s")
    )
    return (
        f"{count(len(facts.columns), 'night')}, {count(len(facts.rows), 'target')}; {hours(in_hand)} of"
        f" {hours(wanted)} open shutter in hand. Times are local ({zone}); a night has the date of its evening."
    )


def _labelled(column: Column) -> bool:
    """Whether the day is written where there is no room for all; the first one is, if no other stands near."""
    day = column.evening.day
    near = any(0 < other - day < 3 for other in LABELLED_DAYS) or day > 29
    return day in LABELLED_DAYS or (column.number == 0 and not near)


def _legend() -> list[tuple[str, str]]:
    """The classes of the steps with what they stand for."""
    ends = [f"{end:g}" for end in STEP_ENDS_H]
    words = [f"up to {ends[0]} h", *(f"{low} to {high} h" for low, high in zip(ends, ends[1:], strict=False))]
    return [(f"q{step}", text) for step, text in enumerate([*words, f"over {ends[-1]} h"], start=1)]


def _marks(row: Row) -> list[Mark]:
    return [_mark(row, number, cell) for number, cell in enumerate(row.cells)]


def _mark(row: Row, number: int, cell: Cell) -> Mark:
    state = {"used": f"q{cell.step}", "open": "", "moon": "m", "closed": "x", "done": "d"}[cell.serves]
    # that a season ends is no news of a target
    last_at = None if row.last_at == len(row.cells) - 1 else row.last_at
    signs = "".join(
        sign
        for sign, at in ((" h", row.finish_50_at), (" k", row.finish_90_at), (" u", last_at))
        if at == number
    )
    text = {"used": _short_hours(cell.hours), "open": "·"}.get(cell.serves, "")
    return Mark(f"{state}{signs}".strip(), text)


def _short_hours(hours: float) -> str:
    """Hours in at most three signs, since a cell has room for no more: `.05`, `0.4`, `8.7`, `11`."""
    if hours < 0.095:
        return f"{max(0.01, hours):.2f}"[1:]
    return f"{hours:.1f}" if hours < 9.95 else f"{hours:.0f}"


def _sky(row: Row) -> str:
    """Open hours of each night in tenths, `a/b` where they would be b without the Moon."""
    parts = []
    for cell in row.cells:
        open_h, moonless = round(10 * cell.open_h), round(10 * cell.moonless_h)
        parts.append(f"{open_h}/{moonless}" if moonless > open_h else str(open_h))
    return " ".join(parts)


def _bar(project: Project) -> tuple[str, str]:
    """In hand and planned as percentages of what is wanted; together no more than all."""
    if project.wanted_s <= 0:
        return "100", "0"
    in_hand = min(1.0, project.in_hand_s / project.wanted_s)
    planned = min(1.0 - in_hand, project.planned_s / project.wanted_s)
    return f"{100 * in_hand:.0f}", f"{100 * planned:.0f}"


def _hours(project: Project) -> str:
    """Hours in hand of those wanted, in short."""
    return f"{project.in_hand_s / 3600:.1f} of {project.wanted_s / 3600:.1f} h"


def _finish(row: Row) -> tuple[str, str]:
    """The two finish dates in short; why there is none."""
    project = row.project
    if row.done:
        return "in hand", ""
    if row.never:
        return "cannot", ""
    if project.finish_share is None:
        return "–", "–"
    return day(project.finish_50), day(project.finish_90)


def _summary(row: Row) -> str:
    """How a target stands, in one line."""
    project = row.project
    if row.done:
        return f"all {hours(project.wanted_s)} in hand"
    words = [f"{hours(project.in_hand_s)} of {hours(project.wanted_s)} in hand"]
    if row.never:
        words.append("cannot be finished in these nights")
    elif project.finish_share is not None:
        if project.finish_50:
            words.append(f"finished by {day(project.finish_50)} in half of the simulated seasons")
        if project.finish_90:
            words.append(f"by {day(project.finish_90)} in 90 %")
        elif project.finish_share > 0:
            words.append(f"finished at all in {percent(project.finish_share)} of the simulated seasons")
        else:
            words.append("finished in none of the simulated seasons")
    return "; ".join(words)


def _urgency(row: Row) -> str:
    """What the urgency says, in words."""
    if row.done:
        return "Nothing is left to do."
    left = hours(row.left_s)
    if row.urgency == float("inf"):
        return f"{left} are left; its sky is open on no night that may be clear."
    open_s = row.left_s / row.urgency
    return (
        f"{left} are left. Its sky is open for {hours(open_s)}, each night weighted by its odds: it needs"
        f" {percent(row.urgency)} of that."
    )


def _goal(goal: ProjectGoalState) -> tuple[str, ...]:
    """A goal's row: filter, exposure, wanted, in hand, planned, nights, last useful evening, left."""
    words = [f"{goal.exposure_s:g} s"]
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


def _planned(row: Row, facts: SeasonFacts) -> list[tuple[int, str, str]]:
    """The nights on which a target is in the plan, with its hours."""
    return [
        (number, short_date(facts.columns[number].evening), f"{max(cell.hours, 0.01):.1f} h")
        for number, cell in enumerate(row.cells)
        if cell.serves == "used"
    ]


def _night_words(column: Column, lanes: NightLanes, facts: SeasonFacts) -> Mapping[str, str]:
    """What is said of a night above and below its lanes."""
    night = column.night
    open_s = sum(each.frames * each.exposure_s for each in night.plan)
    sky = (
        f"{duration(night.dark_s)} dark, {duration(min(night.moonless_dark_s, night.dark_s))} of it without"
        f" Moon; Moon {percent(night.moon_illuminated)} lit; odds of clear sky {percent(night.odds)}."
    )
    gives = (
        f"Without this night's plan the season would have {duration(night.value_s)} less value; one more clear"
        f" night like it would give about {duration(night.worth_s)}."
    )
    brief = duration(open_s) if lanes.visits else "nothing planned"
    return {"sky": sky, "gives": gives if lanes.visits else "", "brief": brief}
