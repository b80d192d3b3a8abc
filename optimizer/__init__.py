"""darkfill: fills the dark hours with open shutter; plans, audits and draws one night.

    from optimizer import load, plan, save

    shots = plan(load("plans/first-night/request.toml"))
    save(shots, "nights")

Each public name is loaded when it is first used, so that `import optimizer` alone costs nothing.
"""

from __future__ import annotations

import importlib
import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

from optimizer.version import __version__

if TYPE_CHECKING:
    from optimizer.api import (
        audit,
        chart,
        flip,
        learn,
        load,
        load_shots,
        plan,
        replan,
        save,
        season,
        sides,
        tally,
        windows,
    )
    from optimizer.errors import DarkfillError, InputError
    from optimizer.models.request import Request
    from optimizer.models.shots import AuditReport, ShotList
    from optimizer.night import Night
    from optimizer.seasons import Season

__all__ = [
    "AuditReport",
    "DarkfillError",
    "InputError",
    "Night",
    "Request",
    "Season",
    "ShotList",
    "__version__",
    "audit",
    "chart",
    "flip",
    "learn",
    "load",
    "load_shots",
    "plan",
    "replan",
    "save",
    "season",
    "sides",
    "tally",
    "windows",
]

_CLASSES = {
    "AuditReport": "optimizer.models.shots",
    "DarkfillError": "optimizer.errors",
    "InputError": "optimizer.errors",
    "Night": "optimizer.night",
    "Request": "optimizer.models.request",
    "Season": "optimizer.seasons",
    "ShotList": "optimizer.models.shots",
}
_LAZY = {name: _CLASSES.get(name, "optimizer.api") for name in __all__ if name != "__version__"}


def __getattr__(name: str) -> Any:
    """Load a public name on its first use (PEP 562)."""
    if name not in _LAZY:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(importlib.import_module(_LAZY[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names alone, loaded or not yet."""
    return list(__all__)


class _Package(ModuleType):
    """Keeps `audit`, `learn`, `replan` and so on for the functions, not for the rooms of these names."""

    def __setattr__(self, name: str, value: object) -> None:
        if not (name in _LAZY and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package
