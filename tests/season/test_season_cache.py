"""What is kept on disk comes back whole or not at all, whatever happens to the file; nobody else's is read."""

from __future__ import annotations

import os
import random
import sqlite3
import sys
import threading
from pathlib import Path

import pytest

from optimizer.season.kept import cache as module
from optimizer.season.kept.cache import NAME, Cache, user_folder
from tests.support.speeds import sampled

posix = pytest.mark.skipif(sys.platform == "win32", reason="owners and modes as POSIX has them")
VALUES = {bytes([number]) * 32: random.Random(number).randbytes(500 * number) for number in range(40)}


def filled(folder: Path, told: list[str] | None = None) -> Cache:
    cache = Cache(folder, ([] if told is None else told).append)
    for key, value in VALUES.items():
        cache.put(key, value)
    return cache


def test_what_is_put_is_found_again_by_others(tmp_path: Path) -> None:
    filled(tmp_path).close()
    one, other = Cache(tmp_path, pytest.fail), Cache(tmp_path, pytest.fail)
    assert {key: one.get(key) for key in VALUES} == {key: other.get(key) for key in VALUES} == VALUES
    one.put(b"new", b"value")
    assert other.get(b"new") == b"value"
    one.put(b"new", b"another")
    assert other.get(b"new") == b"another"
    assert one.get(b"not there") is None


def test_threads_share_one(tmp_path: Path) -> None:
    cache, wrong = Cache(tmp_path, pytest.fail), list[bytes]()

    def use(number: int) -> None:
        for key, value in VALUES.items():
            cache.put(key + bytes([number]), value)
            if cache.get(key + bytes([number])) != value:
                wrong.append(key)

    threads = [threading.Thread(target=use, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not wrong


@pytest.mark.parametrize("seed", sampled(range(600), 12))
def test_damaged_file_never_gives_a_wrong_answer(seed: int, tmp_path: Path) -> None:
    """Bytes are overwritten, the end is cut off, or two pieces change places."""
    rng, told = random.Random(seed), list[str]()
    filled(tmp_path).close()
    path = tmp_path / NAME
    data = bytearray(path.read_bytes())
    match seed % 3:
        case 0:
            for _ in range(rng.randint(1, 200)):
                data[rng.randrange(len(data))] = rng.randrange(256)
        case 1:
            del data[rng.randrange(len(data)) :]
        case 2:
            size = rng.randint(1, len(data) // 3)
            one, other = rng.randrange(len(data) - size), rng.randrange(len(data) - size)
            data[one : one + size], data[other : other + size] = (
                data[other : other + size],
                data[one : one + size],
            )
    path.write_bytes(data)
    cache = Cache(tmp_path, told.append)
    for key, value in VALUES.items():
        assert cache.get(key) in (value, None)
        cache.put(key, value)
        assert cache.get(key) in (value, None)
    cache.close()
    assert len(told) <= 3
    again = Cache(tmp_path, told.append)
    assert all(again.get(key) in (value, None) for key, value in VALUES.items())


def test_what_is_no_cache_at_all_is_put_aside(tmp_path: Path) -> None:
    (tmp_path / NAME).write_bytes(b"something that someone may want" * 500)
    told: list[str] = []
    cache = filled(tmp_path, told)
    (sentence,) = told
    assert "was put aside as season-1.sqlite.damaged" in sentence
    assert (tmp_path / f"{NAME}.damaged").read_bytes() == b"something that someone may want" * 500
    assert {key: cache.get(key) for key in VALUES} == VALUES


def test_value_under_another_key_is_none(tmp_path: Path) -> None:
    cache = filled(tmp_path)
    cache.close()
    keys = list(VALUES)
    with sqlite3.connect(tmp_path / NAME) as base:
        (value,) = base.execute("SELECT value FROM kept WHERE key = ?", (keys[20],)).fetchone()
        base.execute("UPDATE kept SET value = ? WHERE key = ?", (value, keys[21]))
    base.close()
    cache = Cache(tmp_path, pytest.fail)
    assert cache.get(keys[21]) is None
    assert cache.get(keys[20]) == VALUES[keys[20]]


def test_another_program_keeps_its_file(tmp_path: Path) -> None:
    with sqlite3.connect(tmp_path / NAME) as base:
        base.execute("CREATE TABLE kept (name TEXT)")
    base.close()
    if sys.platform != "win32":
        (tmp_path / NAME).chmod(0o600)
    before, told = (tmp_path / NAME).read_bytes(), list[str]()
    cache = filled(tmp_path, told)
    assert "is another program's file" in told[0]
    assert not cache.is_usable
    assert cache.get(next(iter(VALUES))) is None
    assert (tmp_path / NAME).read_bytes() == before


def test_full_disk_is_told_once_and_what_is_there_is_read(tmp_path: Path) -> None:
    cache, told = filled(tmp_path), list[str]()
    cache._tell = told.append
    assert cache._base is not None
    pages = cache._base.execute("PRAGMA page_count").fetchone()[0]
    cache._base.execute(f"PRAGMA max_page_count = {pages}")
    for number in range(50):
        cache.put(b"more %d" % number, random.Random(number).randbytes(5000))
    assert len(told) == 1
    assert "is full" in told[0]
    assert {key: cache.get(key) for key in VALUES} == VALUES


def test_no_folder_can_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    told: list[str] = []
    cache = filled(tmp_path / "file" / "folder", told)
    assert "cannot be used" in told[0]
    assert not cache.is_usable
    assert cache.get(b"anything") is None


@posix
@pytest.mark.parametrize("what", ["folder", "file"])
def test_what_others_may_write_to_is_refused(what: str, tmp_path: Path) -> None:
    filled(tmp_path).close()
    path = tmp_path if what == "folder" else tmp_path / NAME
    path.chmod(path.stat().st_mode | 0o020)
    told: list[str] = []
    cache = Cache(tmp_path, told.append)
    assert told == [
        f"other users may write to the cache {path} (chmod go-w forbids it): nothing is kept or read there"
    ]
    assert cache.get(next(iter(VALUES))) is None


@posix
def test_what_another_user_owns_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    filled(tmp_path).close()
    monkeypatch.setattr(os, "geteuid", lambda: tmp_path.stat().st_uid + 1)
    told: list[str] = []
    cache = Cache(tmp_path, told.append)
    assert told == [f"the cache {tmp_path} belongs to another user: nothing is kept or read there"]
    assert cache.get(next(iter(VALUES))) is None


@posix
def test_new_folder_is_the_users_alone(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        filled(tmp_path / "a" / "b").close()
    finally:
        os.umask(before)
    assert (tmp_path / "a" / "b").stat().st_mode & 0o077 == 0
    assert (tmp_path / "a" / "b" / NAME).stat().st_mode & 0o077 == 0


def test_least_recently_used_goes_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [1_000_000]
    monkeypatch.setattr(module, "_now", lambda: clock[0])
    monkeypatch.setattr(module, "SWEEP_EVERY", 2)
    cache = Cache(tmp_path, pytest.fail, most_bytes=100_000)
    kept = b"used again and again"
    cache.put(kept, b"value")
    for number in range(100):
        clock[0] += 10_000
        cache.put(b"%d" % number, random.Random(number).randbytes(5000))
        assert cache.get(kept) == b"value"
    there = [number for number in range(100) if cache.get(b"%d" % number) is not None]
    assert there == list(range(there[0], 100))
    assert 12 <= len(there) <= 20
    cache.close()
    assert sum(each.stat().st_size for each in tmp_path.iterdir()) < 300_000


def test_users_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("DARKFILL_CACHE", str(tmp_path / "own"))
    assert user_folder() == tmp_path / "own"
    monkeypatch.delenv("DARKFILL_CACHE")
    for name in ("XDG_CACHE_HOME", "LOCALAPPDATA", "HOME"):
        monkeypatch.setenv(name, str(tmp_path))
    assert user_folder().name == "darkfill"
    assert user_folder().is_relative_to(tmp_path)
