"""Loops over time that array calls cannot express well, compiled on their first use and kept on disk.

They are kept beside the package, in a folder named after the text of all files that loops are made of: numba
itself looks at the file of one loop alone, and would go on with machine code of an older version of another.
Where that folder cannot be written, numba keeps them in the user's cache folder; where neither can, they are
compiled anew in each process (some seconds).
"""

from __future__ import annotations

import contextlib
import hashlib
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import IO, Any, TypeVar

import numpy as np
from numba import njit
from numba.core import config
from numba.core.caching import FunctionCache, IndexDataCacheFile
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Function = TypeVar("Function", bound=Callable[..., Any])
NEVER = -np.inf  # the profit of what cannot be


NUMBA: Any = config  # its settings are made as it is loaded
HERE = Path(__file__).parent
DIGEST_BYTES = hashlib.sha256().digest_size
SOURCES = (
    "compiled",
    "parameters",
    "bound/tables",
    "bound/labelling",
    "search/set_loops",
    "search/sequence_times",
    "search/set_runs",
    "search/ruin_loops",
    "search/choice_loops",
)


def key_of(texts: Iterable[bytes]) -> str:
    """A name for machine code that is made from these texts; another one as soon as any of them differs."""
    digest = hashlib.sha256()
    for text in texts:
        digest.update(hashlib.sha256(text).digest())
    return f"loops-{digest.hexdigest()[:16]}"


@cache
def _folder() -> str:
    """The folder for this version of the loops; empty where the one that is meant cannot be written."""
    try:
        key = key_of((HERE / f"{name}.py").read_bytes() for name in SOURCES)
        folder = Path(NUMBA.CACHE_DIR or HERE / "__pycache__") / key
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return str(folder)
    except OSError:
        return ""


def compiled(function: Function) -> Function:
    """The function as machine code, kept on disk where that is possible; threads run it side by side."""
    return _as_code(function, inside=False)


def inner(function: Function) -> Function:
    """The same for what only compiled functions call: no way in from Python is made, which takes long."""
    return _as_code(function, inside=True)


def _as_code(function: Function, *, inside: bool) -> Function:
    how: dict[str, Any] = {"nogil": True, "no_cfunc_wrapper": True, "no_cpython_wrapper": inside}
    code: Any = njit(function, **how)
    before, NUMBA.CACHE_DIR = NUMBA.CACHE_DIR, _folder() or NUMBA.CACHE_DIR
    try:
        code._cache = _Kept(function)
    except RuntimeError:  # numba's word for no folder that can be written: nothing is kept
        pass
    finally:
        NUMBA.CACHE_DIR = before  # for whatever else in this process is compiled
    return code  # type: ignore[no-any-return]


class _Kept(FunctionCache):
    """Machine code on the disk that never ends a plan: a damaged file is as good as none.

    A power cut, a full disk or a failing one leave files that cannot be read, or let none be written. The
    loop is then compiled anew, which numba by itself would not do.
    """

    def __init__(self, function: Callable[..., Any]) -> None:
        """Find the files of a function. Raises RuntimeError where there is no folder for them."""
        super().__init__(function)  # type: ignore[no-untyped-call]
        self._cache_file = _Checked(  # type: ignore[no-untyped-call]
            self._cache_path, self._impl.filename_base, self._impl.locator.get_source_stamp()
        )

    def load_overload(self, signature: Any, context: Any) -> Any:
        """Load what fits a signature; None where it is not there or cannot be read."""
        try:
            return super().load_overload(signature, context)  # type: ignore[no-untyped-call]
        except Exception:  # whatever bytes that mean something else may come to
            with contextlib.suppress(Exception):
                self.flush()  # type: ignore[no-untyped-call]
            return None

    def save_overload(self, signature: Any, code: Any) -> None:
        """Keep machine code for the next process, if it can be written."""
        with contextlib.suppress(OSError):
            super().save_overload(signature, code)  # type: ignore[no-untyped-call]


class _Checked(IndexDataCacheFile):
    """Files that end with a digest: machine code with a wrong byte would end the process, not raise."""

    def _dump(self, found: Any) -> bytes:
        data: bytes = super()._dump(found)  # type: ignore[no-untyped-call]
        return data + hashlib.sha256(data).digest()  # what follows a pickle is not read with it

    def _load_data(self, name: str) -> Any:
        data = Path(self._data_path(name)).read_bytes()  # type: ignore[no-untyped-call]
        if hashlib.sha256(data[:-DIGEST_BYTES]).digest() != data[-DIGEST_BYTES:]:
            raise ValueError(f"{name} is damaged")
        return super()._load_data(name)  # type: ignore[no-untyped-call]


def kept_in() -> Path | None:
    """The folder in which the machine code of this module's loops is kept; None where none can be written."""
    folder = greatest.stats.cache_path  # type: ignore[attr-defined]
    return None if folder is None else Path(folder)


@contextlib.contextmanager
def one_at_a_time(part: str) -> Iterator[None]:
    """Within the block no other process is in its block for the same part; it waits for its turn.

    What one compiles the next finds on the disk. And two that keep one loop for two kinds of numbers in the
    same instant could mix the files up. A lock ends with its process. Where none can be had there is none.
    """
    folder = kept_in()
    with contextlib.ExitStack() as held:
        if folder is not None:
            with contextlib.suppress(OSError):
                _lock(held.enter_context((folder / f"{part}.lock").open("wb")))
        yield


def _lock(file: IO[bytes]) -> None:
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(file.fileno(), msvcrt.LK_LOCK, 1)
    else:
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX)


# Number by number in the next ones, as in all compiled loops: what numpy says in a word (a copy, a sum, a
# search) takes numba seconds to compile.


@inner
def copy_all(source: Ints, into: Ints) -> None:
    """Copy as many numbers as there is room for."""
    for place in range(len(into)):
        into[place] = source[place]


@inner
def greatest(values: Ints) -> int:
    """The greatest of some whole numbers."""
    found = values[0]
    for place in range(len(values)):
        found = max(found, values[place])
    return int(found)
