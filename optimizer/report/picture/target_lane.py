"""One target's lane: its course, what hides or forbids it, and its exposures as blocks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from optimizer.report.picture.facts import LaneFacts, PlacedStep
from optimizer.report.picture.frame import EDGE, Frame
from optimizer.report.picture.placing import Taken
from optimizer.report.picture.runs import label_shapes, labels_height, run_labels, runs_of
from optimizer.report.picture.scale import AltitudeY, scale_shapes
from optimizer.report.picture.shapes import (
    BOLDER,
    Shape,
    curve,
    fitted,
    label,
    line,
    lowered,
    path,
    rect,
    shape,
    text_width,
)
from optimizer.report.picture.target_signs import (
    FLAG,
    contact_shapes,
    flags_of,
    flip_shapes,
    floor_words,
    transit_shapes,
)
from optimizer.report.words import clock, count, duration

HEAD = 14.0  # room over the course for transit labels
COURSE = 44.0
SHORT_COURSE = 26.0
RAIL, RAILS = 3.0, 9.0
BLOCK = 18.0
TOP_DEG = 90.0
NAME_PX = 14.0 * BOLDER
LEAST_PX = 1.2  # a block that is shorter would not be seen


@dataclass(frozen=True)
class Lane:
    """Shapes of a lane from `y` down, its height, and what lies under the lines of the hours."""

    shapes: tuple[Shape, ...]
    height: float
    grounds: tuple[Shape, ...] = ()


def target_lane(frame: Frame, facts: LaneFacts, slots: Mapping[str, int], y: float) -> Lane:
    """Draw a target; one without exposures gets a lane half as high."""
    exposures = facts.exposures
    layout = frame.layout
    names_above = layout.names == "above"
    top = y + (16.0 if names_above else 0.0)
    flags = flags_of(frame, facts, top)
    course_top = top + HEAD + (FLAG if flags else 0.0)
    course_height = COURSE if exposures else SHORT_COURSE
    ground_y = course_top + course_height
    rails_y = ground_y + 2
    runs = runs_of(exposures)
    labels = run_labels(frame, runs, [flag.x for flag in flags])
    blocks_y = rails_y + (RAILS if facts.sides else 0.0) + (labels_height(labels) if runs else 0.0)
    bottom = blocks_y + (BLOCK + 8 if exposures else 2)

    def alt_y(altitude_deg: float) -> float:
        return ground_y - course_height * min(1.0, max(0.0, altitude_deg / TOP_DEG))

    grounds: list[Shape] = [
        rect(
            layout.left,
            course_top - 2,
            layout.right - layout.left,
            ground_y - course_top + 2,
            class_="closed",
        )
    ]
    grounds += _open_ground(frame, facts, course_top - 2, ground_y)
    shapes: list[Shape] = [*_standstills(frame, facts, course_top - 2, ground_y)]
    taken = Taken(layout.left, layout.right)
    for flag in flags:
        taken.boxes.append(flag.box)
        taken.faint += [
            [(flag.x + beside, flag.box.top), (flag.x + beside, bottom)] for beside in (-2.0, 2.0)
        ]
    words: list[Shape] = []
    if facts.course:
        floor_y = alt_y(facts.floor_deg)
        shapes += scale_shapes(layout, alt_y)
        shapes += _horizon(frame, facts, alt_y, ground_y)
        points = [(frame.x(t), alt_y(alt)) for t, alt in facts.course]
        shapes.append(path(points, class_="course"))
        shapes += _bright_course(frame, facts, alt_y)
        taken.lines.append(points)
        taken.faint.append([(layout.left, floor_y), (layout.right, floor_y)])
        words += transit_shapes(frame, facts, alt_y, taken)
    shapes += _rails(frame, facts, rails_y)
    if facts.sides and facts.sides[0][0] == "west":
        shapes += _forbidden(frame, facts, rails_y)
        words += contact_shapes(frame, facts, rails_y + RAIL / 2, taken)
    if facts.course:
        words += floor_words(frame, facts.floor_deg, floor_y, taken)
    shapes += [_frames(frame, run.placed_steps, slots.get(run.filter, 0), blocks_y) for run in runs]
    shapes += _focus_marks(frame, facts, blocks_y + BLOCK + 4)
    shapes += words
    shapes += label_shapes(labels, blocks_y)
    shapes += flip_shapes(flags, blocks_y + BLOCK, [*taken.words, *(each.box(blocks_y) for each in labels)])
    shapes += _names(frame, facts, y, top)
    if not names_above:
        bottom = max(bottom, top + 30 + 15 * len(_folded(facts.name, layout.names_px)))
    return Lane(tuple(shapes), bottom - y, tuple(grounds))


def _open_ground(frame: Frame, facts: LaneFacts, top: float, bottom: float) -> Iterator[Shape]:
    """Light ground where the shutter may be open, lightest where it may through every filter wanted."""
    wanted = len({goal.filter for goal in facts.target.goals}) if facts.target else 0
    for span in facts.open_spans:
        if frame.shown(span.start_s, span.end_s):
            x = frame.x(span.start_s)
            kind = "open" if len(span.filters) == wanted else "some"
            yield rect(x, top, frame.x(span.end_s) - x, bottom - top, class_=kind)


def _standstills(frame: Frame, facts: LaneFacts, top: float, bottom: float) -> Iterator[Shape]:
    """Shades where neither pier side may track."""
    if len(facts.sides) < 2:
        return
    west, east = (dict(facts.sides)[side] for side in ("west", "east"))
    for _, west_end in west:
        for east_start, _ in east:
            if 0 < east_start - west_end < 7200 and frame.shown(west_end, east_start):
                x = frame.x(west_end)
                width = max(LEAST_PX, frame.x(east_start) - x)
                yield rect(x, top, width, bottom - top, class_="forbidden")


def _horizon(frame: Frame, facts: LaneFacts, alt_y: AltitudeY, ground_y: float) -> Iterator[Shape]:
    """The local horizon as a silhouette, and the floor as a broken line."""
    if facts.skyline:
        points = [(frame.x(t), alt_y(alt)) for t, alt in facts.skyline]
        points += [(points[-1][0], ground_y), (points[0][0], ground_y)]
        yield path(points, closed=True, class_="skyline")
    layout, floor_y = frame.layout, alt_y(facts.floor_deg)
    yield line(layout.left, floor_y, layout.right, floor_y, class_="floor")


def _bright_course(frame: Frame, facts: LaneFacts, alt_y: AltitudeY) -> Iterator[Shape]:
    """The course once more, in bold, where it is being exposed."""
    for run in runs_of(facts.exposures):
        start, end = run.placed_steps[0].start_s, run.placed_steps[-1].end_s
        times = [start, *(t for t, _ in facts.course if start < t < end), end]
        points = [(frame.x(t), alt_y(altitude_at(facts, t))) for t in times]
        yield path(points, class_="course bold")


def altitude_at(facts: LaneFacts, t_s: float) -> float:
    """Altitude in degrees at a time between two points of the course."""
    before = facts.course[0]
    for point in facts.course:
        if point[0] >= t_s:
            if point[0] == before[0]:
                return point[1]
            share = (t_s - before[0]) / (point[0] - before[0])
            return before[1] + share * (point[1] - before[1])
        before = point
    return before[1]


def _rails(frame: Frame, facts: LaneFacts, y: float) -> Iterator[Shape]:
    """Rails for the times at which a pier side may track: the upper one for west, the lower for east."""
    for row, (side, spans) in enumerate(facts.sides):
        rail_y = y + row * (RAIL + 1)
        for start, end in spans:
            if frame.shown(start, end):
                x = frame.x(start)
                yield rect(x, rail_y, frame.x(end) - x, RAIL, class_=f"rail {side}")


def _forbidden(frame: Frame, facts: LaneFacts, y: float) -> Iterator[Shape]:
    """A shade from the last moment of pier side west to contact."""
    for contact_s in facts.contacts_s:
        ends = [end for _, end in facts.sides[0][1] if end <= contact_s]
        if ends and frame.shown(max(ends), contact_s):
            x = frame.x(max(ends))
            yield rect(x, y - 1, frame.x(contact_s) - x, RAIL + 2, class_="forbidden")


def _frames(frame: Frame, placed_steps: Sequence[PlacedStep], slot: int, y: float) -> Shape:
    """One block for each exposure of a run; texture and colour are the run's."""
    blocks = []
    for placed in placed_steps:
        x = frame.x(placed.start_s)
        width = max(LEAST_PX, frame.x(placed.end_s) - x)
        width -= min(0.7, width / 3)
        blocks.append(shape("rect", x=x, width=width, height=BLOCK, data_i=str(placed.index)))
    return lowered(blocks, y, f"f f{slot}")


def _focus_marks(frame: Frame, facts: LaneFacts, y: float) -> Iterator[Shape]:
    """Autofocus as small diamonds below the blocks."""
    for placed in facts.placed_steps:
        if placed.step.kind == "focus" and frame.shown(placed.start_s, placed.end_s):
            x = frame.x((placed.start_s + placed.end_s) / 2)
            yield curve(f"M{x:.1f} {y - 3:.1f}l3 3l-3 3l-3-3z", class_="focus")


def _names(frame: Frame, facts: LaneFacts, y: float, top: float) -> Iterator[Shape]:
    """The target's name and what is done with it tonight."""
    exposures, layout = facts.exposures, frame.layout
    open_s = sum(placed.step.exposure_s or 0.0 for placed in exposures)
    summary = f"{duration(open_s)}, {count(len(exposures), 'sub')}" if exposures else "no subs"
    if layout.names == "above":
        room = layout.right - EDGE - 10
        if exposures and text_width(facts.name, NAME_PX) + text_width(summary) > room:
            summary = duration(open_s)  # the name says more than how many subs there are
        name = fitted(facts.name, room - text_width(summary), NAME_PX)
        yield label(EDGE, y + 11, name, class_="name")
        yield label(layout.right, y + 11, summary, class_="soft", text_anchor="end")
        return
    room = layout.names_px
    for row, part in enumerate(_folded(facts.name, room)):
        yield label(EDGE, top + 22 + 15 * row, part, class_="name")
    row = len(_folded(facts.name, room))
    yield label(EDGE, top + 22 + 15 * row, fitted(summary, room), class_="soft")
    if exposures:
        zone = frame.facts.plan.request.site.time_zone
        first, last = exposures[0].step.start_utc, exposures[-1].step.end_utc
        yield label(EDGE, top + 37 + 15 * row, f"{clock(first, zone)} to {clock(last, zone)}", class_="soft")


def _folded(name: str, room: float) -> list[str]:
    """A name in one line, or in two where it has a space to break at."""
    whole = fitted(name, room, NAME_PX)
    if not whole.endswith("…") or " " not in name:
        return [whole]
    words, first = name.split(" "), ""
    while words and text_width(f"{first} {words[0]}".strip(), NAME_PX) <= room:
        first = f"{first} {words.pop(0)}".strip()
    return [first, fitted(" ".join(words), room, NAME_PX)] if first and words else [whole]
