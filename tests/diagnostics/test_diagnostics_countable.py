"""Names and goals whose subs can be told apart are taken: the good sides of what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.reading.load import load_request
from tests.support.bad_input.table import add, request

GOAL = '\n[[targets.goals]]\nfilter = "{}"\nexposure_s = {}\n{}'
RED = ("filter", '\n[[filters]]\nname = "R"')


@pytest.mark.parametrize(
    "swaps",
    [
        [add("goal", GOAL.format("L", 121.3, "frames = 9"))],  # 1 % of it is 1.213 s
        [add("goal", GOAL.format("L", 118.7, "frames = 9"))],
        [add("goal", GOAL.format("L", 120.5, "frames = 9\ngain = 100"))],
        [add("goal", GOAL.format("L", 120, "frames = 9\nbinning = 2"))],
        [add(*RED), add("goal", GOAL.format("R", 120, "hours = 2"))],
        [add(*RED), add("goal", GOAL.format("R", 121, "frames = 9"))],
        [add("filter", 'aliases = ["Cradle Nebula"]'), add("target", 'aliases = ["L"]')],
        [add("target", 'aliases = ["Cradle", "Cradle Nebula 2"]')],
    ],
    ids=str,
)
def test_what_can_be_told_apart_is_taken(
    swaps: list[tuple[str, str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("request.toml").write_text(str(request(*swaps)["request.toml"]))
    assert load_request(Path("request.toml")).warnings == ()
