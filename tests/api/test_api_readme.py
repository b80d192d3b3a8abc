"""The example in Python that the README shows runs as written, and a type checker of its reader is content."""

from __future__ import annotations

import contextlib
import io
import os
import site
import subprocess
import sys
import sysconfig
import venv
from collections.abc import Sequence
from pathlib import Path

import pytest

from optimizer import audit, load_shots
from tests.support.docs_files import README, ROOT, fences


def example() -> str:
    (code,) = fences(README, "python", mark="from-python")
    return code


@pytest.fixture
def _beside_the_plans(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "plans").symlink_to(ROOT / "plans")
    monkeypatch.chdir(tmp_path)


@pytest.mark.usefixtures("_beside_the_plans")
def test_example_runs_as_written(tmp_path: Path) -> None:
    with contextlib.redirect_stdout(io.StringIO()) as out:
        exec(compile(example(), "README.md", "exec"), {"__name__": "example"})
    told = out.getvalue()
    assert "exposures of 10 min fit before the flip: True\n" in told
    assert " h of open shutter, within 0." in told
    assert "without the Hyades " in told
    names = ["2026-10-12.shots.json", "2026-10-12.shots.csv", "2026-10-12.html"]
    assert told.endswith("".join(f"wrote {Path('nights') / name}\n" for name in names))
    assert sorted(path.name for path in (tmp_path / "nights").iterdir()) == sorted(names)
    assert audit(load_shots(tmp_path / "nights" / names[0])).violations == ()


def with_packages(folder: Path, places: Sequence[Path | str]) -> Path:
    """The interpreter of a new, empty environment that finds packages in these places, as if installed there."""
    builder = venv.EnvBuilder(with_pip=False, symlinks=os.name != "nt")
    found = builder.ensure_directories(folder)
    builder.create(folder)
    packages = sysconfig.get_path("purelib", "venv", {"base": str(folder)})
    (Path(packages) / "places.pth").write_text("".join(f"{place}\n" for place in places), encoding="utf-8")
    return Path(found.env_exe)


def test_example_passes_a_strict_type_checker_outside_the_package(tmp_path: Path) -> None:
    """Types come from the package as it is installed: `py.typed` is honoured, and no name is of unknown type."""
    (tmp_path / "example.py").write_text(example() + WRONG, encoding="utf-8")
    command = [sys.executable, "-m", "mypy", "--strict", "--no-error-summary", "--no-pretty"]
    command += ["--python-executable", str(with_packages(tmp_path / "env", [ROOT, *site.getsitepackages()]))]
    done = subprocess.run(
        [*command, "--cache-dir", str(tmp_path / "cache"), "example.py"],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        check=False,
        timeout=300,
    )
    assert done.stderr == ""
    found = [line.removeprefix("example.py:").split(": ", 2) for line in done.stdout.splitlines()]
    first_wrong = example().count("\n") + 1
    assert [line for line, *_ in found if int(line) < first_wrong] == []
    revealed = [text.split('"')[1].split(".")[-1] for _, kind, text in found if kind == "note"]
    assert revealed == ["ShotList", "str", "bytes", "AuditReport"]
    (error,) = [text for _, kind, text in found if kind == "error"]
    assert '"load" has incompatible type "int"' in error


# A checker that knows no types would be content with these lines as well.
WRONG = """
import optimizer

reveal_type(optimizer.plan(loaded))
reveal_type(optimizer.chart(shots))
reveal_type(optimizer.chart(shots, form="png"))
reveal_type(optimizer.audit(shots.steps, loaded.request))
load(3)
"""
