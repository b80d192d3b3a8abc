"""The page: one file that holds everything and asks for nothing, under a strict content-security policy."""

from __future__ import annotations

import math

from optimizer.models.shots import AuditReport
from optimizer.report.audit_view import QUALITY
from optimizer.report.flip_facts import flip_report
from optimizer.report.flip_view import CAUTIONS, flip_words
from optimizer.report.going_on import assumed_words, begun_words, tonight_words
from optimizer.report.in_season_facts import in_season_facts, season_words
from optimizer.report.odds_facts import expected_words, gamble_words
from optimizer.report.picture.blocks import block_ranges
from optimizer.report.picture.colours import theme_values
from optimizer.report.picture.drawing import draw
from optimizer.report.picture.facts import PictureFacts, picture_facts
from optimizer.report.picture.following import following, zone_offsets
from optimizer.report.picture.frame import NARROW, WIDE
from optimizer.report.picture.headline import clock_words, figures, title
from optimizer.report.picture.one_file import THEME_WORDS, policy_text, script_text, themes_css
from optimizer.report.picture.order import order_of_night
from optimizer.report.picture.progress import bars, left_out, set_bars
from optimizer.report.picture.rendering import TEMPLATES, picture_css, templates
from optimizer.report.picture.ruler import WIDTH as RULER_WIDTH
from optimizer.report.picture.ruler import ruler_shapes
from optimizer.report.picture.served import Served
from optimizer.report.picture.shown import ShownPlan
from optimizer.report.picture.step_table import columns_of, table_rows
from optimizer.report.relief_facts import relief_facts
from optimizer.report.scarce_facts import COUNTS, scarce_facts
from optimizer.report.set_words import outside_words, set_progress
from optimizer.words import safe

NOW_PX = 74  # width of the sign at the line that shows the time
FORK_CAUTION = CAUTIONS[-1:]


def page_text(plan: ShownPlan, theme: str | None = None, served: Served | None = None) -> str:
    """The whole page; `theme`: what it opens with, unless its reader has chosen; None: as the system.

    `served`: what the page is told of the server that hands it out; None for a page that asks for nothing.
    """
    from markupsafe import Markup

    facts = picture_facts(plan)
    style, script = _style(), _script(served)
    shown_utc = facts.clock.utc(math.floor(facts.start_s)), facts.clock.utc(math.ceil(facts.end_s))
    zone, goes_on = plan.request.site.time_zone, plan.continues
    reasons, notes = left_out(plan.unplanned)
    return (
        templates()
        .get_template("page.html.j2")
        .render(
            title=title(plan),
            clock_words=clock_words(facts),
            assumed=None if goes_on is None else assumed_words(goes_on.begin, zone),
            tonight=tonight_words(goes_on),
            begun=None if goes_on is None else begun_words(goes_on, zone),
            theme=theme,
            themes=THEME_WORDS,
            style=Markup(style),
            script=Markup(script),
            policy=_policy(style, script, served),
            zone=zone_offsets(zone, *shown_utc),
            follow=following(plan.request, plan.steps, *shown_utc),
            etag=None if served is None else served.bare_etag,
            seen=() if served is None else [safe(words) for words in served.seen],
            warns=served is not None and served.warns,
            now_px=NOW_PX,
            figures=figures(facts),
            verdict=_verdict(plan.audit),
            odds=_odds(plan),
            violations=() if plan.audit is None else [safe(each.message) for each in plan.audit.violations],
            short=() if plan.audit is None else [safe(each.message) for each in plan.audit.quality],
            short_words=QUALITY,
            drawings=[
                (drawing, block_ranges(drawing.shapes))
                for drawing in (draw(facts, layout, titled=False) for layout in (WIDE, NARROW))
            ],
            outside=facts.steps_outside,
            order=order_of_night(plan.steps, zone),
            bars=bars(plan.goals),
            set_bars=set_bars(set_progress(plan.request, plan.targets)),
            outside_sets=outside_words(plan.request) if plan.targets else None,
            season=in_season_facts(plan.season),
            season_words=season_words(plan.season),
            counts=COUNTS,
            scarce=scarce_facts(
                plan.request, facts.night, plan.steps, plan.values, carried=plan.values_carried
            ),
            left_out=reasons,
            left_out_notes=notes,
            relief=relief_facts(plan.unplanned),
            columns=columns_of(plan.steps),
            rows=table_rows(plan.steps, zone),
            ruler_width=RULER_WIDTH,
            **_flip(facts),
        )
    )


def _script(served: Served | None) -> str:
    """The page's script; a served page's asks its server too."""
    names = ("theme.js", "page.js", "clock.js", "follow.js", *(() if served is None else ("served.js",)))
    return script_text([TEMPLATES / name for name in names])


def _odds(plan: ShownPlan) -> list[str]:
    """What is expected by the odds of clear sky, and which part is a gamble; empty if none are given."""
    expected = None if plan.expected_s is None else expected_words(plan.open_shutter_s, plan.expected_s)
    words = (expected, gamble_words(plan.request, plan.steps))
    return [f"{each[:1].upper()}{each[1:]}." for each in words if each is not None]


def _flip(facts: PictureFacts) -> dict[str, object]:
    """What the page shows of the flip: the ruler with its words, which a fork has not, and cautions."""
    request = facts.plan.request
    if not request.mount.flips:
        return {"ruler": None, "ruler_height": 0, "flip_lines": (), "cautions": FORK_CAUTION}
    report = flip_report(request)
    shapes, height = ruler_shapes(report)
    return {
        "ruler": shapes,
        "ruler_height": height,
        "flip_lines": flip_words(report),
        "cautions": CAUTIONS,
    }


def _verdict(audit: AuditReport | None) -> str:
    """What the list says of its audit, in words."""
    if audit is None:
        return "Not audited: bare steps carry no audit; darkfill check audits them."
    if audit.violations:
        return f"The audit found {len(audit.violations)} violations: do not run this list."
    # the picture does not audit: steps may have been changed by hand since
    return (
        f"{len(audit.rules)} rules checked again by separate code when it was planned: "
        "none broken. Changed since? Run darkfill check."
    )


def _policy(style: str, script: str, served: Served | None) -> str:
    """Nothing may be loaded, nothing may run but style and script; a served page may ask its server."""
    return policy_text(style, script, "" if served is None else "connect-src 'self'; ")


def _style() -> str:
    """The themes as variables, the page's style and the picture's."""
    page = (TEMPLATES / "page.css").read_text(encoding="utf-8").strip()
    return "\n".join([themes_css(theme_values), picture_css(), page])
