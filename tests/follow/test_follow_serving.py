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
from tests.support.follow_clock import BUSY, FIRST, PATH, Hours, follow, follow_hours, night


@pytest.fixture
def hours(monkeypatch: pytest.MonkeyPatch) -> Hours:
    return follow_hours(monkeypatch)


def test_served_page_has_what_the_images_say_and_the_newest_list(tmp_path: Path) -> None:
    night(stalls={80: 600.0}).write_until(tmp_path, BUSY)
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
    assert "By the images, as of 01:20:00" in page
    assert "Late: 10 min" in page
    assert ShotList.model_validate(json.loads(listed)).steps == FIRST.steps
    assert tag.strip('"') in page


def test_serving_says_where_and_ends_with_ctrl_c(hours: Hours) -> None:
    ran = follow(PATH, "--serve", "--lan", "--port", _free_port())
    assert ran.code == 0
    assert "On this computer: http://localhost:" in ran.stderr
    assert "Caution: with --lan anyone in the same network can read" in ran.stderr
    assert "01:20:00, night of" in ran.stdout


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])
