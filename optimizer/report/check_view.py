"""What a check found, as text: the verdict first, then the findings by group, at most a screen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.findings.finding import GROUPS, CheckReport, Finding
from optimizer.models.shots import ShotList
from optimizer.report.audit_view import goes_on_words, margin_words
from optimizer.report.tables import heading, indented
from optimizer.report.words import count
from optimizer.words import safe

MOST_SHOWN = 10  # findings, so that they fit on a screen; `--json` has all
HEADINGS = {
    "equipment": "Equipment in danger",
    "lost_frames": "Subs lost, spoilt or not asked for",
    "quality": "Short of what the request asks for",
    "form": "Written wrongly",
}


def verdict(report: CheckReport, provided: str = "") -> str:
    """Is the list safe and within the rules? The first words say so, the worst finding follows.

    `provided` is what must be done for it though the list does not say so.
    """
    only = f", provided that {provided}" if provided else ""
    if not report.safe:
        return f"Not safe. {report.findings[0].sentence}"
    if not report.violations:
        margin = f" {margin_words(report)}" if report.least_margin_min is not None else ""
        rules = count(len(report.rules), "rule")
        return f"Safe and within the rules{only}: {rules} checked, none broken.{margin}"
    worst = report.findings[0].sentence
    if report.findings[0].group == "lost_frames" and worst[:1].isdigit():
        return f"Safe{only}, but {worst}"
    return f"Safe{only}, but not within the rules. {worst}"


def check_view(
    report: CheckReport,
    shots: ShotList | None = None,
    lines: Mapping[int, int] | None = None,
    provided: str = "",
    late: str = "",
) -> RenderableType:
    """The verdict with the worst finding, all others under their groups, and what was checked.

    Before them stands with which list `shots` goes on, where it does. `lines` has the lines of a file that
    steps stem from, which then stand in their place; `provided` is what must be done though no row says so.
    `late` says that the list would not be safe if it ran late, where that was asked.
    """
    parts: list[RenderableType] = []
    if shots is not None and shots.continues is not None:
        parts.append(Text(goes_on_words(shots.continues, shots.request.site.time_zone)))
    parts.append(Text(safe(verdict(report, provided)), style="bold"))
    if late:
        parts.append(Text(late, style="bold"))
    if report.violations or not report.safe:
        parts.append(indented(Text(_where(report.findings[0], lines))))
    told = report.findings[: MOST_SHOWN + 1]
    rest = told[1:] if report.violations or not report.safe else told
    for group in GROUPS:
        own = [finding for finding in rest if finding.group == group]
        if own:
            parts += [Text(), heading(HEADINGS[group])]
            parts += [indented(Text(f"{safe(each.sentence)} ({_where(each, lines)})")) for each in own]
    if len(report.findings) > len(told):
        more = count(len(report.findings) - len(told), "more finding")
        parts.append(Text(f"and {more}; --json has all"))
    if report.violations:
        broken = count(len(report.violations), "violation")
        margin = f" {margin_words(report)}" if report.least_margin_min is not None else ""
        parts += [Text(), Text(f"{count(len(report.rules), 'rule')} checked, {broken}.{margin}")]
    if report.comparison is not None:
        parts += [Text(), Text(safe(report.comparison.sentence))]
    return Group(*parts)


def _where(finding: Finding, lines: Mapping[int, int] | None) -> str:
    """The rule and the steps: `contact, steps 206-229`; or the lines of a file that they stem from."""
    if of_lines := sorted({lines[step] for step in finding.steps if step in lines} if lines else ()):
        return f"{finding.rule}, {'line' if len(of_lines) == 1 else 'lines'} {_spans(of_lines)}"
    steps = _spans(finding.steps)
    if not steps:
        return finding.rule
    word = "step" if len(finding.steps) == 1 else "steps"
    return f"{finding.rule}, {word} {steps}"


def _spans(numbers: Sequence[int]) -> str:
    """Numbers with neighbours drawn together, the first few spans of them: `3, 7-9, 12 ...`."""
    spans: list[list[int]] = []
    for number in numbers:
        if spans and number == spans[-1][1] + 1:
            spans[-1][1] = number
        else:
            spans.append([number, number])
    words = [str(first) if first == last else f"{first}-{last}" for first, last in spans[:4]]
    return ", ".join(words) + (" ..." if len(spans) > 4 else "")
