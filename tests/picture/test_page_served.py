"""A page from a server in a real Chromium: it asks for the list, tells of a newer one, and loads nothing itself."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

from optimizer.follow.server import Contents, ListServer
from optimizer.report.picture.page import page_text
from optimizer.report.picture.served import Served
from optimizer.report.picture.shown import shown_list
from optimizer.report.words import clock
from tests.support.picture_cases import stored
from tests.support.speeds import deep

pytestmark = deep

WHEN = dt.datetime(2026, 10, 10, 23, 0, 30, tzinfo=dt.UTC)
SEEN = ("By the images, as of 01:00:12: 4 min 10 s late since step 19.",)
MINUTE_MS = 60_000


@dataclass
class Net:
    """A server made up in the browser: which ETag it has, whether it answers, and what it was asked."""

    etag: str = "old"
    answers: bool = True
    status: int = 200
    asked: list[tuple[str, str, str | None]] = field(default_factory=list)

    def answer(self, route: Any) -> None:
        request = route.request
        if request.url.endswith("/"):
            route.fulfill(body=page_text(shown_list(stored("first-night")), "red", Served("old", SEEN)),
                          content_type="text/html")  # fmt: skip
            return
        known = request.headers.get("if-none-match")
        self.asked.append((request.method, request.url, known))
        if not self.answers:
            route.abort()
        elif known == f'"{self.etag}"' and self.status == 200:
            route.fulfill(status=304, headers={"ETag": f'"{self.etag}"'})
        else:
            route.fulfill(status=self.status, body="{}", headers={"ETag": f'"{self.etag}"'})


@pytest.fixture
def served(browser: Any) -> Iterator[tuple[Any, Net, list[str]]]:
    """A served page under a clock that stands still, its server, and what it complains of."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, timezone_id="America/Denver")
    net, page, complaints = Net(), context.new_page(), []
    page.route("**/*", net.answer)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.clock.install(time=WHEN - dt.timedelta(minutes=1))
    page.clock.pause_at(WHEN)
    page.goto("http://localhost:8777/")
    yield page, net, complaints
    context.close()


def passes(page: Any, milliseconds: int) -> None:
    """Let the page's clock run on, and the net answer."""
    page.clock.run_for(milliseconds)
    page.evaluate("() => new Promise(resolve => { const port = new MessageChannel();"
                  " port.port1.onmessage = resolve; port.port2.postMessage(0); })")  # fmt: skip
    page.wait_for_load_state("networkidle")


def test_list_is_asked_for_each_minute_and_nothing_is_told_while_it_is_the_same(served: Any) -> None:
    page, net, complaints = served
    assert net.asked == []
    for minute in range(1, 4):
        passes(page, MINUTE_MS)
        assert net.asked == [("GET", "http://localhost:8777/list.json", '"old"')] * minute
    assert not page.locator("#newer").is_visible() or page.inner_text("#newer") == ""
    assert page.inner_text("#gone") == ""
    assert complaints == []
    assert SEEN[0] in page.inner_text(".seen")


def test_newer_list_is_offered_and_loaded_only_when_asked_for(served: Any) -> None:
    page, net, complaints = served
    loads: list[str] = []
    page.on("framenavigated", lambda frame: loads.append(frame.url))
    net.etag = "new"
    passes(page, MINUTE_MS)
    button = page.get_by_role("button", name="Load it")
    button.wait_for()
    assert page.inner_text("#newer b") == "A newer list is there."
    assert page.get_attribute("#newer", "role") == "status"
    first = button.element_handle()
    passes(page, 5 * MINUTE_MS)
    assert button.element_handle().evaluate("(node, other) => node === other", first)  # told once
    assert loads == []
    button.click()
    page.wait_for_function("() => !document.querySelector('#newer button')")
    assert loads == ["http://localhost:8777/"]
    assert complaints == []


@pytest.mark.parametrize("how", ["gone", "busy"])
def test_server_that_is_gone_breaks_nothing_and_one_quiet_line_says_since_when(how: str, served: Any) -> None:
    page, net, complaints = served
    passes(page, MINUTE_MS)
    last = dt.datetime.fromtimestamp(page.evaluate("Date.now()") / 1000, dt.UTC)
    net.answers, net.status, net.etag = how == "busy", 503, "other"
    passes(page, 3 * MINUTE_MS)
    page.wait_for_function("() => document.getElementById('gone').textContent")
    said = page.inner_text("#gone")
    local = [clock(last - dt.timedelta(seconds=by), "Europe/Paris", seconds=True) for by in range(6)]
    assert any(f"No list from the server since {each}:" in said for each in local)
    assert page.inner_text("#newer") == ""
    before = page.inner_text("[data-key=now]")
    page.clock.run_for(1000)
    assert page.inner_text("[data-key=now]") != before
    net.answers, net.status, net.etag = True, 200, "old"
    passes(page, MINUTE_MS)
    page.wait_for_function("() => !document.getElementById('gone').textContent")
    assert complaints == []


def test_page_that_slept_asks_at_once(served: Any) -> None:
    page, net, _ = served
    hide = (
        "hidden => { Object.defineProperty(document, 'hidden', {value: hidden, configurable: true});"
        " document.dispatchEvent(new Event('visibilitychange')); }"
    )
    page.evaluate(hide, True)
    passes(page, 10 * MINUTE_MS)
    assert net.asked == []  # nobody looks
    net.etag = "new"
    page.evaluate(hide, False)
    page.get_by_role("button", name="Load it").wait_for()
    assert len(net.asked) == 1


def test_page_saved_from_a_server_asks_for_nothing(browser: Any, tmp_path: Any) -> None:
    file = tmp_path / "kept.html"
    file.write_text(page_text(shown_list(stored("first-night")), None, Served("old")), encoding="utf-8")
    context = browser.new_context()
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.clock.install(time=WHEN)
    page.goto(file.as_uri())
    page.clock.run_for(3 * MINUTE_MS)
    assert asked == [file.as_uri()]
    assert page.inner_text("#gone") == ""
    context.close()


def test_axe_finds_nothing_in_a_page_with_a_newer_list(browser: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(viewport={"width": 390, "height": 844}, bypass_csp=True)
    net, page = Net(), context.new_page()
    page.route("**/*", net.answer)
    page.clock.set_fixed_time(WHEN)
    page.goto("http://localhost:8777/")
    net.etag = "new"
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    page.get_by_role("button", name="Load it").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response
    assert [(each["id"], each["nodes"][0]["html"]) for each in found["violations"]] == []
    context.close()


def test_page_and_the_server_of_follow_understand_each_other(browser: Any) -> None:
    page_bytes = page_text(shown_list(stored("first-night")), None, Served("first")).encode()
    contents = {"etag": "first"}
    with ListServer(lambda: Contents(page_bytes, b"{}", b"step\r\n", contents["etag"]), port=0) as server:
        context = browser.new_context()
        page = context.new_page()
        answers: list[int] = []
        page.on(
            "response", lambda response: answers.append(response.status) if "json" in response.url else None
        )
        page.goto(f"http://127.0.0.1:{server.port}/")
        wake = "document.dispatchEvent(new Event('visibilitychange'))"
        with page.expect_response("**/list.json"):
            page.evaluate(wake)
        assert page.inner_text("#newer") == ""
        contents["etag"] = "second"
        page.wait_for_timeout(1100)  # the server makes its contents anew each second
        page.evaluate(wake)
        page.get_by_role("button", name="Load it").wait_for()
        assert answers == [304, 200]
        assert page.inner_text("#gone") == ""
        context.close()
