"""The flip's arithmetic in words, a ruler of minutes around the meridian, and tonight's flips."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.text import Text

from optimizer.report.flip_facts import FlipReport, TargetFlip
from optimizer.report.flip_slack import closes_sooner, flip_apart, for_slack, slack_of_worst
from optimizer.report.tables import heading, plain_table
from optimizer.report.words import at_least_minutes, clock, minus, name

RULER_CELLS = 64
LABEL_CELLS, WORDS_CELLS = 16, 16  # names before the ruler, words behind it
LEFT = {"plan": " must be left", "mount": " the mount flips", "never": " must be left"}
WORST = {"plan": "begun when due", "mount": "last sub", "never": "last sub"}
STEPS_MIN = (1, 2, 5, 10, 15, 20, 30, 60, 120)  # between marks of the ruler
CAUTIONS = (
    "Measure contact by hand and by day, with power at hand to stop; measure again after every change of "
    "tube, camera, cables or pier.",
    "Set the mount's own limits too. Let only one program manage the flip. Watch the first one.",
    "The mount's limits, the maker's instructions and local rules come first. Never point near the Sun.",
)
MODES = {
    "plan": "the plan flips, as early or late within the permitted time as serves the night",
    "mount": "the mount flips by itself; no shutter is open then, and the plan asks for no second flip",
    "never": "no target is carried across; each is shot on one pier side, or on both with other work between",
}


def flip_view(report: FlipReport, zone: str) -> RenderableType:
    """Everything that `darkfill flip` shows."""
    if report.kind != "german":
        return Text(
            "This mount is a fork: it follows a target through the meridian and never flips.", style="bold"
        )
    parts: list[RenderableType] = [heading("Around the meridian"), *_sentences(report), Text()]
    parts += [Text("minutes past the meridian", style="dim"), _Ruler(report), Text()]
    parts += [*_verdict(report)]
    if report.tonight:
        parts += [Text(), heading("Tonight"), _tonight(report, zone)]
    parts += [Text(), *(Text(line, style="dim") for line in CAUTIONS)]
    return Group(*parts)


def flip_words(report: FlipReport) -> list[str]:
    """The arithmetic and the verdict in plain lines, the verdict first."""
    return [text.plain.strip() for text in (*_verdict(report), *_sentences(report))]


def _sentences(report: FlipReport) -> Iterator[Text]:
    error = f" and {report.clock_error_s:g} s of clock error" if report.clock_error_s else ""
    west = "pier side west (the telescope is west of the pier and looks east)"
    if report.contact_min is None:
        yield Text(
            "Where the equipment touches was never measured (contact_min), so on "
            f"{west} nothing tracks past the meridian{error and f', with {error[5:]} kept'}."
        )
    else:
        limit_min = report.contact_min - report.clearance_min - report.clock_error_s / 60
        own = report.flip_by == "mount" and report.latest_track_min < limit_min - 1e-6
        left = "could be used until" if own else "must be left"
        yield Text(
            f"Equipment touches {_at(report.contact_min)}. Keeping {report.clearance_min:g} min of clearance"
            f"{error}, {west} {left} {_at(limit_min)}{', were it not for the flip' if own else ''}."
        )
    east = f"pier side east is used from {_from(report.flipped_from_min)}"
    if report.flip_by == "mount":
        yield Text(
            f"The mount flips by itself {_at(report.flip_from_min)}{error and f', give or take{error[4:]}'}: "
            f"pier side west is used until {_from(report.latest_track_min)}, {east}."
        )
    elif report.flip_by == "plan":
        yield Text(f"The mount takes a flip no sooner than {_from(report.flip_from_min)}; {east}.")
    else:
        yield Text(f"{east[0].upper()}{east[1:]}.")
    if _stands_still(report):
        lasts = _minutes(report.standstill_min * 60) or "a second"
        yield Text(
            "Between leaving pier side west and the flip nothing may track: the mount stands still, tracking "
            f"off, for {'at least ' if report.slack_s else ''}{lasts}."
        )
    else:
        yield from flip_apart(report)
    yield Text(f"flip_by = {report.flip_by}: {MODES[report.flip_by]}.")


def _stands_still(report: FlipReport) -> bool:
    """Whether pier side west must be left before the flip may begin, in whole seconds as they are planned."""
    apart = any(flip.latest_flip_utc is None for flip in report.tonight)
    return report.flip_by == "plan" and (report.standstill_min > 0 or apart)


def _from(minutes: float) -> str:
    """The words of `_at` as they follow `from` or `until`: `5 min past the meridian`, `the meridian`."""
    return _at(minutes).removeprefix("at ")


def _at(minutes: float, rounded: Literal["nearest", "sooner", "later"] = "nearest") -> str:
    """Minutes and seconds past or before the meridian in words; a limit is rounded to its safe side."""
    exact = minutes * 60
    seconds = {"nearest": round(exact), "sooner": math.floor(exact + 1e-6), "later": math.ceil(exact - 1e-6)}
    whole_s = seconds[rounded]
    if whole_s == 0:
        return "at the meridian"
    return f"{_minutes(abs(whole_s))} {'past' if whole_s > 0 else 'before'} the meridian"


def _minutes(seconds: float) -> str:
    whole, rest = divmod(round(seconds), 60)
    return " ".join(part for part in (f"{whole} min" if whole else "", f"{rest} s" if rest else "") if part)


def _verdict(report: FlipReport) -> Iterator[Text]:
    judge = {"plan": _verdict_of_plan, "mount": _verdict_of_mount, "never": _verdict_of_never}
    yield from judge[report.flip_by](report)


def _verdict_of_never(report: FlipReport) -> Iterator[Text]:
    """The verdict where nothing falls due, so that no flip can catch an exposure."""
    if report.longest_exposure_s is None or report.last_begin_min is None:
        yield Text("No sub is wanted any more, so there is none to judge.", style="bold")
        return
    yield Text(
        f"On pier side west the last sub of {report.longest_exposure_s:g} s begins "
        f"{_at(report.last_begin_min, 'sooner')} at the latest: its shutter closes "
        f"{_at(report.latest_track_min, 'sooner')}{_before_contact(report, report.latest_track_min)}. No "
        "target is carried across.",
        style="bold",
    )
    yield from closes_sooner(report)


def _verdict_of_mount(report: FlipReport) -> Iterator[Text]:
    """The verdict where the mount flips by itself, before which the plan ends the last exposure."""
    if report.longest_exposure_s is None or report.last_begin_min is None:
        yield Text("No sub is wanted any more, so there is none to judge.", style="bold")
        return
    if not report.carries_across:
        yield Text(
            "No target is carried across: the mount would flip by itself only after pier side west must be "
            "left, or onto pier side east where that is not clear of contact yet.",
            style="bold",
        )
        yield Text("Let the mount flip at another time, if it can, or use flip_by = plan.")
        return
    yield Text(
        f"The last sub of {report.longest_exposure_s:g} s on pier side west begins "
        f"{_at(report.last_begin_min, 'sooner')} at the latest: its shutter is closed "
        f"{_at(report.latest_track_min, 'sooner')}, before the mount flips by itself. The plan sees to that.",
        style="bold",
    )
    yield Text("Begun just before the mount's own flip, no sub would fit.")
    yield from closes_sooner(report)


def _verdict_of_plan(report: FlipReport) -> Iterator[Text]:
    if report.longest_exposure_s is None or report.worst_end_min is None:
        fitting_s = _fitting_s(report)
        yield Text(
            f"Begun just before the flip is due, a sub of {fitting_s} s at most fits."
            if fitting_s
            else "No sub may be open when the flip falls due.",
            style="bold",
        )
        return
    ends = _at(report.worst_end_min, "later")
    worst = f"begun just before the flip is due, a sub of {report.longest_exposure_s:g} s ends {ends}"
    if report.fits:
        yield Text(f"It fits: {worst}{_before_contact(report, report.worst_end_min)}.", style="bold")
        yield from slack_of_worst(report)
        latest_min = report.latest_track_min - report.slack_s / 60
        yield Text(
            "A plan that flips later keeps shutters open until "
            f"{_at(latest_min, 'sooner').removeprefix('at ')} at the latest{for_slack(report)}"
            f"{_before_contact(report, latest_min)}."
        )
        return
    over_min = report.worst_end_min - report.latest_track_min
    yield Text(f"It does not fit: {worst}, {over_min:.1f} min too late.", style="bold")
    if report.margin_min is not None and report.margin_min < 0.05:
        beyond = f"{-report.margin_min:.1f} min BEYOND" if report.margin_min <= -0.05 else "at"
        yield Text(f"It would end {beyond} contact.", style="bold")
    sooner = f", {report.slack_s} s before it must (aim.slack_s)," if report.slack_s else ""
    yield Text(
        f"The plan then closes the shutter earlier{sooner} and waits for the flip. To lose no time, one of:"
    )
    slack_min = report.slack_s / 60
    if _fitting_s(report) > report.slack_s:
        yield Text(f"  expose {_fitting_s(report) - report.slack_s} s at most;")
    sooner_min = report.latest_track_min - slack_min - report.longest_exposure_s / 60
    sooner_min = math.floor(100 * sooner_min) / 100
    clear = ""
    if sooner_min < 0:
        clear_min = math.ceil(100 * (report.clearance_min - sooner_min)) / 100
        clear = f", and pier side east is clear of contact from {clear_min:g} min before (contact_before_min)"
    yield Text(
        f"  let the mount flip from {_from(sooner_min)} (flip_from_min = {sooner_min:g}), if it can{clear};"
    )
    if report.contact_min is None:
        yield Text("  measure where the equipment touches, and write it down as contact_min.")
        return
    yield Text(
        f"  if equipment truly touches no sooner than {_from(report.contact_min + over_min + slack_min)}: "
        "measure again and raise contact_min."
    )


def _fitting_s(report: FlipReport) -> int:
    """Whole seconds of the longest exposure that fits."""
    return math.floor((report.longest_fitting_s or 0.0) + 1e-6)


def _before_contact(report: FlipReport, ends_min: float) -> str:
    contact_min = report.contact_min
    return "" if contact_min is None else f", {at_least_minutes(contact_min - ends_min)} before contact"


class _Ruler:
    """The ruler, as wide as there is room for with the words behind its lines."""

    def __init__(self, report: FlipReport) -> None:
        self.report = report

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the lines of the ruler."""
        yield from ruler(self.report, min(RULER_CELLS, options.max_width - LABEL_CELLS - WORDS_CELLS))


def ruler(report: FlipReport, cells: int = RULER_CELLS) -> list[Text]:
    """Lines with one scale of so many cells: marks, both pier sides, an exposure, clearance and contact."""
    bar = ruler_exposure(report)
    marks = [0.0, report.latest_track_min, report.flipped_from_min]
    marks += [] if report.flip_by == "never" else [report.flip_from_min]
    marks += [] if report.contact_min is None else [report.contact_min]
    marks += [] if bar is None else [*bar]
    low, high = min(marks), max(marks)
    room = max(2.0, 0.12 * (high - low))
    scale = _Scale(low - room, high + room, cells)
    lines = [
        ("", scale.axis()),
        ("", scale.row(points={0.0: "|"}, words=" meridian")),
        (
            "pier side west",
            scale.row(bars=[(scale.low, report.latest_track_min, "━")], words=LEFT[report.flip_by]),
        ),
        ("pier side east", scale.row(bars=[(report.flipped_from_min, scale.high, "━")])),
    ]
    if bar is not None:
        lines.append((WORST[report.flip_by], scale.row(bars=[(*bar, "█")], words=" shutter closes")))
    if report.contact_min is not None:
        clearance = (report.contact_min - report.clearance_min, report.contact_min, "░")
        lines.append(
            ("clearance", scale.row(bars=[clearance], points={report.contact_min: "X"}, words=" contact"))
        )
    return [Text(f"{label:<{LABEL_CELLS}}{row}".rstrip()) for label, row in lines]


def ruler_exposure(report: FlipReport) -> tuple[float, float] | None:
    """Minutes past the meridian between which the ruler's exposure lies; None where there is none.

    It is the one begun just before the flip is due; where nothing falls due, or the mount flips by itself,
    the last one that the plan may begin.
    """
    if report.worst_end_min is None or report.last_begin_min is None:
        return None
    if report.flip_by == "plan":
        return report.flip_from_min, report.worst_end_min
    return report.last_begin_min, report.latest_track_min


class _Scale:
    """A scale from minutes past the meridian to character cells."""

    def __init__(self, low: float, high: float, cells: int) -> None:
        self.low, self.high, self.cells = low, high, cells

    def cell(self, minutes: float) -> int:
        share = (minutes - self.low) / (self.high - self.low)
        return max(0, min(self.cells - 1, round(share * (self.cells - 1))))

    def axis(self) -> str:
        """Numbers under which the minutes lie."""
        most = max(3, self.cells // 8)
        step = next((s for s in STEPS_MIN if (self.high - self.low) / s <= most), STEPS_MIN[-1])
        cells = [" "] * (self.cells + 6)
        minutes = -(-self.low // step) * step + 0.0  # never minus nought
        while minutes <= self.high:
            text = minus(f"{minutes:g}")
            start = max(0, self.cell(minutes) - (len(text) - 1))
            cells[start : start + len(text)] = list(text)
            minutes += step
        return "".join(cells).rstrip()

    def row(
        self,
        bars: list[tuple[float, float, str]] | None = None,
        points: dict[float, str] | None = None,
        words: str = "",
    ) -> str:
        """Bars and points on one line; `words` follow the last of them where there is room."""
        cells = [" "] * self.cells
        for start, end, sign in bars or []:
            for cell in range(self.cell(start), self.cell(end) + 1):
                cells[cell] = sign
        for minutes, sign in (points or {}).items():
            cells[self.cell(minutes)] = sign
        return "".join(cells).rstrip() + words


def _tonight(report: FlipReport, zone: str) -> RenderableType:
    """The table of tonight's flips; its columns are those that matter for whoever flips."""
    columns = {
        "mount": {"transit": "transit_utc", "pier side west until": "first_side_until_utc",
                  "mount flips by": "latest_flip_utc"},
        "never": {"transit": "transit_utc", "pier side west until": "first_side_until_utc",
                  "pier side east from": "flipped_side_from_utc"},
        "plan": {"transit": "transit_utc", "flip from": "earliest_flip_utc", "flip by": "latest_flip_utc"},
        "standing": {"transit": "transit_utc", "stand still from": "first_side_until_utc",
                     "flip from": "earliest_flip_utc"},
    }  # fmt: skip
    chosen = columns["standing" if _stands_still(report) else report.flip_by]
    table = plain_table("target", *chosen, "")
    for flip in report.tonight:
        table.add_row(
            Text(name(flip.target)),
            *(clock(getattr(flip, key), zone, seconds=True) for key in chosen.values()),
            Text(_workable(flip), style="dim"),
        )
    return table


def _workable(flip: TargetFlip) -> str:
    """A remark where the Sun, the sky or a blocked span forbids work at the times of the table."""
    if flip.in_dark_throughout:
        return ""
    return "partly by day, low or blocked" if flip.in_dark else "by day, low or blocked"
