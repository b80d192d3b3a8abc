"""A key for plain data by its content: the same in every process, on every machine, for equal data.

Python's own `hash` differs from process to process, and the bytes of a pickle depend on which objects are
shared. So data is written out in one canonical form, each value behind its kind and its length, and digested.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import enum
import hashlib
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path
from types import FunctionType
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

Write = Callable[[bytes], None]
NOT_COUNTED = "not_in_key"  # in the metadata of a dataclass's field: it says nothing of its own


def content_key(*values: object) -> bytes:
    """The SHA-256 of some values in their order.

    Known are None, truth values, numbers, Fraction, Decimal, text, bytes, dates and times, enumerations,
    tuples, lists, sets, mappings (in any order), numpy's numbers and arrays, dataclasses, pydantic models,
    and named classes and functions of modules. Whatever else is there raises TypeError: a key that left
    something out would give a wrong answer.
    """
    digest = hashlib.sha256()
    _write(digest.update, values)
    return digest.digest()


def _write(put: Write, value: object) -> None:
    kind: Any = type(value)
    if value is None or kind is bool:
        _put(put, b"c", repr(value).encode())
    elif kind is int or kind is float:
        _put(put, b"n" if kind is int else b"f", repr(value).encode())
    elif kind is str:
        _put(put, b"s", str(value).encode("utf-8", "surrogatepass"))
    elif isinstance(value, bytes | bytearray):
        _put(put, b"b", bytes(value))
    elif isinstance(value, enum.Enum):
        _named(put, b"e", kind)
        _write(put, value.name)
    elif isinstance(value, tuple | list):
        _named(put, b"l" if isinstance(value, list) else b"t", kind)
        _write_all(put, value)
    elif isinstance(value, np.ndarray):
        _write_array(put, value)
    elif isinstance(value, np.generic):
        _put(put, b"g", value.dtype.str.encode())
        _write(put, value.item())
    elif isinstance(value, BaseModel):
        _named(put, b"m", kind)
        _write_all(put, ((name, getattr(value, name)) for name in kind.model_fields))
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        _named(put, b"d", kind)
        _write_all(put, ((name, getattr(value, name)) for name in _fields(kind)))
    else:
        _write_rarer(put, value)


def _write_rarer(put: Write, value: object) -> None:
    if isinstance(value, Fraction | Decimal | Path):
        _named(put, b"v", Path if isinstance(value, Path) else type(value))
        _write(put, str(value))
    elif isinstance(value, dt.datetime | dt.date | dt.time):
        _named(put, b"v", type(value))
        _write(put, (value.isoformat(), str(getattr(value, "tzinfo", None))))
    elif isinstance(value, dt.timedelta):
        _named(put, b"v", type(value))
        _write(put, (value.days, value.seconds, value.microseconds))
    elif isinstance(value, Mapping):
        _put(put, b"p", b"")
        items = sorted((content_key(name), name, each) for name, each in value.items())
        _write_all(put, ((name, each) for _, name, each in items))
    elif isinstance(value, frozenset | set):
        _put(put, b"u", b"")
        _write_all(put, sorted(map(content_key, value)))
    elif isinstance(value, FunctionType | type) and "<" not in value.__qualname__:
        _put(put, b"k", f"{value.__module__}:{value.__qualname__}".encode())
    else:
        raise TypeError(f"no key for a value of {type(value).__module__}.{type(value).__qualname__}")


def _write_all(put: Write, values: Iterable[object]) -> None:
    count = 0
    for count, value in enumerate(values, start=1):  # noqa: B007  how many there were
        _write(put, value)
    _put(put, b".", repr(count).encode())


def _write_array(put: Write, array: NDArray[Any]) -> None:
    if array.dtype.hasobject or array.dtype.names is not None:
        raise TypeError("no key for an array of objects or of records")
    even = np.ascontiguousarray(array, dtype=array.dtype.newbyteorder("<"))
    _put(put, b"a", f"{even.dtype.str}{array.shape}".encode())
    _put(put, b"b", even.tobytes())


def _put(put: Write, kind: bytes, data: bytes) -> None:
    """A value's kind, length and bytes: so no two lists of values come to the same bytes."""
    put(b"%s%d:" % (kind, len(data)))
    put(data)


def _named(put: Write, kind: bytes, of: type) -> None:
    _put(put, kind, b"" if of in (tuple, list) else f"{of.__module__}:{of.__qualname__}".encode())


@cache
def _fields(kind: type) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(kind) if not field.metadata.get(NOT_COUNTED))
