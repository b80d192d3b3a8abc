"""What the documents show is so: examples load, commands exist, tables and links are right."""

from __future__ import annotations

import re
import shlex
import subprocess
import tomllib
from pathlib import Path

import pytest
import typer.main

from optimizer.audit.registry import (
    CONTINUED_RULE_NAMES,
    LIST_RULE_NAMES,
    QUALITY_RULE_NAMES,
    SEASON_RULE_NAMES,
    STEP_RULE_NAMES,
)
from optimizer.cli.app import app
from optimizer.cli.failures import ExitCode
from optimizer.reading.load import load_request
from optimizer.report.tables import show
from optimizer.report.window_facts import windows_report
from optimizer.report.windows_view import windows_view
from tests.support.checks import there
from tests.support.docs_files import (
    BOUND,
    DEVELOPERS,
    DOCUMENTS,
    KEYS,
    LAW,
    PLANS,
    README,
    ROOT,
    fences,
    marked,
    text,
)
from tests.support.keys_table import keys_table

COMMANDS = {command.name: command for command in app.registered_commands}


def options_of(command: str) -> set[str]:
    group = typer.main.get_command(app)
    return {option for param in group.commands[command].params for option in param.opts}  # type: ignore[attr-defined]


def test_table_of_keys_is_the_one_of_the_models() -> None:
    """`python -m tests.support.keys_table` prints it anew."""
    assert marked(KEYS, "keys").strip() == keys_table().strip()


def test_every_key_says_what_it_means() -> None:
    rows = [line.strip("|").split("|") for line in keys_table().splitlines()[2:]]
    assert [row[0].strip() for row in rows if len(row[4].strip()) < 10] == []


# --- examples in TOML ------------------------------------------------------------------------------------


def test_request_of_the_readme_loads(tmp_path: Path) -> None:
    first, *_ = fences(README, "toml")
    path = tmp_path / "request.toml"
    path.write_text(first, encoding="utf-8")
    loaded = load_request(path)
    assert [warning for warning in loaded.warnings if "contact_min" not in warning] == []
    assert loaded.request.targets[0].ra_deg == pytest.approx(10.685, abs=0.01)  # M 31


def test_steps_of_the_readme_put_together_load_without_a_warning(tmp_path: Path) -> None:
    """The request of the first step with what the next ones add to it."""
    path = tmp_path / "request.toml"
    steps = [body for body in fences(README, "toml") if "include" not in body]
    path.write_text("\n".join(steps), encoding="utf-8")
    loaded = load_request(path)
    assert loaded.warnings == ()
    assert {one.name for one in loaded.request.filters} == {"L", "Ha"}
    assert there(loaded.request.mount.contact_min) > loaded.request.mount.clearance_min > 0


def overlaid(folder: Path, body: str) -> Path:
    """An example in a file that takes the rest from the request of the first step."""
    (folder / "my-request.toml").write_text(fences(README, "toml")[0], encoding="utf-8")
    if "include" not in body:
        head = next(each for each in fences(KEYS, "toml") if "include" in each)
        body = f"{head}\n{body}"
    path = folder / "tonight.toml"
    path.write_text(body, encoding="utf-8")
    return path


def test_tonight_of_the_readme_keeps_to_its_spans_and_skyline(tmp_path: Path) -> None:
    (body,) = (each for each in fences(README, "toml") if "include" in each)
    request = load_request(overlaid(tmp_path, body)).request
    (clear,), (blocked,) = request.night.clear, request.night.blocked
    assert clear[0] < blocked[0] < blocked[1] < clear[1]
    assert len(request.site.skyline) == 5
    windows = [window for entry in windows_report(request).targets[0].filters for window in entry.windows]
    assert {"clear span ends", "blocked span begins"} <= {window.closed_by for window in windows}
    for window in windows:
        assert clear[0] <= window.start_utc < window.end_utc <= clear[1]
        assert window.end_utc <= blocked[0] or window.start_utc >= blocked[1]


@pytest.mark.parametrize("mark", ["example spans", "example skyline", "example skyline-file"])
def test_examples_of_spans_and_skylines_do_what_is_shown(mark: str, tmp_path: Path) -> None:
    """The rows beside each are those that `darkfill windows` shows."""
    (body,), (rows,) = (fences(KEYS, kind, mark=mark) for kind in ("toml", "text"))
    for content in fences(KEYS, "csv", mark=mark):
        (tmp_path / "skyline.txt").write_text(content, encoding="utf-8")
    with (tmp_path / "shown.txt").open("w+", encoding="utf-8") as out:
        show(windows_view(windows_report(load_request(overlaid(tmp_path, body)).request)), out)
        out.seek(0)
        shown = [line for line in out.read().splitlines() if line.startswith("L ")]
    assert shown == rows.splitlines()


def test_tally_of_the_page_of_keys_comes_to_what_is_said_of_it(tmp_path: Path) -> None:
    (body,) = fences(KEYS, "csv", mark="example tally")
    (tmp_path / "in-hand.csv").write_text(body, encoding="utf-8")
    first, named = fences(README, "toml")[0], next(each for each in fences(KEYS, "toml") if "tally" in each)
    path = tmp_path / "my-request.toml"
    path.write_text(f"{named}\n{first}", encoding="utf-8")
    assert load_request(path).request.targets[0].goals[0].done == 32
    assert "here 20 + 15 − 3 = 32 subs" in text(KEYS)


def test_every_fence_of_toml_is_valid_by_itself() -> None:
    for path in DOCUMENTS:
        for body in fences(path, "toml"):
            assert tomllib.loads(body)


# --- commands ----------------------------------------------------------------------------------------------


def command_lines() -> list[tuple[str, str]]:
    """Every `darkfill ...` in the documents, in fences and in running text."""
    found = []
    for path in DOCUMENTS:
        for code in [*re.findall(r"`([^`\n]+)`", text(path)), *"\n".join(fences(path, "sh")).split("&&")]:
            match = re.search(r"\bdarkfill ([a-z]+\b.*)$", code.strip())
            if match:
                found.append((path.name, match[1]))
    return found


def test_commands_of_the_documents_exist_with_their_options() -> None:
    lines = command_lines()
    assert {line.split()[0] for _, line in lines} >= {"plan", "check", "windows"}
    for document, line in lines:
        command, *rest = shlex.split(line)
        assert command in COMMANDS, (document, line)
        assert {word for word in rest if word.startswith("--")} <= options_of(command)
        for word in rest:
            if word.startswith("plans/"):
                assert (ROOT / word).exists(), (document, line)


def test_readme_has_a_line_for_every_command() -> None:
    rows = re.findall(r"^\| `darkfill ([a-z]+)[^|]*\|", text(README), re.MULTILINE)
    assert sorted(rows) == sorted(map(str, COMMANDS))


def test_readme_tells_every_exit_code() -> None:
    start = text(README).index("Exit codes:")
    told = text(README)[start : start + 400]
    for code in ExitCode:
        assert re.search(rf"\b{int(code)}\b", told), code


@pytest.mark.parametrize("mark", ["run-demo", "run-tests"])
def test_main_lines_are_sound(mark: str) -> None:
    """.ci/run runs them; here only that it finds them, that they parse, and that what they name is there."""
    whole = text(README)
    found = re.search(rf"<!-- {mark} -->\n```sh\n([^\n]+)\n```\n", whole)
    assert found, "one line in one fence right after the mark, as .ci/run looks for it"
    assert f"readme_line {mark}" in text(ROOT / ".ci" / "run")
    subprocess.run(["bash", "-n", "-c", found[1]], check=True)
    for word in shlex.split(found[1]):
        if word.startswith("plans/"):
            assert (ROOT / word).exists()
        extra = re.search(r"\.\[(\w+)\]", word)
        if extra:
            project = tomllib.loads(text(ROOT / "pyproject.toml"))["project"]
            assert extra[1] in project["optional-dependencies"]


# --- plans and excerpts, links, names ----------------------------------------------------------------------


def test_readme_names_every_example_night() -> None:
    for folder in PLANS:
        assert f"`{folder.name}`" in text(README)


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_links_within_the_repository_lead_somewhere(path: Path) -> None:
    for target in re.findall(r"\]\(([^)]+)\)", text(path)):
        if "://" in target:
            continue
        name, _, anchor = target.partition("#")
        file = (path.parent / name).resolve() if name else path
        assert file.exists(), target
        titles = re.findall(r"^#+ (.+)$", text(file), re.MULTILINE)
        anchors = {re.sub(r"[^a-z0-9 _-]", "", title.lower()).replace(" ", "-") for title in titles}
        assert not anchor or anchor in anchors, target


def test_paths_of_the_developers_pages_exist() -> None:
    """In backquotes and with a slash: of this repository, the package, or one of its rooms."""
    package = ROOT / "optimizer"
    rooms = [ROOT, package, *(path for path in package.iterdir() if path.is_dir())]
    for path in (DEVELOPERS, LAW, BOUND):
        for word in re.findall(r"`([a-z_.]+/[a-z_./]*)`", text(path)):
            name = word.rstrip("/")
            assert any((room / end).exists() for room in rooms for end in (name, f"{name}.py")), word


def test_test_commands_of_the_developers_page_name_what_exists() -> None:
    for path in (DEVELOPERS, LAW, BOUND):
        for word in re.findall(r"\b(tests/[a-z_/]+(?:\.py)?|benchmarks/[a-z_/]+\.[a-z]+)\b", text(path)):
            assert (ROOT / word).exists(), word


def test_law_names_every_rule_of_the_audit() -> None:
    """Whoever reads a violation finds the part of the law that it breaks."""
    told = set(
        re.findall(r"`([a-z_]+)`", "\n".join(re.findall(r"^Audit: (.+?)$\n\n", text(LAW), re.M | re.S)))
    )
    of_steps = {*STEP_RULE_NAMES, *QUALITY_RULE_NAMES, *CONTINUED_RULE_NAMES}
    assert told == {*of_steps, *LIST_RULE_NAMES, *SEASON_RULE_NAMES}


def test_rules_have_stable_distinct_names() -> None:
    """They stand in reports that people keep, and in what `check --json` gives to programs."""
    names = [*STEP_RULE_NAMES, *LIST_RULE_NAMES, *CONTINUED_RULE_NAMES, *SEASON_RULE_NAMES]
    assert len(set(names)) == len(names)
    assert all(re.fullmatch("[a-z][a-z_]+", name) for name in names)
