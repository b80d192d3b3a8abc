"""Pages of the stored nights in a real Chromium that may fetch nothing; skipped where there is none."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from optimizer.report.picture.page import page_text
from optimizer.report.picture.shown import shown_list
from tests.support.page_cases import Opened
from tests.support.picture_cases import NIGHTS, hostile, stored


def _chromium() -> str | None:
    """`DARKFILL_CHROMIUM`, or what the system has under a usual name."""
    names = (os.environ.get("DARKFILL_CHROMIUM"), "chromium", "chromium-browser", "google-chrome")
    return next((found for name in names if name and (found := shutil.which(name))), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    path = _chromium()
    if path is None:
        pytest.skip("no Chromium found: install the system's package, or name one in DARKFILL_CHROMIUM")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The pages as files, by night."""
    folder = tmp_path_factory.mktemp("pages")
    plans = {**{night: stored(night) for night in NIGHTS}, "hostile": hostile()}
    found = {}
    for night, shots in plans.items():
        found[night] = folder / f"{night}.html"
        found[night].write_text(page_text(shown_list(shots)), encoding="utf-8")
    return found


@pytest.fixture
def open_page(browser: Any, pages: dict[str, Path]) -> Iterator[Any]:
    """Opens a night; what it fetches and what it complains of is kept."""
    contexts = []

    def open_night(night: str, width: int = 1280, height: int = 900, **more: Any) -> Opened:
        context = browser.new_context(viewport={"width": width, "height": height}, **more)
        context.set_offline(True)
        contexts.append(context)
        page = context.new_page()
        opened = Opened(page, [], [])
        page.on("request", lambda request: opened.requests.append(request.url))
        page.on("console", lambda message: opened.complaints.append(message.text))
        page.on("pageerror", lambda error: opened.complaints.append(str(error)))
        page.goto(pages[night].as_uri())
        return opened

    yield open_night
    for context in contexts:
        context.close()
