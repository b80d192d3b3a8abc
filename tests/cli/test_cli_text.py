"""What people see in any terminal: names as written, local times, plain ASCII, no stray escapes."""

from __future__ import annotations

import io
import json
import os
import re
from pathlib import Path

import pytest
from rich.text import Text
from typer.testing import CliRunner

from optimizer.cli.app import app
from optimizer.export.json_file import read_json
from optimizer.report.tables import show
from tests.support.cli_cases import CLEAR, COMMANDS, Terminal, called, darkfill, request

NAMES = ["[bold]x[/]", "[/]", "[link=http://x]y[/link]", "[red]", "\\[b]", "{0} %s $HOME", "a|b", ":star:"]


@pytest.mark.parametrize("name", NAMES)
def test_names_are_shown_as_written(name: str, tmp_path: Path) -> None:
    quoted = "'" + name + "'"
    path = request(
        tmp_path,
        ('"Heron Flat"', quoted),
        ('name = "Cradle"', f"name = {quoted}"),
        ('name = "L"', f"name = {quoted}"),
        ('filter = "L"', f"filter = {quoted}"),
    )
    plan = darkfill("plan", path).stdout
    assert plan.startswith(f"Night of 2026-11-14 at {name}\n")
    assert plan.count(name if len(name) <= 12 else name[:11]) >= 4
    for command in ("windows", "flip", "sides"):
        ran = darkfill(command, path)
        assert ran.code == 0
        assert name in ran.stdout
    (tmp_path / "request.2026-11-14.shots.csv").unlink()
    assert darkfill("check", tmp_path / "request.2026-11-14.shots.json").code == 0


def test_names_that_would_drive_a_terminal_do_not(tmp_path: Path) -> None:
    """Right-to-left marks are legal in names, but would turn a line around."""
    path = request(tmp_path, ('name = "Cradle"', 'name = "Cra\\u202Edle"'))
    for command in COMMANDS:
        out = darkfill(command, path).stdout
        assert "\u202e" not in out
        assert "Cra\\u202edle" in out


def test_overlong_names_are_cut_but_kept_in_the_data(tmp_path: Path) -> None:
    path = request(tmp_path, ('name = "Cradle"', f'name = "{"N" * 300}"'))
    out = darkfill("plan", path).stdout
    assert "N" * 31 + "…" in out
    assert max(map(len, out.splitlines())) <= 110
    assert darkfill("plan", path, "--json").json["steps"][0]["target"] == "N" * 300


@pytest.mark.parametrize(
    ("evening", "zone", "words", "before", "after"),
    [
        # clocks go back on 25 October 2026 at 01:00 UTC: 23:50 UTC is 01:50, 01:10 UTC is 02:10
        (
            "2026-10-24",
            "Europe/Madrid",
            "UTC+02, later UTC+01: the clocks change",
            ("00:50", "02:50"),
            ("01:10", "02:10"),
        ),
        # and forward on 28 March 2027 at 01:00 UTC
        (
            "2027-03-27",
            "Europe/Madrid",
            "UTC+01, later UTC+02: the clocks change",
            ("00:50", "01:50"),
            ("01:10", "03:10"),
        ),
        ("2026-11-14", "Europe/Madrid", "UTC+01.", ("00:50", "01:50"), ("01:10", "02:10")),
        ("2026-11-14", "Asia/Kathmandu", "UTC+05:45.", ("00:50", "06:35"), ("01:10", "06:55")),
    ],
)
def test_local_times_follow_the_clocks(
    evening: str,
    zone: str,
    words: str,
    before: tuple[str, str],
    after: tuple[str, str],
    tmp_path: Path,
) -> None:
    """Clear spans given in UTC, shown as the site's clocks show them on each side of the change."""
    night = "-".join([evening[:8] + f"{int(evening[8:]) + 1:02}"])
    spans = (
        f"clear = [[{night}T00:20:00Z, {night}T{before[0]}:00Z], [{night}T{after[0]}:00Z, {night}T01:50:00Z]]"
    )
    path = request(
        tmp_path,
        (CLEAR, spans),
        ("evening = 2026-11-14", f"evening = {evening}"),
        ("Europe/Madrid", zone),
        ("dec_deg = 31.31", "dec_deg = 75"),
        ("contact_min = 40", 'kind = "fork"'),
        ("[[filters]]\n", '[[filters]]\ndarkness = "sunset"\n'),
    )
    out = darkfill("windows", path).stdout
    assert f"Times are local: {zone}, {words}" in out
    assert re.search(rf"\b{before[1]}\b", out)
    assert re.search(rf"\b{after[1]}\b", out)
    assert darkfill("plan", path).code == 0


def test_json_times_are_utc_whatever_the_zone(tmp_path: Path) -> None:
    ran = darkfill("windows", request(tmp_path), "--json")
    window = ran.json["targets"][0]["filters"][0]["windows"][0]
    assert window["start_utc"] == "2026-11-14T22:00:00Z"


class Ascii(io.TextIOWrapper):
    """A terminal or pipe that can write nothing but ASCII."""

    def __init__(self) -> None:
        super().__init__(io.BytesIO(), encoding="ascii")

    def written(self) -> str:
        self.flush()
        text: str = self.buffer.getvalue().decode("ascii")  # type: ignore[attr-defined]
        return text


def test_signs_that_a_terminal_lacks_become_ascii() -> None:
    out = Ascii()
    show(Text("−18° → 5′ 3×300s … █▒░ ≥ é"), out)
    assert out.written() == "-18 deg -> 5' 3x300s ~ #+. >= ?\n"


def test_text_in_a_pipe_has_no_escape_sequences(tmp_path: Path) -> None:
    path = request(tmp_path)
    for command in COMMANDS:
        assert "\x1b" not in darkfill(command, path).stdout


def test_pipe_is_as_wide_as_columns_says(tmp_path: Path) -> None:
    path = request(tmp_path)
    widest = {
        columns: max(map(len, darkfill("windows", path, env={"COLUMNS": columns}).stdout.splitlines()))
        for columns in ("60", "90", "")
    }
    assert 50 < widest["60"] <= 60
    assert 80 < widest["90"] <= 90
    assert 100 < widest[""] <= 110


@pytest.mark.parametrize("command", [*COMMANDS, "check", "season"])
def test_help_has_a_worked_example_that_exists(command: str) -> None:
    ran = darkfill(command, "--help")
    assert ran.code == 0
    text = " ".join(ran.stdout.split())
    example = re.search(rf"Example: darkfill {command} (\S+)", text)
    assert example
    assert (Path(__file__).parents[2] / example[1]).exists()
    options = re.findall(r"--[a-z-]+", text[text.index("Example: ") :])
    assert all(option in text[: text.index("Example: ")] for option in options)


def test_help_tells_all_exit_codes() -> None:
    text = " ".join(darkfill("--help").stdout.split())
    for code in (
        "0 done",
        "2 bad command line, bad input or refused output",
        "3 nothing",
        "4 an audit",
        "5 internal",
        "130 ",
    ):
        assert code in text


# --- what a stream can show -------------------------------------------------------------------------------

NAME = ('name = "Cradle"', 'name = "Nébuleuse ψ"')


def test_stdout_in_ascii_gets_ascii_and_whole_json(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, out = request(tmp_path, NAME), tmp_path / "out.txt"
    assert called(monkeypatch, out, os.devnull, "plan", path, encoding="ascii") == 0
    words = out.read_text(encoding="ascii")
    assert "deg" in words
    assert "N?buleuse ?" in words
    assert called(monkeypatch, out, os.devnull, "windows", path, "--json", encoding="ascii") == 0
    data = json.loads(out.read_text(encoding="ascii"))
    assert data["targets"][0]["name"] == "Nébuleuse ψ"
    assert read_json(tmp_path / "request.2026-11-14.shots.json").steps[0].target == "Nébuleuse ψ"


def test_warning_in_ascii_does_not_end_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, err = request(tmp_path, NAME, ("dec_deg = 31.31", "dec_deg = -80")), tmp_path / "err.txt"
    assert called(monkeypatch, os.devnull, err, "windows", path, encoding="ascii") == 0
    assert "warning: " in err.read_text(encoding="ascii")


def test_no_colour_where_none_is_wanted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """NO_COLOR keeps colours out; a terminal may still be told to write in bold."""
    path, out = request(tmp_path), tmp_path / "out.txt"

    def shown(**env: str) -> str:
        with monkeypatch.context() as patched:
            patched.delenv("NO_COLOR", raising=False)
            for name, value in {"TERM": "xterm-256color", **env}.items():
                patched.setenv(name, value)
            assert called(patched, out, os.devnull, "windows", path, kind=Terminal) == 0
        return out.read_text(encoding="utf-8")

    plain = shown(NO_COLOR="1")
    for sequence in ("\x1b[3", "\x1b[9", "\x1b[38", "\x1b[4;3"):
        assert sequence not in plain
    assert "\x1b[1" in shown()
    assert "\x1b" not in shown(TERM="dumb")


def test_shell_completion_knows_commands_and_options() -> None:
    """As the script of `--show-completion` asks: the words so far, and which of them is to be completed."""

    def completed(*words: str) -> list[str]:
        env = {
            "_DARKFILL_COMPLETE": "complete_bash",
            "COMP_WORDS": " ".join(("darkfill", *words)),
            "COMP_CWORD": str(len(words)),
        }
        return CliRunner().invoke(app, [], prog_name="darkfill", env=env).stdout.split()

    assert completed("pl") == ["plan"]
    assert completed("plan", "--rel") == ["--relief"]
    assert completed("chart", "night.json", "--theme", "r") == ["red"]


def test_root_help_names_the_options_of_completion() -> None:
    options = darkfill("--help").stdout.split("Options:")[1].split("Commands:")[0]
    names = re.findall(r"^  (--[a-z-]+)", options, re.MULTILINE)
    assert names == ["--version", "--install-completion", "--show-completion", "--help"]
