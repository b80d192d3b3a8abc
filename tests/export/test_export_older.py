"""A group of files written beside older ones of the same names: the older ones are kept, whatever happens."""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from optimizer.errors import OutputError
from optimizer.export import atomic
from optimizer.export.atomic import write_beside_older
from tests.support.cli_cases import content

NAMES = [f"request.2026-11-14.{ending}" for ending in ("shots.json", "shots.csv", "html")]
FIRST = dict(zip(NAMES, (b"first list", b"first table", b"first page"), strict=True))


def older(held: dict[str, bytes], number: str = "") -> dict[str, bytes]:
    return {f"{name}.old{number}": each for name, each in held.items()}


class Died(BaseException):
    """The process is gone: from here on it changes nothing any more."""


@pytest.mark.parametrize("links", [True, False], ids=["hard links", "no hard links"])
def test_at_every_moment_the_older_list_is_whole_under_one_of_its_names(
    links: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whenever the process dies, be it in the middle of tidying up."""
    if not links:
        monkeypatch.setattr(Path, "hardlink_to", unsupported)
    outcomes: list[dict[str, bytes]] = []
    for changes in range(40):
        folder = tmp_path / str(changes)
        folder.mkdir()
        for name, held in FIRST.items():
            (folder / name).write_bytes(held)
        with monkeypatch.context() as patched, contextlib.suppress(Died):
            dies_after(changes, patched)
            write_beside_older({folder / name: b"second" for name in NAMES[:2]}, [folder / NAMES[2]])
            break
        now = {name: each for name, each in content(folder).items() if not name.startswith(".darkfill-")}
        outcomes.append(now)
        for name, each in FIRST.items():
            assert each in (now.get(name), now.get(f"{name}.old")), changes
        assert all(now[name] in (b"second", FIRST[name]) for name in NAMES[:2])
    assert content(folder) == {**dict.fromkeys(NAMES[:2], b"second"), **older(FIRST)}
    assert outcomes[0] == FIRST
    assert {**outcomes[-1], NAMES[1]: b"second"} == content(folder)


def unsupported(*_: object) -> None:
    raise OSError(95, "Operation not supported")


def dies_after(changes: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let so many calls change the folder and no more."""
    done = itertools.count()
    linking = [] if Path.hardlink_to is unsupported else [(Path, "hardlink_to")]
    for holder, name in [
        (Path, "replace"),
        (Path, "rename"),
        (Path, "unlink"),
        (atomic, "_write_new"),
        *linking,
    ]:
        right: Callable[..., Any] = getattr(holder, name)

        def counted(*args: Any, right: Callable[..., Any] = right, **kwargs: Any) -> Any:
            if next(done) >= changes:
                raise Died
            return right(*args, **kwargs)

        monkeypatch.setattr(holder, name, counted)


@pytest.mark.parametrize("links", [True, False], ids=["hard links", "no hard links"])
def test_group_that_cannot_be_written_leaves_all_as_it_was(
    links: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, held in FIRST.items():
        (tmp_path / name).write_bytes(held)
    if not links:
        monkeypatch.setattr(Path, "hardlink_to", unsupported)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(atomic, "write_group", full)
    with pytest.raises(OutputError, match="the disk is full"):
        write_beside_older(
            {tmp_path / NAMES[0]: b"second", tmp_path / NAMES[1]: b"second"}, [tmp_path / NAMES[2]]
        )
    assert content(tmp_path) == FIRST


def test_interrupt_once_the_new_list_stands_does_not_drop_the_older_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In a program of one's own Ctrl-C is thrown at any place, here right after the group was written."""
    (tmp_path / NAMES[0]).write_bytes(b"first")
    right = atomic.write_group

    def interrupted(*args: dict[Path, bytes]) -> None:
        right(*args)
        raise KeyboardInterrupt

    monkeypatch.setattr(atomic, "write_group", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_beside_older({tmp_path / NAMES[0]: b"second"})
    assert content(tmp_path) == {NAMES[0]: b"second", f"{NAMES[0]}.old": b"first"}


def test_protected_file_is_found_before_anything_is_renamed(tmp_path: Path) -> None:
    for name in NAMES[:2]:
        (tmp_path / name).write_text("mine")
    (tmp_path / NAMES[1]).chmod(0o444)
    before = content(tmp_path)
    with pytest.raises(OutputError, match="write-protected"):
        write_beside_older({tmp_path / name: b"new" for name in NAMES[:2]})
    assert content(tmp_path) == before
