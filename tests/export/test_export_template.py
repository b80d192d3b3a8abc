"""`darkfill export --template`: what a template is given, how it is written, and what is said of a bad one."""

from __future__ import annotations

import importlib.util
import json
import re
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from optimizer.cli import export
from optimizer.errors import InputError
from optimizer.export.json_file import read_json
from optimizer.export.template import MOST_BYTES, read_template, render
from optimizer.export.template_child import NAMES_UNCHECKED
from optimizer.models.base import as_json_data
from optimizer.views.models import PlanView
from optimizer.views.view import view_of
from tests.support.cli_cases import Ran, called, content, darkfill
from tests.support.docs_files import PLANS, ROOT, TEMPLATES, fences, stored_list, text
from tests.support.template_cases import NAMES, audited_view

SHOTS = stored_list(PLANS[0])
XML, LINES = TEMPLATES.with_name("night.xml.j2"), TEMPLATES.with_name("list.txt.j2")


def view() -> PlanView:
    return audited_view()[1]


def filled(folder: Path, source: str, *, name: str = "t.txt", plan: PlanView | None = None) -> str:
    path = folder / name
    path.write_bytes(source.encode())
    return render(read_template(path), plan or view()).decode()


def refusal(folder: Path, source: bytes | str, *, name: str = "t.txt") -> str:
    """What is said of a template, without the folder."""
    path = folder / name
    path.write_bytes(source.encode() if isinstance(source, str) else source)
    with pytest.raises(InputError) as caught:
        render(read_template(path), view())
    assert len(caught.value.problems) == 1
    return str(caught.value).removeprefix(f"{folder}/")


# --- what a template is given --------------------------------------------------------------------------------


def test_a_template_is_given_all_views_as_the_json_has_them(tmp_path: Path) -> None:
    """Numbers without a needless `.0`, which is all that may differ."""
    names = ("plan", "totals", "visits", "blocks", "steps")
    source = "{" + ", ".join(f'"{name}": {{{{ {name}|tojson }}}}' for name in names) + "}"
    data = as_json_data(view())
    assert json.loads(filled(tmp_path, source)) == {name: data[name] for name in names}


def test_keys_keep_their_order(tmp_path: Path) -> None:
    assert filled(tmp_path, "{% for key in blocks[0] %}{{ key }} {% endfor %}").split() == list(
        as_json_data(view().blocks[0])
    )


def test_text_with_signs_of_the_language_stays_text(tmp_path: Path) -> None:
    name = "a %} {{ 1 + 1 }} {# # \" ' \\ \\n é \U0001f52d <&>"
    plan = view().model_copy(update={"plan": view().plan.model_copy(update={"site": name})})
    assert filled(tmp_path, "{{ plan.site }}", plan=plan) == name


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("[{{ none }}]", "[]"),
        ("[{{ true }} {{ 1 > 2 }}]", "[true false]"),
        ("{{ 300.0 }} {{ 900 / 60 }} {{ 0.5 }} {{ 0 }}", "300 15 0.5 0"),
        ("{{ blocks[0].exposure_s }}{{ blocks[0].exposure_s ~ 's' }} [{{ blocks[0].gain }}]", "300300s []"),
        ('{{ "%.4f"|format(0.5) }} {{ "%03d"|format(7) }} {{ "%+.1f"|format(300) }}', "0.5000 007 +300.0"),
        ('{{ [1.0, none, true, "a"]|join("; ") }}', "1; ; true; a"),
        ("{{ blocks[0].start_local[11:19] }}", "20:13:54"),
        ('{{ plan.nothing|default("-") }} {{ plan.nothing is defined }}', "- false"),
    ],
)
def test_values_are_written_for_people(source: str, expected: str, tmp_path: Path) -> None:
    assert filled(tmp_path, source) == expected


def test_a_line_of_tags_alone_writes_no_line(tmp_path: Path) -> None:
    source = "  {% if true %}\na\n  {% endif %}\n{# a remark #}\nb\n"
    assert filled(tmp_path, source) == "a\nb\n"
    assert filled(tmp_path, "\n\n a \n\n") == "\n\n a \n\n"


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_line_ends_are_those_of_the_template(end: str, tmp_path: Path) -> None:
    source = "{% for visit in visits %}\n{{ visit.visit }}\n{% endfor %}\nend".replace("\n", end)
    assert filled(tmp_path, source) == end.join(["1", "2", "3", "4", "5", "end"])


def test_a_byte_order_mark_is_not_written(tmp_path: Path) -> None:
    assert filled(tmp_path, "\ufeff{{ plan.evening }}°") == "2026-10-10°"


# --- escaping by the ending of the name ------------------------------------------------------------------------


@pytest.mark.parametrize("ending", [".xml", ".XML", ".html", ".htm", ".xhtml", ".svg", ".xml.j2", ".xml.jinja", ".html.jinja2"])  # fmt: skip
def test_xml_and_html_are_escaped(ending: str, tmp_path: Path) -> None:
    source = "{{ '<a b=\"c\">' }}&{{ '&' }}{{ '<br/>'|safe }}[{{ none }}]"
    assert filled(tmp_path, source, name=f"t{ending}") == "&lt;a b=&quot;c&quot;&gt;&&amp;<br/>[]"


def test_json_is_written_as_json(tmp_path: Path) -> None:
    source = '{"site": {{ plan.site }}, "gain": {{ blocks[0].gain }}, "flip": {{ blocks[1].flip_before }}}'
    written = filled(tmp_path, source, name="t.json.j2")
    assert json.loads(written) == {"site": "Heron Flat", "gain": None, "flip": True}


@pytest.mark.parametrize("ending", [".txt", ".j2", "", ".csv", ".xml.txt"])
def test_other_text_is_left_as_it_is(ending: str, tmp_path: Path) -> None:
    assert filled(tmp_path, "{{ '<&>\"' }}", name=f"t{ending}") == '<&>"'


# --- faults ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("a\n{{ plan.sitee }}", "t.txt:2: `plan.sitee` is undefined" + NAMES),
        ("{{ plans }}", "t.txt:1: `plans` is undefined" + NAMES),
        ("a\n\n{% if blocks[0].knd == 'x' %}{% endif %}", "t.txt:3: `blocks[0].knd` is undefined" + NAMES),
        ("{% for b in blocks %}\n{{ b.filtre|upper }}{% endfor %}", "t.txt:2: `b.filtre` is undefined" + NAMES),
        ("{% macro m(b) %}\n{{ b.filtre }}{% endmacro %}{{ m(blocks[0]) }}", "t.txt:2: `b.filtre` is undefined" + NAMES),
        ("{% for b in blok %}{% endfor %}", "t.txt:1: `blok` is undefined" + NAMES),
        ("a{{ plan.site|uper }}", "t.txt:1: filter uper is unknown; mend this line"),
        ("\n{{ plan.site.upper() }}", "t.txt:2: string has no method named upper; use a filter in its place, as in {{ name|upper }}"),
        ("{% if %}", "t.txt:1: unexpected end of block; mend this line"),
        ("{{ 1 / 0 }}", "t.txt:1: unable to calculate 1 / 0; mend this line"),
        ("{{ blocks[0].gain + 1 }}", "t.txt:1: tried to use + operator on unsupported types none and number; mend this line"),
        ("{% if false %}x{% endif %}\n", "t.txt: the template writes nothing; check what its conditions ask for"),
    ],
)  # fmt: skip
def test_fault_is_one_sentence_with_its_line(source: str, said: str, tmp_path: Path) -> None:
    assert refusal(tmp_path, source) == said


@pytest.mark.parametrize("name", NAMES_UNCHECKED)
def test_filters_that_would_pass_over_a_slip_are_not_there(name: str, tmp_path: Path) -> None:
    said = (
        f"t.txt:1: filter {name} is unknown: a key in quotes would not be checked; use {{% for ... if ... %}}"
    )
    assert refusal(tmp_path, f"{{{{ blocks|{name}('filtre') }}}}") == said
    assert f"`{name}`" in text(TEMPLATES)


@pytest.mark.parametrize(
    ("source", "said"),
    [
        (b"", "t.txt: the file is empty; write the template into it"),
        (b" \n", "t.txt: the file is empty; write the template into it"),
        (b"a\n\xe9", "t.txt:2: the byte 0xE9 is not UTF-8 text; save the file with the encoding UTF-8"),
        (b"\xff\xfea\x00", "t.txt: the file is written in UTF-16; save it with the encoding UTF-8"),
        (b"a\n\x1b[31m", "t.txt:2: there is the control character U+001B; remove it"),
        (
            b"a" * (MOST_BYTES + 1),
            "t.txt: the template has 65537 bytes, and it may have 65536; check that it is a template, or shorten it",
        ),
    ],
)
def test_file_that_is_no_template_is_refused(source: bytes, said: str, tmp_path: Path) -> None:
    assert refusal(tmp_path, source) == said


def test_longest_template_is_read(tmp_path: Path) -> None:
    assert len(filled(tmp_path, "a" * MOST_BYTES)) == MOST_BYTES


def test_engine_or_process_that_is_not_there_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    gone = "t.txt: the package minijinja, which renders it, cannot be loaded; install darkfill anew"
    with monkeypatch.context() as patched:
        patched.setattr(importlib.util, "find_spec", lambda name: None)
        assert refusal(tmp_path, "a") == gone
    with monkeypatch.context() as patched:  # found by this process, but not by the other

        class Elsewhere:
            origin = str(tmp_path / "minijinja" / "__init__.py")

        patched.setattr(importlib.util, "find_spec", lambda name: Elsewhere)
        assert refusal(tmp_path, "a") == gone
    monkeypatch.setattr(sys, "executable", str(tmp_path / "none"))
    said = "t.txt: no process could be started to render it (No such file or directory)"
    assert refusal(tmp_path, "a") == f"{said}; end some programs and try again"


# --- the command -----------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(export, "_audited_view", lambda *_: audited_view())
    return tmp_path


def exported(folder: Path, *args: object) -> Ran:
    (folder / "t.txt").write_bytes(b"{{ plan.evening }}\r\n")
    return darkfill("export", SHOTS, *args)


def test_file_is_written_as_it_is_and_an_older_one_is_kept(folder: Path) -> None:
    out = folder / "out.txt"
    ran = exported(folder, "--template", folder / "t.txt", "-o", out)
    assert (ran.code, ran.stdout, ran.stderr) == (0, "", f"wrote {out}\n")
    out.write_bytes(b"mine")
    ran = exported(folder, "--template", folder / "t.txt", "-o", out)
    assert (ran.code, ran.stderr) == (0, f"the older out.txt is now out.txt.old\nwrote {out}\n")
    assert out.read_bytes() == b"2026-10-10\r\n"
    assert (folder / "out.txt.old").read_bytes() == b"mine"


def test_stdout_has_the_same_bytes(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "t.txt").write_bytes("{{ plan.evening }}°\r\n".encode())
    printed, said = folder / "printed", folder / "said"
    args = ("export", SHOTS, "--template", folder / "t.txt", "-o", "-")
    assert called(monkeypatch, printed, said, *args, encoding="ascii") == 0
    assert (printed.read_bytes(), said.read_bytes()) == ("2026-10-10°\r\n".encode(), b"")


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--template", "none.txt", "-o", "out.txt"), "none.txt: there is no such file; check the name and the folder"),
        (("--template", "tt.txt", "-o", "out.txt"), "tt.txt: there is no such file; did you mean t.txt?"),
        (("--template", ".", "-o", "out.txt"), ".: this is a folder, not a file; name the file in it that holds the template"),
        (("--template", "t.txt"), "command line: --out: is missing; name a file to write, or - for stdout"),
        (("--template", "t.txt", "-o", "t.txt"), "command line: --out = t.txt: is the template itself; name another file"),
        (("--template", "t.txt", "-o", "no/out.txt"), "no/out.txt: cannot be written: there is no such folder; make the folder {folder}/no first"),
        (("--template", "t.txt", "-o", "."), ".: cannot be written: this is a folder, not a file; name a file in it"),
        (("--template", "t.txt", "--as", "json", "-o", "out.txt"), "command line: --template = t.txt: does not go with --as; leave out one of the two"),
        (("-o", "out.txt"), "command line: --as: is missing; name a form: blocks, steps, json, ics, sheet, obsplan; or a template of your own with --template"),
    ],
)  # fmt: skip
def test_bad_command_line_is_refused_with_a_remedy(
    args: tuple[str, ...], said: str, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    ran = exported(folder, *args)
    assert (ran.code, ran.stdout, ran.stderr) == (2, "", said.format(folder=folder) + "\n")
    assert content(folder) == {"t.txt": b"{{ plan.evening }}\r\n"}


# --- the examples ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("night", PLANS, ids=lambda night: night.name)
def test_xml_example_is_read_by_a_parser_and_holds_the_plan(night: Path) -> None:
    plan = view_of(read_json(stored_list(night)))
    root = ET.fromstring(render(read_template(XML), plan))
    assert root.attrib == {"evening": plan.plan.evening, "site": plan.plan.site, "frame": "ICRS"}
    assert [one.text for one in root.findall("caution")] == list(plan.plan.cautions)
    assert [stay.get("target") for stay in root.findall("stay")] == [one.target for one in plan.visits]
    opened = [sub.get("opens") for sub in root.iter("sub")]
    subs = [step for step in as_json_data(plan)["steps"] if step["kind"] == "expose"]
    assert opened == [step["start_utc"] for step in subs]
    for told, block in zip(root.iter("subs"), plan.blocks, strict=True):
        assert (told.get("filter"), told.get("count")) == (block.filter, str(block.count))
        assert len(told) == block.count
        assert told.get("gain") == (None if block.gain is None else str(block.gain))


def test_xml_example_escapes_what_xml_must() -> None:
    name = "\"Ring\" & <Veil> 'n' more / ]]> é"
    visits = tuple(visit.model_copy(update={"target": name}) for visit in view().visits)
    root = ET.fromstring(render(read_template(XML), view().model_copy(update={"visits": visits})))
    assert {stay.get("target") for stay in root.findall("stay")} == {name}


def test_list_example_has_a_line_for_each_visit_and_block() -> None:
    written = render(read_template(LINES), view()).decode()
    lines = written.splitlines()
    assert [line.split()[0] for line in lines if line] == [
        "night",
        *(word for visit in view().visits for word in (visit.arrival, *["shoot"] * visit.blocks)),
        "end",
    ]
    shot = re.findall(r"^shoot (\S+) (\d+)x(\d+)s at=", written, re.MULTILINE)
    assert [(name, int(count), float(length)) for name, count, length in shot] == [
        (block.filter, block.count, block.exposure_s) for block in view().blocks
    ]


def test_page_of_templates_shows_what_the_list_example_writes() -> None:
    (shown,) = fences(TEMPLATES, "text", mark="list")
    assert render(read_template(LINES), view()).decode().startswith(shown)


def test_every_expression_of_the_page_of_templates_works(tmp_path: Path) -> None:
    """Those of the table, each filled for a block of a visit."""
    said = [
        cell.replace("\\|", "|")
        for cell in re.findall(r"^\| .* \| `(\{.*\})` \|$", text(TEMPLATES), re.MULTILINE)
    ]
    assert len(said) >= 10
    for expression in said:
        source = f"{{% set visit = visits[0] %}}{{% set block = blocks[1] %}}[{expression}]"
        assert filled(tmp_path, source) not in ("", "[]") or expression.startswith("{#")


def test_examples_are_linked_on_the_page_and_in_the_readme() -> None:
    for path in (XML, LINES):
        assert f"({path.name})" in text(TEMPLATES)
    assert "(plans/templates/README.md)" in text(ROOT / "README.md")
