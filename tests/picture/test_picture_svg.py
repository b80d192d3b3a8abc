"""The picture as SVG: well-formed, every step once, in its place in time."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from functools import lru_cache

import pytest

from optimizer.models.shots import ShotList
from optimizer.report.picture.drawing import draw
from optimizer.report.picture.files import chart_bytes
from optimizer.report.picture.frame import NARROW, WIDE, Frame, Layout
from optimizer.report.picture.shapes import Shape
from optimizer.report.picture.shown import shown_list
from tests.support.picture_cases import NIGHTS, facts_of, flipped, hostile, renamed_plainly, stored

SVG = "{http://www.w3.org/2000/svg}"
each_night = pytest.mark.parametrize("night", NIGHTS)
each_layout = pytest.mark.parametrize("layout", [WIDE, NARROW], ids=["wide", "narrow"])


def picture(shots: ShotList, theme: str = "light") -> ET.Element:
    return ET.fromstring(chart_bytes(shown_list(shots), ".svg", theme))


@lru_cache
def stored_picture(night: str) -> ET.Element:
    return picture(stored(night))


def texts(root: ET.Element) -> list[str]:
    return [node.text or "" for node in root.iter(f"{SVG}text") if "halo" not in (node.get("class") or "")]


def blocks(root: ET.Element) -> dict[int, ET.Element]:
    found = [node for node in root.iter(f"{SVG}rect") if node.get("data-i") is not None]
    by_index = {int(node.get("data-i", "")): node for node in found}
    assert len(by_index) == len(found)
    return by_index


@each_night
def test_every_step_is_drawn_once_at_its_time(night: str) -> None:
    shots, found = stored(night), blocks(stored_picture(night))
    assert sorted(found) == list(range(len(shots.steps)))
    facts = facts_of(night)
    frame = Frame(WIDE, facts)
    for index, step in enumerate(shots.steps):
        start = frame.x(facts.clock.seconds(step.start_utc))
        end = frame.x(facts.clock.seconds(step.end_utc))
        assert float(found[index].get("x", "")) == pytest.approx(start, abs=0.06)
        assert float(found[index].get("width", "")) <= max(1.2, end - start) + 0.06


@each_night
def test_titles_tell_what_each_block_is(night: str) -> None:
    found = blocks(stored_picture(night))
    for index, step in enumerate(stored(night).steps):
        title = found[index].find(f"{SVG}title")
        assert title is not None
        assert (title.text or "").startswith(f"{step.step}: ")
        if step.kind == "expose":
            assert f"{step.filter} {step.exposure_s:g} s" in (title.text or "")


@each_night
def test_headline_names_and_both_clocks_are_there(night: str) -> None:
    shots, words = stored(night), texts(stored_picture(night))
    assert any(
        text.startswith(f"Night of {shots.night.evening} at {shots.request.site.name}") for text in words
    )
    assert shots.request.site.time_zone in words
    assert "UTC" in words
    assert sum("FLIP " in text for text in words) == sum(step.kind == "flip" for step in shots.steps)
    assert any("Never point near the Sun" in text for text in words)


@each_night
@each_layout
def test_nothing_is_drawn_beside_the_sheet(night: str, layout: Layout) -> None:
    drawing = draw(facts_of(night), layout, titled=False)

    def check(shapes: tuple[Shape, ...]) -> None:
        for shape in shapes:
            values = dict(shape.attributes)
            for key, most in (("x", drawing.width), ("y", drawing.height), ("x1", drawing.width)):
                if key in values:
                    assert -1 <= float(values[key]) <= most + 1, shape
            if shape.tag == "rect":
                assert float(values["width"]) >= 0, shape
                assert float(values["x"]) + float(values["width"]) <= drawing.width + 1, shape
            check(shape.children)

    check(drawing.shapes)


@each_night
def test_pictures_stand_by_themselves(night: str) -> None:
    """No variable, no script, nothing that is fetched."""
    whole = chart_bytes(shown_list(stored(night)), ".svg", "dark").decode()
    for word in ("var(", "<script", "href", "@import", "<image", "url(http"):
        assert word not in whole


@each_night
@each_layout
def test_no_word_of_a_stored_night_is_cut(night: str, layout: Layout) -> None:
    drawing = draw(facts_of(night), layout, titled=layout is WIDE)
    shapes = [*drawing.shapes, *(shape for group in drawing.shapes for shape in group.children)]
    told = [shape.text for shape in shapes if shape.text]
    assert len(told) > 30
    assert not [text for text in told if "…" in text]


@pytest.mark.parametrize("flips", [1, 3, 5])
def test_headline_keeps_the_margin_whatever_the_flips(flips: int) -> None:
    """The figures fill as many lines as they need; the last of them is the one that matters most."""
    shots = flipped(flips)
    found = [text for text in texts(picture(shots)) if " · " in text or "least margin" in text]
    told = " ".join(found)
    assert shots.audit_report.least_margin_min is not None
    margin = math.floor(10 * shots.audit_report.least_margin_min) / 10
    assert f"{margin:.1f} min least margin to contact" in told
    depth = "of depth, as at the zenith on a moonless night"
    for words in ("open shutter", "of usable dark", depth, "search stopped early"):
        assert words in told
    assert told.count("…") == (1 if flips > 3 else 0)  # flips beyond the third are counted, not timed
    assert (f"{flips} flips" if flips > 1 else "flip") in told


def test_headline_keeps_the_clock_of_a_site_with_a_long_name() -> None:
    shots = flipped(3)
    site = shots.request.site.model_copy(update={"name": "W" * 60})
    found = texts(
        picture(shots.model_copy(update={"request": shots.request.model_copy(update={"site": site})}))
    )
    assert any(text.startswith("Europe/Madrid, UTC+01 · ") for text in found)


def places(root: ET.Element) -> dict[int, tuple[str | None, ...]]:
    """Where each block lies in time, and how high it is."""
    return {i: tuple(node.get(key) for key in ("x", "width", "height")) for i, node in blocks(root).items()}


def test_hostile_names_change_nothing_but_labels() -> None:
    nasty, plain = picture(hostile()), picture(renamed_plainly())
    assert places(nasty) == places(plain)
    assert [node.get("class") for node in nasty.iter(f"{SVG}g")] == [
        node.get("class") for node in plain.iter(f"{SVG}g")
    ]
    kept = {"rect", "path", "g", "line", "defs", "pattern", "style", "svg", "title", "text"}
    assert {node.tag.removeprefix(SVG) for node in nasty.iter()} == kept
    whole = chart_bytes(shown_list(hostile()), ".svg").decode()
    for char in "\u202e\u202c\u2066\u200f\x1b":
        assert char not in whole
    assert any("</text></svg>" in text for text in texts(nasty))
