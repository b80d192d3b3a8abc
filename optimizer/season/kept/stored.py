"""Objects as bytes and back, for what the season keeps on disk.

They are pickles, of which only plain data and the software's own classes are read: a file that another
program made can at worst fail to be read, not make this one call anything.
"""

from __future__ import annotations

import io
import pickle
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import IO, Any

import numpy as np

from optimizer.models.request import Request
from optimizer.season.prepared import PreparedNight

LONG = 1000  # numbers
PACKAGE = __name__.partition(".")[0]
KNOWN = {
    "builtins": {"complex", "frozenset", "set", "bytearray", "slice", "range"},
    "collections": {"OrderedDict", "defaultdict"},
    "datetime": {"date", "datetime", "time", "timedelta", "timezone"},
    "decimal": {"Decimal"},
    "fractions": {"Fraction"},
    "numpy": {"dtype", "ndarray"},
    "numpy._core.multiarray": {"_reconstruct", "scalar"},
    "numpy._core.numeric": {"_frombuffer"},
    "numpy.core.multiarray": {"_reconstruct", "scalar"},
    "numpy.core.numeric": {"_frombuffer"},
    "zoneinfo": {"ZoneInfo"},
}


class NotStoredError(Exception):
    """Bytes hold something that `loaded` does not read."""


def stored(value: object, parts: Sequence[object] = ()) -> bytes:
    """An object as bytes; raises NotStoredError where it cannot be.

    Where it holds one of these `parts`, that very object, only the number of the part is stored.
    """
    out = io.BytesIO()
    try:
        _Storer(out, parts).dump(value)
    except Exception as error:  # whatever the classes of its parts raise
        raise NotStoredError(f"{type(error).__name__}: {error}") from error
    return out.getvalue()


def loaded(data: bytes, parts: Sequence[object] = ()) -> Any:
    """The object of some bytes; raises NotStoredError where they are anything else.

    `parts` are equal to those that it was stored with.
    """
    try:
        return _Loader(io.BytesIO(data), parts).load()
    except Exception as error:  # whatever bytes that mean something else may come to
        raise NotStoredError(f"{type(error).__name__}: {error}") from error


def night_stored(night: PreparedNight, request: Request) -> bytes:
    """A prepared night of a request as bytes, without the request's own targets and goals."""
    return stored(night, _parts(request))


def night_loaded(data: bytes, request: Request) -> PreparedNight | None:
    """The night of these bytes, its targets and goals being those of the request; None where it is none."""
    try:
        night = loaded(data, _parts(request))
    except NotStoredError:
        return None
    return night if isinstance(night, PreparedNight) else None


def _parts(request: Request) -> list[object]:
    return [*request.targets, *(goal for _, goal in request.goals())]


def _summed(planes: bytes) -> Any:
    """An array from the four planes of bytes of its steps."""
    return _steps(planes).cumsum(dtype=np.int64)


def _summed_short(planes: bytes) -> Any:
    """The same of numbers of half the length."""
    return _steps(planes).cumsum(dtype=np.int32)


def _steps(planes: bytes) -> Any:
    steps = np.frombuffer(planes, dtype=np.uint8).reshape(4, -1).T
    return np.ascontiguousarray(steps).view("<i4")[:, 0]


MAKERS = {np.dtype(np.int64): _summed, np.dtype(np.int32): _summed_short}


class _Storer(pickle.Pickler):
    def __init__(self, out: IO[bytes], parts: Sequence[object]) -> None:
        super().__init__(out, protocol=5)
        self._numbers = {id(part): number for number, part in enumerate(parts)}

    def reducer_override(self, value: Any) -> Any:
        """Write long smooth arrays of whole numbers, such as what a frame brings by the second, by steps."""
        if type(value) is np.ndarray and value.ndim == 1 and value.dtype in MAKERS and len(value) >= LONG:
            steps = np.diff(value.astype(np.int64), prepend=0)
            if steps.min() >= -(2**31) and steps.max() < 2**31:
                planes = steps.astype("<i4").view(np.uint8).reshape(-1, 4).T  # high bytes are mostly nought
                return MAKERS[value.dtype], (planes.tobytes(),)
        return NotImplemented

    def persistent_id(self, value: object) -> int | None:
        """The number of a part."""
        return self._numbers.get(id(value))


class _Loader(pickle.Unpickler):
    def __init__(self, data: IO[bytes], parts: Sequence[object]) -> None:
        super().__init__(data)
        self._parts = parts

    def persistent_load(self, number: Any) -> object:
        """The part of that number."""
        return self._parts[number]

    def find_class(self, module: str, name: str) -> Any:
        """The class of that name, if it is one of ours or of plain data."""
        if name in KNOWN.get(module, ()):
            return super().find_class(module, name)
        for maker in MAKERS.values():
            if (module, name) == (__name__, maker.__name__):
                return maker
        if module.startswith(f"{PACKAGE}.") and "." not in name:
            if module not in sys.modules:
                import_module(module)
            found = getattr(sys.modules[module], name)
            if isinstance(found, type) and found.__module__ == module:
                return found
        raise pickle.UnpicklingError(f"{module}.{name} is not read")
