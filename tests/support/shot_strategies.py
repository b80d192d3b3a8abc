"""Steps and shot lists by the thousand, with hostile texts: what hypothesis draws from."""

from __future__ import annotations

import datetime as dt
from typing import Any, get_args

from hypothesis import strategies as st

from optimizer.models.shots import (
    AuditReport,
    GoalTotal,
    NightFacts,
    Proof,
    ShotList,
    Step,
    StepKind,
    TargetTotal,
    Tool,
    Totals,
    Unplanned,
    UnplannedReason,
    Violation,
)
from optimizer.reading.load import request_from_data

# whole seconds from 1980 to 2099
INSTANTS = st.integers(315_532_800, 4_102_444_799).map(
    lambda second: dt.datetime.fromtimestamp(second, dt.UTC)
)
NUMBERS = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False),
    st.integers(-1000, 1000).map(float),
    st.sampled_from([-0.0, 1e15, 1e16, 5e-324, 1.7976931348623157e308, 0.1]),
)
# A spreadsheet would run some of these; others look guarded already, or break lines and cells.
TEXTS = st.one_of(
    st.text(st.characters(exclude_categories=("Cc", "Cs")), min_size=1, max_size=40),
    st.text(alphabet="'=+-@\t\r\n\",; a", min_size=1, max_size=12),
    st.sampled_from(["=HYPERLINK(1)", "'=1", "''=1", "'", "''", "'tis", "@a", "-1", "+1"]),
    st.sampled_from(["\t=1", "\r\n", ' "" ', "\u202e=1"]),
)


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


STEPS = st.builds(
    Step,
    step=st.integers(1, 1_000_000),
    kind=st.sampled_from(get_args(StepKind)),
    start_utc=INSTANTS,
    end_utc=INSTANTS,
    latest_start_utc=maybe(INSTANTS),
    target=maybe(TEXTS),
    filter=maybe(TEXTS),
    note=maybe(TEXTS),
    gain=maybe(st.integers(0, 100_000)),
    offset=maybe(st.integers(0, 100_000)),
    binning=maybe(st.integers(1, 16)),
    pier_side=maybe(st.sampled_from(["west", "east"])),
    tracking=maybe(st.booleans()),
    **{name: maybe(NUMBERS) for name, field in Step.model_fields.items() if field.annotation == float | None},
)
REQUEST = request_from_data(
    {
        "schema": "darkfill-request/1",
        "night": {"evening": "2026-11-14"},
        "site": {"latitude_deg": 38.92, "longitude_deg": -3.11, "floor_deg": 25},
        "filters": [{"name": "Hα"}],
        "targets": [
            {
                "name": "\u202e=T",
                "ra": "3h29m",
                "dec_deg": 31,
                "goals": [{"filter": "Hα", "exposure_s": 60, "frames": 9}],
            }
        ],
    },
    "example",
)
_EVENTS = [name for name in NightFacts.model_fields if name.endswith("_utc")]


@st.composite
def shot_lists(draw: st.DrawFn) -> ShotList:
    text, number, count = draw(TEXTS), draw(NUMBERS), draw(st.integers(0, 10**6))
    goal: dict[str, Any] = dict.fromkeys(GoalTotal.model_fields, count)
    goal |= {"target": text, "filter": text}
    goal |= {name: number for name in goal if name.endswith("_s") or name.startswith("seconds")}
    facts = {name: draw(maybe(INSTANTS)) for name in _EVENTS}
    return ShotList(
        schema_="darkfill-shots/1",
        tool=Tool(name="darkfill", version="1", ortools="9", astropy="7", numpy="2"),
        created_utc=draw(INSTANTS),
        request_sha256="0" * 64,
        request=REQUEST,
        night=NightFacts(
            evening="2026-11-14", time_zone="UTC", moon_illuminated=0.5, ut1_utc_s=number, **facts
        ),
        steps=tuple(draw(st.lists(STEPS, max_size=3))),
        totals=Totals(
            goals=(GoalTotal(**goal),),
            targets=(
                TargetTotal(target=text, set_share_before=draw(maybe(NUMBERS)), set_share_after=number),
            ),
            open_shutter_s=number,
            value_s=number,
            set_s=number,
            dark_s=count,
            share=number,
            seconds_by_kind={"wait": count},
        ),
        proof=Proof(
            status="optimal", objective=number, bound=number, gap=0.0, seconds=1.0, seed=1, workers=1
        ),
        unplanned=(
            Unplanned(
                target=text,
                filter=text,
                exposure_s=number,
                frames=count,
                reason=draw(st.sampled_from(get_args(UnplannedReason))),
                sentence=text,
            ),
        ),
        audit=AuditReport(
            rules=("sun",),
            violations=(
                Violation(rule="sun", step=draw(maybe(st.just(1))), amount=number, unit="s", message=text),
            ),
            least_margin_min=draw(maybe(NUMBERS)),
        ),
    )
