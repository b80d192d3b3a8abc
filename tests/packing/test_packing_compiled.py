"""Machine code on the disk is that of the loops as they are written now; damaged, it is made anew."""

from __future__ import annotations

import ast
import errno
import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from numba.core.caching import CompileResultCacheImpl

from optimizer.packing import compiled
from optimizer.packing.bound import labelling
from optimizer.packing.compiled import HERE, SOURCES, key_of
from optimizer.packing.search import ruin_loops, sequence_times

LOOPS = (compiled, labelling, ruin_loops, sequence_times)


@pytest.mark.parametrize(
    "other", [[b"a", b"c"], [b"b", b"a"], [b"ab"], [b"a"], [b"ab", b""], [b"", b"ab"], [b"a", b"b", b""]]
)
def test_the_name_of_the_folder_changes_with_any_source(other: list[bytes]) -> None:
    assert key_of([b"a", b"b"]) == key_of([b"a", b"b"])
    assert key_of(other) != key_of([b"a", b"b"])


def test_every_module_that_loops_are_made_of_is_a_source() -> None:
    """The modules with loops, and those of ours that they take types, numbers or other loops from."""
    wanted = {module.__name__.removeprefix("optimizer.packing.") for module in LOOPS}
    for module in LOOPS:
        tree = ast.parse(
            (
                HERE / (module.__name__.removeprefix("optimizer.packing.").replace(".", "/") + ".py")
            ).read_text()
        )
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("optimizer.packing."):
                wanted.add(str(node.module).removeprefix("optimizer.packing."))
    assert {name.replace(".", "/") for name in wanted} <= set(SOURCES)


def test_loops_are_kept_in_the_folder_of_their_sources() -> None:
    key = key_of((HERE / f"{name}.py").read_bytes() for name in SOURCES)
    loops: tuple[Any, ...] = (labelling.fill_tables, labelling.trace_column, ruin_loops.ruin_and_recreate)
    assert all(key in str(loop.stats.cache_path) for loop in loops)


def _loop(number: int) -> int:
    return 3 * number


def _kept_loop(monkeypatch: pytest.MonkeyPatch, folder: Path) -> Any:
    """A loop as a process of its own finds it: nothing of it is in memory yet."""
    monkeypatch.setattr(compiled, "_folder", lambda: str(folder))
    return compiled.compiled(_loop)


def _garbage(file: Path) -> None:
    file.write_bytes(b"\x93garbage" * 9)


def _empty(file: Path) -> None:
    file.write_bytes(b"")


def _half(file: Path) -> None:
    file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])


def _one_byte(file: Path) -> None:
    """In what is left out of the pickle's own checks: within a long run of bytes."""
    data = bytearray(file.read_bytes())
    data[len(data) * 2 // 3] ^= 0xFF
    file.write_bytes(data)


def _folder_in_its_place(file: Path) -> None:
    file.unlink()
    file.mkdir()


@pytest.mark.parametrize("damage", [_garbage, _empty, _half, _folder_in_its_place, Path.unlink])
@pytest.mark.parametrize("kind", ["nbi", "nbc"])
def test_damaged_machine_code_is_compiled_anew(
    kind: str, damage: Callable[[Path], None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert _kept_loop(monkeypatch, tmp_path)(2) == 6
    files = list(tmp_path.rglob(f"*.{kind}"))
    assert len(files) == 1
    damage(files[0])
    again = _kept_loop(monkeypatch, tmp_path)
    assert again(2) == 6
    assert again.stats.cache_misses
    mended = _kept_loop(monkeypatch, tmp_path)
    assert mended(2) == 6
    assert bool(mended.stats.cache_hits) == (damage is not _folder_in_its_place)


def test_machine_code_with_one_wrong_byte_is_compiled_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Loaded, it could end the process; the one that reads it here is not to find out."""
    assert _kept_loop(monkeypatch, tmp_path)(2) == 6
    (code,) = tmp_path.rglob("*.nbc")
    whole = code.read_bytes()
    _one_byte(code)
    read: list[str] = []
    rebuild = CompileResultCacheImpl.rebuild
    monkeypatch.setattr(CompileResultCacheImpl, "rebuild", lambda *_: read.append("damaged"))
    again = _kept_loop(monkeypatch, tmp_path)
    assert again(2) == 6
    assert read == []
    assert code.read_bytes()[-32:] == hashlib.sha256(code.read_bytes()[:-32]).digest()
    monkeypatch.setattr(CompileResultCacheImpl, "rebuild", rebuild)
    code.write_bytes(whole)
    mended = _kept_loop(monkeypatch, tmp_path)
    assert mended(2) == 6
    assert mended.stats.cache_hits


def test_machine_code_that_cannot_be_written_is_used_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "no space left on device")

    loop = _kept_loop(monkeypatch, tmp_path)
    monkeypatch.setattr(os, "replace", full)
    assert loop(2) == 6
    assert not list(tmp_path.rglob("*.nbc"))
