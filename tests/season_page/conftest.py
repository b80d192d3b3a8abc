"""Pages of seasons written by hand in a real Chromium that may fetch nothing; skipped where there is none."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from optimizer.report.season_page.page import season_page
from tests.support.browser import opened_offline
from tests.support.page_cases import Opened
from tests.support.season_page_cases import dense, hostile


@pytest.fixture(scope="session")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The pages as files, by name."""
    folder = tmp_path_factory.mktemp("seasons")
    files = {"long": dense(90, 30), "short": dense(9, 7), "hostile": hostile()}
    found = {}
    for name, file in files.items():
        found[name] = folder / f"{name}.html"
        found[name].write_text(season_page(file), encoding="utf-8")
    return found


@pytest.fixture
def open_page(browser: Any, pages: dict[str, Path]) -> Iterator[Any]:
    """Opens a season; what it fetches and what it complains of is kept."""
    contexts: list[Any] = []

    def open_season(name: str, width: int = 1280, height: int = 900, **more: Any) -> Opened:
        return opened_offline(browser, pages[name], contexts, width, height, **more)

    yield open_season
    for context in contexts:
        context.close()
