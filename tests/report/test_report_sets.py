"""Filter sets for people: beside the goals of their target, in the terminal and on the page."""

from __future__ import annotations

import io
import json
import re
from typing import Any

import pytest

from optimizer.export.json_file import json_text, shots_from_data
from optimizer.models.shots import GoalValue, ShotList, TargetTotal
from optimizer.report.picture.page import page_text
from optimizer.report.picture.shown import shown_list, shown_steps
from optimizer.report.plan_view import plan_view
from optimizer.report.proof_words import proof_words
from optimizer.report.set_words import SetProgress
from optimizer.report.tables import show
from tests.support.report_cases import planned, text


def with_shares(before: float | None, after: float | None, **goal: Any) -> ShotList:
    """The planned night (L 40 and Ha 3) as if its set had come so far; `goal`: other keys of its second goal."""
    shots = planned()
    (target,) = shots.request.targets
    goals = (target.goals[0], target.goals[1].model_copy(update=goal))
    request = shots.request.model_copy(update={"targets": (target.model_copy(update={"goals": goals}),)})
    told = TargetTotal(target=target.name, set_share_before=before, set_share_after=after)
    totals = shots.totals.model_copy(update={"targets": (told,)})
    return shots.model_copy(update={"request": request, "totals": totals})


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        (0.44, 0.61, "filter set 44 % → 61 %"),
        (0.29, 0.57, "filter set 29 % → 57 %"),  # 0.29 * 100 is a little less than 29
        (0.0, 0.9999, "filter set 0 % → 99 %"),
        (0.446, 0.449, "filter set 44 %"),
        (0.5, 1.0, "filter set 50 % → complete"),
        (0.9999, 1.0, "filter set 99 % → complete"),
        (1.0, 1.0, "filter set complete"),
    ],
)
def test_share_is_never_told_larger_than_it_is(before: float, after: float, words: str) -> None:
    assert SetProgress(before, after).words == words


def test_planned_night_tells_its_own_share() -> None:
    """L 40 x 300 s with ten in hand, Ha 3 x 600 s: the shares of its own totals."""
    (told,) = planned().totals.targets
    before = 5100 / 4 / 6900  # of the slowest 6900 s of 13800: Ha 1800 at 0, L 5100 at a quarter
    assert told.set_share_before == pytest.approx(before, abs=1e-6)
    words = f"filter set 18 % → {int(100 * (told.set_share_after or 0))} %"
    rows = text(plan_view(planned())).splitlines()
    at = next(number for number, row in enumerate(rows) if row.startswith("Cradle") and " L " in row)
    assert re.match(rf"{words} +Ha +600 s ", rows[at + 1])
    assert words in page_text(shown_list(planned()))


@pytest.mark.parametrize("width", [60, 80, 110, 160])
def test_set_is_told_once_at_every_width(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    shown = text(plan_view(with_shares(0.44, 1.0)))
    progress = " ".join(shown[shown.index("Progress") : shown.index("Left out")].split())
    assert progress.count("filter set") == 1
    assert re.search(r"filter set .*44 % → .*complete", progress)  # perhaps folded below the name
    assert max(map(len, shown.splitlines())) <= width


def test_ascii_terminal_gets_an_arrow_that_it_can_show() -> None:
    out = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    show(plan_view(with_shares(0.44, 0.61)), out)
    out.flush()
    assert "filter set 44 % -> 61 %" in out.buffer.getvalue().decode()


@pytest.mark.parametrize(
    "shots",
    [
        with_shares(0.44, 0.61, in_set=False),
        with_shares(None, None, in_set=False),
        planned().model_copy(update={"totals": planned().totals.model_copy(update={"targets": ()})}),
    ],
    ids=["a set of one goal", "no set", "a list that does not say"],
)
def test_no_word_where_there_is_no_set(shots: ShotList) -> None:
    assert "filter set" not in text(plan_view(shots))
    page = page_text(shown_list(shots))
    assert "filter set" not in page
    assert 'colspan="5"' not in page


def test_bare_steps_say_nothing_of_sets() -> None:
    assert "filter set" not in page_text(shown_steps(planned().request, planned().steps))


@pytest.mark.parametrize(
    ("before", "after", "rects"),
    [
        (0.44, 0.61, '<rect width="44.0%" height="100%"/><rect class="tonight" x="44.0%" width="17.0%"'),
        (0.0, 0.5, '<svg class="bar" aria-hidden="true"><rect class="tonight" x="0.0%" width="50.0%"'),
        (1.0, 1.0, '<rect width="100.0%" height="100%"/></svg>'),
    ],
)
def test_page_has_a_bar_beside_the_words(before: float, after: float, rects: str) -> None:
    page = page_text(shown_list(with_shares(before, after)))
    (row,) = re.findall(r'<tr><th scope="rowgroup" colspan="5" class="of">.*', page)
    assert f'<bdi>Cradle</bdi> <span class="set">{SetProgress(before, after).words}</span>' in row
    assert rects in row


def test_file_carries_what_is_shown() -> None:
    shots = with_shares(0.44, 0.61)
    data = json.loads(json_text(shots))
    assert data["totals"]["targets"] == [
        {"target": "Cradle", "set_share_before": 0.44, "set_share_after": 0.61}
    ]
    assert shots_from_data(data, "here").totals == shots.totals


def far(**changes: Any) -> str:
    """What is said of a plan that is far from its bound, by an aim or values changed."""
    shots = planned()
    proof = shots.proof.model_copy(
        update={"gap": 9.0, "bound": 10 * shots.proof.objective, "status": "feasible"}
    )
    aim = shots.request.aim.model_copy(update=changes.pop("aim", {}))
    request = shots.request.model_copy(update={"aim": aim, **changes.pop("request", {})})
    return proof_words(shots.model_copy(update={"proof": proof, "request": request, **changes}))


def test_value_is_called_what_it_is() -> None:
    scarce = tuple(
        GoalValue(
            target="Cradle",
            filter=name,
            exposure_s=300.0,
            gain=None,
            offset=None,
            binning=1,
            hours_ahead=20.0,
            factor=1.2,
        )
        for name in ("L", "Ha")
    )
    assert " of open shutter, this" in far()
    assert " of value (open shutter and the progress of filter sets), this" in far(aim={"balance": 0.3})
    assert " of value (depth and the progress" in far(aim={"balance": 0.3, "value": "depth"})
    assert " of weighted open shutter, this" in far(values=scarce)
    assert " of value (weighted open shutter and the progress" in far(aim={"balance": 0.3}, values=scarce)
    alone = with_shares(0.4, 0.6, in_set=False).request.targets
    assert " of open shutter, this" in far(aim={"balance": 0.3}, request={"targets": alone})


def test_goal_beside_a_set_is_said_to_count_by_itself() -> None:
    """In the terminal and on the page; a target whose other goals make no set has nothing to be told apart."""
    words = "Not part of a filter set, each counts by itself: Cradle Ha."
    alone = with_shares(0.2, 0.3, in_set=False)
    assert words not in text(plan_view(alone))
    (target,) = alone.request.targets
    third = target.goals[0].model_copy(update={"exposure_s": 60.0})
    both = alone.request.model_copy(
        update={"targets": (target.model_copy(update={"goals": (*target.goals, third)}),)}
    )
    beside = alone.model_copy(update={"request": both})
    assert words in text(plan_view(beside))
    assert words in page_text(shown_list(beside))
    assert "Not part of" not in text(plan_view(with_shares(0.2, 0.3)))
