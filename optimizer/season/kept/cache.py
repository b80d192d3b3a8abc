"""What was once computed of a season, kept on disk under a key of its content: prepared nights and answers.

One file of SQLite, used by any number of processes at once. Nothing in it is needed: what is missing, damaged
or made by another version of the software is computed anew. Each value ends with a digest of itself and its
key, so that a damaged one is none. What cannot be used is told once, in a sentence, and gone without.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sqlite3
import stat
import sys
import threading
import time
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path

NAME = "season-1.sqlite"  # another number: another layout
APPLICATION = 0x6461726B  # in the file's header, so that no other program's file is taken for ours
MOST_BYTES = 2_000_000_000  # of values; the least recently used go first
SWEPT_TO = 0.8  # of that, so that not every write sweeps
SWEEP_EVERY = 64  # writes
WAIT_S = 20.0  # for another process to end its write
USED_EVERY_S = 3600  # how fine the time of the last use is: a read need not write
BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)  # another process works on it
REFUSED = (
    *(sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_PERM, sqlite3.SQLITE_READONLY),
    *(sqlite3.SQLITE_AUTH, sqlite3.SQLITE_NOMEM, sqlite3.SQLITE_PROTOCOL),
)
DIGEST_BYTES = hashlib.sha256().digest_size
LEVEL = 1  # of the compression: higher ones take long and save little

Tell = Callable[[str], None]


def user_folder() -> Path:
    """The folder for what may be computed anew: DARKFILL_CACHE, or one below that of the user's caches."""
    if named := os.environ.get("DARKFILL_CACHE"):
        return Path(named)
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA") or str(Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = str(Path.home() / "Library" / "Caches")
    else:
        base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(base) / "darkfill"


class Cache:
    """Bytes by key on the disk, or none at all where that is not possible; raises nothing.

    May be used from several threads. `tell` gets a sentence for people for each thing that is in the way.
    """

    def __init__(self, folder: Path, tell: Tell, *, most_bytes: int = MOST_BYTES) -> None:
        """Open the cache of a folder, which is made where it is not there."""
        self.folder, self._tell, self._most_bytes = folder, tell, most_bytes
        self._lock = threading.RLock()
        self._told: set[str] = set()
        self._base: sqlite3.Connection | None = None
        self._written, self._full = 0, False
        with self._lock:
            self._open(again=True)

    @property
    def is_usable(self) -> bool:
        """Whether anything can be kept."""
        return self._base is not None

    def get(self, key: bytes) -> bytes | None:
        """What is kept under a key; None: nothing."""
        with self._lock, self._mended():
            row = self._ask("SELECT value, used FROM kept WHERE key = ?", (key,))
            if row is None:
                return None
            value = unpacked(key, row[0])
            if value is None:
                self._write("DELETE FROM kept WHERE key = ?", (key,))
            elif row[1] < _now() - USED_EVERY_S:
                self._write("UPDATE kept SET used = ? WHERE key = ?", (_now(), key))
            return value
        return None

    def put(self, key: bytes, value: bytes) -> None:
        """Keep a value under a key, in place of what was kept there; whole or not at all."""
        data = packed(key, value)
        with self._lock, self._mended():
            if self._base is None or self._full or len(data) > self._most_bytes * SWEPT_TO:
                return
            row = key, data, len(data), _now()
            self._write("INSERT OR REPLACE INTO kept (key, value, bytes, used) VALUES (?, ?, ?, ?)", row)
            self._written += 1
            if self._written % SWEEP_EVERY == 1:
                self._sweep()

    def close(self) -> None:
        """Close the file; the cache then keeps nothing any more."""
        with self._lock, contextlib.suppress(sqlite3.Error):
            base, self._base = self._base, None
            if base is not None:
                base.close()

    def _ask(self, query: str, values: tuple[object, ...]) -> tuple[bytes, int] | None:
        return None if self._base is None else self._base.execute(query, values).fetchone()

    def _write(self, statement: str, values: tuple[object, ...]) -> None:
        if self._base is not None:
            with self._base:
                self._base.execute(statement, values)

    def _sweep(self) -> None:
        """Let go of what has not been used for longest, where there is too much."""
        assert self._base is not None
        with self._base:
            self._base.execute("BEGIN IMMEDIATE")
            total = self._base.execute("SELECT COALESCE(SUM(bytes), 0) FROM kept").fetchone()[0]
            if total <= self._most_bytes:
                return
            rows = self._base.execute("SELECT key, bytes FROM kept ORDER BY used, key").fetchall()
            for key, size in rows:
                if total <= self._most_bytes * SWEPT_TO:
                    break
                self._base.execute("DELETE FROM kept WHERE key = ?", (key,))
                total -= size
        self._base.execute("PRAGMA incremental_vacuum").fetchall()

    @contextlib.contextmanager
    def _mended(self) -> Iterator[None]:
        """Within the block a failure of the file is told and mended as far as may be."""
        try:
            yield
        except Exception as error:  # damaged bytes come to errors of many kinds, of text and of numbers too
            self._heal(error, again=True)

    def _heal(self, error: Exception, *, again: bool) -> None:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # its upper bits are details
        if code in BUSY:
            return
        if code == sqlite3.SQLITE_FULL:
            self._full = True
            self._say(f"the disk of the cache {self.folder} is full: nothing more is kept")
        elif code in REFUSED or isinstance(error, OSError):
            self._say(f"the cache {self.folder} cannot be used ({error}): it is gone without")
            self.close()
        else:
            self._put_aside(str(error), again=again)

    def _say(self, sentence: str) -> None:
        if sentence not in self._told:
            self._told.add(sentence)
            self._tell(sentence)

    def _open(self, *, again: bool) -> None:
        path = self.folder / NAME
        try:
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            for each in (self.folder, path):
                if refusal := _not_own(each):
                    self._say(f"{refusal}: nothing is kept or read there")
                    return
            if not path.exists():
                path.touch(mode=0o600)
            self._inode = path.stat().st_ino
        except OSError as error:
            self._say(f"the cache {self.folder} cannot be used ({error}): nothing is kept")
            return
        try:
            self._base = _opened(path)
        except Exception as error:
            self._heal(error, again=again)
        else:
            if self._base is None:
                self._say(f"{path} is another program's file: nothing is kept or read there")

    def _put_aside(self, what: str, *, again: bool) -> None:
        """Rename a damaged file, so that nothing is lost that someone might want, and begin another one."""
        self.close()
        path = self.folder / NAME
        try:
            if path.stat().st_ino == self._inode:  # else another process has put it aside already
                aside = path.with_name(f"{path.name}.damaged")
                for end in ("-wal", "-shm", ""):  # the file itself last: a new one must not find an old log
                    with contextlib.suppress(FileNotFoundError):
                        Path(f"{path}{end}").replace(f"{aside}{end}")
                self._say(f"the cache {path} is damaged ({what}) and was put aside as {aside.name}")
        except OSError as error:
            self._say(f"the cache {path} is damaged ({what}) and cannot be put aside ({error})")
            return
        if again:
            self._open(again=False)


def _opened(path: Path) -> sqlite3.Connection | None:
    """Open a file and lay it out if it is new; None where it is another program's."""
    until = time.monotonic() + WAIT_S
    while True:
        base = sqlite3.connect(path, timeout=WAIT_S, check_same_thread=False)
        try:
            if _laid_out(base):
                return base
        except sqlite3.OperationalError as error:
            base.close()
            if (error.sqlite_errorcode & 0xFF) not in BUSY or time.monotonic() > until:
                raise
            time.sleep(0.05)  # another process lays it out; SQLite does not wait for that by itself
            continue
        except BaseException:
            base.close()
            raise
        base.close()
        return None


def _laid_out(base: sqlite3.Connection) -> bool:
    """Make a new file ready; False where it is another program's."""
    base.execute("BEGIN")
    application = base.execute("PRAGMA application_id").fetchone()[0]
    tables = base.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    base.execute("COMMIT")
    if application != APPLICATION and (application or tables):
        return False
    if not tables:
        base.execute("PRAGMA page_size = 8192")
        base.execute("PRAGMA auto_vacuum = INCREMENTAL")
    base.execute("PRAGMA journal_mode = WAL").fetchall()  # stays as it is where a disk cannot
    base.execute("PRAGMA synchronous = NORMAL")
    if not tables:
        with base:
            base.execute("BEGIN IMMEDIATE")
            base.execute(
                "CREATE TABLE IF NOT EXISTS kept (key BLOB PRIMARY KEY, bytes INTEGER NOT NULL,"
                " used INTEGER NOT NULL, value BLOB NOT NULL)"
            )
            base.execute("CREATE INDEX IF NOT EXISTS kept_used ON kept (used)")
            base.execute(f"PRAGMA application_id = {APPLICATION}")
    return True


def _not_own(path: Path) -> str | None:
    """Why what is read from a file or folder could be another user's; None where it could not, or is new."""
    if sys.platform == "win32":  # the user's own folders are the user's alone there
        return None
    try:
        facts = path.stat()
    except FileNotFoundError:
        return None
    if facts.st_uid != os.geteuid():
        return f"the cache {path} belongs to another user"
    if facts.st_mode & (stat.S_IWGRP | stat.S_IWOTH):
        return f"other users may write to the cache {path} (chmod go-w forbids it)"
    return None


def packed(key: bytes, value: bytes) -> bytes:
    """A value as it is kept: compressed, and a digest of it and its key."""
    data = zlib.compress(value, LEVEL)
    return data + hashlib.sha256(key + data).digest()


def unpacked(key: bytes, kept: bytes) -> bytes | None:
    """The value again; None where a byte of it is wrong, or it is that of another key."""
    data, digest = kept[:-DIGEST_BYTES], kept[-DIGEST_BYTES:]
    if hashlib.sha256(key + data).digest() != digest:
        return None
    try:
        return zlib.decompress(data)
    except zlib.error:
        return None


def _now() -> int:
    return int(time.time())
