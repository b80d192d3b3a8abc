"""What `darkfill follow --serve` hands out."""

from __future__ import annotations

import json
import socket
import urllib.request
from pathlib import Path

import pytest

from optimizer.cli.following import Follower
from optimizer.cli.serving import list_server
from optimizer.export.csv_file import csv_text
from optimizer.models.shots import ShotList
from optimizer.report.moment_words import span_words
from tests.support.follow_clock import (
    BUSY,
    FIRST,
    HANG_S,
    HUNG,
    NOW,
    PATH,
    Hours,
    follow,
    follow_hours,
    night,
    view,
)


@pytest.fixture
def hours(monkeypatch: pytest.MonkeyPatch) -> Hours:
    return follow_hours(monkeypatch)


def test_served_page_has_what_the_images_say_and_the_newest_list(tmp_path: Path) -> None:
    night(stalls={HUNG.step: HANG_S}).write_until(tmp_path, BUSY)
    follower = Follower(PATH, tmp_path)
    follower.look()
    made = Hours(BUSY, BUSY)
    with list_server(follower, made.clock, lan=False, port=0) as server:
        address = f"http://localhost:{server.port}"

        def get(path: str) -> tuple[bytes, str]:
            with urllib.request.urlopen(address + path, timeout=20) as answer:
                return answer.read(), answer.headers["ETag"]

        page = get("/")[0].decode()
        listed, tag = get("/list.json")
        assert get("/list.csv")[0].decode() == csv_text(FIRST.steps)
    assert f"By the images, as of {NOW}" in page
    assert f"<strong>Late:</strong> {span_words(HANG_S)}" in page
    assert ShotList.model_validate(json.loads(listed)).steps == FIRST.steps
    assert tag.strip('"') in page


def test_page_that_cannot_be_made_anew_is_said() -> None:
    follower = Follower(PATH, None)
    follower.look()
    assert "Page " not in view(follower, BUSY)
    follower.page_trouble = lambda: "MemoryError"
    assert "Page   served as it was before: MemoryError" in view(follower, BUSY)


def test_serving_says_where_and_ends_with_ctrl_c(hours: Hours) -> None:
    ran = follow(PATH, "--serve", "--lan", "--port", _free_port())
    assert ran.code == 0
    assert "On this computer: http://localhost:" in ran.stderr
    assert "Caution: with --lan anyone in the same network can read" in ran.stderr
    assert f"{NOW}, night of" in ran.stdout


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])
