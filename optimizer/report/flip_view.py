"""The flip's arithmetic in words, a ruler of minutes around the meridian, and tonight's flips."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.report.flip_facts import FlipReport
from optimizer.report.tables import heading, plain_table
from optimizer.report.words import at_least_minutes, clock, name

RULER_CELLS = 64
LABEL_CELLS = 16
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
    "never": "no target is carried across; each is shot on one side, or on both with other work between",
}


def flip_view(report: FlipReport, zone: str) -> RenderableType:
    """Everything that `darkfill flip` shows."""
    if report.kind != "german":
        return Text(
            "This mount is a fork: it follows a target through the meridian and never flips.", style="bold"
        )
    parts: list[RenderableType] = [heading("Around the meridian"), *_sentences(report), Text()]
    parts += [Text("minutes past the meridian", style="dim"), *ruler(report), Text()]
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
    yield Text(
        f"Equipment touches {_at(report.contact_min)}. Keeping {report.clearance_min:g} min of clearance"
        f"{error}, the first side (tube west of the pier) must be left {_at(report.latest_track_min)}."
    )
    yield Text(
        f"The mount takes a flip no sooner than {_at(report.flip_from_min)}; "
        f"the flipped side (tube east) is used from {_at(report.flipped_from_min)}."
    )
    yield Text(f"flip_by = {report.flip_by}: {MODES[report.flip_by]}.")
    if report.standstill_min > 0:
        yield Text(
            f"Between the two nothing may track: the mount stands still for {report.standstill_min:.1f} min, "
            "tracking off, before it flips."
        )


def _at(minutes: float) -> str:
    if round(minutes * 60) == 0:
        return "at the meridian"
    whole, seconds = divmod(round(abs(minutes) * 60), 60)
    words = " ".join(
        part for part in (f"{whole} min" if whole else "", f"{seconds} s" if seconds else "") if part
    )
    return f"{words} {'past' if minutes > 0 else 'before'} the meridian"


def _verdict(report: FlipReport) -> Iterator[Text]:
    if report.longest_exposure_s is None or report.worst_end_min is None or report.margin_min is None:
        yield Text(
            f"Begun just before the flip is due, an exposure of {report.longest_fitting_s:g} s at most fits.",
            style="bold",
        )
        return
    exposure = f"{report.longest_exposure_s:g} s"
    ends = _at(report.worst_end_min)
    worst = f"begun just before the flip is due, the longest exposure ({exposure}) ends {ends}"
    if report.fits:
        yield Text(f"FITS: {worst}, {at_least_minutes(report.margin_min)} before contact.", style="bold")
        return
    over_min = report.worst_end_min - report.latest_track_min
    yield Text(f"DOES NOT FIT: {worst}, {over_min:.1f} min too late.", style="bold")
    if report.margin_min <= 0:
        yield Text(f"It would end {-report.margin_min:.1f} min BEYOND contact.", style="bold")
    yield Text("The plan then closes the shutter earlier and waits for the flip. To lose no time, one of:")
    if report.longest_fitting_s > 0:
        yield Text(f"  expose {report.longest_fitting_s:g} s at most;")
    yield Text(
        f"  let the mount flip from {_at(report.flip_from_min - over_min)} (flip_from_min), if it can;"
    )
    yield Text(
        f"  if equipment truly touches no sooner than {_at(report.contact_min + over_min)}: measure again "
        "and raise contact_min."
    )


def ruler(report: FlipReport) -> list[Text]:
    """Lines with one scale: marks, first side, flipped side, worst exposure, clearance and contact."""
    marks = [0.0, report.contact_min, report.latest_track_min, report.flip_from_min, report.flipped_from_min]
    if report.worst_end_min is not None:
        marks.append(report.worst_end_min)
    low, high = min(marks), max(marks)
    room = max(2.0, 0.12 * (high - low))
    scale = _Scale(low - room, high + room)
    lines = [
        ("", scale.axis()),
        ("", scale.row(points={0.0: "|"}, words=" meridian")),
        ("first side", scale.row(bars=[(scale.low, report.latest_track_min, "━")], words=" must be left")),
        ("flipped side", scale.row(bars=[(report.flipped_from_min, scale.high, "━")])),
    ]
    if report.worst_end_min is not None:
        bar = (report.flip_from_min, report.worst_end_min, "█")
        lines.append(("worst exposure", scale.row(bars=[bar], words=" shutter closes")))
    clearance = (report.contact_min - report.clearance_min, report.contact_min, "░")
    lines.append(
        ("clearance", scale.row(bars=[clearance], points={report.contact_min: "X"}, words=" contact"))
    )
    return [Text(f"{label:<{LABEL_CELLS}}{row}".rstrip()) for label, row in lines]


class _Scale:
    """Minutes to character cells."""

    def __init__(self, low: float, high: float) -> None:
        self.low, self.high = low, high

    def cell(self, minutes: float) -> int:
        share = (minutes - self.low) / (self.high - self.low)
        return max(0, min(RULER_CELLS - 1, round(share * (RULER_CELLS - 1))))

    def axis(self) -> str:
        """Numbers under which the minutes lie."""
        step = next((s for s in STEPS_MIN if (self.high - self.low) / s <= 8), STEPS_MIN[-1])
        cells = [" "] * (RULER_CELLS + 6)
        minutes = -(-self.low // step) * step + 0.0  # never minus nought
        while minutes <= self.high:
            text = f"{minutes:g}"
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
        cells = [" "] * RULER_CELLS
        for start, end, sign in bars or []:
            for cell in range(self.cell(start), self.cell(end) + 1):
                cells[cell] = sign
        for minutes, sign in (points or {}).items():
            cells[self.cell(minutes)] = sign
        return "".join(cells).rstrip() + words


def _tonight(report: FlipReport, zone: str) -> RenderableType:
    table = plain_table("target", "transit", "flip due", "earliest", "latest", "")
    for flip in report.tonight:
        table.add_row(
            Text(name(flip.target)),
            *(
                clock(instant, zone, seconds=True)
                for instant in (flip.transit_utc, flip.due_utc, flip.earliest_flip_utc, flip.latest_flip_utc)
            ),
            Text("" if flip.in_dark else "by day, low or blocked", style="dim"),
        )
    return table
