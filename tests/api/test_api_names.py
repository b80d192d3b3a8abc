"""The public names: loaded when first used, documented whole, and never taken by the rooms of the same name."""

from __future__ import annotations

import builtins
import doctest
import importlib
import inspect
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

import optimizer
from tests.support.tally_cases import write_night, write_request

ROOT = Path(__file__).parents[2]
FUNCTIONS = (
    "load",
    "load_shots",
    "plan",
    "audit",
    "windows",
    "flip",
    "learn",
    "sides",
    "replan",
    "season",
    "tally",
    "save",
    "chart",
)
CLASSES = ("Night", "Request", "Season", "ShotList", "AuditReport", "DarkfillError", "InputError")
FRESH = """
import json, sys
heavy = "numpy astropy ortools numba pydantic rich typer optimizer.api".split()
loaded = lambda: [name for name in heavy if name in sys.modules]
import optimizer
told = {"import": loaded(), "dir": dir(optimizer)}
from optimizer import load
told["file"] = load(sys.argv[1]).request.site.name
told["load"] = loaded()
import optimizer.audit.tolerances
from optimizer import Night, audit, sides
told |= {"audit": type(audit).__name__, "sides": type(sides).__name__}
import optimizer.sides.compare
told["later"] = [type(optimizer.sides).__name__, type(optimizer.audit).__name__]
print(json.dumps(told))
"""


def test_a_fresh_import_loads_nothing_heavy_and_names_stay_those_of_functions() -> None:
    """Rooms are called `audit` and `sides` too: imported before or after, they take no name from a function."""
    request = ROOT / "plans" / "first-night" / "request.toml"
    done = subprocess.run(
        [sys.executable, "-c", FRESH, str(request)], capture_output=True, text=True, check=True
    )
    told = json.loads(done.stdout)
    assert told["import"] == []
    assert told["dir"] == sorted(optimizer.__all__)
    assert (told["audit"], told["sides"]) == ("function", "function")
    assert told["file"] == "Heron Flat"
    assert not {"ortools", "numba", "astropy", "rich"} & set(told["load"])  # to read a file takes no solver
    assert told["later"] == ["function", "function"]


def test_all_names_are_there_and_no_others() -> None:
    assert sorted(optimizer.__all__) == sorted((*FUNCTIONS, *CLASSES, "__version__"))
    assert all(inspect.isfunction(getattr(optimizer, name)) for name in FUNCTIONS)
    assert all(inspect.isclass(getattr(optimizer, name)) for name in CLASSES)
    assert optimizer.__version__ == importlib.metadata.version("darkfill")
    with pytest.raises(AttributeError, match="has no attribute 'nonsense'"):
        _ = optimizer.nonsense


@pytest.mark.parametrize("name", FUNCTIONS)
def test_each_function_tells_its_parameters_what_it_returns_and_an_example(name: str) -> None:
    function = getattr(optimizer, name)
    text = inspect.getdoc(function) or ""
    for part in ("\nArgs:\n", "\nReturns:\n", "\nRaises:\n", "\nExample:\n    >>> "):
        assert part in text, part
    for parameter in inspect.signature(function).parameters:
        assert f"\n    {parameter}: " in text, parameter
    for error in re.findall(r"^    ([\w.]+Error|\w+Interrupt): ", text.split("\nRaises:\n")[1], re.MULTILINE):
        room, _, last = error.rpartition(".")
        known = importlib.import_module(room) if room else vars(builtins) | vars(optimizer)
        assert known[last] if isinstance(known, dict) else getattr(known, last), error  # found as it is named


def test_examples_of_the_docstrings_give_what_they_say(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "plans").symlink_to(ROOT / "plans")
    write_request(tmp_path).rename(tmp_path / "my-request.toml")
    write_night(tmp_path / "images", [f"L{number}.fits" for number in range(6)])
    monkeypatch.chdir(tmp_path)
    names = {name: getattr(optimizer, name) for name in optimizer.__all__}
    found = [
        doctest.testmod(importlib.import_module(module), extraglobs=names)
        for module in ("optimizer.api", "optimizer.night")
    ]
    assert [each.failed for each in found] == [0, 0]
    assert [each.attempted > 0 for each in found] == [True, True]


def test_module_is_the_command_with_its_exit_codes(tmp_path: Path) -> None:
    def run(*args: str) -> tuple[int, str, str]:
        done = subprocess.run(
            [sys.executable, "-m", "optimizer", *args],
            capture_output=True,
            text=True,
            cwd=tmp_path,
            check=False,
        )
        return done.returncode, done.stdout, done.stderr

    assert run("--version") == (0, f"darkfill {optimizer.__version__}\n", "")
    code, out, told = run("windows", "nowhere.toml")
    assert (code, out) == (2, "")
    assert told.startswith("nowhere.toml: there is no such file; ")


def test_types_are_told_to_whoever_uses_the_package() -> None:
    """The marker lies in the package, all of which goes into the wheel."""
    assert (Path(optimizer.__file__).parent / "py.typed").is_file()
