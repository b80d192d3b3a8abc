"""A comparison of sides in words: each true as it stands, and whole on narrow terminals."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from rich.console import Console

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request
from optimizer.models.targets import Goal, Target
from optimizer.packing.solution import Solution, WarmStart
from optimizer.problem import Problem, build_problem
from optimizer.reading.load import request_from_data
from optimizer.report.sides_facts import SidesReport, reason, sides_report
from optimizer.report.sides_view import ROWS, _cells, _difference, sides_view
from optimizer.sides import one_sided
from optimizer.sides.cases import CHOICES, Outcome, SideChoice
from optimizer.sides.compare import SidesOfNight, Status, Sureness, TargetSides, compare_sides
from optimizer.sides.search import Allowance
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows

TARGET = Target(name="Cradle", ra_deg=52.3, dec_deg=31.3, goals=(Goal(filter="L", exposure_s=300, frames=9),))


def goals(*frames: int) -> list[dict[str, Any]]:
    return [
        {"filter": name, "exposure_s": 300, "frames": number}
        for name, number in zip(("L", "Ha"), frames, strict=False)
    ]


@cache
def andromeda_request() -> Request:
    """Andromeda, of little weight, is left out; its shutter may be open before its transit for over two hours."""
    data = {
        "schema": "darkfill-request/1",
        "night": {
            "evening": "2026-11-14",
            "clear": [["2026-11-14T18:20:00Z", "2026-11-15T00:00:00Z"]],
            "ut1_utc_s": 0.0,
        },
        "site": {"latitude_deg": 38.92, "longitude_deg": -3.11, "floor_deg": 25.0},
        "mount": {"contact_min": 40, "clearance_min": 12, "flip_from_min": 5},
        "filters": [{"name": "L"}, {"name": "Ha"}],
        "targets": [
            {"name": "Andromeda", "object": "M 31", "weight": 0.05, "goals": goals(30, 30)},
            {"name": "Pelican", "ra_deg": 312.75, "dec_deg": 44.4, "goals": goals(40, 40)},
            {"name": "Cradle", "ra_deg": 52.3, "dec_deg": 31.3, "goals": goals(40, 40)},
            {"name": "Hounds", "ra_deg": 202.5, "dec_deg": 47.2, "goals": goals(9)},
        ],
        "aim": {**PLAIN_AIM, "workers": 1, "time_limit_s": 4.0},
    }
    return request_from_data(data, "andromeda")


@cache
def andromeda() -> SidesOfNight:
    return compare_sides(andromeda_request())


def of(name: str) -> TargetSides:
    return next(each for each in andromeda().targets if each.target.name == name)


def test_target_left_out_with_a_window_of_hours_is_not_called_impossible() -> None:
    request = andromeda_request()
    windows = sky_windows(request, night_sky(request))
    slots = [slot for slot in build_problem(request, windows).slots if slot.target.name == "Andromeda"]
    assert (
        max(last - first for slot in slots for spans in slot.shutter.values() for first, last in spans) > 7200
    )
    each = of("Andromeda")
    assert each.taken is None
    for choice in CHOICES:
        alone, night = each.alone[choice], each.night[choice]
        assert alone is not None
        assert night is not None
        assert alone.target_open_s >= night.target_open_s > 0
    before = each.alone["before"]
    assert before is not None
    assert before.target_open_s > 3600
    assert "cannot be shot" not in reason(each)


def test_target_below_its_floor_is_impossible_and_that_is_proven() -> None:
    each = of("Hounds")
    assert {each.night_sure[choice].status for choice in CHOICES} == {"impossible"}
    assert reason(each) == "it cannot be shot tonight before, after or across its transit: proven"


def test_report_says_of_which_targets_the_freely_planned_night_has_no_sub() -> None:
    told = {each.target: each for each in sides_report(andromeda()).targets}
    words = "; planned freely, the night has no sub of it"
    assert told["Andromeda"].best is not None
    assert told["Andromeda"].reason.endswith(words)
    assert told["Pelican"].taken is not None
    assert words not in told["Pelican"].reason
    assert words not in told["Hounds"].reason  # out on every side, which says enough


def test_report_tells_status_and_bound_of_every_outcome() -> None:
    report = sides_report(andromeda())
    assert SidesReport.model_validate_json(report.model_dump_json(by_alias=True)) == report
    facts = next(each for each in report.targets if each.target == "Andromeda").choices["before"]
    assert facts.alone_proof.status in ("proven", "found")
    assert facts.alone is not None
    assert facts.alone_proof.bound is not None
    assert facts.alone.value <= facts.alone_proof.bound
    assert facts.night_proof.status in ("proven", "found")


def shown(width: int) -> list[str]:
    out = io.StringIO()
    Console(file=out, width=width, highlight=False).print(sides_view(sides_report(andromeda())))
    return [line.rstrip() for line in out.getvalue().splitlines()]


@pytest.mark.parametrize("width", [60, 80, 110])
def test_no_cell_is_broken(width: int) -> None:
    lines = shown(width)
    assert max(len(line) for line in lines) <= width
    text = "\n".join(lines)
    assert "…" not in text
    wide = any(all(row in line for row in ROWS) for line in lines)
    assert wide == (width == 110)
    if wide:
        assert sum(line.lstrip("> ").startswith(("before ", "after ", "across ")) for line in lines) == 9
    else:
        for row in ROWS:
            assert sum(line.startswith(f"{row} ") for line in lines) == 3, row


def test_target_that_is_impossible_has_no_empty_table() -> None:
    lines = shown(110)
    place = lines.index("Hounds")
    assert lines[place + 1].startswith("Out: it cannot be shot tonight")


def outcome(value: float, altitude_deg: float = 50.0) -> Outcome:
    return Outcome(value, value, None, value, value, 0, altitude_deg, 0.0)


def sides(
    nights: dict[SideChoice, float], statuses: dict[SideChoice, Status], bound: float | None = None
) -> TargetSides:
    night = {choice: outcome(nights[choice]) if choice in nights else None for choice in CHOICES}
    sure = {choice: Sureness(statuses[choice], bound, 1.5) for choice in CHOICES}
    return TargetSides(TARGET, night, night, sure, sure, None)


def all_of(status: Status) -> dict[SideChoice, Status]:
    return dict.fromkeys(CHOICES, status)


@pytest.mark.parametrize(
    ("nights", "statuses", "bound", "words"),
    [
        ({}, all_of("impossible"), None, "cannot be shot tonight"),
        ({}, all_of("not_found"), None, "no plan with it was found in 1.5 s each, which does not prove"),
        ({}, all_of("impossible") | {"after": "not_found"}, None, "does not prove that there is none"),
        ({"after": 9e3}, all_of("impossible") | {"after": "found"}, None, "nothing else is possible tonight"),
        (
            {"after": 9e3},
            all_of("not_found") | {"after": "found"},
            None,
            "no plan was found before the transit or across the transit, which does not prove",
        ),
        ({"before": 9e3, "after": 6e3}, all_of("found"), None, "50 min greater than with the target after"),
        ({"before": 9e3, "after": 6e3}, all_of("found"), None, "as far as the search went"),
        ({"before": 9e3, "after": 9e3}, all_of("found"), None, "after the transit has as much value"),
    ],
)
def test_sentence_claims_what_is_known(
    nights: dict[SideChoice, float], statuses: dict[SideChoice, Status], bound: float | None, words: str
) -> None:
    told = reason(sides(nights, statuses, bound))
    assert words in told
    if "impossible" not in statuses.values():
        assert "impossible" not in told
        assert "cannot" not in told


def test_sentence_is_certain_where_no_other_choice_can_be_profit_more() -> None:
    assert "as far as" not in reason(sides({"before": 9e3, "after": 6e3}, all_of("found"), bound=9e3))
    assert "as far as" in reason(sides({"before": 9e3, "after": 6e3}, all_of("found"), bound=9.5e3))


def test_best_side_is_profit_most_in_the_whole_night() -> None:
    compared = sides({"before": 3000.0, "after": 7200.0, "across": 3600.0}, all_of("found"))
    assert compared.best == "after"
    words = (
        "after the transit: the night's value is 1 h 00 min greater than with the target across the transit"
    )
    assert reason(compared).startswith(words)


def test_gain_is_told_beside_what_each_gets_alone() -> None:
    compared = sides({"before": 3600.0, "after": 7200.0}, all_of("found"))
    assert "; alone it gets 2 h 00 min against 1 h 00 min" in reason(compared)


def test_nothing_is_said_of_alone_where_both_are_equal() -> None:
    compared = sides({"before": 3600.0, "after": 7200.0}, all_of("found"))
    compared.alone["before"] = compared.alone["after"]
    assert "alone" not in reason(compared)


def test_cells_have_a_minus_sign_and_moonlight_as_in_the_windows() -> None:
    assert _difference(-120.0, 36000.0) == "−2 min"
    shown = next(facts for facts in sides_report(andromeda()).targets[1].choices.values() if facts.night)
    assert shown.night is not None
    night = shown.night.model_copy(update={"mean_moonlight_mag": 0.26})
    assert _cells(shown.model_copy(update={"night": night}), 36000.0)[-1] == "0.3 mag"


def test_among_equal_nights_under_an_equal_sky_fewer_flips_decide() -> None:
    compared = sides({"before": 3600.0, "after": 3600.0}, all_of("found"))
    flipping = compared.night["before"]
    assert flipping is not None
    compared.night["before"] = replace(flipping, flips=1)
    assert compared.best == "after"


def test_interruption_ends_the_comparison(monkeypatch: pytest.MonkeyPatch) -> None:
    """And not only the search that was running."""

    def interrupted(problem: Problem, warm_start: WarmStart | None = None) -> Solution:
        return replace(andromeda().best, status="stopped")

    request = andromeda_request()
    monkeypatch.setattr(one_sided, "solve", interrupted)
    with pytest.raises(KeyboardInterrupt):
        compare_sides(request)


def test_all_that_is_wanted_is_proven_to_be_the_most() -> None:
    each = of("Cradle")
    request = andromeda_request().model_copy(
        update={
            "targets": (
                each.target.model_copy(update={"goals": (Goal(filter="L", exposure_s=300, frames=2),)}),
            )
        }
    )
    (alone,) = compare_sides(request).targets
    for choice in CHOICES:
        outcome_alone = alone.alone[choice]
        if outcome_alone is not None and outcome_alone.target_open_s == 600:
            assert alone.alone_sure[choice] == replace(alone.alone_sure[choice], status="proven", bound=600.0)
    assert [alone.alone[choice] is not None for choice in CHOICES].count(True) >= 1


def test_shares_of_the_time_add_up_to_the_limit() -> None:
    time = Allowance(60.0, counted=True)
    time.wants(6.0)
    assert [time.share_s(weight) for weight in (3.0, 1.0, 2.0)] == pytest.approx([30.0, 10.0, 20.0])


def test_what_is_left_of_a_share_goes_to_the_later_ones() -> None:
    time = Allowance(60.0, counted=False)
    time.wants(4.0)
    assert time.share_s(2.0) == pytest.approx(30.0, abs=1.0)
    assert time.share_s(1.0) == pytest.approx(30.0, abs=1.0)  # hardly anything of the first was used
    time.began -= 100.0
    assert time.share_s(1.0) == 0.0


def test_moonlight_is_said_to_be_that_before_the_filter() -> None:
    """`windows` tells moonlight through each filter, of which a narrowband one lets half count."""
    out = io.StringIO()
    Console(file=out, width=110, highlight=False).print(sides_view(sides_report(andromeda())))
    words = " ".join(out.getvalue().split())
    assert "Moonlight: in V, whatever the filter lets count; darkfill windows tells it through each." in words
