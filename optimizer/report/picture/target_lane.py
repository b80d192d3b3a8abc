"""One target's lane: its course, what hides or forbids it, and its exposures as blocks."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from optimizer.report.picture.facts import Act, TargetFacts
from optimizer.report.picture.frame import Frame
from optimizer.report.picture.runs import run_labels, runs_of
from optimizer.report.picture.shapes import (
    Shape,
    curve,
    fitted,
    group,
    haloed,
    label,
    line,
    path,
    rect,
    text_width,
)
from optimizer.report.words import clock, count, duration

HEAD = 14.0  # room over the course for transit and flip labels
COURSE = 44.0
SHORT_COURSE = 26.0
RAIL, RAILS = 3.0, 9.0
BLOCK = 18.0
TOP_DEG = 90.0
NAME_PX = 15.0  # bold, so wider than its 14 px
LEAST_PX = 1.2  # a block that is shorter would not be seen


AltitudeY = Callable[[float], float]


@dataclass(frozen=True)
class Lane:
    """Shapes of a lane from `y` down, its height, and what lies under the lines of the hours."""

    shapes: tuple[Shape, ...]
    height: float
    grounds: tuple[Shape, ...] = ()


def target_lane(frame: Frame, facts: TargetFacts, slots: Mapping[str, int], y: float) -> Lane:
    """Draw a target; one without exposures gets a lane half as high."""
    exposures = facts.exposures
    layout = frame.layout
    names_above = layout.names == "above"
    top = y + (16.0 if names_above else 0.0)
    course_top = top + HEAD
    course_height = COURSE if exposures else SHORT_COURSE
    ground_y = course_top + course_height
    rails_y = ground_y + 2
    runs = runs_of(exposures)
    labels_height = run_labels(frame, runs, 0.0)[1] if runs else 0.0
    blocks_y = rails_y + (RAILS if facts.sides else 0.0) + labels_height
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
    shapes: list[Shape] = []
    shapes += _standstills(frame, facts, course_top - 2, ground_y)
    if facts.course:
        shapes += _horizon(frame, facts, alt_y, ground_y)
        points = [(frame.x(t), alt_y(alt)) for t, alt in facts.course]
        shapes.append(path(points, class_="course"))
        shapes += _bright_course(frame, facts, alt_y)
        shapes += _transits(frame, facts, alt_y)
    shapes += _rails(frame, facts, rails_y)
    shapes += [_frames(frame, run.acts, slots.get(run.filter, 0), blocks_y) for run in runs]
    shapes += run_labels(frame, runs, blocks_y)[0]
    shapes += _marks(frame, facts, top, blocks_y)
    shapes += _names(frame, facts, y, top)
    if not names_above:
        bottom = max(bottom, top + 30 + 15 * len(_folded(facts.name, layout.left - 12)))
    return Lane(tuple(shapes), bottom - y, tuple(grounds))


def _open_ground(frame: Frame, facts: TargetFacts, top: float, bottom: float) -> Iterator[Shape]:
    """Light ground where the shutter may be open, lightest where it may through every filter wanted."""
    wanted = len({goal.filter for goal in facts.target.goals}) if facts.target else 0
    for span in facts.open_spans:
        if frame.shown(span.start_s, span.end_s):
            x = frame.x(span.start_s)
            kind = "open" if len(span.filters) == wanted else "some"
            yield rect(x, top, frame.x(span.end_s) - x, bottom - top, class_=kind)


def _standstills(frame: Frame, facts: TargetFacts, top: float, bottom: float) -> Iterator[Shape]:
    """Where neither pier side may track."""
    if len(facts.sides) < 2:
        return
    west, east = (dict(facts.sides)[side] for side in ("west", "east"))
    for _, west_end in west:
        for east_start, _ in east:
            if 0 < east_start - west_end < 7200 and frame.shown(west_end, east_start):
                x = frame.x(west_end)
                width = max(LEAST_PX, frame.x(east_start) - x)
                yield rect(x, top, width, bottom - top, class_="forbidden")


def _horizon(frame: Frame, facts: TargetFacts, alt_y: AltitudeY, ground_y: float) -> Iterator[Shape]:
    """Skyline as a silhouette, floor as a broken line with its number."""
    if facts.skyline:
        points = [(frame.x(t), alt_y(alt)) for t, alt in facts.skyline]
        points += [(points[-1][0], ground_y), (points[0][0], ground_y)]
        yield path(points, closed=True, class_="skyline")
    layout, floor_y = frame.layout, alt_y(facts.floor_deg)
    yield line(layout.left, floor_y, layout.right, floor_y, class_="floor")
    yield from haloed(layout.right - 2, floor_y - 2, f"{facts.floor_deg:g}°", "tiny", text_anchor="end")


def _bright_course(frame: Frame, facts: TargetFacts, alt_y: AltitudeY) -> Iterator[Shape]:
    """The course once more, bold where it is being exposed."""
    for run in runs_of(facts.exposures):
        start, end = run.acts[0].start_s, run.acts[-1].end_s
        times = [start, *(t for t, _ in facts.course if start < t < end), end]
        points = [(frame.x(t), alt_y(altitude_at(facts, t))) for t in times]
        yield path(points, class_="course bold")


def altitude_at(facts: TargetFacts, t_s: float) -> float:
    """Altitude between two points of the course."""
    before = facts.course[0]
    for point in facts.course:
        if point[0] >= t_s:
            if point[0] == before[0]:
                return point[1]
            share = (t_s - before[0]) / (point[0] - before[0])
            return before[1] + share * (point[1] - before[1])
        before = point
    return before[1]


def _transits(frame: Frame, facts: TargetFacts, alt_y: AltitudeY) -> Iterator[Shape]:
    zone = frame.facts.plan.request.site.time_zone
    for t_s, altitude_deg in facts.transits:
        if not frame.inside(t_s) or altitude_deg <= 0:
            continue
        x, y = frame.x(t_s), alt_y(altitude_deg)
        yield curve(f"M{x - 4:.1f} {y - 7:.1f}h8l-4 6z", class_="transit")
        text = f"{clock(frame.facts.clock.utc(round(t_s)), zone)} {altitude_deg:.0f}°"
        width = text_width(text)
        flags = [_flag(frame, act)[:2] for act in facts.acts if act.step.kind == "flip"]
        left = x + 7 + width > frame.layout.right or any(
            start < x + 7 + width and x < end for start, end in flags
        )
        yield from haloed(x - 7 if left else x + 7, y - 1, text, "tiny", text_anchor="end" if left else None)


def _rails(frame: Frame, facts: TargetFacts, y: float) -> Iterator[Shape]:
    """Upper rail: the tube may track west of the pier; lower rail: east of it. A cross: contact."""
    for row, (side, spans) in enumerate(facts.sides):
        rail_y = y + row * (RAIL + 1)
        for start, end in spans:
            if frame.shown(start, end):
                x = frame.x(start)
                yield rect(x, rail_y, frame.x(end) - x, RAIL, class_=f"rail {side}")
    if facts.sides and facts.sides[0][0] == "west":
        yield from _forbidden(frame, facts, y)
        for contact_s in facts.contacts_s:
            if frame.inside(contact_s):
                x, middle = frame.x(contact_s), y + RAIL / 2
                yield curve(f"M{x - 3:.1f} {middle - 3:.1f}l6 6m0-6l-6 6", class_="contact")
                if any(
                    act.step.kind == "flip" and abs(act.start_s - contact_s) < 14400 for act in facts.acts
                ):
                    yield from _contact_words(frame, contact_s, x, y - 3)


def _forbidden(frame: Frame, facts: TargetFacts, y: float) -> Iterator[Shape]:
    """What lies between the last moment of the tube in the west and contact."""
    for contact_s in facts.contacts_s:
        ends = [end for _, end in facts.sides[0][1] if end <= contact_s]
        if ends and frame.shown(max(ends), contact_s):
            x = frame.x(max(ends))
            yield rect(x, y - 1, frame.x(contact_s) - x, RAIL + 2, class_="forbidden")


def _contact_words(frame: Frame, contact_s: float, x: float, y: float) -> Iterator[Shape]:
    zone = frame.facts.plan.request.site.time_zone
    text = f"contact {clock(frame.facts.clock.utc(int(contact_s)), zone)}"
    left = x + text_width(text) > frame.layout.right
    yield from haloed(x, y, text, "tiny", text_anchor="end" if left else None)


def _frames(frame: Frame, acts: Sequence[Act], slot: int, y: float) -> Shape:
    """One block for each exposure of a run; texture and colour are the run's."""
    blocks = []
    for act in acts:
        x = frame.x(act.start_s)
        width = max(LEAST_PX, frame.x(act.end_s) - x)
        blocks.append(rect(x, y, width - min(0.7, width / 3), BLOCK, data_i=str(act.index)))
    return group(blocks, class_=f"f f{slot}")


def _marks(frame: Frame, facts: TargetFacts, top: float, blocks_y: float) -> Iterator[Shape]:
    """Flips as a labelled bar through the lane, focus runs as small diamonds below the blocks."""
    for act in facts.acts:
        if not frame.shown(act.start_s, act.end_s):
            continue
        x = frame.x((act.start_s + act.end_s) / 2)
        if act.step.kind == "focus":
            y = blocks_y + BLOCK + 4
            yield curve(f"M{x:.1f} {y - 3:.1f}l3 3l-3 3l-3-3z", class_="focus")
        elif act.step.kind == "flip":
            start_x, end_x, text = _flag(frame, act)
            yield line(x, top - 2, x, blocks_y + BLOCK, class_="flip")
            yield rect(start_x, top - 2, end_x - start_x, 15, class_="flipbox")
            yield label((start_x + end_x) / 2, top + 9.5, text, class_="fliptext", text_anchor="middle")


def _flag(frame: Frame, act: Act) -> tuple[float, float, str]:
    """Where a flip's label begins and ends: a flag to the right, for the transit lies mostly on the left."""
    text = f"FLIP {clock(act.step.start_utc, frame.facts.plan.request.site.time_zone)}"
    x, width = frame.x((act.start_s + act.end_s) / 2), text_width(text) + 8
    return (x, x + width, text) if x + width <= frame.layout.right else (x - width, x, text)


def _names(frame: Frame, facts: TargetFacts, y: float, top: float) -> Iterator[Shape]:
    """The target's name and what is done with it tonight."""
    exposures, layout = facts.exposures, frame.layout
    open_s = sum(act.step.exposure_s or 0.0 for act in exposures)
    told = f"{duration(open_s)}, {count(len(exposures), 'frame')}" if exposures else "not tonight"
    if layout.names == "above":
        told_width = text_width(told) + 10
        name = fitted(facts.name, layout.right - layout.left - told_width, NAME_PX)
        yield label(layout.left, y + 11, name, class_="name")
        yield label(layout.right, y + 11, told, class_="tiny soft", text_anchor="end")
        return
    room = layout.left - 12
    for row, part in enumerate(_folded(facts.name, room)):
        yield label(4, top + 22 + 15 * row, part, class_="name")
    row = len(_folded(facts.name, room))
    yield label(4, top + 22 + 15 * row, fitted(told, room), class_="tiny soft")
    if exposures:
        zone = frame.facts.plan.request.site.time_zone
        first, last = exposures[0].step.start_utc, exposures[-1].step.end_utc
        yield label(
            4, top + 37 + 15 * row, f"{clock(first, zone)} to {clock(last, zone)}", class_="tiny soft"
        )


def _folded(name: str, room: float) -> list[str]:
    """A name in one line, or in two where it has a space to break at."""
    whole = fitted(name, room, NAME_PX)
    if not whole.endswith("…") or " " not in name:
        return [whole]
    words, first = name.split(" "), ""
    while words and text_width(f"{first} {words[0]}".strip(), NAME_PX) <= room:
        first = f"{first} {words.pop(0)}".strip()
    return [first, fitted(" ".join(words), room, NAME_PX)] if first and words else [whole]
