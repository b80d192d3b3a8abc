"""Which lines of a request change by what was learned, where they stand, and the file that holds them."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from optimizer import InputError
from optimizer.errors import OutputError
from optimizer.export.learned_file import check_learned_file, write_learned
from optimizer.learn.acts import ActName, Learned, LearnedAct
from optimizer.learn.changes import Change, changed_request, changes_of
from optimizer.learn.found import Found
from optimizer.learn.lesson import Lesson
from optimizer.learn.lines import Place, included_as, learned_text, places_of
from optimizer.reading.load import load_request
from tests.support.cli_cases import content, request
from tests.support.learned_cases import EVENING, a_lesson, an_act
from tests.support.replan_nights import small_request

SEEN = "90 subs of 1 night (2026-11-14)"


def told(learned: Learned, **parts: Any) -> dict[str, tuple[float, float]]:
    found = changes_of(small_request(**parts), learned)
    return {f"{each.key} {each.filter}" if each.filter else each.key: (each.old, each.new) for each in found}


def test_each_act_changes_its_own_key() -> None:
    lesson = a_lesson(
        an_act("between_subs", 3, 4.44),
        an_act("dither", 12, 15.52),
        an_act("filter", 8, 9.9),
        an_act("filter", 8, 11.31, filter_name="Ha"),
        an_act("focus", 150, 131.2),
        an_act("slew", 75, 96.1),
        an_act("flip", 130, 190),
    )
    assert told(lesson) == {
        "mount.centre_s": (45, 66.1),
        "camera.overhead_s": (0, 1.4),
        "camera.dither_s": (12, 15.5),
        "focus.run_s": (150, 131.2),
        "filters.change_s Ha": (8, 11.3),
    }


def test_filters_seen_too_seldom_take_the_length_of_all_changes_where_they_are_planned_alike() -> None:
    """But only those that were put in: S is never seen."""
    filters = [{"name": name, "change_s": 8} for name in ("L", "Ha", "S")]
    seldom = an_act("filter", 8, 8, sure_to=None, filter_name="L")
    lesson = a_lesson(an_act("filter", 8, 11.3), an_act("filter", 8, 11.9, filter_name="Ha"), seldom)
    assert told(lesson, filters=filters) == {
        "filters.change_s L": (8, 11.3),
        "filters.change_s Ha": (8, 11.9),
    }
    filters[0]["change_s"] = 7
    assert told(lesson, filters=filters) == {"filters.change_s Ha": (8, 11.9)}


def test_a_night_that_went_as_planned_changes_nothing() -> None:
    as_planned = a_lesson(
        an_act("between_subs", 3, 3.1), an_act("dither", 12, 12), an_act("focus", 150, 150.2)
    )
    assert told(as_planned) == {}


@pytest.mark.parametrize(
    ("median_s", "sure_to", "changes"),
    [(13.0, 0.5, True), (12.9, 0.5, False), (14.0, 2.0, False), (11.0, 0.9, True), (20.0, None, False)],
    ids=["a second", "less than a second", "not surely", "shorter", "not known"],
)
def test_only_sure_differences_of_a_second_or_more_change_a_line(
    median_s: float, sure_to: float | None, changes: bool
) -> None:
    assert bool(told(a_lesson(an_act("dither", 12, median_s, sure_to=sure_to)))) is changes


def test_a_shorter_gap_than_the_download_changes_the_download_itself() -> None:
    quick = a_lesson(an_act("between_subs", 9, 1.96))
    camera = {"download_s": 5, "overhead_s": 4}
    assert told(quick, camera=camera) == {"camera.download_s": (5, 2.0), "camera.overhead_s": (4, 0.0)}
    assert told(a_lesson(an_act("between_subs", 9, 6.96)), camera=camera) == {"camera.overhead_s": (4, 2.0)}


def test_numbers_stay_within_the_limits_of_their_keys() -> None:
    """A slew that takes less than its axes alone, and an autofocus of no length."""
    nothing = a_lesson(an_act("slew", 75, 10), an_act("focus", 150, 0.0))
    changed = changed_request(small_request(), changes_of(small_request(), nothing))
    assert changed.mount.centre_s == 0
    assert 0 < changed.focus.run_s < 1
    type(changed).model_validate(changed.model_dump(by_alias=True))


def in_sum(planned_s: float, median_s: float, *acts: ActName, **keys: Any) -> LearnedAct:
    return replace(an_act(acts[0], planned_s, median_s, **keys), acts=acts)


@pytest.mark.parametrize(
    ("acts", "key"),
    [
        (("between_subs", "dither"), "camera.dither_s"),
        (("filter", "focus"), "focus.run_s"),
        (("slew", "filter"), "mount.centre_s"),
        (("focus", "filter", "slew"), "mount.centre_s"),
        (("focus", "flip"), None),
        (("between_subs", "filter"), None),
    ],
)
def test_acts_known_only_in_sum_get_one_key_for_all_of_them(
    acts: tuple[ActName, ...], key: str | None
) -> None:
    old = {"camera.dither_s": 12, "focus.run_s": 150, "mount.centre_s": 45}
    lesson = replace(a_lesson(), sums=(in_sum(200, 230.5, *acts),))
    (found,) = changes_of(small_request(), lesson) or (None,)
    assert (found is None) is (key is None)
    if found is not None and key is not None:
        assert (found.key, found.old, found.new) == (key, old[key], old[key] + 30.5)
        assert (found.together, found.count) == (acts, 20)


def test_a_sum_changes_nothing_where_that_might_be_untrue() -> None:
    longer = in_sum(86, 120, "filter", "slew")
    for sums, alone in (
        ([in_sum(86, 70, "filter", "slew")], []),  # shorter: a slew by itself might then get too little
        ([in_sum(86, 120, "filter", "slew", sure_to=40.0)], []),
        ([in_sum(86, 86.5, "filter", "slew")], []),
        ([in_sum(86, 120, "filter", "slew", sure_to=None)], []),
        ([longer], [an_act("filter", 8, 8)]),  # one of them is known by itself
        ([longer], [an_act("flip", 130, 130)]),  # a flip is centred as well, and takes no longer
    ):
        assert told(replace(a_lesson(*alone), sums=tuple(sums))) == {}, (sums, alone)


def test_two_sums_with_an_act_in_common_are_not_both_put_into_the_request() -> None:
    often, seldom = in_sum(236, 270, "focus", "filter", "slew"), in_sum(158, 170, "focus", "filter", count=5)
    both = replace(a_lesson(), sums=(seldom, often))
    assert told(both) == {"mount.centre_s": (45, 79)}
    apart = replace(a_lesson(), sums=(in_sum(15, 18, "between_subs", "dither"), seldom))
    assert told(apart) == {"camera.dither_s": (12, 15), "focus.run_s": (150, 162)}
    known = replace(a_lesson(an_act("focus", 150, 160)), sums=(seldom, often))
    assert told(known) == {"focus.run_s": (150, 160)}
    as_planned = replace(a_lesson(an_act("flip", 130, 130.2)), sums=(often,))
    assert told(as_planned) == {"focus.run_s": (150, 184)}


def test_the_changed_request_has_the_new_numbers_and_all_else() -> None:
    old = small_request()
    lesson = a_lesson(an_act("dither", 12, 15.5), an_act("filter", 8, 11.3, filter_name="Ha"))
    new = changed_request(old, changes_of(old, lesson))
    assert (new.camera.dither_s, [each.change_s for each in new.filters]) == (15.5, [8, 11.3])
    camera = new.camera.model_copy(update={"dither_s": old.camera.dither_s})
    assert new.model_copy(update={"camera": camera, "filters": old.filters}) == old
    assert changed_request(old, ()) == old


# --- where keys stand ------------------------------------------------------------------------------------

RIG = """\
[mount]
centre_s = 50

[camera]
dither_s = 12

[[filters]]
name = "L"

[[filters]]
name = "Ha"
change_s = 8
"""
CHANGES = (
    Change("mount.centre_s", 50, 60.5, 12),
    Change("camera.overhead_s", 0, 1.4, 142),
    Change("camera.dither_s", 12, 15.5, 1),
    Change("focus.run_s", 150, 131, 9, together=("focus", "filter")),
    Change("filters.change_s", 8, 9.5, 7, "L"),
    Change("filters.change_s", 8, 11.3, 7, "Ha"),
)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A request whose rig is in a file of its own, but for the contact and the dither."""
    (tmp_path / "rig.toml").write_text(RIG, encoding="utf-8")
    return request(
        tmp_path,
        ('schema = "darkfill-request/1"\n', 'schema = "darkfill-request/1"\ninclude = ["rig.toml"]\n'),
        ("contact_min = 40\n", "contact_min = 40\n\n[camera]\ndither_s = 11\n"),
        ('[[filters]]\nname = "L"\n', ""),
    )


def test_places_tell_file_and_line_and_what_the_request_itself_says(home: Path) -> None:
    rig = str(home.parent / "rig.toml")
    lines = home.read_text(encoding="utf-8").splitlines()
    assert places_of(home, CHANGES) == (
        Place(rig, 2, own=False, written=True),
        Place(str(home), lines.index("[camera]") + 1, own=True, written=False),
        Place(str(home), lines.index("dither_s = 11") + 1, own=True, written=True),
        Place(),
        Place(rig, 7, own=False, written=False),
        Place(rig, 12, own=False, written=True),
    )


def lesson(*changes: Change, places: tuple[Place, ...] | None = None) -> Lesson:
    places = places or (Place(),) * len(changes)
    found = Found((), 90, 0, (), ())
    return Lesson(EVENING, found, a_lesson(), tuple(zip(changes, places, strict=True)), None, None)


def test_the_written_file_says_where_it_is_from_and_counts_once_it_is_included(home: Path) -> None:
    file = home.parent / "rig-learned.toml"
    learned = lesson(*CHANGES, places=places_of(home, CHANGES))
    written = write_learned(home, file, learned, SEEN)
    assert written is not None
    assert (written.included.line, written.included.within) == (
        'include = ["rig.toml", "rig-learned.toml"]',
        True,
    )
    text = file.read_text(encoding="utf-8")
    assert text.startswith(f"# What the rig really takes, learned from {SEEN}.\n")
    above = "# It counts once the request includes it after all other files, above its first [table]:\n"
    assert f"{above}#   {written.included.line}\n" in text
    assert "overhead_s = 1.4  # seen 142 times; the request had 0\n" in text
    assert "dither_s = 15.5  # seen once; the request had 12\n" in text
    assert (
        "run_s = 131  # seen 9 times, for autofocus and filter change in sum; the request had 150\n" in text
    )
    assert f'#   change_s = 11.3 for filter "Ha" ({home.parent / "rig.toml"}, line 12)\n' in text
    assert tomllib.loads(text) == {
        "mount": {"centre_s": 60.5},
        "camera": {"overhead_s": 1.4, "dither_s": 15.5},
        "focus": {"run_s": 131},
    }
    before = load_request(home).request
    home.write_text(
        home.read_text(encoding="utf-8").replace('include = ["rig.toml"]', written.included.line),
        encoding="utf-8",
    )
    after = load_request(home).request
    assert (after.mount.centre_s, after.camera.overhead_s, after.focus.run_s) == (60.5, 1.4, 131)
    assert after.camera.dither_s == 11  # the request's own line wins
    assert after.filters == before.filters
    assert after.mount.contact_min == before.mount.contact_min


def test_the_including_line_of_json_and_of_a_request_without_includes(tmp_path: Path) -> None:
    path = request(tmp_path)
    assert included_as(path, tmp_path / "nights" / "a.toml").line == 'include = ["nights/a.toml"]'
    (tmp_path / "request.json").write_text('{"schema": "darkfill-request/1", "include": ["rig.toml"]}')
    included = included_as(tmp_path / "request.json", tmp_path / 'my "rig".toml')
    assert included.line == r'"include": ["rig.toml", "my \"rig\".toml"]'
    elsewhere = included_as(path, tmp_path.parent / "b.toml")
    assert (elsewhere.within, elsewhere.line) == (
        False,
        f'include = ["{(tmp_path.parent / "b.toml").as_posix()}"]',
    )


def test_filters_alone_make_no_file(home: Path) -> None:
    file = home.parent / "rig-learned.toml"
    assert learned_text(lesson(CHANGES[-1]).changes, SEEN, "include = []") is None
    assert write_learned(home, file, lesson(CHANGES[-1]), SEEN) is None
    assert write_learned(home, file, lesson(), SEEN) is None
    assert not file.exists()


def test_an_older_file_is_renamed_and_the_same_file_stays(home: Path) -> None:
    file = home.parent / "rig-learned.toml"
    file.write_text("# mine\n", encoding="utf-8")
    first = write_learned(home, file, lesson(CHANGES[0]), SEEN)
    assert first is not None
    assert first.older == home.parent / "rig-learned.toml.old"
    assert first.older.read_text(encoding="utf-8") == "# mine\n"
    again = write_learned(home, file, lesson(CHANGES[0]), SEEN)
    assert again is not None
    assert again.older is None
    third = write_learned(home, file, lesson(CHANGES[1]), SEEN)
    assert third is not None
    assert third.older == home.parent / "rig-learned.toml.old.2"


@pytest.mark.parametrize("name", ["request.toml", "rig.toml", "./nights/../rig.toml", "link.toml"])
def test_no_file_of_the_request_is_written_to(name: str, home: Path) -> None:
    (home.parent / "nights").mkdir()
    (home.parent / "link.toml").symlink_to(home.parent / "rig.toml")
    before = content(home.parent)
    with pytest.raises(InputError, match=r"the request is read from it.*name another file"):
        check_learned_file(home, home.parent / name)
    assert content(home.parent) == before


def test_other_endings_and_missing_folders_are_refused(home: Path) -> None:
    with pytest.raises(InputError, match=r"does not end in \.toml"):
        check_learned_file(home, home.parent / "learned.json")
    with pytest.raises(OutputError, match="there is no such folder"):
        check_learned_file(home, home.parent / "nowhere" / "learned.toml")
    check_learned_file(home, home.parent / "learned.toml")
