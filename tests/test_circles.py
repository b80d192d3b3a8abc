"""No import circle, whichever way one looks: between modules or between rooms, imports for types included."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import grimp


def test_no_module_and_no_room_leads_back_to_itself() -> None:
    graph = grimp.build_graph("optimizer", exclude_type_checking_imports=False)
    imports = {
        (one, other) for one in graph.modules for other in graph.find_modules_directly_imported_by(one)
    }
    assert len(imports) > 500
    assert _in_circles(imports, str) == set()
    assert _in_circles(imports, lambda module: ".".join(module.split(".")[:2])) == set()


def test_a_circle_would_be_found() -> None:
    assert _in_circles([("a", "b"), ("b", "c"), ("c", "a"), ("c", "d")], str) == {"a", "b", "c"}


def _in_circles(imports: Iterable[tuple[str, str]], place: Callable[[str], str]) -> set[str]:
    """Take away what imports nothing or is imported by nothing, until all that is left is in circles or between."""
    left = {(place(one), place(other)) for one, other in imports if place(one) != place(other)}
    while True:
        ends = {one for one, _ in left} & {other for _, other in left}
        kept = {(one, other) for one, other in left if one in ends and other in ends}
        if kept == left:
            return {one for one, _ in left}
        left = kept
