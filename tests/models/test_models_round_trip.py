"""A request reads the same from TOML, from JSON, and from its own resolved form."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings

from optimizer.errors import InputError
from optimizer.models.base import as_json_data
from optimizer.models.request import sha256_of
from optimizer.reading.load import load_request, request_from_data
from tests.support.request_strategies import requests

FAST = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@FAST
@given(data=requests())
def test_resolved_request_reads_back_equal_with_the_same_fingerprint(data: dict[str, Any]) -> None:
    request = request_from_data(data, "drawn")
    again = request_from_data(json.loads(json.dumps(as_json_data(request))), "again")
    assert again == request
    assert sha256_of(again) == sha256_of(request)


@FAST
@given(data=requests())
def test_toml_and_json_of_the_same_request_are_equal(data: dict[str, Any], tmp_path_factory: Any) -> None:
    folder = tmp_path_factory.mktemp("same")
    (folder / "a.toml").write_text(tomlkit.dumps(data), encoding="utf-8", newline="")
    (folder / "a.json").write_text(json.dumps(data), encoding="utf-8", newline="")
    from_toml, from_json = load_request(folder / "a.toml"), load_request(folder / "a.json")
    assert from_toml.request == from_json.request
    assert from_toml.sha256 == from_json.sha256


@FAST
@given(data=requests())
def test_toml_reads_the_same_with_byte_order_mark_and_crlf(
    data: dict[str, Any], tmp_path_factory: Any
) -> None:
    folder = tmp_path_factory.mktemp("ends")
    text = tomlkit.dumps(data)
    (folder / "lf.toml").write_bytes(text.encode())
    (folder / "crlf.toml").write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    assert load_request(folder / "lf.toml").sha256 == load_request(folder / "crlf.toml").sha256


@FAST
@given(data=requests())
def test_one_wrong_value_is_told_at_its_key_and_line(data: dict[str, Any], tmp_path_factory: Any) -> None:
    """Whatever else stands in the file, the line told is the line on which the wrong value stands."""
    index = len(data["targets"]) - 1
    data["targets"][index]["dec_deg"] = 90.625  # nothing else draws this number
    text = tomlkit.dumps(data)
    path: Path = tmp_path_factory.mktemp("line") / "a.toml"
    path.write_text(text, encoding="utf-8", newline="")
    with pytest.raises(InputError) as caught:
        load_request(path)
    (problem,) = caught.value.problems
    assert problem.key == f"targets[{index}].dec_deg"
    assert problem.line is not None
    assert text.split("\n")[problem.line - 1] == "dec_deg = 90.625"


def test_fingerprint_is_the_one_written_down_here(tmp_path: Path) -> None:
    """Two programs must agree on it: sorted keys, no blanks, UTF-8, SHA-256."""
    data = {
        "schema": "darkfill-request/1",
        "night": {"evening": "2026-11-14"},
        "site": {"latitude_deg": 38.92, "longitude_deg": -3.11, "floor_deg": 25},
        "filters": [{"name": "Hα"}],
        "targets": [
            {
                "name": "T",
                "ra_deg": 1,
                "dec_deg": 2,
                "goals": [{"filter": "Hα", "exposure_s": 60, "frames": 9}],
            }
        ],
    }
    reordered = dict(reversed(data.items()))
    assert sha256_of(request_from_data(data, "a")) == sha256_of(request_from_data(reordered, "b"))
    text = json.dumps(
        as_json_data(request_from_data(data, "a")), sort_keys=True, separators=(",", ":"), ensure_ascii=False
    )
    import hashlib

    assert sha256_of(request_from_data(data, "a")) == hashlib.sha256(text.encode("utf-8")).hexdigest()
    assert '"name":"Hα"' in text
