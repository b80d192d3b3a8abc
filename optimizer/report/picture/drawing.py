"""The whole picture: title, hours, lanes and legend, from one set of facts, on a wide or a narrow sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from optimizer.report.picture.colours import filter_slots
from optimizer.report.picture.facts import PictureFacts
from optimizer.report.picture.frame import EDGE, Frame, Layout
from optimizer.report.picture.headline import caution, headline_lines
from optimizer.report.picture.legend import legend
from optimizer.report.picture.mount_lane import mount_lane
from optimizer.report.picture.odds_lane import odds_lane
from optimizer.report.picture.shapes import Shape, curve, fitted, group, label, line
from optimizer.report.picture.sky_lane import sky_lane
from optimizer.report.picture.target_lane import Lane, target_lane

GAP = 9.0
AXIS = 20.0
LEAD = 17.0  # from one line of figures to the next


@dataclass(frozen=True)
class Drawing:
    """Shapes on a sheet of `width` by `height` pixels; `lanes_top` to `lanes_bottom` is where time runs."""

    layout: Layout
    width: float
    height: float
    shapes: tuple[Shape, ...]
    lanes_top: float
    lanes_bottom: float


def slots_of(facts: PictureFacts) -> Mapping[str, int]:
    """A colour and texture for each filter that a goal or a step uses, in the order of the request."""
    request = facts.plan.request
    used = {goal.filter for _, goal in request.goals()} | {
        placed.step.filter for placed in facts.placed_steps
    }
    known = [each.name for each in request.filters]
    strange = sorted(name for name in used if name and name not in known)  # of a list typed by hand
    return filter_slots([*(name for name in known if name in used), *strange])


def draw(facts: PictureFacts, layout: Layout, *, titled: bool) -> Drawing:
    """Draw the night; `titled`: with headline and caution, for a picture that stands by itself."""
    frame, slots = Frame(layout, facts), slots_of(facts)
    y = 4.0
    shapes: list[Shape] = []
    if titled:
        heading, lines = headline_lines(facts, layout.width - 8)
        shapes.append(label(EDGE, y + 20, heading, class_="title"))
        shapes += [label(EDGE, y + 40 + LEAD * row, text, class_="lead") for row, text in enumerate(lines)]
        y += 52 + LEAD * (len(lines) - 1)
    top = y
    y += AXIS
    grounds: list[Shape] = []
    lanes: list[Shape] = []
    for lane in _lanes(frame, slots, y):
        grounds += lane.grounds
        lanes.append(group(lane.shapes))
        y += lane.height + GAP
        lanes.append(line(EDGE, y - GAP / 2, layout.right, y - GAP / 2, class_="between"))
    bottom = y - GAP / 2
    zone = facts.plan.request.site.time_zone
    shapes += grounds
    shapes += _grid(frame, zone, top + AXIS - 4, bottom)
    shapes += lanes
    shapes += _axis(frame, zone, top + 13, "local", zone)
    shapes += _axis(frame, "UTC", bottom + 14, "utc", "UTC")
    y = bottom + AXIS + 4
    if facts.steps_outside:
        words = f"{facts.steps_outside} steps lie outside this night and are not drawn."
        shapes.append(label(EDGE, y + 12, words))
        y += 18
    signs = legend(frame, slots, y)
    shapes.append(group(signs.shapes))
    y += signs.height
    if titled:
        for words in caution(facts.plan):
            shapes.append(label(EDGE, y + 10, words, class_="soft"))
            y += 14
    return Drawing(layout, layout.width, y + 4, tuple(shapes), top, bottom)


def _lanes(frame: Frame, slots: Mapping[str, int], y: float) -> Iterator[Lane]:
    """The lanes from top to bottom; each gives its height before the next is placed."""
    lane = sky_lane(frame, y)
    y += lane.height + GAP
    yield lane
    if frame.facts.odds:
        lane = odds_lane(frame, y)
        y += lane.height + GAP
        yield lane
    for facts in frame.facts.targets:
        lane = target_lane(frame, facts, slots, y)
        y += lane.height + GAP
        yield lane
    yield mount_lane(frame, y)


def _grid(frame: Frame, zone: str, top: float, bottom: float) -> list[Shape]:
    """Upright lines at the hours, faint where the axis has no label."""
    hours = list(frame.hours(zone))
    kinds = (
        ("hour", [t_s for t_s, text in hours if text]),
        ("hour faint", [t_s for t_s, text in hours if not text]),
    )
    return [
        curve("".join(f"M{frame.x(t_s):.1f} {top:.1f}V{bottom:.1f}" for t_s in times), class_=class_)
        for class_, times in kinds
        if times
    ]


def _axis(frame: Frame, zone: str, y: float, class_: str, words: str) -> list[Shape]:
    """An axis with the hours of one clock; on the wide sheet the clock's name stands in the margin."""
    layout = frame.layout
    labels = []
    for t_s, text in frame.hours(zone):
        x, half = frame.x(t_s), layout.hour_label_px / 2 - 2
        if text and layout.left - 4 <= x - half and x + half <= layout.width:
            labels.append(label(x, y, text))
    axis = [group(labels, class_=f"axis {class_}")]
    if layout.names == "beside":
        axis.append(label(EDGE, y, fitted(words, layout.names_px), class_=class_))
    return axis
