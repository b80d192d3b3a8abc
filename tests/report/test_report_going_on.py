"""The list of a rest of a night says from when it is, what it begins with, and what 'in hand' counts."""

from __future__ import annotations

import io
import re
from functools import cache

from rich.console import Console

from optimizer.models.shots import ShotList
from optimizer.replan.replanned import rest_of
from optimizer.replan.told import Told
from optimizer.report.picture.page import page_text
from optimizer.report.picture.shown import shown_list
from optimizer.report.plan_view import plan_view
from tests.support.replan_nights import at, small_list


@cache
def rest() -> ShotList:
    return rest_of(small_list(), Told(at("22:00")), "0" * 64, limit_s=0.2).shots


def shown(shots: ShotList, width: int = 120) -> str:
    out = io.StringIO()
    Console(file=out, width=width, highlight=False, no_color=True).print(plan_view(shots))
    return out.getvalue()


def page(shots: ShotList) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page_text(shown_list(shots))).split())


def begins() -> str:
    continues = rest().continues
    assert continues is not None
    utc = continues.begin.utc
    return f"{utc.hour + 1:02d}:{utc:%M}"


def test_share_of_a_rest_is_of_the_dark_that_is_left() -> None:
    assert " of usable dark left (" in shown(rest())
    assert " of usable dark left " in page(rest())
    assert "dark left" not in shown(small_list()) + page(small_list())


def test_progress_of_a_rest_tells_tonights_subs_in_hand_from_those_to_come() -> None:
    words = f"In hand counts the subs taken tonight before {begins()} as well."
    for width in (120, 30):
        view = " ".join(shown(rest(), width).split())
        assert "still tonight" in view
        assert words in view
    assert "In hand Still tonight Left" in page(rest())
    assert words in page(rest())
    assert "still tonight" not in shown(small_list()) + page(small_list()).lower()
    assert "In hand counts" not in shown(small_list()) + page(small_list())


def test_page_of_a_rest_says_from_when_it_is_and_what_to_check_first() -> None:
    text = page(rest())
    assert text.count(f"Night of 2026-11-14 at Heron Flat, from {begins()} on") >= 2
    assert re.search(r"Assumed: tube on pier side (west|east), on \w+, tracking\. Check that before", text)
    assert "Assumed" not in page(small_list())


def test_target_that_had_its_subs_earlier_is_not_said_to_be_left_out_of_the_night() -> None:
    last = [step for step in small_list().steps if step.kind == "slew"][-1]
    shots = rest_of(small_list(), Told(last.start_utc), "0" * 64, limit_s=0.2).shots
    over = {target.name for target in shots.request.targets} - {step.target for step in shots.steps}
    assert over
    assert "no subs" in page(shots)
    assert "not tonight" not in page(shots)
