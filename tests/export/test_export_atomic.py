"""Files appear whole or not at all, whatever fails on the way."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import Any

import pytest

from optimizer.errors import OutputError
from optimizer.export.atomic import write_atomically, write_group


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "out"
    made.mkdir()
    return made


def contents(folder: Path) -> dict[str, bytes]:
    """Every file in the folder, so that a forgotten temporary one shows."""
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


class FailsAt:
    """Stands for a function, and fails at one of its calls."""

    def __init__(self, real: Any, call: int, error: BaseException) -> None:
        self.real, self.call, self.error, self.calls = real, call, error, 0

    def __get__(self, holder: Any, _: Any) -> Any:
        return lambda *args: self(holder, *args)

    def __call__(self, *args: Any) -> Any:
        self.calls += 1
        if self.calls == self.call:
            raise self.error
        return self.real(*args)


FULL = OSError(errno.ENOSPC, "No space left on device")


def test_group_is_written(folder: Path) -> None:
    write_group({folder / "a": b"1", folder / "b": b"2"})
    assert contents(folder) == {"a": b"1", "b": b"2"}
    write_group({folder / "a": b"3", folder / "c": b"4"})
    assert contents(folder) == {"a": b"3", "b": b"2", "c": b"4"}


@pytest.mark.parametrize("old", [{}, {"a": b"old a"}, {"b": b"old b"}, {"a": b"old a", "b": b"old b"}])
@pytest.mark.parametrize("call", [1, 2])
@pytest.mark.parametrize("step", ["write", "move"])
@pytest.mark.parametrize("error", [FULL, KeyboardInterrupt()], ids=["disk_full", "interrupt"])
def test_failure_in_the_middle_changes_nothing(
    folder: Path,
    monkeypatch: pytest.MonkeyPatch,
    old: dict[str, bytes],
    call: int,
    step: str,
    error: BaseException,
) -> None:
    for name, content in old.items():
        (folder / name).write_bytes(content)
    if step == "write":
        monkeypatch.setattr(os, "fsync", FailsAt(os.fsync, call, error))
    else:
        monkeypatch.setattr(Path, "replace", FailsAt(Path.replace, call, error))
    with pytest.raises((OutputError, KeyboardInterrupt)):
        write_group({folder / "a": b"new a", folder / "b": b"new b"})
    monkeypatch.undo()
    assert contents(folder) == old


def test_interrupt_right_after_a_move_changes_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The move is done, but nobody has noted it yet."""
    (folder / "a").write_bytes(b"old")
    real = Path.replace

    def moved_then_interrupted(self: Path, target: Path) -> None:
        monkeypatch.setattr(Path, "replace", real)
        real(self, target)
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", moved_then_interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_group({folder / "a": b"new", folder / "b": b"new"})
    assert contents(folder) == {"a": b"old"}


def test_full_disk_is_told_in_words(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "fsync", FailsAt(os.fsync, 1, FULL))
    with pytest.raises(OutputError) as caught:
        write_atomically(folder / "a", b"1")
    assert str(caught.value) == (
        f"{folder}/a: cannot be written: the disk is full; make room, or name a folder on another disk"
    )


@pytest.mark.parametrize("umask", [0o022, 0o077, 0o002])
def test_a_new_file_gets_the_mode_that_any_other_would(folder: Path, umask: int) -> None:
    before = os.umask(umask)
    try:
        write_atomically(folder / "a", b"1")
    finally:
        os.umask(before)
    assert mode(folder / "a") == 0o666 & ~umask


@pytest.mark.parametrize("kept", [0o600, 0o640, 0o664, 0o755])
def test_a_replaced_file_keeps_its_mode(folder: Path, kept: int) -> None:
    (folder / "a").write_bytes(b"old")
    (folder / "a").chmod(kept)
    write_atomically(folder / "a", b"new")
    assert (folder / "a").read_bytes() == b"new"
    assert mode(folder / "a") == kept


def test_a_symbolic_link_stays_and_its_file_is_replaced(tmp_path: Path, folder: Path) -> None:
    (folder / "real").write_bytes(b"old")
    link = tmp_path / "link"
    link.symlink_to(folder / "real")
    write_atomically(link, b"new")
    assert link.is_symlink()
    assert contents(folder) == {"real": b"new"}


def test_a_symbolic_link_to_nothing_makes_the_file(tmp_path: Path, folder: Path) -> None:
    link = tmp_path / "link"
    link.symlink_to(folder / "real")
    write_atomically(link, b"new")
    assert link.is_symlink()
    assert contents(folder) == {"real": b"new"}


def refused(contents_by_path: dict[Path, bytes]) -> list[str]:
    with pytest.raises(OutputError) as caught:
        write_group(contents_by_path)
    return str(caught.value).split("\n")


def test_what_is_no_regular_file_is_refused_and_left_alone(folder: Path) -> None:
    os.mkfifo(folder / "pipe")
    (folder / "folder").mkdir()
    (folder / "round").symlink_to(folder / "round")
    assert refused({folder / name: b"1" for name in ("good", "pipe", "folder", "round")}) == [
        f"{folder}/pipe: cannot be written: this is not a regular file; name an ordinary file",
        f"{folder}/folder: cannot be written: this is a folder, not a file; name a file in it",
        f"{folder}/round: cannot be written: the symbolic links on the way run in a circle; "
        "name another file",
    ]
    assert sorted(path.name for path in folder.iterdir()) == ["folder", "pipe", "round"]
    assert stat.S_ISFIFO((folder / "pipe").stat().st_mode)


def test_a_missing_folder_is_refused(folder: Path) -> None:
    assert refused({folder / "no" / "a": b"1"}) == [
        f"{folder}/no/a: cannot be written: there is no such folder; make the folder {folder}/no first"
    ]


def test_a_write_protected_file_is_refused(folder: Path) -> None:
    """Moving another file over it would succeed, which is not what its owner wanted."""
    (folder / "a").write_bytes(b"old")
    (folder / "a").chmod(0o444)
    assert refused({folder / "a": b"new"}) == [
        f"{folder}/a: cannot be written: the file is write-protected; "
        "lift the protection, or name another file"
    ]
    assert contents(folder) == {"a": b"old"}


def test_two_names_of_one_file_are_refused(folder: Path) -> None:
    (folder / "link").symlink_to(folder / "a")
    assert refused({folder / "a": b"1", folder / "link": b"2"}) == [
        f"{folder}/link: cannot be written: {folder}/a is the same file; name two files"
    ]


def test_a_name_as_long_as_names_may_be(folder: Path) -> None:
    """The temporary name must not be made by adding to it."""
    write_atomically(folder / ("n" * 255), b"1")
    assert contents(folder) == {"n" * 255: b"1"}
    long = folder / ("n" * 256)
    assert refused({long: b"1"}) == [f"{long}: cannot be written: the name is too long; name it shorter"]


def test_a_file_system_without_hard_links_will_do(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "a").write_bytes(b"old")
    (folder / "a").chmod(0o640)
    monkeypatch.setattr(os, "link", FailsAt(os.link, 1, OSError(errno.EPERM, "Operation not permitted")))
    monkeypatch.setattr(Path, "replace", FailsAt(Path.replace, 2, FULL))
    with pytest.raises(OutputError):
        write_group({folder / "a": b"new", folder / "b": b"new"})
    assert contents(folder) == {"a": b"old"}
    assert mode(folder / "a") == 0o640


def test_content_is_on_the_disk_before_it_is_moved(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Otherwise a power cut could leave an empty file under the right name."""
    events: list[str] = []
    sync, move = os.fsync, Path.replace

    def told_sync(handle: int) -> None:
        events.append("sync")
        sync(handle)

    def told_move(self: Path, target: Path) -> Path:
        events.append("move")
        return move(self, target)

    monkeypatch.setattr(os, "fsync", told_sync)
    monkeypatch.setattr(Path, "replace", told_move)
    write_group({folder / "a": b"1", folder / "b": b"2"})
    assert events == ["sync", "sync", "move", "move", "sync"]  # each file, each move, their folder
