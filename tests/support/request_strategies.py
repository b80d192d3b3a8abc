"""Requests by the thousand, all of them valid: what hypothesis draws from."""

from __future__ import annotations

import datetime as dt
from typing import Any

from hypothesis import strategies as st

# whole seconds from 1980 to 2099
UTC_SECONDS = st.integers(315_532_800, 4_102_444_799).map(
    lambda second: dt.datetime.fromtimestamp(second, dt.UTC)
)


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    return st.one_of(
        st.floats(low, high, allow_nan=False, allow_infinity=False),
        st.integers(int(low) + 1, int(high) - 1).map(float),
    )


# Names as people and mischief write them: any letters, formulas, turned-round text; no control characters.
NAMES = st.one_of(
    st.text(st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp")), min_size=1, max_size=300).filter(
        lambda text: text.strip() != ""
    ),
    st.sampled_from(["=1+1", "+x", "-x", "@x", "'=x", "'", "''x", "\u202eabc", "N" * 300]),
    st.sampled_from(["α Ori", 'a,b;"c"', "#x", "[x]", " x ", "x\\n"]),
)


@st.composite
def spans(draw: st.DrawFn) -> list[list[str]]:
    starts = draw(st.lists(UTC_SECONDS, max_size=3))
    ends = [start + dt.timedelta(seconds=draw(st.integers(1, 40_000))) for start in starts]
    return [[f"{instant:%Y-%m-%dT%H:%M:%SZ}" for instant in pair] for pair in zip(starts, ends, strict=True)]


def optional(**keys: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=keys)


MOUNTS = optional(
    kind=st.sampled_from(["german", "fork"]),
    slew_deg_s=numbers(0.1, 30),
    contact_min=numbers(-360, 360),
    clearance_min=numbers(0, 360),
    flip_by=st.sampled_from(["plan", "mount", "never"]),
    refocus_after_flip=st.booleans(),
)
CAMERAS = optional(download_s=numbers(0, 86400), overhead_s=numbers(0, 86400))
FILTER_KEYS = optional(
    kind=st.sampled_from(["broadband", "narrowband"]),
    moonlight_factor=st.floats(0.001, 1),
    change_s=numbers(0, 86400),
    darkness=st.one_of(st.sampled_from(["civil", "nautical", "astronomical", "sunset"]), numbers(-90, 0)),
    moonlight_mag=numbers(0.001, 20),
    moon_gap_deg=numbers(0, 180),
)
TARGET_KEYS = optional(
    position_angle_deg=numbers(-360, 360),
    weight=st.integers(1, 1_000_000).map(lambda thousandths: thousandths / 1000),
    floor_deg=numbers(0, 89),
    least_min=numbers(0, 1440),
    sides=st.sampled_from(["either", "before", "after"]),
)
GOAL_KEYS = optional(
    done=st.integers(0, 100_000),
    gain=st.integers(0, 100_000),
    offset=st.integers(0, 100_000),
    in_set=st.booleans(),
)
AIM = optional(
    value=st.sampled_from(["hours", "depth"]),
    balance=st.integers(0, 1000).map(lambda thousandths: thousandths / 1000),
    scarcity=numbers(0, 3),
    look_ahead_nights=st.integers(1, 366),
    slack_s=st.integers(0, 3600),
)


@st.composite
def requests(draw: st.DrawFn) -> dict[str, Any]:
    """Plain data of a valid request, as JSON holds it; targets but the last may be for another rig."""
    filters = draw(st.lists(NAMES, min_size=1, max_size=3, unique=True))
    names = draw(st.lists(NAMES, min_size=1, max_size=3, unique=True))
    rig, other = draw(st.lists(NAMES, min_size=2, max_size=2, unique=True))
    targets = []
    for number, name in enumerate(names, start=1):
        goals = [
            {
                "filter": draw(st.sampled_from(filters)),
                "exposure_s": draw(numbers(0.001, 3600)),
                "frames": draw(st.integers(1, 100_000)),
                "binning": index + 1,  # tells goals apart
                **draw(GOAL_KEYS),
            }
            for index in range(draw(st.integers(1, 2)))
        ]
        place = {"ra_deg": draw(numbers(0, 359)), "dec_deg": draw(numbers(-90, 90))}
        own: list[list[str]] = [[], [rig], [other, rig]]  # the last target is for this rig
        rigs = draw(st.sampled_from(own if number == len(names) else [*own, [other]]))
        targets.append({"name": name, **place, "rigs": rigs, **draw(TARGET_KEYS), "goals": goals})
    night = {
        "evening": draw(UTC_SECONDS).date().isoformat(),
        "clear": draw(spans()),
        "blocked": draw(spans()),
    }
    site = {
        "name": draw(NAMES),
        "latitude_deg": draw(numbers(-90, 90)),
        "longitude_deg": draw(numbers(-180, 180)),
        "floor_deg": draw(numbers(0, 89)),
        "time_zone": draw(
            st.sampled_from(["UTC", "Europe/Madrid", "Pacific/Kiritimati", "America/St_Johns"])
        ),
    }
    return {
        "schema": "darkfill-request/1",
        "rig": rig,
        "night": night,
        "site": site,
        "mount": draw(MOUNTS),
        "camera": draw(CAMERAS),
        "filters": [{"name": name, **draw(FILTER_KEYS)} for name in filters],
        "targets": targets,
        "aim": draw(AIM),
    }
