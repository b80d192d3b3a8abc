"""The season's page: one file that holds everything and asks for nothing, under a strict policy."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from optimizer.models.season import SeasonFile
from optimizer.report.picture.one_file import THEME_WORDS, policy_text, script_text, themes_css
from optimizer.report.picture.rendering import TEMPLATES as PICTURE_TEMPLATES
from optimizer.report.picture.rendering import templates
from optimizer.report.season_page.by_rig import by_rig
from optimizer.report.season_page.colours import STEPS, season_values
from optimizer.report.season_page.dates import long_date, month_words, short_date
from optimizer.report.season_page.details import (
    evening_brief,
    finish_dates,
    goal_cells,
    helpful_steps,
    hours_in_hand,
    night_words,
    planned_nights,
    summary,
    urgency_words,
)
from optimizer.report.season_page.facts import LEVELS, SeasonFacts, season_facts
from optimizer.report.season_page.lanes import night_lanes
from optimizer.report.season_page.marks import (
    labelled,
    legend,
    marks,
    open_hours,
    progress_bar,
    sky_marks,
)
from optimizer.report.season_page.verdict import verdict
from optimizer.report.season_rigs import (
    clock_words,
    most_of_month,
    nights_words,
    rig_rows,
    season_steps,
    sites_words,
    steps_head,
    steps_note,
)
from optimizer.report.season_words import day, hours, hours_told
from optimizer.report.words import count
from optimizer.words import safe

TEMPLATES = Path(__file__).with_name("templates")
LANE_PX, LANES_TOP_PX = 34, 20
FIGURES_PX = 372  # name, hours and dates beside the map, with the page's edges
NUMBER_PX = 24  # a cell that holds written hours
ORDER_WORDS = {"finish": "finish date", "urgency": "urgency", "request": "the request"}


def season_page(file: SeasonFile, theme: str | None = None) -> str:
    """The whole page; `theme`: what it opens with, unless its reader has chosen; None: as the system."""
    from markupsafe import Markup

    facts = season_facts(file)
    style, script = (
        _style(len(facts.columns)),
        script_text([PICTURE_TEMPLATES / "theme.js", TEMPLATES / "season.js"]),
    )
    axes, nights = night_lanes(facts)
    order = "finish" if file.policy is not None else "urgency"
    rows = sorted(facts.rows, key=lambda row: facts.orders[order][row.number])
    of_rigs = by_rig(facts)
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
            legend=legend(),
            months=[
                (month_words(evening) if columns >= 12 else short_date(evening).split()[1], columns)
                for evening, columns in facts.months
            ],
            columns=facts.columns,
            skies=list(zip(*(sky_marks(column.sky) for column in facts.columns), strict=True)),
            labelled=[labelled(column) for column in facts.columns],
            rows=rows,
            marks={row.number: marks(row) for row in rows},
            sky={row.number: open_hours(row) for row in rows},
            bars={row.project.target: progress_bar(row.project) for row in rows},
            hours={row.number: hours_in_hand(row.project) for row in rows},
            finish={row.number: finish_dates(row) for row in rows},
            summaries={row.number: summary(row) for row in rows},
            states={row.number: [goal_cells(row, goal) for goal in row.project.goals] for row in rows},
            sampled=file.policy is not None,
            steps={row.number: helpful_steps(row.project) for row in rows},
            urgencies={row.number: urgency_words(row) for row in rows},
            served={row.number: nights_words(row) for row in rows},
            planned={row.number: planned_nights(row.cells, facts) for row in rows},
            by_rig=of_rigs,
            rigs=rig_rows(file) if facts.several else [],
            nights=list(zip(facts.columns, nights, strict=True)),
            night_words=night_words,
            evening_brief=evening_brief,
            season_steps=season_steps(file),
            steps_head=steps_head(file),
            steps_note=steps_note(file),
            axes=axes,
            lane_px=LANE_PX,
            lanes_top_px=LANES_TOP_PX,
            months_worth=[
                (
                    month_words(dt.date.fromisoformat(f"{month.month}-01")),
                    month.nights,
                    f"{month.clear_nights:.1f}",
                    hours_told(month.worth_s, up=True),
                    most_of_month(file, month.month),
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
    first, last = facts.columns[0].evening, facts.columns[-1].evening
    where = sites_words(facts.file, 60)
    return f"Season from {short_date(first)} to {last.day} {month_words(last)} {where}"


def _subtitle(facts: SeasonFacts) -> str:
    projects = facts.file.projects
    wanted = hours(sum(each.wanted_s for each in projects))
    in_hand = hours(sum(each.in_hand_s for each in projects))
    return (
        f"{count(len(facts.columns), 'night')}, {count(len(projects), 'target')}; {in_hand} of {wanted} open"
        f" shutter in hand. Times are local ({clock_words(facts.file)}); a night has the date of its evening."
    )
