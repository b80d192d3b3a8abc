"""What a filter's kind says of moonlight: a default, which anything that is written down overrides."""

from __future__ import annotations

import json
from typing import Any

import pytest

from optimizer.models.base import as_json_data
from optimizer.models.rig import NARROWBAND_MOONLIGHT, Filter
from optimizer.reading.load import request_from_data

DARK, FULL_MOON = {"V": 21.8, "R": 20.9}, {"V": 18.5, "R": 18.2}  # mag/arcsec2, La Palma; see models/rig.py


@pytest.mark.parametrize(
    ("keys", "factor"),
    [
        ({}, 1.0),
        ({"kind": "broadband"}, 1.0),
        ({"kind": "narrowband"}, NARROWBAND_MOONLIGHT),
        ({"kind": "narrowband", "moonlight_factor": 1.0}, 1.0),
        ({"kind": "broadband", "moonlight_factor": 0.3}, 0.3),
    ],
)
def test_kind_sets_what_is_not_given(keys: dict[str, Any], factor: float) -> None:
    assert Filter.model_validate({"name": "F", **keys}).moonlight_factor == factor


def test_resolved_request_holds_the_number() -> None:
    """A list keeps the factor that its plan was made with, whatever the default becomes."""
    data = {
        "schema": "darkfill-request/1",
        "night": {"evening": "2026-11-14"},
        "site": {"latitude_deg": 38.92, "longitude_deg": -3.11, "floor_deg": 25},
        "filters": [{"name": "Ha", "kind": "narrowband"}],
        "targets": [
            {
                "name": "T",
                "ra_deg": 1,
                "dec_deg": 2,
                "goals": [{"filter": "Ha", "exposure_s": 60, "frames": 9}],
            }
        ],
    }
    request = request_from_data(data, "a")
    written = json.loads(json.dumps(as_json_data(request)))
    assert written["filters"][0]["moonlight_factor"] == NARROWBAND_MOONLIGHT
    assert request_from_data(written, "b") == request


def test_default_of_narrow_bands_is_near_what_r_sees_of_the_full_moon() -> None:
    over_dark = {band: 10 ** (0.4 * (DARK[band] - FULL_MOON[band])) - 1 for band in DARK}
    assert over_dark["R"] / over_dark["V"] == pytest.approx(NARROWBAND_MOONLIGHT, abs=0.1)
