"""Machine code on the disk is that of the loops as they are written now."""

from __future__ import annotations

import ast
from typing import Any

import pytest

from optimizer.packing import compiled
from optimizer.packing.bound import labelling
from optimizer.packing.compiled import HERE, SOURCES, key_of
from optimizer.packing.search import ruin_loops, sequence_times

LOOPS = (compiled, labelling, ruin_loops, sequence_times)


@pytest.mark.parametrize(
    "other", [[b"a", b"c"], [b"b", b"a"], [b"ab"], [b"a"], [b"ab", b""], [b"", b"ab"], [b"a", b"b", b""]]
)
def test_the_name_of_the_folder_changes_with_any_source(other: list[bytes]) -> None:
    assert key_of([b"a", b"b"]) == key_of([b"a", b"b"])
    assert key_of(other) != key_of([b"a", b"b"])


def test_every_module_that_loops_are_made_of_is_a_source() -> None:
    """The modules with loops, and those of ours that they take types, numbers or other loops from."""
    wanted = {module.__name__.removeprefix("optimizer.packing.") for module in LOOPS}
    for module in LOOPS:
        tree = ast.parse(
            (
                HERE / (module.__name__.removeprefix("optimizer.packing.").replace(".", "/") + ".py")
            ).read_text()
        )
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("optimizer.packing."):
                wanted.add(str(node.module).removeprefix("optimizer.packing."))
    assert {name.replace(".", "/") for name in wanted} <= set(SOURCES)


def test_loops_are_kept_in_the_folder_of_their_sources() -> None:
    key = key_of((HERE / f"{name}.py").read_bytes() for name in SOURCES)
    loops: tuple[Any, ...] = (labelling.fill_tables, labelling.trace_column, ruin_loops.ruin_and_recreate)
    assert all(key in str(loop.stats.cache_path) for loop in loops)
