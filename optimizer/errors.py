"""The one tree of errors: what the software raises by design, and what each of them carries."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class InputProblem:
    """One thing that is wrong with a file or an option, and what would be right.

    `key` is the path as written in the file, lists counted from 0 (`targets[1].goals[0].filter`); `where`
    says the same in words (`1st goal of target "Cradle Nebula"`), so nobody has to count. `line` is
    1-based. `value` is as written, made safe for a terminal; `unit` in words; both may be empty.
    """

    file: str
    key: str
    message: str
    remedy: str
    value: str = ""
    unit: str = ""
    line: int | None = None
    where: str = ""

    def __str__(self) -> str:
        """One line for people: place, value with unit, what is wrong, what would be right."""
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        shown = self.key
        if self.value:
            shown += f" = {self.value}" if shown else self.value
        if self.unit:
            shown += f" [{self.unit}]"
        if self.where:
            shown += f" ({self.where})" if shown else self.where
        said = f"{self.message}; {self.remedy}" if self.remedy else self.message
        return f"{place}: {shown}: {said}" if shown else f"{place}: {said}"


class DarkfillError(Exception):
    """The top of the tree: whoever catches it catches what fails because of input, output or the solver.

    A call that makes no sense raises Python's own TypeError, ValueError or RuntimeError instead: a path where
    a request is wanted, a target that is not there, the plan of a night that was not planned yet.
    """


class _ProblemsError(DarkfillError):
    """An error that carries all its problems, not the first alone; its text has a line for each of them."""

    def __init__(self, problems: Iterable[InputProblem]) -> None:
        """Keep the problems in the order given: they come in file order."""
        self.problems = tuple(problems)
        super().__init__(self.problems)  # as given: so another process gets the same error

    def __str__(self) -> str:
        """A line for each problem."""
        return "\n".join(str(problem) for problem in self.problems)


class InputError(_ProblemsError):
    """Raised where a request, a shot list, a skyline file, an option or an argument cannot be used.

    `problems` are all that were found in all files, in file order, each with its place, value and remedy.
    """


class OutputError(_ProblemsError):
    """Raised where a file cannot be written: a folder is missing, a file is protected, the disk is full.

    Nothing was changed then. `problems` say which files they are, what is in the way and what would help.
    """


class UnauditedError(DarkfillError):
    """Raised where a shot list is to be saved that was never audited, or whose audit found violations.

    `violations` are the sentences of the violations in the order of the list; empty where no audit was made.
    """

    def __init__(self, violations: Iterable[str] = ()) -> None:
        """Keep the sentences; the error's text has a line for each of them."""
        self.violations = tuple(violations)
        super().__init__(self.violations)

    def __str__(self) -> str:
        """Why the list is not saved, and a line for each violation."""
        if self.violations:
            return "\n".join(("the shot list breaks rules and is not saved:", *self.violations))
        return "the shot list was not audited and is not saved; audit it first"


class SolverFailureError(DarkfillError):
    """Raised where the solver refuses a model or finds it empty.

    That is a defect of the software, never of a request. Its text is what the solver says of the model.
    """


class PrintingMissingError(DarkfillError):
    """Raised where PNG or PDF is wanted and the package that makes them is not installed.

    Its text names the extra that brings the package.
    """


class WorkerLostError(DarkfillError):
    """Raised where a process that works for a season ended twice at the same task, on a cluster five times.

    So ends one that is killed from outside or runs out of memory. Raised as well where a cluster's scheduler
    or all of its workers have gone. Its text says what helps.
    """


class ClusterError(DarkfillError):
    """Raised where a season cannot begin on a cluster.

    Dask is not installed, no scheduler or no worker answers, or a machine has other software than this one.
    Its text says which it is, and what helps.
    """
