"""Which program it is that computes: a changed one must not take what another has kept."""

from __future__ import annotations

import hashlib
import sys
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from optimizer.version import __version__

HERE = Path(__file__).resolve().parents[2]
LIBRARIES = ("astropy", "astropy-iers-data", "numba", "numpy", "ortools", "pydantic", "pyerfa", "tzdata")


@cache
def program_key() -> bytes:
    """The SHA-256 of the text of all modules, of the version, and of the libraries that answers come from.

    All modules, not only those that compute: that cannot be wrong, and a new release computes anew once.
    """
    digest = hashlib.sha256()
    for path in sorted(HERE.rglob("*.py")):
        text = hashlib.sha256(path.read_bytes()).hexdigest()
        digest.update(f"{path.relative_to(HERE).as_posix()} {text}\n".encode())
    digest.update(f"{__version__} {sys.version_info[:3]}\n".encode())
    for name in LIBRARIES:
        digest.update(f"{name} {_version(name)}\n".encode())
    return digest.digest()


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""
