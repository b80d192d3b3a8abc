"""What people read speaks the trade's words, one for one thing: no text of these rooms falls back to ours."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import optimizer

ROOMS = ("sky", "mount", "audit", "report", "relief", "timeline", "diagnostics")
OURS = re.compile(
    r"\bfocus runs?\b|\bdark zenith\b|\bthe tube\b|\btube (east|west)\b|\b(west|east) side\b"
    r"|\bis worth\b|\bare worth\b|\bskyline\b"
)
KEYS = ("skyline", "a skyline needs at least one pair")  # of a request, and said to programmers alone


def texts(path: Path) -> Iterator[str]:
    """The strings of a module but its docstrings; parts of an f-string one by one."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    documents = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documents:
            yield node.value


def test_no_text_for_people_uses_a_word_of_ours() -> None:
    package = Path(optimizer.__file__).parent
    modules = [path for room in ROOMS for path in (package / room).rglob("*.py")]
    assert len(modules) > 80
    ours = {
        (path.relative_to(package).as_posix(), text)
        for path in modules
        for text in texts(path)
        if text not in KEYS and OURS.search(text)
    }
    assert ours == set()


def test_no_text_of_a_plan_holds_a_backtick() -> None:
    """Terminal and page show it as it stands: neither marks code."""
    package = Path(optimizer.__file__).parent
    modules = [path for room in ("report", "relief", "timeline") for path in (package / room).rglob("*.py")]
    assert len(modules) > 40
    assert {path.name for path in modules for text in texts(path) if "`" in text} == set()


def test_a_word_of_ours_would_be_seen(tmp_path: Path) -> None:
    path = tmp_path / "module.py"
    path.write_text(
        '"""A focus run."""\nname = 1\nwords = f"{name} is worth a focus run"\n', encoding="utf-8"
    )
    assert [text for text in texts(path) if OURS.search(text)] == [" is worth a focus run"]
