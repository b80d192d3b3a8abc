"""The page as a file: size, policy, structure; no browser needed."""

from __future__ import annotations

import base64
import hashlib
import re
from html.parser import HTMLParser

import pytest

from optimizer.models.shots import Relief, Violation
from optimizer.report.picture.page import page_text
from optimizer.report.picture.shown import shown_list, shown_steps
from optimizer.report.words import clock, sentence_parts
from optimizer.timeline.unplanned import ADVICE
from tests.support.picture_cases import NIGHTS, hostile, renamed_plainly, stored

each_night = pytest.mark.parametrize("night", NIGHTS)
MOST_BYTES = (
    160_000  # of the 200 kB that a page may have: other nights of eight targets are up to 10 % longer
)


class _Elements(HTMLParser):
    """Tags in order, with the attributes that could do anything."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, tuple[str, ...]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, tuple(sorted(key for key, _ in attrs))))

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def elements(page: str) -> _Elements:
    parser = _Elements()
    parser.feed(page)
    return parser


@each_night
def test_page_is_small(night: str) -> None:
    assert len(page_text(shown_list(stored(night))).encode()) <= MOST_BYTES


def test_policy_allows_this_style_and_this_script_alone() -> None:
    page = page_text(shown_list(stored("first-night")))
    (policy,) = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]*)"', page)
    directives = dict(part.strip().split(" ", 1) for part in policy.replace("&#39;", "'").split(";"))
    assert directives["default-src"] == "'none'"
    for tag, directive in (("style", "style-src"), ("script", "script-src")):
        (content,) = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()
        assert directives[directive] == f"'sha256-{digest}'"
    assert not re.search(r"\b(?:src|href|action|style|on\w+)=", page.replace('href="data:,"', ""))
    assert page.index("Content-Security-Policy") < page.index("<style>") < page.index("<script>")


@each_night
def test_headline_figures_are_those_of_the_list(night: str) -> None:
    shots = stored(night)
    page = page_text(shown_list(shots))
    shown = dict(re.findall(r'data-figure="(\w+)"><dd>([^<]*)</dd>', page))
    hours, minutes = divmod(round(shots.totals.open_shutter_s / 60), 60)
    assert shown["open"] == f"{hours} h {minutes:02} min"
    assert shown["share"] == f"{100 * shots.totals.share:.0f} %"
    gap = float(shown["gap"].removesuffix(" %")) / 100
    assert shots.proof.gap - 1e-9 <= gap <= shots.proof.gap + 0.0001
    assert shots.audit_report.least_margin_min is not None
    assert (
        shots.audit_report.least_margin_min - 0.1
        <= float(shown["margin"].split()[0])
        <= shots.audit_report.least_margin_min + 1e-6
    )
    flips = [step for step in shots.steps if step.kind == "flip"]
    assert shown["flips"].count(":") == len(flips)


@each_night
def test_all_that_was_left_out_is_told(night: str) -> None:
    words = " ".join(elements(page_text(shown_list(stored(night)))).words).replace("\u00a0", " ")
    for entry in stored(night).unplanned:
        for part in sentence_parts(entry.sentence):
            assert part in words
        assert f"{entry.filter} {entry.frames}×{entry.exposure_s:g}s" in words


def test_what_holds_for_all_that_was_left_out_is_said_once() -> None:
    words = " ".join(elements(page_text(shown_list(stored("long-winter-night")))).words)
    assert words.count(ADVICE) == 1
    assert words.count("the plan has no place for it") == 1


def test_depth_is_told_where_the_list_has_it() -> None:
    shots = stored("first-night")
    deep = shots.model_copy(update={"totals": shots.totals.model_copy(update={"depth_s": 31560.0})})
    assert '<div data-figure="depth"><dd>8 h 46 min</dd>' in page_text(shown_list(deep))
    by_hours = shots.model_copy(update={"totals": shots.totals.model_copy(update={"depth_s": None})})
    assert 'data-figure="depth"' not in page_text(shown_list(by_hours))


def test_relief_is_told_where_somebody_asked() -> None:
    shots = stored("long-winter-night")
    assert "What one easier setting would give" not in page_text(shown_list(shots))
    first, second, *others = shots.unplanned
    step = Relief(
        change="floor 28° instead of 30°",
        of=first.target,
        key="floor_deg",
        old=30.0,
        new=28.0,
        target_open_s=1320.0,
        open_s=1200.0,
        value_s=1260.0,
        certain=True,
    )
    asked = (first.model_copy(update={"relief": (step,)}), second.model_copy(update={"relief": ()}), *others)
    words = " ".join(elements(page_text(shown_list(shots.model_copy(update={"unplanned": asked})))).words)
    told = words[
        words.index("What one easier setting would give, best first") : words.index("Around the meridian")
    ]
    plain = " ".join(told.split())
    gain = f"{first.target} +22 min; whole night +20 min, value +21 min (certain)."
    assert f"floor 28° instead of 30° : {gain}" in plain
    assert f"No single easier setting was found to help: {second.target} {second.filter}." in plain


def test_hostile_names_are_text() -> None:
    nasty, plain = (elements(page_text(shown_list(shots))) for shots in (hostile(), renamed_plainly()))
    harmless = ("text", "line")  # labels that are cut or folded elsewhere
    assert [each for each in nasty.found if each[0] not in harmless] == [
        each for each in plain.found if each[0] not in harmless
    ]
    page = page_text(shown_list(hostile()))
    assert not [char for char in page if char in "\u202e\u202c\u2066\u200f\x1b"]
    assert page.count("<script>") == 1
    assert "{{ 7 * 7 }}" in " ".join(nasty.words)


def test_senseless_numbers_are_left_out_and_break_nothing() -> None:
    """What `check` can read is drawn, whatever its totals say."""
    shots = stored("first-night")
    goals = tuple(
        goal.model_copy(update={"frames_wanted": 0, "frames_done": -3}) for goal in shots.totals.goals
    )
    spoilt = shots.model_copy(
        update={
            "totals": shots.totals.model_copy(update={"goals": goals, "open_shutter_s": 1e300}),
            "proof": shots.proof.model_copy(update={"gap": 1e308}),
            "audit": shots.audit_report.model_copy(update={"least_margin_min": 1e308}),
        }
    )
    page = page_text(shown_list(spoilt))
    assert not re.search(r'data-figure="(gap|margin)"', page)
    assert not re.search(r'(?:width|x)="?-', page)


def test_broken_rules_are_told_loudly() -> None:
    shots = stored("first-night")
    violation = Violation(rule="zone.track", step=3, amount=4.0, unit="s", message="step 3 <tracks> too far")
    broken = shots.audit_report.model_copy(update={"violations": (violation,)})
    page = page_text(shown_list(shots.model_copy(update={"audit": broken})))
    assert "do not run this list" in page
    assert "step 3 &lt;tracks&gt; too far" in page


def test_audit_is_claimed_for_the_list_as_it_was_planned() -> None:
    """Steps may be changed by hand afterwards; the page cannot know."""
    words = " ".join(elements(page_text(shown_list(stored("first-night")))).words)
    rules = len(stored("first-night").audit_report.rules)
    assert f"{rules} rules checked" in words
    assert "when it was planned" in words
    assert "Run darkfill check" in words


def test_bare_steps_claim_neither_proof_nor_audit() -> None:
    shots = stored("first-night")
    page = page_text(shown_steps(shots.request, shots.steps))
    assert "Not audited" in page
    assert not re.search(r'data-figure="(gap|margin|share)"', page)


def test_fork_has_no_ruler() -> None:
    shots = stored("first-night")
    mount = shots.request.mount.model_copy(update={"kind": "fork"})
    steps = tuple(step.model_copy(update={"pier_side": None}) for step in shots.steps if step.kind != "flip")
    page = page_text(shown_steps(shots.request.model_copy(update={"mount": mount}), steps))
    assert 'class="ruler"' not in page
    assert "Never point near the Sun" in page


@each_night
def test_order_of_the_night_is_told_in_lines(night: str) -> None:
    shots = stored(night)
    page = page_text(shown_list(shots))
    order = page[page.index('class="order"') :]
    rows = re.findall(r"<tr[^>]*>(<td>.*?)</tr>", order[: order.index("</table>")], re.DOTALL)
    begun = [step for step in shots.steps if step.kind in ("slew", "flip")]
    assert len(rows) == len(begun)
    frames = 0
    for row, step in zip(rows, begun, strict=True):
        assert clock(step.start_utc, shots.request.site.time_zone) in row
        assert ("FLIP" in row) == (step.kind == "flip")
        frames += sum(int(found) for found in re.findall(r"\s(\d+)×", row))
    assert frames == sum(step.kind == "expose" for step in shots.steps)
