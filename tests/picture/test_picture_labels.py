"""Labels of the picture: none is struck through by a course or a flip, and altitudes can be read off a scale."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import combinations

import pytest

from optimizer.report.picture.drawing import Drawing, draw
from optimizer.report.picture.facts import PictureFacts, picture_facts
from optimizer.report.picture.frame import NARROW, WIDE, Frame, Layout
from optimizer.report.picture.placing import Box
from optimizer.report.picture.runs import BOLD
from optimizer.report.picture.shapes import Shape, text_width, thinned
from optimizer.report.picture.shown import shown_list, shown_steps
from tests.support.picture_cases import NIGHTS, facts_of, flipped, stored

each_night = pytest.mark.parametrize("night", NIGHTS)
each_layout = pytest.mark.parametrize("layout", [WIDE, NARROW], ids=["wide", "narrow"])
LOWER_DEG = (0.0, 25.0, 45.0, 60.0)  # by which targets are moved to the south


@lru_cache
def flipping(flips: int) -> PictureFacts:
    return picture_facts(shown_list(flipped(flips)))


@lru_cache
def lowered(night: str, by_deg: float) -> PictureFacts:
    """A stored night with its targets farther south: lower transits, floors and skylines above some of them."""
    if not by_deg:
        return facts_of(night)
    request = stored(night).request
    targets = tuple(
        target.model_copy(update={"dec_deg": max(-89.0, target.dec_deg - by_deg)})
        for target in request.targets
    )
    return picture_facts(shown_steps(request.model_copy(update={"targets": targets}), stored(night).steps))


@lru_cache
def drawing_of(night: str, by_deg: float, layout: Layout) -> Drawing:
    return draw(lowered(night, by_deg), layout, titled=False)


def lanes(drawing: Drawing) -> list[tuple[Shape, ...]]:
    """The shapes of the targets' lanes."""
    groups = [shape.children for shape in drawing.shapes if shape.tag == "g"]
    return [children for children in groups if courses(children)]


def value(shape: Shape, key: str) -> str:
    return dict(shape.attributes).get(key, "")


def words(lane: tuple[Shape, ...]) -> Iterator[tuple[Shape, Box]]:
    """Every text that is read, with what its letters cover."""
    for shape in lane:
        if shape.tag != "text" or "halo" in value(shape, "class"):
            continue
        bold = value(shape, "class") in ("run", "fliptext")
        width = text_width(shape.text, BOLD if bold else 12.0)
        x, y = float(value(shape, "x")), float(value(shape, "y"))
        left = {"end": x - width, "middle": x - width / 2}.get(value(shape, "text-anchor"), x)
        yield shape, Box(left, y - 9, left + width, y)


def walked(shapes: Iterable[Shape]) -> Iterator[Shape]:
    """All shapes, those in groups too."""
    for shape in shapes:
        yield shape
        yield from walked(shape.children)


def points_of(data: str) -> list[tuple[float, float]]:
    """Where a path of one start and relative pieces leads."""
    numbers = [float(found) for found in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", data)]
    found = [(numbers[0], numbers[1])]
    for index in range(2, len(numbers), 2):
        found.append((found[-1][0] + numbers[index], found[-1][1] + numbers[index + 1]))
    return found


def courses(lane: tuple[Shape, ...]) -> list[list[tuple[float, float]]]:
    return [
        points_of(value(shape, "d"))
        for shape in lane
        if shape.tag == "path" and value(shape, "class").startswith("course")
    ]


def is_transit(text: str) -> bool:
    return re.fullmatch(r"\d\d:\d\d \d+°", text) is not None


@each_night
@each_layout
@pytest.mark.parametrize("by_deg", LOWER_DEG)
def test_no_course_runs_through_a_transit_label(night: str, by_deg: float, layout: Layout) -> None:
    labels = 0
    for lane in lanes(drawing_of(night, by_deg, layout)):
        for shape, box in words(lane):
            if is_transit(shape.text):
                labels += 1
                assert not any(box.crossed(course) for course in courses(lane)), shape.text
    facts = lowered(night, by_deg)
    frame = Frame(layout, facts)
    assert labels == sum(
        frame.inside(t_s) and altitude > 0 for target in facts.targets for t_s, altitude in target.transits
    )


@each_night
@each_layout
def test_no_course_runs_through_any_word_of_its_lane(night: str, layout: Layout) -> None:
    for lane in lanes(drawing_of(night, 0.0, layout)):
        for shape, box in words(lane):
            assert not any(box.crossed(course) for course in courses(lane)), shape.text


@each_night
@each_layout
@pytest.mark.parametrize("by_deg", LOWER_DEG)
def test_no_flip_strikes_a_word(night: str, by_deg: float, layout: Layout) -> None:
    for lane in lanes(drawing_of(night, by_deg, layout)):
        flips = [shape for shape in lane if shape.tag == "line" and value(shape, "class") == "flip"]
        for shape, box in words(lane):
            if value(shape, "class") == "fliptext":
                continue
            for flip in flips:
                x, y1, y2 = (float(value(flip, key)) for key in ("x1", "y1", "y2"))
                assert not box.crossed([(x, y1), (x, y2)]), (shape.text, x, y1, y2)


@each_layout
@pytest.mark.parametrize("flips", [3, 5])
def test_labels_of_flips_in_one_lane_do_not_hide_each_other(flips: int, layout: Layout) -> None:
    """A label that has no room between its neighbours is shortened or left out, its bar never."""
    drawing = draw(flipping(flips), layout, titled=False)
    (lane,) = (each for each in lanes(drawing) if any(value(shape, "class") == "flip" for shape in each))
    bars = {value(shape, "x1") for shape in lane if value(shape, "class") == "flip"}
    boxes = [
        Box(x, y, x + float(value(shape, "width")), y + float(value(shape, "height")))
        for shape in lane
        if value(shape, "class") == "flipbox"
        for x, y in [(float(value(shape, "x")), float(value(shape, "y")))]
    ]
    assert len(bars) == flips
    assert boxes
    assert not any(one.meets(two) for one, two in combinations(boxes, 2))


@each_night
@each_layout
def test_words_of_a_lane_do_not_lie_on_each_other(night: str, layout: Layout) -> None:
    for lane in lanes(drawing_of(night, 0.0, layout)):
        found = list(words(lane))
        for index, (shape, box) in enumerate(found):
            for other, other_box in found[index + 1 :]:
                assert not box.meets(other_box), (shape.text, other.text)


@pytest.mark.parametrize("night", ["first-night", "long-winter-night"])
def test_label_of_an_exposure_stays_on_its_side_of_the_flip(night: str) -> None:
    """What is exposed before the flip is named before it, what after it behind it."""
    for lane in lanes(drawing_of(night, 0.0, WIDE)):
        flips = [float(value(s, "x1")) for s in lane if value(s, "class") == "flip" and s.tag == "line"]
        if flips:
            runs = [box for shape, box in words(lane) if value(shape, "class") == "run"]
            assert any(box.right < flips[0] for box in runs)
            assert any(box.left > flips[0] for box in runs)
            assert not any(box.left < flips[0] < box.right for box in runs)
            return
    raise AssertionError("no flip in this night")


@each_night
@each_layout
def test_altitudes_can_be_read_off_the_scale(night: str, layout: Layout) -> None:
    """From two of its marks the height of each transit follows, as the sky has it."""
    facts = facts_of(night)
    frame = Frame(layout, facts)
    drawn = lanes(drawing_of(night, 0.0, layout))
    assert len(drawn) == len(facts.targets)
    for lane, target in zip(drawn, facts.targets, strict=True):
        marks = {
            float(shape.text.removesuffix("°")): float(value(shape, "y")) - 3.5
            for shape in lane
            if value(shape, "class") == "scale"
        }
        assert {30.0, 90.0} <= set(marks)
        ticks = sorted(float(value(shape, "y1")) for shape in lane if value(shape, "class") == "tick")
        assert len(ticks) == 3
        per_px = (90.0 - 30.0) / (marks[30.0] - marks[90.0])
        (course, *_) = courses(lane)
        for t_s, altitude in target.transits:
            if frame.inside(t_s):
                highest = min(y for _, y in course)
                assert 90.0 - (highest - marks[90.0]) * per_px == pytest.approx(altitude, abs=1.0)


@each_night
@each_layout
def test_thinned_courses_stay_with_the_sky(night: str, layout: Layout) -> None:
    """Far fewer points, none of those left out farther away than anybody could see."""
    frame = Frame(layout, facts_of(night))
    for target in facts_of(night).targets:
        points = [(frame.x(t), 44.0 - altitude * 44.0 / 90.0) for t, altitude in target.course]
        kept = thinned(points)
        assert len(kept) < len(points) / 2
        assert (kept[0], kept[-1]) == (points[0], points[-1])
        for x, y in points:
            after = next(index for index, point in enumerate(kept) if point[0] >= x)
            one, two = kept[max(0, after - 1)], kept[after]
            share = (x - one[0]) / (two[0] - one[0]) if two[0] > one[0] else 0.0
            assert abs(one[1] + share * (two[1] - one[1]) - y) <= 0.2


def test_pier_side_is_the_one_name_for_it() -> None:
    for night in NIGHTS:
        for layout in (WIDE, NARROW):
            drawing = drawing_of(night, 0.0, layout)
            texts = [shape.text for group in drawing.shapes for shape in group.children]
            assert not any("tube" in text.lower() for text in texts)
            assert any(text.startswith("pier side west") for text in texts)


@each_layout
@each_night
def test_pier_sides_are_written_in_one_form_in_all_of_the_lane(night: str, layout: Layout) -> None:
    drawing = draw(facts_of(night), layout, titled=False)
    found = {shape.text for shape in walked(drawing.shapes) if "standtext" in value(shape, "class")}
    forms = ({"W", "E"}, {"west", "east"}, {"pier side west", "pier side east"})
    assert found
    assert any(found <= form for form in forms)
