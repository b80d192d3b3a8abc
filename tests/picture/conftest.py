"""Pages of the stored nights in a real Chromium that may fetch nothing; skipped where there is none."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from optimizer.report.picture.page import page_text
from optimizer.report.picture.shown import shown_list
from tests.support.browser import opened_offline
from tests.support.page_cases import Opened
from tests.support.picture_cases import NIGHTS, hostile, stored


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
    contexts: list[Any] = []

    def open_night(night: str, width: int = 1280, height: int = 900, **more: Any) -> Opened:
        return opened_offline(browser, pages[night], contexts, width, height, **more)

    yield open_night
    for context in contexts:
        context.close()
