"""The page in a real Chromium under a clock of our own: what it says of now is what Python says."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from optimizer.follow.moment import flip_maker, moment_of
from optimizer.models.shots import ShotList, Step
from optimizer.report.moment_words import moment_words
from optimizer.report.picture.frame import NARROW, WIDE, Frame, Layout
from optimizer.report.picture.page import page_text
from optimizer.report.picture.shown import shown_steps
from optimizer.report.words import clock
from tests.support.follow_cases import Clocked, OpenAt, flipped_by, instants, moved, shown_words
from tests.support.followed_nights import list_of
from tests.support.picture_cases import facts_of, hostile, stored
from tests.support.speeds import deep

pytestmark = deep

SECOND = dt.timedelta(seconds=1)
FAR = dt.timedelta(days=30)
WINTER, FIRST = "long-winter-night", "first-night"
ELSEWHERE = {"timezone_id": "America/Denver"}
LINE = """key => { const line = document.querySelector(`svg.picture.${key} .here`);
 return getComputedStyle(line).display !== 'none' ? Number(line.getAttribute("transform").match(/[-0-9.]+/)[0]) : null; }"""


@pytest.fixture
def open_at(browser: Any, tmp_path: Path) -> Iterator[OpenAt]:
    """Opens steps as a file at an instant, without a network; all clocks of the page are ours."""
    contexts = []

    def opened(
        shots: ShotList,
        now: dt.datetime,
        width: int = 390,
        theme: str = "red",
        still: bool = True,
        **more: Any,
    ) -> Clocked:
        context = browser.new_context(viewport={"width": width, "height": 844}, **more)
        context.set_offline(True)
        contexts.append(context)
        file = tmp_path / f"{len(contexts)}.html"
        file.write_text(page_text(shown_steps(shots.request, shots.steps), theme), encoding="utf-8")
        found = Clocked(context.new_page(), [], [])
        found.page.on("request", lambda request: found.requests.append(request.url))
        found.page.on("console", lambda message: found.complaints.append(message.text))
        found.page.on("pageerror", lambda error: found.complaints.append(str(error)))
        if still:  # no timer runs by itself
            found.page.clock.install(time=now - 60 * SECOND)
            found.page.clock.pause_at(now)
        else:
            found.page.clock.set_fixed_time(now)
        found.page.goto(file.as_uri())
        return found

    yield opened
    for context in contexts:
        context.close()


def by_python(shots: ShotList, now: dt.datetime) -> dict[str, str]:
    """What the page must say, by the code of the terminal's view."""
    moment = moment_of(shots.steps, now, flip_maker(shots.request.mount))
    words = moment_words(shots.steps, moment, shots.request.site.time_zone)
    return shown_words(words, moment.phase)


def autumn() -> ShotList:
    """A night in which the clocks go back, with the second flip in the hour that comes twice."""
    shots = stored(FIRST)
    return moved(shots, (dt.date(2026, 10, 24) - shots.request.night.evening).days, -7000)


def with_gaps() -> ShotList:
    """A list edited by hand, with steps taken out."""
    shots = stored(FIRST)
    steps = tuple(step for step in shots.steps if step.step % 7 and step.kind != "dither")
    return shots.model_copy(update={"steps": steps})


CASES: dict[str, Callable[[], ShotList]] = {
    WINTER: lambda: stored(WINTER),
    FIRST: lambda: stored(FIRST),
    "clocks go back": autumn,
    "mount flips": lambda: flipped_by(stored(WINTER), "mount"),
    "no flips": lambda: flipped_by(stored(FIRST), "never"),
    "gaps": with_gaps,
    "hostile names": hostile,
}


# a small night, and one for each way in which a mount flips, stands still or does not flip
PLANNED = ("small", "flipping", "by mount", "by plan", "standstill", "turned", "fork")


@pytest.mark.parametrize("case", [*CASES, *PLANNED])
def test_page_says_what_python_says_word_for_word(case: str, open_at: OpenAt) -> None:
    shots = CASES[case]() if case in CASES else list_of(case)
    opened = open_at(shots, shots.steps[0].start_utc, **ELSEWHERE)
    for now in instants(shots, 120):
        assert opened.at(now) == by_python(shots, now), now
    assert opened.complaints == []
    assert len(opened.requests) == 1  # the file itself


@pytest.mark.parametrize(("layout", "width"), [(WIDE, 1200), (NARROW, 390)])
@pytest.mark.parametrize("night", [WINTER, FIRST])
def test_line_stands_where_now_is_drawn(layout: Layout, width: int, night: str, open_at: OpenAt) -> None:
    shots, facts = stored(night), facts_of(night)
    frame = Frame(layout, facts)
    opened = open_at(shots, shots.steps[0].start_utc, width)
    for now in instants(shots, 40):
        opened.at(now)
        now_s = facts.clock.seconds(now.replace(microsecond=0))
        x = opened.page.evaluate(LINE, layout.key)
        if frame.inside(now_s):
            assert abs(x - frame.x(now_s)) < 0.11
            said = opened.page.text_content(f"svg.picture.{layout.key} .here text")
            assert said == f"now {clock(now, shots.request.site.time_zone)}"
            box = opened.page.evaluate(
                "key => document.querySelector(`svg.picture.${key} .here g`).getBoundingClientRect().toJSON()",
                layout.key,
            )
            assert box["left"] >= 0
            assert box["right"] <= width
        else:
            assert x is None
    for edge in (facts.start_s - 60, facts.end_s + 60):
        opened.at(facts.clock.utc(int(edge)))
        assert opened.page.evaluate(LINE, layout.key) is None


@pytest.mark.parametrize(("ahead", "word"), [(FAR, "begins"), (-FAR, "ended")])
def test_another_night_gets_one_quiet_line(ahead: dt.timedelta, word: str, open_at: OpenAt) -> None:
    shots = stored(WINTER)
    opened = open_at(shots, shots.steps[0].start_utc - ahead)
    instant = shots.steps[0].start_utc if word == "begins" else shots.steps[-1].end_utc
    local = clock(instant, shots.request.site.time_zone, seconds=True)
    day = "2026-12-28" if word == "begins" else "2026-12-29"
    assert opened.page.inner_text("#follow") == f"By the plan this list {word} on {day} at {local}."
    assert not opened.page.locator(".here").first.is_visible()
    assert opened.page.locator("#follow").evaluate("panel => panel.getBoundingClientRect().height") < 60


def test_phone_that_slept_says_at_once_what_is_now(open_at: OpenAt) -> None:
    """Its timers stood still meanwhile: not one of them has to go on."""
    shots = stored(WINTER)
    flip = next(step for step in shots.steps if step.kind == "flip")
    before, after = flip.start_utc - 90 * SECOND, flip.end_utc + 3000 * SECOND
    for wake in ("visibilitychange", "pageshow"):
        opened = open_at(shots, before)
        said, x = opened.at(before), opened.page.evaluate(LINE, "n")
        opened.hide(True)
        opened.page.clock.set_system_time(after)
        if wake == "visibilitychange":
            opened.hide(False)
        else:
            opened.page.evaluate("delete document.hidden; dispatchEvent(new Event('pageshow'))")
        later = opened.page.inner_text("[data-key=now]").replace("\u00a0", " ")
        assert later == by_python(shots, after)["now"] != said["now"]
        assert opened.page.evaluate(LINE, "n") > x


def test_countdown_runs_each_second_and_only_while_it_is_looked_at(open_at: OpenAt) -> None:
    shots = stored(WINTER)
    sub = next(step for step in shots.steps if step.kind == "expose")
    now = sub.start_utc + (15 - sub.start_utc.second % 15) * SECOND
    opened = open_at(shots, now, 1200)
    line: list[float] = []
    for _ in range(31):
        at = dt.datetime.fromtimestamp(opened.page.evaluate("Date.now()") / 1000, dt.UTC)
        said = opened.page.text_content("[data-key=now]").replace("\u00a0", " ")
        assert said == by_python(shots, at)["now"]
        line.append(opened.page.evaluate(LINE, "w"))
        opened.page.clock.run_for(1000)
    assert len(set(line)) == 3  # on each quarter of a minute
    opened.hide(True)
    before = opened.page.inner_text("#follow")
    opened.page.clock.run_for(60_000)
    assert opened.page.inner_text("#follow") == before
    opened.hide(False)
    assert opened.page.inner_text("#follow") != before


def test_screen_readers_hear_nothing_of_the_countdown(open_at: OpenAt) -> None:
    shots = stored(WINTER)
    opened = open_at(shots, shots.steps[5].start_utc)
    live = "node => !!node.closest('[aria-live]:not([aria-live=off]),[role=status],[role=alert],[role=log]')"
    for each in opened.page.locator("#follow, #follow *, .here").all():
        assert not each.evaluate(live)
    opened.page.evaluate(
        "window.heard = 0; new MutationObserver(() => window.heard++).observe("
        "document.getElementById('spoken'), {childList: true, characterData: true, subtree: true})"
    )
    opened.page.clock.run_for(20_000)
    assert opened.page.evaluate("window.heard") == 0


def test_flip_is_marked_as_it_comes_near(open_at: OpenAt) -> None:
    shots = stored(WINTER)
    flip: Step = next(step for step in shots.steps if step.kind == "flip")
    opened = open_at(shots, flip.start_utc)
    marks = []
    for now in (flip.start_utc - 601 * SECOND, flip.start_utc - 590 * SECOND, flip.start_utc, flip.end_utc):
        opened.at(now)
        marks.append(opened.page.evaluate("document.getElementById('follow').matches('.soon')"))
    assert marks == [False, True, True, False]


@pytest.mark.parametrize("width", [390, 1200])
def test_hours_under_the_sign_are_out_of_its_way_and_come_back(width: int, open_at: OpenAt) -> None:
    shots = stored(WINTER)
    key = "n" if width == 390 else "w"
    gaps = f"""() => {{ const sign = document.querySelector("svg.{key} .here rect").getBoundingClientRect();
        return [...document.querySelectorAll("svg.{key} .local text")].map(hour => {{
            const box = hour.getBoundingClientRect();
            return [getComputedStyle(hour).visibility, Math.max(sign.left - box.right, box.left - sign.right)]; }}) }}"""
    opened = open_at(shots, shots.steps[0].start_utc, width)
    for now in instants(shots, 60):
        opened.at(now)
        found = opened.page.evaluate(gaps)
        assert all(gap >= 0 for visibility, gap in found if visibility == "visible"), now
        assert all(gap <= 4 for visibility, gap in found if visibility == "hidden"), now
    opened.at(dt.datetime(2026, 12, 29, 1, 0, tzinfo=dt.UTC))
    assert "hidden" in dict(opened.page.evaluate(gaps))
    opened.page.emulate_media(media="print")
    assert "hidden" not in dict(opened.page.evaluate(gaps))
    opened.page.emulate_media(media="screen")
    opened.at(dt.datetime(2026, 12, 28, 8, 0, tzinfo=dt.UTC))
    assert "hidden" not in dict(opened.page.evaluate(gaps))


def test_now_is_not_printed(open_at: OpenAt) -> None:
    shots = stored(WINTER)
    opened = open_at(shots, shots.steps[50].start_utc, 1200)
    seen = ("#follow", "svg.picture.w .here")
    assert all(opened.page.locator(each).is_visible() for each in seen)
    opened.page.emulate_media(media="print")
    assert not any(opened.page.locator(each).is_visible() for each in seen)


def test_without_script_nothing_of_now_is_there(open_at: OpenAt, browser: Any, tmp_path: Path) -> None:
    shots = stored(WINTER)
    context = browser.new_context(java_script_enabled=False)
    file = tmp_path / "still.html"
    file.write_text(page_text(shown_steps(shots.request, shots.steps)), encoding="utf-8")
    page = context.new_page()
    page.goto(file.as_uri())
    assert not page.locator("#follow").is_visible()
    assert not page.locator("svg.picture.w .here").is_visible()
    assert page.locator("svg.picture.w").is_visible()
    context.close()


@pytest.mark.parametrize(("theme", "width"), [("red", 390), ("light", 1200)])
@pytest.mark.parametrize("when", ["run", "flip", "over", "far"])
def test_axe_finds_nothing(theme: str, width: int, when: str, open_at: OpenAt) -> None:
    from axe_playwright_python.sync_playwright import Axe

    shots = stored(WINTER)
    flip = next(step for step in shots.steps if step.kind == "flip")
    now = {
        "run": dt.datetime(2026, 12, 29, 1, 0, 30, tzinfo=dt.UTC),
        "flip": flip.start_utc - 130 * SECOND,
        "over": shots.steps[-1].end_utc + 1500 * SECOND,
        "far": shots.steps[0].start_utc - FAR,
    }[when]
    page = open_at(shots, now, width, theme, still=False, bypass_csp=True).page
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response
    assert len(found["passes"]) > 10
    assert [(each["id"], each["nodes"][0]["html"]) for each in found["violations"]] == []
