"""One tree of errors: what is caught by which name, and what each of them carries."""

from __future__ import annotations

import pickle

import pytest
from pydantic import ValidationError

from optimizer.cli.failures import ExitCode, told
from optimizer.errors import (
    DarkfillError,
    InputError,
    InputProblem,
    OutputError,
    PrintingMissingError,
    SolverFailureError,
    UnauditedError,
    WorkerLostError,
)
from optimizer.models.base import KeyedError
from optimizer.models.targets import Target

PROBLEM = InputProblem("request.toml", "site", "missing", "add [site]")


@pytest.mark.parametrize(
    "error",
    [
        InputError([PROBLEM]),
        OutputError([PROBLEM]),
        UnauditedError(),
        SolverFailureError("MODEL_INVALID"),
        PrintingMissingError("pip install"),
    ],
    ids=lambda error: type(error).__name__,
)
def test_one_name_catches_all_of_them(error: DarkfillError) -> None:
    with pytest.raises(DarkfillError) as caught:
        raise error
    assert str(caught.value)


@pytest.mark.parametrize(
    "error",
    [InputError([PROBLEM]), OutputError([PROBLEM]), UnauditedError(), UnauditedError(["step 3 is late"])],
    ids=str,
)
def test_another_process_gets_the_same_error(error: DarkfillError) -> None:
    """Whoever plans many nights in a pool of processes reads the same text."""
    there = pickle.loads(pickle.dumps(error))
    assert str(there) == str(error)
    assert vars(there) == vars(error)


def test_refused_output_is_no_bad_input() -> None:
    assert not issubclass(OutputError, InputError)
    assert OutputError([PROBLEM]).problems == InputError([PROBLEM]).problems == (PROBLEM,)


@pytest.mark.parametrize(
    ("error", "code", "told_in_words"),
    [
        (InputError([PROBLEM]), 2, "request.toml: site: missing; add [site]\n"),
        (OutputError([PROBLEM]), 2, "request.toml: site: missing; add [site]\n"),
        (UnauditedError(["too low"]), 4, "the shot list breaks rules and is not saved:\ntoo low\n"),
        (WorkerLostError("a worker ended"), 5, "a worker ended\n"),
    ],
    ids=lambda part: type(part).__name__,
)
def test_exit_codes(
    error: DarkfillError, code: int, told_in_words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    def command() -> ExitCode:
        raise error

    with pytest.raises(SystemExit) as ended:
        told(command)()
    assert ended.value.code == code
    assert capsys.readouterr().err == told_in_words


@pytest.mark.parametrize("error", [UnauditedError(), SolverFailureError("MODEL_INVALID")])
def test_a_defect_of_ours_is_an_internal_failure(
    error: DarkfillError, capsys: pytest.CaptureFixture[str]
) -> None:
    def command() -> ExitCode:
        raise error

    with pytest.raises(SystemExit) as ended:
        told(command)()
    assert ended.value.code == 5
    assert f"internal failure: {type(error).__name__}: {error}" in capsys.readouterr().err


def test_unaudited_list_says_whether_it_was_audited_at_all() -> None:
    assert str(UnauditedError()) == "the shot list was not audited and is not saved; audit it first"
    broken = UnauditedError(["too low", "too late"])
    assert broken.violations == ("too low", "too late")
    assert str(broken).split("\n") == ["the shot list breaks rules and is not saved:", "too low", "too late"]


def test_a_validators_complaint_stays_a_value_error() -> None:
    """pydantic gathers no other kind."""
    assert issubclass(KeyedError, ValueError)
    assert not issubclass(KeyedError, DarkfillError)


def test_a_target_given_by_its_name_alone_is_looked_up_where_a_model_is_made_in_code() -> None:
    goals = [{"filter": "L", "exposure_s": 60, "frames": 10}]
    target = Target.model_validate({"name": "Galaxy", "object": "M 33", "goals": goals})
    assert (round(target.ra_deg, 2), round(target.dec_deg, 2)) == (23.46, 30.66)
    with pytest.raises(ValidationError, match="the offline catalogue"):
        Target.model_validate({"name": "Galaxy", "object": "NGC 99999", "goals": goals})
