"""The system's Chromium for tests of pages, which are skipped where there is none."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.support.page_cases import Opened


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


def opened_offline(
    browser: Any, path: Path, contexts: list[Any], width: int, height: int, **more: Any
) -> Opened:
    """A page in a context of its own without a network; what it fetches and complains of is kept."""
    context = browser.new_context(viewport={"width": width, "height": height}, **more)
    context.set_offline(True)
    contexts.append(context)
    page = context.new_page()
    opened = Opened(page, [], [])
    page.on("request", lambda request: opened.requests.append(request.url))
    page.on("console", lambda message: opened.complaints.append(message.text))
    page.on("pageerror", lambda error: opened.complaints.append(str(error)))
    page.goto(path.as_uri())
    return opened
