"""The three speeds of the tests: what is quick carries no mark, what is `deep` or `outside` is asked for by name.

`deep` searches or starts processes for minutes on end: oracles, random nights, modes, a browser. `outside` holds the
sky against reference libraries and published values, and a list against devices that others simulate. DEVELOPERS.md
has the commands.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest

deep, outside = pytest.mark.deep, pytest.mark.outside


def sampled(values: Iterable[Any], quick: int, *, several: bool = False) -> list[Any]:
    """Values for `parametrize`, all but the first `quick` of them deep: a sample runs with every change.

    With `several` each value is a tuple that holds one entry for each name of a parameter.
    """
    return [
        value if number < quick else pytest.param(*(value if several else (value,)), marks=deep)
        for number, value in enumerate(values)
    ]
