"""`darkfill check`: good lists pass, broken ones are named by step and rule, in words and in JSON."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from optimizer.findings import CheckReport
from tests.support.cli_cases import darkfill, request

Row = dict[str, str]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A request with its plan."""
    made = tmp_path_factory.mktemp("planned")
    assert darkfill("plan", request(made)).code == 0
    return made


def rows_of(path: Path) -> list[Row]:
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


def write(path: Path, rows: list[Row]) -> Path:
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    path.write_text(text.getvalue(), encoding="utf-8")
    return path


def test_own_json_needs_nothing_else(folder: Path) -> None:
    ran = darkfill("check", folder / "request.2026-11-14.shots.json")
    assert (ran.code, ran.stderr) == (0, "")
    assert ran.stdout.startswith("Safe and within the rules: ")
    assert "none broken" in ran.stdout
    assert "Least margin to contact: " in ran.stdout


def test_own_csv_passes_against_its_request(folder: Path) -> None:
    ran = darkfill("check", folder / "request.2026-11-14.shots.csv", folder / "request.toml")
    assert (ran.code, ran.stderr) == (0, "")


def test_own_csv_saved_again_by_a_spreadsheet_still_passes(folder: Path, tmp_path: Path) -> None:
    """Carriage returns, a byte order mark, capital TRUE."""
    text = (folder / "request.2026-11-14.shots.csv").read_text(encoding="utf-8")
    text = text.replace(",true,", ",TRUE,").replace(",false,", ",FALSE,").replace("\n", "\r\n")
    (tmp_path / "again.csv").write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert darkfill("check", tmp_path / "again.csv", folder / "request.toml").code == 0


def test_json_report_validates(folder: Path) -> None:
    ran = darkfill("check", folder / "request.2026-11-14.shots.json", "--json")
    assert ran.code == 0
    report = CheckReport.model_validate(ran.json)
    assert report.violations == ()
    assert len(report.rules) > 40


def test_missing_slack_is_told_and_fails_nothing(folder: Path, tmp_path: Path) -> None:
    """The plan of a night without slack, checked for one that asks for it."""
    asks = request(tmp_path, ("slack_s = 0", "slack_s = 3600"))
    ran = darkfill("check", folder / "request.2026-11-14.shots.csv", asks)
    assert (ran.code, ran.stderr) == (0, "")
    assert ran.stdout.startswith("Safe and within the rules: ")
    assert "have less slack than the 3600 s that are asked for" in " ".join(ran.stdout.split())
    told = CheckReport.model_validate(
        darkfill("check", folder / "request.2026-11-14.shots.csv", asks, "--json").json
    )
    assert told.violations == ()
    assert {each.rule for each in told.quality} == {"slack"}
    own = darkfill("check", folder / "request.2026-11-14.shots.json", "--json")
    assert own.json["quality"] == []


def test_csv_alone_does_not_say_what_for(folder: Path) -> None:
    ran = darkfill("check", folder / "request.2026-11-14.shots.csv")
    assert (ran.code, ran.stdout) == (2, "")
    assert "check SHOTS REQUEST" in ran.stderr


def test_list_of_an_unknown_kind(folder: Path) -> None:
    path = folder / "request.2026-11-14.shots.txt"
    path.write_bytes((folder / "request.2026-11-14.shots.csv").read_bytes())
    ran = darkfill("check", path)
    assert (ran.code, ran.stdout) == (2, "")
    assert ".json or .csv" in ran.stderr


def shifted(text: str, seconds: int) -> str:
    moment = dt.datetime.fromisoformat(text) + dt.timedelta(seconds=seconds)
    return f"{moment:%Y-%m-%dT%H:%M:%SZ}"


def kind(rows: list[Row], name: str) -> Row:
    return next(row for row in rows if row["kind"] == name)


def late(rows: list[Row]) -> None:
    """All an hour later: outside the clear span."""
    for row in rows:
        for column in ("start_utc", "end_utc"):
            row[column] = shifted(row[column], 3600)


def gap(rows: list[Row]) -> None:
    rows[-2]["end_utc"] = shifted(rows[-2]["end_utc"], -1)


def side(rows: list[Row]) -> None:
    for row in rows:
        row["pier_side"] = row["pier_side"] and "east"


def unparked(rows: list[Row]) -> None:
    rows.pop()


def pointing(rows: list[Row]) -> None:
    kind(rows, "expose")["ra_deg"] = "53"


def short_centre(rows: list[Row]) -> None:
    row = kind(rows, "centre")
    row["end_utc"] = shifted(row["end_utc"], -1)
    following = rows[rows.index(row) + 1]
    following["start_utc"] = row["end_utc"]


def stranger(rows: list[Row]) -> None:
    for row in rows:
        row["target"] = row["target"] and "Nobody's Nebula"


def unknown_filter(rows: list[Row]) -> None:
    for row in rows:
        row["filter"] = row["filter"] and "X"


BROKEN: list[tuple[Callable[[list[Row]], None], str, str]] = [
    (late, "clear", "Safe, but "),
    (gap, "contiguous", "Safe, but 1 sub would be lost or spoilt from "),
    (side, "flip_from", "Not safe. From "),
    (unparked, "ends_with_park", "Not safe. The list does not end with park"),
    (pointing, "coordinates", "Not safe. From "),
    (short_centre, "step_length", "Safe, but "),
    (stranger, "known_target", "Not safe. "),
    (unknown_filter, "known_filter", "Safe, but "),
]


@pytest.mark.parametrize(("spoil", "rule", "verdict"), BROKEN, ids=lambda each: getattr(each, "__name__", ""))
def test_list_broken_by_hand_is_caught_under_its_rule(
    spoil: Callable[[list[Row]], None], rule: str, verdict: str, folder: Path, tmp_path: Path
) -> None:
    rows = rows_of(folder / "request.2026-11-14.shots.csv")
    spoil(rows)
    path = write(tmp_path / "typed.csv", rows)
    ran = darkfill("check", path, folder / "request.toml")
    assert ran.code == 4
    assert ran.stdout.startswith(verdict)
    assert rule in ran.stdout
    as_json = darkfill("check", path, folder / "request.toml", "--json")
    assert as_json.code == 4
    report = CheckReport.model_validate(as_json.json)
    assert rule in {violation.rule for violation in report.violations}
    assert rule in {finding.rule for finding in report.findings}
    assert report.safe == (not verdict.startswith("Not safe"))
    assert all(violation.amount > 0 for violation in report.violations)
    assert all(violation.step is None or 1 <= violation.step <= len(rows) for violation in report.violations)


def test_list_is_checked_against_the_request_that_is_named(folder: Path, tmp_path: Path) -> None:
    """The same list, a mount that must be left sooner: contact 5 min before the transit it shoots up to."""
    path = request(tmp_path, ("contact_min = 40", "contact_min = -60"))
    ran = darkfill("check", folder / "request.2026-11-14.shots.json", path)
    assert ran.code == 4
    assert "contact" in ran.stdout


def test_hand_typed_list_needs_no_columns_of_the_sky(folder: Path, tmp_path: Path) -> None:
    rows = rows_of(folder / "request.2026-11-14.shots.csv")
    for row in rows:
        for column in (
            "hour_angle_h",
            "altitude_deg",
            "azimuth_deg",
            "airmass",
            "moon_separation_deg",
            "note",
        ):
            row[column] = ""
        row["latest_start_utc"] = ""
    path = write(tmp_path / "typed.csv", rows)
    assert darkfill("check", path, folder / "request.toml").code == 0


def test_verdict_comes_first_and_the_worst_finding_with_it(folder: Path, tmp_path: Path) -> None:
    """An hour late and outside the clear span: one cause, told once, and all violations in the JSON."""
    rows = rows_of(folder / "request.2026-11-14.shots.csv")
    late(rows)
    path = write(tmp_path / "typed.csv", rows)
    ran = darkfill("check", path, folder / "request.toml")
    assert ran.stdout.count("would be lost or spoilt") == 1
    assert (
        "all times are 1 h later than the positions in the list say "
        "(written by the site's clock where UTC belongs?)."
    ) in " ".join(ran.stdout.split())
    told = darkfill("check", path, folder / "request.toml", "--json").json
    assert set(told) == {"rules", "violations", "quality", "least_margin_min", "safe", "findings"}
    assert len(told["findings"]) == 1
    assert list(told["findings"][0]) == [
        "group",
        "rule",
        "from_utc",
        "to_utc",
        "steps",
        "amount",
        "unit",
        "sentence",
    ]


def test_list_is_held_against_the_best_plan(folder: Path, tmp_path: Path) -> None:
    """Half of the subs of the best plan: about half of what the night offers, and as much is told."""
    rows = rows_of(folder / "request.2026-11-14.shots.csv")
    subs = [row for row in rows if row["kind"] == "expose"]
    for row in subs[len(subs) // 2 :]:
        row["kind"] = "wait"
        for column in ("filter", "exposure_s", "gain", "offset", "binning"):
            row[column] = ""
    path = write(tmp_path / "typed.csv", rows)
    asked = darkfill("check", path, folder / "request.toml", "--compare", "--time-limit", "3", "--json")
    beside = CheckReport.model_validate(asked.json).comparison
    assert beside is not None
    assert (beside.subs, beside.subs_counted) == (len(subs) // 2, len(subs) // 2)
    assert beside.open_share == pytest.approx((len(subs) // 2) / len(subs), abs=0.01)
    assert beside.value_share is not None
    assert beside.value_s <= beside.bound
    assert beside.best_value_s <= beside.bound * (1 + 1e-9)
    whole = darkfill(
        "check", folder / "request.2026-11-14.shots.json", "--compare", "--time-limit", "3"
    ).stdout
    assert "of what the night offers by value" in " ".join(whole.split())


def test_time_limit_of_a_comparison_is_checked(folder: Path) -> None:
    ran = darkfill("check", folder / "request.2026-11-14.shots.json", "--compare", "--time-limit", "0")
    assert (ran.code, ran.stdout) == (2, "")
    assert "--time-limit" in ran.stderr


@pytest.mark.parametrize("edited", [False, True])
def test_request_inside_a_list_that_was_edited_is_told(folder: Path, tmp_path: Path, edited: bool) -> None:
    """Whoever moves contact in the list's own request is told safe by that: so it is said where it was."""
    own = next(folder.glob("*.shots.json"))
    data = json.loads(own.read_text(encoding="utf-8"))
    if edited:
        data["request"]["mount"]["clearance_min"] -= 1.0
    path = tmp_path / own.name
    path.write_text(json.dumps(data), encoding="utf-8")
    told = "the request inside this list is not the one it was planned from"
    assert (told in darkfill("check", path).stderr) == edited
    assert (told in darkfill("export", path, "--as", "blocks", "-o", "-").stderr) == edited
