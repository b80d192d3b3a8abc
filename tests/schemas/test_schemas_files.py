"""The schemas as they are kept and printed: sound, in full, and right about every file that is at hand."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any, get_args

import jsonschema
import jsonschema_rs
import pytest
from pydantic import ValidationError

from optimizer.models.base import as_json_data
from optimizer.models.shots import WrittenShotList
from optimizer.reading.load import load_request
from optimizer.schemas.generator import DIALECT, UNIT, Node, nodes_of, title_of
from optimizer.schemas.tally import TallyRow
from optimizer.schemas.texts import SCHEMAS, Kind, file_name, schema_text
from optimizer.tally.tally_file import COLUMNS, read_tally
from optimizer.words import KeyPath, unit_of
from tests.support.cli_cases import darkfill
from tests.support.docs_files import KEYS, PLANS, README, ROOT, fences, stored_list
from tests.support.schema_cases import as_json, faults, put, starter_texts, taken, toml_of, whole_request
from tests.support.shots_words import WORDS_FILE, words_text

KINDS: tuple[Kind, ...] = get_args(Kind)
KEPT = ROOT / "plans" / "schemas"
TOML = sorted((ROOT / "plans").glob("*/*.toml"))
each_kind = pytest.mark.parametrize("kind", KINDS)


@each_kind
def test_kept_schema_is_the_one_that_is_printed(kind: Kind) -> None:
    """Made anew by `darkfill schema KIND > plans/schemas/darkfill-KIND.schema.json`."""
    ran = darkfill("schema", kind)
    assert (ran.code, ran.stderr) == (0, "")
    assert ran.stdout == schema_text(kind) == (KEPT / file_name(kind)).read_text(encoding="ascii")


def test_no_schema_is_kept_that_nobody_prints() -> None:
    assert sorted(path.name for path in KEPT.iterdir()) == sorted(map(file_name, KINDS))


@each_kind
def test_two_validators_take_the_schema_itself(kind: Kind) -> None:
    schema = SCHEMAS[kind]()
    assert schema["$schema"] == DIALECT
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema_rs.meta.validate(schema)


def described(schema: Node) -> list[tuple[str, Node]]:
    """Every key of every table; what is only said of some keys again is left out."""
    return [
        (key, child)
        for node in nodes_of(schema)
        if node.get("additionalProperties") is False
        for key, child in node["properties"].items()
    ]


@each_kind
def test_every_key_has_a_title_and_says_what_it_means(kind: Kind) -> None:
    for key, node in described(SCHEMAS[kind]()):
        assert len(node.get("description", "")) > 3, key
        assert "$ref" in node or node["title"] == title_of(key), key


@each_kind
def test_every_number_whose_name_has_a_unit_says_it(kind: Kind) -> None:
    seen = 0
    for key, node in described(SCHEMAS[kind]()):
        for choice in (node, *node.get("anyOf", ())):
            if choice.get("type") in ("number", "integer"):
                seen += 1
                wanted = unit_of(key) or next(
                    (each for each in ("hours", "seconds") if key.startswith(each)), None
                )
                assert choice.get(UNIT) == wanted, key
    assert seen > (5 if kind == "tally" else 50)


def test_units_of_numbers_without_a_name_of_their_own() -> None:
    totals = SCHEMAS["shots"]()["$defs"]["Totals"]["properties"]
    assert totals["seconds_by_kind"]["additionalProperties"][UNIT] == "seconds"
    parts = SCHEMAS["request"]()["$defs"]
    pairs = parts["Site"]["properties"]["skyline"]["anyOf"][0]["items"]["prefixItems"]
    assert [node[UNIT] for node in pairs] == ["degrees", "degrees"]
    assert parts["Night"]["properties"]["clear_odds"]["items"]["prefixItems"][1][UNIT] == "percent"


def test_words_of_the_shot_list_are_those_of_its_page() -> None:
    """`python -m tests.support.shots_words` writes them anew."""
    assert WORDS_FILE.read_text(encoding="utf-8") == words_text()


# --- files at hand ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", TOML, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_demo_requests_and_their_parts_are_taken(path: Path) -> None:
    assert faults("request", toml_of(path)) == []
    assert taken("request", toml_of(path))


def test_requests_of_the_documents_are_taken() -> None:
    import tomllib

    for page in (README, KEYS):
        for body in fences(page, "toml"):
            assert faults("request", tomllib.loads(body)) == [], body


def test_a_request_in_full_is_taken_as_lists_carry_it() -> None:
    for folder in PLANS:
        request = as_json_data(load_request(folder / "request.toml").request)
        assert faults("request", request) == []


@pytest.mark.parametrize("folder", PLANS, ids=lambda folder: folder.name)
def test_stored_lists_are_taken(folder: Path) -> None:
    data = json.loads(stored_list(folder).read_text(encoding="utf-8"))
    assert faults("shots", data) == []
    assert taken("shots", data)
    for path, wrong in (
        (("steps", 3, "kind"), "sleep"),
        (("audit",), None),
        (("steps", 3, "altitude_deg"), "x"),
    ):
        holder: Any = data
        for part in path[:-1]:
            holder = holder[part]
        kept, holder[path[-1]] = holder[path[-1]], wrong
        assert not taken("shots", data)
        holder[path[-1]] = kept


def test_mutated_lists_are_refused_by_schema_and_reading_alike() -> None:
    data = json.loads(stored_list(PLANS[0]).read_text(encoding="utf-8"))
    at = next(number for number, step in enumerate(data["steps"]) if step["kind"] == "expose")
    data["steps"] = data["steps"][: at + 1]
    wrong: list[tuple[KeyPath, Any]] = [((key,), {"a": 1}) for key in data if key not in ("tool", "night")]
    wrong += [(("steps", at, key), {"a": 1}) for key in data["steps"][at]]
    wrong += [
        (("steps", at, "step"), 0), (("steps", at, "binning"), 17), (("steps", at, "gain"), -1),
        (("steps", at, "pier_side"), "north"), (("steps", at, "start_utc"), "2026-10-10T20:00:00"),
        (("steps", at, "end_utc"), "20:30"), (("steps", at, "extra"), 1), (("extra",), 1), (("audit",), None),
        (("schema",), "darkfill-shots/2"), (("night", "evening"), "10.10.2026"), (("proof", "status"), "good"),
        (("request", "site", "floor_deg"), 95), (("request", "targets", 0, "ra_deg"), 360),
    ]  # fmt: skip
    assert taken("shots", data)
    WrittenShotList.model_validate(data)
    for path, value in wrong:
        changed = put(data, path, value)
        assert not taken("shots", changed), path
        with pytest.raises(ValidationError):
            WrittenShotList.model_validate(changed)


def test_starter_is_taken_whole_and_in_its_parts() -> None:
    import tomllib

    for text in starter_texts().values():
        assert faults("request", tomllib.loads(text)) == []
    assert taken("request", whole_request())


# --- the rows of a tally ------------------------------------------------------------------------------------


def rows_of(text: str) -> list[dict[str, Any]]:
    """A CSV as data, the way its schema tells: numbers as numbers, an empty cell as null."""

    def value(key: str, cell: str) -> Any:
        if cell == "":
            return None
        if key in ("exposure_s", "gain", "offset", "binning", "frames", "rejected"):
            return json.loads(cell)
        return cell

    return [{key: value(key, cell) for key, cell in row.items()} for row in csv.DictReader(io.StringIO(text))]


def test_tally_of_the_page_of_keys_is_taken() -> None:
    (body,) = fences(KEYS, "csv", mark="example tally")
    assert faults("tally", rows_of(body)) == []


def test_rows_of_a_tally_have_its_columns() -> None:
    assert tuple(TallyRow.model_fields) == COLUMNS


@pytest.mark.parametrize(
    ("column", "cell"),
    [
        ("target", ""), ("target", " "), ("filter", ""), ("exposure_s", "0"), ("exposure_s", "86401"), ("gain", "-1"),
        ("gain", "100001"), ("gain", "1.5"), ("offset", "-1"), ("binning", "0"), ("binning", "17"),
        ("evening", "14.11.2026"), ("evening", "2026-13-01"), ("frames", ""), ("frames", "-1"),
        ("frames", "10000001"), ("rejected", "-1"), ("rejected", "1.5"),
    ],
)  # fmt: skip
def test_cell_that_the_tally_refuses_its_schema_refuses(column: str, cell: str) -> None:
    from optimizer.errors import InputError

    good = dict(zip(COLUMNS, ["A", "L", "120", "", "", "1", "2026-11-14", "22", "2", ""], strict=True))
    texts = [f"{','.join(COLUMNS)}\n{','.join(row.values())}\n" for row in (good, {**good, column: cell})]
    assert len(read_tally(texts[0], "tally").rows) == 1
    assert taken("tally", rows_of(texts[0]))
    with pytest.raises(InputError):
        read_tally(texts[1], "tally")
    assert not taken("tally", rows_of(texts[1]))


# --- an editor's checker ------------------------------------------------------------------------------------


def tombi(folder: Path) -> str:
    """The checker that editors use, run without a network on the TOML files of a folder; what it tells."""
    beside = Path(sys.executable).with_name("tombi")
    program = str(beside) if beside.exists() else shutil.which("tombi")
    if program is None:
        pytest.skip("tombi is not installed: pip install tombi")
    ran = subprocess.run(
        [program, "lint", "--offline", "--no-cache", "--error-on-warnings", *sorted(p.name for p in folder.glob("*.toml"))],
        cwd=folder, capture_output=True, text=True, timeout=60, check=False,
        env={**os.environ, "HOME": str(folder), "NO_COLOR": "1"},
    )  # fmt: skip
    return "" if ran.returncode == 0 else ran.stdout + ran.stderr


def beside_schema(folder: Path, texts: dict[str, str]) -> Path:
    (folder / file_name("request")).write_text(schema_text("request"), encoding="ascii")
    for name, text in texts.items():
        first = f"#:schema ./{file_name('request')}\n"
        (folder / name).write_text(text if text.startswith(first) else first + text, encoding="utf-8")
    return folder


def test_an_editor_takes_demos_and_starter(tmp_path: Path) -> None:
    texts = {f"{path.parent.name}-{path.name}": path.read_text(encoding="utf-8") for path in TOML}
    texts |= starter_texts()
    texts["dates.toml"] = (
        "[night]\nevening = 2026-11-14\nclear = [[20:30:00, 2026-11-15T02:00:00], "
        '["2026-11-15T03:00", 2026-11-15T04:00:00Z]]\nclear_odds = [[21:00:00, 80]]\n'
    )
    assert tombi(beside_schema(tmp_path, texts)) == ""


def test_an_editor_tells_what_is_wrong(tmp_path: Path) -> None:
    text = starter_texts()["site.toml"].replace("floor_deg = 28", "floor_deg = 95\nflor_deg = 28")
    told = tombi(beside_schema(tmp_path, {"site.toml": text}))
    assert "95" in told
    assert '"flor_deg" is not allowed' in told
    missing = starter_texts()["request.toml"].replace('include = ["site.toml", "rig.toml"]', "")
    assert '"site" is required' in tombi(beside_schema(tmp_path, {"request.toml": missing}))


def test_dates_of_toml_are_text_to_a_validator() -> None:
    import datetime as dt

    assert as_json([dt.date(2026, 11, 14), dt.time(20, 30)]) == ["2026-11-14", "20:30:00"]
