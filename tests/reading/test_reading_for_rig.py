"""Targets for other rigs are left out of a request as it is read, and messages still name the right lines."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.reading.load import load_as_written, load_request
from optimizer.reading.tally import ignored_lines, tally_at
from optimizer.tally.in_hand import in_hand
from tests.support.rig_cases import TARGET, rig, two_targets


@pytest.fixture(autouse=True)
def _in_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def shared(*rigs: str, targets: str) -> list[Path]:
    """Files of some rigs, which include one file of targets."""
    Path("shared.toml").write_text(targets, encoding="utf-8")
    return [rig(Path(), name, top='include = ["shared.toml"]', more="") for name in rigs]


def test_a_target_for_another_rig_is_left_out_and_told() -> None:
    north, wide = shared("north", "wide", targets=two_targets('rigs = ["wide"]\naliases = ["IC 1805"]'))
    loaded = load_request(north)
    assert [target.name for target in loaded.request.targets] == ["Cradle"]
    assert loaded.resolved == ("north.toml: 1 target is for other rigs than north and left out: Heart",)
    both = load_request(wide)
    assert [target.name for target in both.request.targets] == ["Cradle", "Heart"]
    assert both.resolved == ()
    assert both.request.targets[1].rigs == ("wide",)


def test_the_name_in_the_request_counts_before_that_of_the_file() -> None:
    (north,) = shared("north", targets='rig = "wide"\n' + two_targets('rigs = ["wide"]'))
    loaded = load_request(north)
    assert (loaded.rig, len(loaded.request.targets)) == ("wide", 2)
    assert load_request(rig(Path(), "alone")).rig == "alone"


def test_what_is_left_out_may_name_filters_that_this_rig_lacks() -> None:
    targets = two_targets('rigs = ["wide"]')
    last = targets.rindex('filter = "L"\n  exposure_s = 300\n')
    (north,) = shared("north", targets=targets[:last] + 'filter = "OIII"\n  frames = 50\n')
    assert len(load_request(north).request.targets) == 1


def test_one_target_may_have_goals_of_its_own_for_each_rig() -> None:
    wide = TARGET.replace('name = "Cradle"\n', 'name = "Cradle"\nrigs = ["wide"]\n').replace("= 300", "= 120")
    north = TARGET.replace('name = "Cradle"\n', 'name = "Cradle"\nrigs = ["north"]\n')
    loaded = [load_request(path) for path in shared("north", "wide", targets=wide + north)]
    assert [each.resolved for each in loaded] == [(), ()]
    found = [each.request.targets for each in loaded]
    assert [[goal.exposure_s for target in each for goal in target.goals] for each in found] == [[300], [120]]


def test_messages_count_targets_as_the_file_does() -> None:
    """The second target of the file is the only one that is left, and its goal the one that is wrong."""
    targets = TARGET.replace('name = "Cradle"\n', 'name = "Cradle"\nrigs = ["wide"]\n')
    wrong = TARGET.replace("Cradle", "Heart").replace('filter = "L"', 'filter = "K"').replace("= 50", "= 0")
    (north,) = shared("north", targets=targets + wrong)
    with pytest.raises(InputError) as caught:
        load_request(north)
    assert [(each.file, each.line, each.key) for each in caught.value.problems] == [
        ("shared.toml", 15, "targets[1].goals[0].filter"),
        ("shared.toml", 17, "targets[1].goals[0].frames"),
    ]
    assert all(each.where == '1st goal of target "Heart"' for each in caught.value.problems)
    twice = wrong.replace('"K"', '"L"').replace("= 0", "= 5")
    (north,) = shared("north", targets=targets + twice + twice)
    with pytest.raises(InputError) as caught:
        load_request(north)
    assert str(caught.value) == (
        'shared.toml:19: targets[2].name = "Heart" (3rd target): targets[1] on line 11 has this name too; give '
        "each its own name"
    )


def test_messages_name_the_line_of_the_table_too() -> None:
    Path("targets.csv").write_text(
        "name,object,rigs,filter,exposure_s,frames\nA,M 33,wide; south,L,300,5\nB,M 31,,L,300,0\nC,M 74,north,L,300,5\n",
        encoding="utf-8",
    )
    north = rig(Path(), "north", top='targets_csv = "targets.csv"', more="")
    with pytest.raises(InputError) as caught:
        load_request(north)
    assert [(each.line, each.key) for each in caught.value.problems] == [(3, "frames")]
    (problem,) = caught.value.problems
    assert problem.where == '1st goal of target "B"'


def test_no_target_left_is_an_error() -> None:
    (north,) = shared("north", targets=TARGET.replace("ra_deg", 'rigs = ["wide"]\nra_deg', 1))
    for read in (load_request, load_as_written):
        with pytest.raises(InputError) as caught:
            read(north)
        assert str(caught.value) == (
            'shared.toml:3: targets[0].rigs = ["wide"] (target "Cradle"): neither this target nor another one is '
            'for the rig "north"; name it there, or check the name of the rig (the key rig, or the file\'s)'
        )


def test_what_is_no_list_of_names_is_refused_as_such() -> None:
    (north,) = shared("north", targets=two_targets('rigs = "wide"'))
    with pytest.raises(InputError, match=r'targets\[1\]\.rigs = "wide"'):
        load_request(north)


def test_subs_of_what_is_left_out_are_no_warning() -> None:
    (north,) = shared("north", targets=two_targets('rigs = ["wide"]\naliases = ["IC 1805"]'))
    north.write_text(f'tally = "in-hand.csv"\n{north.read_text(encoding="utf-8")}', encoding="utf-8")
    Path("in-hand.csv").write_text(
        "target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source\nCradle,L,300,,,,,3,,\n"
        "heart,L,300,,,,,5,,\nIC 1805,L,300,,,,,2,,\nNobody,L,300,,,,,1,,\n",
        encoding="utf-8",
    )
    loaded = load_request(north)
    assert loaded.request.targets[0].goals[0].done == 3
    (line,) = loaded.warnings
    assert line.startswith("in-hand.csv:5: this row counts for no goal")
    as_written, place = load_as_written(north)  # as darkfill tally does
    assert ignored_lines(in_hand(as_written, tally_at(place)[0].rows), place) == [line]
