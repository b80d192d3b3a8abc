"""Plans typed by hand, read and made steps as `check` does, for the first of the demo nights."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from optimizer.models.request import Request
from optimizer.reading.load import load_request
from optimizer.reading.typed_file import TypedFile, read_typed
from optimizer.typed import Typed, typed_steps

PLANS = Path(__file__).parents[2] / "plans"
FEW = "start,target,filter,exposure_s,count\n"


@lru_cache(maxsize=8)
def request_of(night: str = "first-night") -> Request:
    """The request of a demo night."""
    return load_request(PLANS / night / "request.toml").request


def read(folder: Path, text: str | bytes, request: Request | None = None) -> TypedFile:
    """What is read from a file that holds this text."""
    path = folder / "typed.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_typed(path, request or request_of())


def made(folder: Path, text: str | bytes, request: Request | None = None) -> Typed:
    """The steps that a file with this text means."""
    return typed_steps(request or request_of(), read(folder, text, request))
