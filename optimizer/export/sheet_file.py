"""A plan on paper: plain text of at most 80 columns with what a person needs at the mount."""

from __future__ import annotations

from collections.abc import Iterator

from rich.cells import cell_len

from optimizer.views.models import BlockView, PlanView, VisitView
from optimizer.words import at_least_minutes, count, duration, number, safe, zone_words

WIDTH = 80  # columns of a terminal's signs; some signs take two
BOX = "[ ] "


def sheet_text(view: PlanView) -> str:
    """Write the sheet: what holds for all, cautions to tick off, flips, and the visits in order."""
    clock = _Clock(view)
    lines = [*_head(view, clock), "", *_cautions(view), "", *_flips(view, clock), "", *_order(view, clock)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


class _Clock:
    """Local time of day of the views' texts; with the offset where the clocks change in the night."""

    def __init__(self, view: PlanView) -> None:
        ends = [step.start_local[19:] for step in view.steps] + [step.end_local[19:] for step in view.steps]
        self.changes = len(set(ends)) > 1

    def __call__(self, local: str | None) -> str:
        if local is None:
            return "-"
        return local[11:] if self.changes else local[11:19]


def _head(view: PlanView, clock: _Clock) -> Iterator[str]:
    plan, totals = view.plan, view.totals
    yield from _folded(f"Night of {plan.evening} at {safe(plan.site)}")
    if plan.start_utc is None or plan.end_utc is None:
        yield "The list has no steps."
        return
    yield from _folded(f"Times are local: {zone_words(plan.start_utc, plan.end_utc, plan.time_zone)}.")
    yield from _folded(
        f"From {clock(plan.start_local)} to {clock(plan.end_local)}: {count(totals.visits, 'visit')}, "
        f"{count(totals.flips, 'flip')}, {count(totals.subs, 'sub')}, "
        f"{duration(totals.open_shutter_s)} of open shutter."
    )
    yield from _folded(_audit_words(view))
    if plan.least_slack_s is not None:
        yield f"The list may run late by {plan.least_slack_s} s as a whole: it breaks and loses nothing."


def _audit_words(view: PlanView) -> str:
    plan = view.plan
    if plan.rules_checked is None:
        return "NOT AUDITED."
    if plan.violations:
        return f"NOT SAFE AS IT STANDS: {count(plan.violations, 'violation')} found by the audit."
    margin = ""
    if plan.least_margin_min is not None:
        margin = f" Never nearer to contact than {at_least_minutes(plan.least_margin_min)}."
    return f"Audited: {count(plan.rules_checked, 'rule')} checked, none broken.{margin}"


def _cautions(view: PlanView) -> Iterator[str]:
    yield "CAUTIONS"
    for caution in view.plan.cautions:
        yield from _folded(safe(caution), BOX)


def _flips(view: PlanView, clock: _Clock) -> Iterator[str]:
    flips = [visit for visit in view.visits if visit.arrival == "flip"]
    yield "FLIPS" if flips else "NO FLIPS"
    for visit in flips:
        latest = "" if visit.latest_start_utc is None else f", latest {clock(visit.latest_start_local)}"
        by = ", by the mount itself" if view.plan.flip_by == "mount" else latest
        yield _cut(f"{BOX}{clock(visit.start_local)}{by}  {safe(visit.target)}")


def _order(view: PlanView, clock: _Clock) -> Iterator[str]:
    yield "ORDER"
    begins = {visit.first_step: visit for visit in view.visits}
    for step in view.steps:
        if step.step in begins:
            yield from _visit(view, begins[step.step], clock)
        elif step.kind == "wait" and step.tracking is False:
            yield f"{BOX}{clock(step.start_local)}  tracking OFF until {clock(step.end_local)}"
        elif step.kind == "park":
            yield f"{BOX}{clock(step.start_local)}  PARK, tracking OFF"
    if view.plan.end_utc is not None:
        yield f"    {clock(view.plan.end_local)}  end of the list"


def _visit(view: PlanView, visit: VisitView, clock: _Clock) -> Iterator[str]:
    begin = f"{BOX}{clock(visit.start_local)}  {visit.visit}. "
    yield _cut(begin + safe(visit.target))
    yield from _folded(_arrival(view, visit, clock), " " * len(BOX))
    place = ""
    if visit.ra_hms is not None and visit.dec_dms is not None:
        place = f"{visit.ra_hms} {visit.dec_dms} {visit.frame}"
    angle = _angle(visit)
    yield from _folded(", ".join(part for part in (place, angle) if part), " " * len(BOX))
    for block in (block for block in view.blocks if block.visit == visit.visit):
        yield from _folded(_block(block, clock), " " * len(BOX))


def _arrival(view: PlanView, visit: VisitView, clock: _Clock) -> str:
    side = "" if visit.pier_side is None else f", pier side {visit.pier_side}"
    if visit.arrival == "slew":
        return f"slew{side}"
    if visit.arrival == "there":
        return f"there already{side}"
    latest = "" if visit.latest_start_utc is None else f", latest {clock(visit.latest_start_local)}"
    by = ", by the mount itself" if view.plan.flip_by == "mount" else latest
    return f"FLIP{side.replace(',', ' to', 1)}{by}"


def _angle(visit: VisitView) -> str:
    if visit.position_angle_deg is None:
        return ""
    words = f"position angle {number(visit.position_angle_deg)}°"
    if visit.field_turned:
        words += " (field turned by 180°)"
    if visit.guide_star_anew:
        words += "; off-axis guide star anew"
    return words


def _block(block: BlockView, clock: _Clock) -> str:
    length = "" if block.exposure_s is None else f"×{number(block.exposure_s)}s"
    subs = f"{safe(block.filter or 'no filter')} {block.count}{length}"
    settings = [
        f"{name} {value}"
        for name, value in (("gain", block.gain), ("offset", block.offset), ("binning", block.binning))
        if value is not None and (name, value) != ("binning", 1)
    ]
    if block.latest_start_utc is not None:
        settings.append(f"whole if begun by {clock(block.latest_start_local)}")
    return ", ".join([f"{clock(block.start_local)} to {clock(block.end_local)}  {subs}", *settings])


def _folded(text: str, first: str = "") -> Iterator[str]:
    """Lines no wider than the sheet; the first begins with `first`, the others with as many blanks."""
    room, line = WIDTH - cell_len(first), ""
    begin = first
    for word in text.split(" "):
        for piece in _pieces(word, room):
            if line and cell_len(line) + 1 + cell_len(piece) > room:
                yield begin + line
                begin, line = " " * cell_len(first), piece
            else:
                line = f"{line} {piece}" if line or not piece else piece
    if line:
        yield begin + line


def _pieces(word: str, room: int) -> Iterator[str]:
    """A word in pieces no wider than the room; one that fits is left whole."""
    piece = ""
    for char in word:
        if cell_len(piece + char) > room:
            yield piece
            piece = char
        else:
            piece += char
    yield piece


def _cut(line: str) -> str:
    """A line no wider than the sheet; what is cut off is marked."""
    if cell_len(line) <= WIDTH:
        return line
    while cell_len(line) > WIDTH - 1:
        line = line[:-1]
    return line + "…"
