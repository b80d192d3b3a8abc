"""The page in a real Chromium, without a network: what it shows is what the list holds."""

from __future__ import annotations

import re
from typing import Any

import pytest

from optimizer.models.shots import ShotList, Step
from optimizer.report.picture.files import chart_bytes
from optimizer.report.picture.frame import WIDE
from optimizer.report.picture.shapes import BOLDER, text_width
from optimizer.report.picture.shown import shown_list
from optimizer.report.picture.step_table import columns_of, table_rows
from optimizer.report.words import clock
from tests.support.page_cases import readout
from tests.support.picture_cases import HOSTILE, NIGHTS, flipped, hostile, stored
from tests.support.speeds import deep

pytestmark = deep

each_night = pytest.mark.parametrize("night", NIGHTS)
each_theme = pytest.mark.parametrize("theme", ["light", "dark", "red"])
each_width = pytest.mark.parametrize("width", [390, 820, 1280, 2560])


def expected(step: Step, shots: ShotList) -> dict[str, str]:
    """What the readout must hold of a step, from the list's own fields."""
    zone = shots.request.site.time_zone
    found = {
        "step": str(step.step),
        "start": clock(step.start_utc, zone, seconds=True),
        "end": clock(step.end_utc, zone, seconds=True),
        "start_utc": f"{step.start_utc:%H:%M:%S}",
        "end_utc": f"{step.end_utc:%H:%M:%S}",
    }
    for key, value in (("target", step.target), ("filter", step.filter), ("side", step.pier_side)):
        if value:
            found[key] = value
    if step.exposure_s is not None:
        found["exposure"] = f"{step.exposure_s:g}"
    if step.altitude_deg is not None:
        found["altitude"] = f"{step.altitude_deg:.1f}"
    return found


@each_night
@each_width
def test_nothing_is_fetched_and_nothing_complains(night: str, width: int, open_page: Any) -> None:
    opened = open_page(night, width)
    opened.page.click("#on")
    opened.page.click("[data-set=red]")
    outside = [url for url in opened.requests if not url.startswith(("file:", "data:"))]
    assert (outside, opened.complaints) == ([], [])
    assert len([url for url in opened.requests if url.startswith("file:")]) == 1


@each_night
@each_width
def test_page_is_no_wider_than_the_screen(night: str, width: int, open_page: Any) -> None:
    page = open_page(night, width).page
    page.evaluate("document.getElementById('steps').open = true")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    shown = page.evaluate(
        "[...document.querySelectorAll('svg.picture')].filter(e => e.checkVisibility()).length"
    )
    assert shown == 1


@each_night
@each_width
def test_no_row_is_torn_and_no_number_leaves_its_unit(night: str, width: int, open_page: Any) -> None:
    page = open_page(night, width).page
    torn = "[...document.querySelectorAll('.columns tr')].filter(e => e.getClientRects().length > 1).length"
    assert page.evaluate(torn) == 0
    lines = (
        "[...document.querySelectorAll('.scarce tbody td:nth-child(n+2)')].map(cell => {"
        " const words = document.createRange(); words.selectNodeContents(cell);"
        " return words.getClientRects().length })"
    )
    assert set(page.evaluate(lines)) <= {1}


@each_night
def test_keyboard_walk_reaches_every_step_and_reads_what_the_list_says(night: str, open_page: Any) -> None:
    shots, page = stored(night), open_page(night).page
    page.focus("#walk")
    for index, step in enumerate(shots.steps):
        if index:
            page.keyboard.press("ArrowRight")
        said = readout(page)
        assert expected(step, shots).items() <= said.items()
        marked = page.evaluate(
            "[...document.querySelectorAll('svg.picture.w [data-i].now')].map(e => Number(e.dataset.i))"
        )
        assert marked == [index]
    assert shots.steps[-1].kind in page.get_attribute("#walk", "aria-valuetext")
    page.keyboard.press("Home")
    assert readout(page)["step"] == "1"


def test_tab_reaches_every_control(open_page: Any) -> None:
    page = open_page("first-night").page
    reached = set()
    for _ in range(20):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate(
                "document.activeElement.id || document.activeElement.dataset.set || document.activeElement.tagName"
            )
        )
    assert {"light", "dark", "red", "back", "walk", "on", "SUMMARY"} <= reached


@pytest.mark.parametrize("width", [390, 1280])
def test_tap_on_the_night_reads_the_step_at_that_time(width: int, open_page: Any) -> None:
    shots = stored("long-winter-night")
    page = open_page("long-winter-night", width, has_touch=True).page
    picture = "svg.picture.n" if width == 390 else "svg.picture.w"
    for index in (20, 60, 111, 180):
        block = page.locator(f'{picture} [data-i="{index}"]')
        block.evaluate("block => block.scrollIntoView({block: 'start'})")  # clear of the readout below
        box = block.bounding_box()
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        said = readout(page)
        if width == 1280:
            assert expected(shots.steps[index], shots).items() <= said.items()
        else:  # a finger's width of blocks lie at the same pixels
            assert abs(int(said["step"]) - (index + 1)) <= 2


def test_table_holds_every_cell(open_page: Any) -> None:
    shots, page = stored("first-night"), open_page("first-night").page
    rows = page.evaluate(
        "[...document.querySelectorAll('.steps tbody tr')].map(r => [...r.cells].map(c => c.textContent.trim()))"
    )
    assert rows == table_rows(shots.steps, shots.request.site.time_zone)
    assert page.locator(".steps th").count() == len(columns_of(shots.steps))


@each_theme
def test_theme_is_switched_and_remembered(theme: str, open_page: Any) -> None:
    page = open_page("first-night", color_scheme="dark" if theme == "light" else "light").page
    before = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    page.click(f"[data-set={theme}]")
    page.reload()
    assert page.evaluate("document.documentElement.dataset.theme") == theme
    assert page.get_attribute(f"[data-set={theme}]", "aria-pressed") == "true"
    after = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    assert (before != after) == (theme != ("dark" if theme == "light" else "light"))


def test_system_decides_where_nobody_has_chosen(open_page: Any) -> None:
    for scheme in ("light", "dark"):
        page = open_page("first-night", color_scheme=scheme).page
        assert page.evaluate("document.documentElement.dataset.theme") == scheme


def test_without_script_the_page_still_tells_all(open_page: Any) -> None:
    page = open_page("first-night", java_script_enabled=False).page
    assert page.locator("svg.picture.w").is_visible()
    page.click("summary")
    assert page.locator(".steps tbody tr").count() == len(stored("first-night").steps)
    assert page.locator(".steps tbody tr").last.is_visible()


@each_night
@each_theme
@pytest.mark.parametrize("width", [390, 1280])
def test_axe_finds_nothing_serious(night: str, theme: str, width: int, open_page: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = open_page(night, width, bypass_csp=True).page  # the checker puts its own script into the page
    page.click(f"[data-set={theme}]")
    page.click("#on")
    if night == "short-summer-night":  # one table is like the other, and the longer ones take long
        page.evaluate("document.getElementById('steps').open = true")
    # of all that passes or is not applicable one node each is told of: quicker
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response
    assert len(found["passes"]) > 10
    serious = [each for each in found["violations"] if each["impact"] in ("serious", "critical")]
    assert [(each["id"], each["nodes"][0]["html"]) for each in serious] == []


def test_print_view_is_light_and_shows_what_paper_can(open_page: Any) -> None:
    page = open_page("long-winter-night").page
    page.click("[data-set=red]")
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    assert page.locator("svg.picture.w").is_visible()
    for hidden in (".themes", ".reader", "svg.picture.n", "#steps"):
        assert not page.locator(hidden).is_visible(), hidden
    height = page.evaluate("document.querySelector('svg.picture.w').getBoundingClientRect().bottom")
    assert height <= 192 / 25.4 * 96  # what A4 landscape holds between its margins
    page.evaluate("document.getElementById('steps').open = true")
    assert page.locator(".steps tbody tr").last.is_visible()


def test_run_sheet_prints_the_table_alone(open_page: Any) -> None:
    page = open_page("first-night").page
    page.evaluate("window.print = () => { window.printed = document.documentElement.className; }")
    page.click("summary")
    page.click("#print")
    assert page.evaluate("window.printed") == "sheet"
    page.emulate_media(media="print")
    assert page.locator(".steps tbody tr").first.is_visible()
    assert not page.locator(".chart").is_visible()
    assert page.locator(".sheetonly").is_visible()  # a sheet with a flip on it carries the cautions


def test_flip_says_to_keep_clear_on_a_phone_too(open_page: Any) -> None:
    shots = stored("first-night")
    page = open_page("first-night", 390).page
    index = next(index for index, step in enumerate(shots.steps) if step.kind == "flip")
    page.focus("#walk")
    for _ in range(index):
        page.keyboard.press("ArrowRight")
    assert readout(page)["note"] == shots.steps[index].note
    assert page.locator("#readout [data-key=note]").is_visible()


def test_page_prints_on_a4_landscape(open_page: Any) -> None:
    pdf = open_page("long-winter-night").page.pdf(prefer_css_page_size=True)
    boxes = set(re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf))
    assert {(round(float(width)), round(float(height))) for width, height in boxes} == {(842, 595)}


@each_night
def test_print_is_two_pages_and_small(night: str, open_page: Any) -> None:
    """No texture on paper, which would be written into the file anew for each block."""
    pdf = open_page(night).page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) == 2
    assert len(pdf) <= 2_000_000


@each_night
def test_columns_are_filled(night: str, open_page: Any) -> None:
    """Beside a long list no column stays blank."""
    page = open_page(night).page
    sections = page.evaluate(
        "[...document.querySelectorAll('.columns > section')].map(e => { const box = e.getBoundingClientRect();"
        " return [box.left, e.lastElementChild.getBoundingClientRect().bottom - box.top]; })"
    )
    whole = page.evaluate("document.querySelector('.columns').getBoundingClientRect().height")
    filled: dict[float, float] = {}
    for left, height in sections:
        filled[left] = filled.get(left, 0.0) + height
    assert len(filled) == 2
    assert min(filled.values()) >= 0.7 * whole


@pytest.mark.parametrize("flips", [3, 5])
def test_no_text_of_a_picture_leaves_its_sheet(flips: int, open_page: Any) -> None:
    """As wide as the browser's font sets it; and no wider than was reckoned with where labels were placed."""
    page = open_page("first-night", bypass_csp=True).page
    svg = chart_bytes(shown_list(flipped(flips)), ".svg").decode()
    page.evaluate("svg => { document.body.innerHTML = svg; }", svg)
    found = page.evaluate(
        "[...document.querySelectorAll('text:not(.halo)')].map(e => {"
        " const box = e.getBBox(), style = getComputedStyle(e);"
        " return [e.textContent, parseFloat(style.fontSize), style.fontWeight >= 600, box.x, box.width]; })"
    )
    assert len(found) > 50
    for text, size, bold, left, width in found:
        assert left >= 0, text
        assert left + width <= WIDE.width, text
        assert width <= text_width(text, size * BOLDER if bold else size), text


def test_hostile_names_stay_labels(open_page: Any) -> None:
    shots = hostile()
    opened = open_page("hostile", 390)
    page = opened.page
    assert page.title().startswith("Night of")
    assert page.locator("img, main script, b script").count() == 0
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.click("#on")
    assert readout(page)["target"] == HOSTILE["Pelican at the shore"]
    assert page.locator(".picture [data-i]").count() == 2 * len(shots.steps)
    assert opened.complaints == []
