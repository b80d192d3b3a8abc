"""What a page holds for its script to follow the clock by, and what a served page may do; no browser needed."""

from __future__ import annotations

import datetime as dt
import re
import zoneinfo

import pytest

from optimizer.models.shots import ShotList
from optimizer.report.picture.blocks import block_ranges
from optimizer.report.picture.drawing import draw
from optimizer.report.picture.files import chart_bytes
from optimizer.report.picture.following import following, zone_offsets
from optimizer.report.picture.frame import NARROW, WIDE
from optimizer.report.picture.page import page_text
from optimizer.report.picture.served import Served
from optimizer.report.picture.shown import shown_list, shown_steps
from tests.support.follow_cases import flipped_by, moved
from tests.support.picture_cases import NIGHTS, facts_of, stored

# The clocks of Europe went back on the morning after this evening, those of Lord Howe went on by half an hour
# on the morning after the other: https://data.iana.org/time-zones/, europe and australasia.
AUTUMN = dt.date(2026, 10, 24)
HALF_HOUR = dt.datetime(2026, 10, 3, 12, tzinfo=dt.UTC)


def numbers(shots: ShotList) -> dict[str, list[int]]:
    """The numbers that stand in the page."""
    page = page_text(shown_list(shots))
    return {
        key: [int(each) for each in found.split()]
        for key, found in re.findall(r'data-(zone|span)="([^"]*)"', page)
    }


def in_autumn() -> ShotList:
    """The first night, on the evening before the clocks go back."""
    shots = stored("first-night")
    return moved(shots, (AUTUMN - shots.request.night.evening).days)


def test_page_says_when_the_list_begins_and_how_the_zone_is_set() -> None:
    shots = stored("first-night")
    found = numbers(shots)
    assert found["span"][0] == shots.steps[0].start_utc.timestamp()
    assert found["span"][1] < found["span"][0] < shots.steps[-1].end_utc.timestamp() < found["span"][2]
    assert found["zone"] == [7200]


@pytest.mark.parametrize(
    ("zone", "around"),
    [
        ("Europe/Paris", dt.datetime(2026, 10, 24, 20, tzinfo=dt.UTC)),
        ("Europe/Paris", dt.datetime(2026, 3, 28, 20, tzinfo=dt.UTC)),
        ("Australia/Lord_Howe", HALF_HOUR),
        ("Asia/Kathmandu", HALF_HOUR),
    ],
)
def test_changes_of_the_clocks_are_told_to_the_second(zone: str, around: dt.datetime) -> None:
    first, *changes = zone_offsets(zone, around, around)
    offsets = dict(zip(changes[::2], changes[1::2], strict=True))
    assert len(offsets) == (zone != "Asia/Kathmandu")
    for minutes in range(-2 * 1440, 2 * 1440):
        instant = around + dt.timedelta(minutes=minutes)
        said = [offset for change, offset in offsets.items() if change <= instant.timestamp()] or [first]
        local = instant.astimezone(zoneinfo.ZoneInfo(zone)).utcoffset()
        assert local == dt.timedelta(seconds=said[-1])


def test_latest_starts_are_told_apart_where_their_clock_times_are_not_enough() -> None:
    assert "data-late" not in page_text(shown_list(stored("first-night")))
    shots = in_autumn()
    told = following(shots.request, shots.steps, shots.steps[0].start_utc, shots.steps[-1].end_utc)
    assert told is not None
    assert told.late_s
    for row, seconds in told.late_s.items():
        step = shots.steps[row]
        assert step.latest_start_utc is not None
        assert step.start_utc + dt.timedelta(seconds=seconds) == step.latest_start_utc
    assert page_text(shown_list(shots)).count(" data-late=") == len(told.late_s)
    late = shots.steps[5].model_copy(
        update={"latest_start_utc": shots.steps[5].start_utc - dt.timedelta(seconds=9)}
    )
    broken = following(shots.request, (late,), late.start_utc, late.end_utc)
    assert broken is not None
    assert broken.late_s == {0: -9}


def test_page_does_not_follow_what_its_table_does_not_say() -> None:
    shots = stored("first-night")
    request, steps = shots.request, shots.steps
    gone = moved(shots, 1).steps
    assert following(request, (), steps[0].start_utc, steps[0].end_utc) is None
    assert following(request, (steps[0], gone[1]), steps[0].start_utc, steps[0].end_utc) is None
    for shown in (shown_steps(request, ()), shown_steps(request, (*steps, *gone))):
        page = page_text(shown)
        assert 'id="follow"' not in page
        assert 'class="here"' not in page


def test_who_flips_is_told_and_a_mount_that_never_does_has_no_line_of_it() -> None:
    shots = stored("first-night")
    for flip_by, said in (("plan", "plan"), ("mount", "mount"), ("never", "nobody")):
        page = page_text(shown_list(flipped_by(shots, flip_by)))
        assert f'data-flip="{said}"' in page
        assert ('data-key="flip"' in page) == (flip_by != "never")


@pytest.mark.parametrize("night", NIGHTS)
def test_blocks_of_a_page_stand_for_the_steps_that_they_show(night: str) -> None:
    """The script numbers the rectangles without a y by the ranges; an SVG by itself numbers each block."""
    shots = stored(night)
    page = page_text(shown_list(shots))
    for layout in (WIDE, NARROW):
        drawing = draw(facts_of(night), layout, titled=False)
        (ranges, picture) = re.findall(
            rf'<svg class="picture {layout.key}" data-blocks="([^"]*)"(.*?)</svg>', page, re.DOTALL
        )[0]
        assert ranges == block_ranges(drawing.shapes)
        indices = [
            index
            for first, last in (ends.split("-") if "-" in ends else (ends, ends) for ends in ranges.split())
            for index in range(int(first), int(last) + 1)
        ]
        blocks = [each for each in re.findall(r"<rect ([^>]*)>", picture) if not re.search(r"\by=", each)]
        assert len(blocks) == len(indices)
        assert sorted(indices) == list(range(len(shots.steps)))
    svg = chart_bytes(shown_list(shots), ".svg").decode()
    wide = [int(index) for index in re.findall(r'data-i="(\d+)"', svg)]
    assert len(wide) == len(shots.steps)


def test_pictures_have_no_line_at_now() -> None:
    """What is printed or sent shows a night, not when somebody looked at it."""
    svg = chart_bytes(shown_list(stored("first-night")), ".svg").decode()
    assert 'class="here"' not in svg
    assert "now " not in svg


def test_only_a_served_page_asks_and_only_its_own_server() -> None:
    shots = stored("first-night")
    alone = page_text(shown_list(shots))
    assert "fetch(" not in alone
    assert "connect-src" not in alone
    assert "data-etag" not in alone
    page = page_text(shown_list(shots), served=Served('W/"ab&12"'))
    assert page.count("fetch(") == 1
    assert 'fetch("list.json"' in page
    assert 'data-etag="ab&amp;12"' in page
    (policy,) = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]*)"', page)
    directives = [part.strip() for part in policy.replace("&#39;", "'").split(";")]
    assert [each for each in directives if each.startswith("connect-src")] == ["connect-src 'self'"]
    assert "default-src 'none'" in directives


def test_what_the_images_say_stands_in_a_served_page_line_by_line() -> None:
    shots = stored("first-night")
    seen = ("By the images, as of 01:20:12:", "Late: 4 min <b>.", "Cost: nothing.")
    page = page_text(shown_list(shots), served=Served("x", seen))
    (told,) = re.findall(r'<div class="seen">(.*?)</div>', page, re.DOTALL)
    lines = re.findall(r"<p>(.*?)</p>", told)
    assert lines == [
        "By the images, as of 01:20:12:",
        "<strong>Late:</strong> 4 min &lt;b&gt;.",
        "<strong>Cost:</strong> nothing.",
    ]
    assert 'class="seen"' not in page_text(shown_list(shots), served=Served("x"))


@pytest.mark.parametrize("warns", [False, True])
def test_what_went_wrong_stands_above_the_plan_that_does_not_know_of_it(warns: bool) -> None:
    page = page_text(shown_list(stored("first-night")), served=Served("1", ("Late: at least 5 min",), warns))
    above = page.index('class="seen"') < page.index('id="follow"')
    assert above == warns
    assert ("it shows the command" in page) == warns
