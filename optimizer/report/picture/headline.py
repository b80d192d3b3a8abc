"""The few figures that matter, in words."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.audit.rule import kind_words
from optimizer.models.shots import Step
from optimizer.report.going_on import from_words
from optimizer.report.picture.facts import PictureFacts
from optimizer.report.picture.shapes import BOLDER, fitted, text_width
from optimizer.report.picture.shown import ShownPlan
from optimizer.report.proof_words import FAR
from optimizer.report.slack_words import slack_seconds
from optimizer.report.words import (
    AT_ZENITH,
    at_least_minutes,
    at_most_percent,
    clock,
    count,
    dark_words,
    duration,
    name,
    percent,
    zone_words,
)
from optimizer.timeline.totals import least_slack

DAY_MIN = 1440.0  # what lies beyond says nothing: a list typed by hand may hold any number
TITLE_PX, LEAD_PX = 20.0 * BOLDER, 13.0


@dataclass(frozen=True)
class Figure:
    """One figure: its value is shown large, its words small; `key` names it for style and tests."""

    key: str
    value: str
    words: str


def title(plan: ShownPlan) -> str:
    """The title of the picture: which night, where, and from when if the list goes on with a night."""
    begins = from_words(plan.continues, plan.request.site.time_zone)
    return f"Night of {plan.request.night.evening.isoformat()} at {name(plan.request.site.name, 60)}{begins}"


def flips_of(plan: ShownPlan) -> list[Step]:
    """The flips of the plan, in order."""
    return [step for step in plan.steps if step.kind == "flip"]


def figures(facts: PictureFacts) -> list[Figure]:
    """Open shutter, share of the dark, depth, expected, proof, flips, slack, margin, as far as known."""
    plan = facts.plan
    zone = plan.request.site.time_zone
    parts = [Figure("open", duration(plan.open_shutter_s), "open shutter")]
    if plan.dark_s:
        share = plan.open_shutter_s / plan.dark_s
        parts.append(
            Figure(
                "share", percent(share), f"of {dark_words(plan.dark_s, goes_on=plan.continues is not None)}"
            )
        )
    if plan.depth_s is not None:
        parts.append(Figure("depth", duration(plan.depth_s), f"of depth, as {AT_ZENITH}"))
    if plan.expected_s is not None:
        parts.append(Figure("expected", duration(plan.expected_s), "expected by the odds of clear sky given"))
    if plan.proof is not None and plan.steps and 0 <= plan.proof.gap <= FAR:
        if plan.proof.status == "optimal":
            parts.append(Figure("gap", "0 %", "gap to the best possible: proven"))
        else:
            early = ", search stopped early" if plan.proof.status == "stopped" else ""
            parts.append(
                Figure("gap", at_most_percent(plan.proof.gap), f"proven gap to the best possible{early}")
            )
    if plan.request.mount.flips:
        flips = flips_of(plan)
        times = [clock(step.start_utc, zone) for step in flips]
        shown = ", ".join(times[:3]) + (" …" if len(times) > 3 else "")
        words = "flip" if len(flips) == 1 else count(len(flips), "flip") if flips else "flips"
        parts.append(Figure("flips", shown or "0", words))
    seconds, number = least_slack(plan.steps, by_mount=plan.request.mount.flip_by == "mount")
    if seconds is not None and 0 <= seconds < DAY_MIN * 60:
        step = next(each for each in plan.steps if each.step == number)
        where = f"{kind_words(step.kind)} at {clock(step.start_utc, zone)}"
        parts.append(Figure("slack", slack_seconds(seconds), f"least slack, before the {where}"))
    if plan.request.mount.flips:
        margin = None if plan.audit is None else plan.audit.least_margin_min
        if margin is not None and abs(margin) < DAY_MIN:
            parts.append(Figure("margin", at_least_minutes(margin), "least margin to contact"))
    return parts


def headline_lines(facts: PictureFacts, width: float) -> tuple[str, list[str]]:
    """The title and the figures for a picture `width` pixels wide; figures fill as many lines as they need.

    None is cut: the margin to contact stands last. The clock's words go to the figures where the title
    leaves no room for them.
    """
    heading, clocks = title(facts.plan), clock_words(facts)
    parts = [f"{each.value} {each.words}" for each in figures(facts)]
    if text_width(f"{heading} · {clocks}", TITLE_PX) <= width:
        heading = f"{heading} · {clocks}"
    else:
        parts.insert(0, clocks)
    lines = [""]
    for part in parts:
        longer = f"{lines[-1]} · {part}" if lines[-1] else part
        if text_width(longer, LEAD_PX) <= width:
            lines[-1] = longer
        else:
            lines.append(part)
    return fitted(heading, width, TITLE_PX), lines


def clock_words(facts: PictureFacts) -> str:
    """The time zone with its offset from UTC."""
    start, end = (facts.clock.utc(int(t)) for t in (facts.start_s, facts.end_s))
    return zone_words(start, end, facts.plan.request.site.time_zone)


CAUTIONS = (
    "Measure contact by hand and by day, set the mount's own limits too, let only one program manage "
    "the flip, and watch the first one.",
    "The maker's instructions and limits and local rules come first. Never point near the Sun. "
    "A picture guards nothing.",
)


def caution(plan: ShownPlan) -> tuple[str, ...]:
    """Cautions for whoever relies on the picture."""
    if plan.request.mount.flips:
        return CAUTIONS
    return ("The maker's instructions and limits and local rules come first. Never point near the Sun.",)
