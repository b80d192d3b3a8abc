"""The comparison of before, after and across the transit, as a table for each target."""

from __future__ import annotations

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.table import Table
from rich.text import Text

from optimizer.report.proof_words import FAR
from optimizer.report.sides_facts import CHOICE_WORDS, ChoiceFacts, OutcomeFacts, SidesReport, TargetChoices
from optimizer.report.tables import heading, plain_table
from optimizer.report.words import AT_ZENITH, at_most_percent, duration, name, seconds_words
from optimizer.sides.compare import SAME_SHARE, Status

STATUS_WORDS: dict[Status, str] = {
    "proven": "proven",
    "found": "found",
    "not_found": "none found",
    "impossible": "impossible",
}
STATUS_NOTES: dict[Status, str] = {
    "proven": "Proven: as near to the best possible under that choice as the request asks.",
    "found": "Found, or ≥: the best that a search of limited time came to; more may be possible.",
    "not_found": "None found: the search came to no plan in its time, which proves nothing.",
    "impossible": "Impossible: proven that no plan tonight shoots the target so.",
}
ROWS = ("alone", "in the night", "whole night", "difference", "how sure", "flips", "alt", "moonlight")


class _Folding:
    """The table of one target: a row for each choice where they fit, else a column for each."""

    def __init__(self, target: TargetChoices, night_value: float) -> None:
        self.columns = [_cells(facts, night_value) for facts in target.choices.values()]
        self.heads = [
            ("> " if choice == target.best else "  ") + CHOICE_WORDS[choice].split()[0]
            for choice in target.choices
        ]
        self.styles = ["bold" if choice == target.best else "" for choice in target.choices]

    def wide(self) -> Table:
        """The table with a row for each choice."""
        table = plain_table("", *ROWS, right=ROWS)
        for head, cells, style in zip(self.heads, self.columns, self.styles, strict=True):
            table.add_row(head, *cells, style=style)
        return table

    def narrow(self) -> Table:
        """The table with a column for each choice."""
        table = plain_table("", *self.heads, right=tuple(self.heads))
        for row, *cells in zip(ROWS, *self.columns, strict=True):
            table.add_row(
                row, *(Text(cell, style=style) for cell, style in zip(cells, self.styles, strict=True))
            )
        return table

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the wide table where none of its lines would be folded, else the narrow one."""
        wide = self.wide()
        fits = console.measure(wide, options=options.update(max_width=10_000)).maximum <= options.max_width
        yield wide if fits else self.narrow()


def sides_view(report: SidesReport) -> RenderableType:
    """Everything that `darkfill sides` shows."""
    parts: list[RenderableType] = [heading("Before the transit, after it, or across?")]
    parts.append(
        Text(
            f"The night planned freely has a value of {duration(report.night_value)} (weighted), "
            f"{_near(report.gap)}. Each choice plans the other targets anew around it.",
            style="dim",
        )
    )
    for target in report.targets:
        parts += [Text(), Text(name(target.target), style="bold")]
        if any(facts.night_proof.status != "impossible" for facts in target.choices.values()):
            parts.append(_Folding(target, report.night_value))
        parts.append(Text(f"{'Best' if target.best else 'Out'}: {target.reason}."))
        if target.allowed != "either":
            parts.append(Text(f'The request allows only sides = "{target.allowed}"; a plan keeps to that.'))
    return Group(*parts, Text(), *(Text(note, style="dim") for note in _notes(report)))


def _near(gap: float) -> str:
    if gap == 0:
        return "the best possible"
    return f"within {at_most_percent(gap)} of the best possible" if gap <= FAR else "not proven near the best"


def _notes(report: SidesReport) -> list[str]:
    """Notes on the words of the tables, as far as they occur."""
    choices = [facts for target in report.targets for facts in target.choices.values()]
    used = {proof.status for facts in choices for proof in (facts.alone_proof, facts.night_proof)}
    notes = [
        "Alone: what the target gets where nothing else counts, other targets only as far as a visit to "
        "them helps it; in the night: beside the others. Difference: the value of that night against the "
        "freely planned one, weighted; below 0.1 % it counts as equal, and of equal ones the one with the "
        "target higher in the sky is best. Flips: all of that night. Moonlight: in V, whatever the filter "
        "lets count; darkfill windows tells it through each."
    ]
    if any(facts.alone is not None and facts.alone.target_depth_s is not None for facts in choices):
        notes.append(
            f"Alone and in the night are hours of depth, as {AT_ZENITH}; the whole night is open shutter."
        )
    if any(facts.alone is not None and facts.alone.target_expected_s is not None for facts in choices):
        notes.append(
            "Values count each second by the odds of clear sky given, as far as these hold; the hours do not."
        )
    return [*notes, *(note for status, note in STATUS_NOTES.items() if status in used)]


def _cells(facts: ChoiceFacts, night_value: float) -> tuple[str, ...]:
    """The cells of one choice, one for each of `ROWS`."""
    sure = STATUS_WORDS[facts.night_proof.status]
    if facts.night is None:
        return (_alone(facts), "-", "-", "-", sure, "-", "-", "-")
    return (
        _alone(facts),
        _own(facts.night),
        duration(facts.night.open_shutter_s),
        _difference(facts.night.value - night_value, night_value),
        sure,
        str(facts.night.flips),
        "-" if facts.night.mean_altitude_deg is None else f"{facts.night.mean_altitude_deg:.0f}°",
        "-" if facts.night.mean_moonlight_mag is None else f"{facts.night.mean_moonlight_mag:.1f} mag",
    )


def _alone(facts: ChoiceFacts) -> str:
    status = facts.alone_proof.status
    if facts.alone is None:
        return STATUS_WORDS[status]
    return ("" if status == "proven" else "≥ ") + _own(facts.alone)


def _own(outcome: OutcomeFacts) -> str:
    depth_s = outcome.target_depth_s
    return duration(outcome.target_open_shutter_s if depth_s is None else depth_s)


def _difference(more_s: float, night_value: float) -> str:
    if abs(more_s) <= SAME_SHARE * night_value:
        return "equal"
    return f"{'−' if more_s < 0 else '+'}{seconds_words(abs(more_s))}"
