"""Loops over time that array calls cannot express well, compiled on their first use and kept on disk.

Where the package's folder cannot be written, numba keeps them in the user's cache folder; where neither can,
they are compiled anew in each process (some seconds).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Function = TypeVar("Function", bound=Callable[..., Any])
NEVER = -np.inf  # the profit of what cannot be


def compiled(function: Function) -> Function:
    """The function as machine code, kept on disk where that is possible; threads run it side by side."""
    return _as_code(function, inside=False)


def inner(function: Function) -> Function:
    """The same for what only compiled functions call: no way in from Python is made, which takes long."""
    return _as_code(function, inside=True)


def _as_code(function: Function, *, inside: bool) -> Function:
    how: dict[str, Any] = {"nogil": True, "no_cfunc_wrapper": True, "no_cpython_wrapper": inside}
    try:
        return njit(function, cache=True, **how)  # type: ignore[no-any-return]
    except RuntimeError:  # numba's word for no folder that can be written
        return njit(function, **how)  # type: ignore[no-any-return]


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
