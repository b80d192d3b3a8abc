"""Templates that mean harm, and what is said of each; a plan for templates to be filled with."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from optimizer.export.json_file import read_json
from optimizer.models.shots import AuditReport
from optimizer.views.models import PlanView
from optimizer.views.view import view_of
from tests.support.checks import there
from tests.support.docs_files import PLANS, stored_list

WORK = "the template asks for more work than it may; loop over visits, blocks or steps once"
BROKE = (
    "the template broke down the process that renders it; most likely it nests too deep or takes too much memory: "
    "let it do less at once"
)
STOPPED = "the template is not done after 4 s, and was stopped; let it do less"
LONG = "the template writes more than 20 MB; let it write less"
ALONE = (
    "a template stands alone: include, import and extends find nothing; write here what the other file holds"
)
DEEP = "recursion limit exceeded; mend this line"
NESTED = "template exceeds maximum recursion limits; mend this line"
NAMES = "; `darkfill export SHOTS --as json -o -` shows all names"
NO_CALL = " is unknown; mend this line"
NO_METHOD = "; use a filter in its place, as in {{ name|upper }}"
IN_LOOP = "{% for a in range(100000) %}{% for b in range(100000) %}"
ENDED = "{% endfor %}{% endfor %}"
TWICE = (
    "{% set ns = namespace(t=START) %}{% for i in range(100) %}{% set ns.t = NEXT %}{% endfor %}{{ ns.t }}"
)
MACRO = "{% macro f(n) %}BODY{% endmacro %}{{ f(30) }}"


@dataclass(frozen=True)
class Hostile:
    """A template and the sentences, one of which is said of it; `line` is the one that is named.

    Where several are given, the system decides which limit comes first; those of the whole process name no
    line. A slow one takes a second or runs until it is stopped.
    """

    name: str
    text: str
    said: tuple[str, ...]
    line: int | None = 1
    slow: bool = False

    def told(self, file: object) -> list[str]:
        """What may stand on stderr."""
        lines = [None if said in (BROKE, STOPPED, LONG) else self.line for said in self.said]
        places = [f"{file}" if line is None else f"{file}:{line}" for line in lines]
        return [f"{place}: {said}\n" for place, said in zip(places, self.said, strict=True)]


def _hostile(name: str, text: str, *said: str, line: int | None = 1, slow: bool = False) -> Hostile:
    return Hostile(name, text, said, line, slow)


HOSTILE = (
    # loops
    _hostile("empty loops", IN_LOOP + ENDED, WORK),
    _hostile("printing loops", IN_LOOP + "{{ b }}" + ENDED, WORK, slow=True),
    _hostile("range without end", "{% for i in range(0, 1, 0) %}x{% endfor %}", "cannot create range with step of 0; mend this line"),
    _hostile("range of a quintillion", "{% for i in range(10**18) %}x{% endfor %}", "range has too many elements; mend this line"),
    _hostile("search in a loop", "{% for i in range(100000) %}{{ i in range(100000)|list }}{% endfor %}", WORK),
    _hostile("loop that calls itself", "{% for a in [1] recursive %}{{ loop([1]) }}{% endfor %}", DEEP),
    # memory
    _hostile("list of lists", "{{ [[1]*100000]*100000 }}", BROKE, STOPPED, slow=True),
    _hostile("list of lists as JSON", "{{ ([[1]*100000]*100000)|tojson }}", BROKE, STOPPED, slow=True),
    _hostile("lists compared", "{{ ([[1]*100000]*100000) == ([[1]*100000]*100000) }}", STOPPED, slow=True),
    _hostile("list that doubles", TWICE.replace("START", "[1]").replace("NEXT", "ns.t + ns.t"), BROKE, STOPPED, slow=True),
    _hostile("list that holds itself twice", TWICE.replace("START", "[1]").replace("NEXT", "[ns.t, ns.t]"), BROKE, STOPPED, slow=True),
    _hostile("text that doubles", TWICE.replace("START", "'a'").replace("NEXT", "ns.t ~ ns.t"), WORK, BROKE, STOPPED, LONG, slow=True),
    _hostile("text a billion long", "{{ 'a' * 1000000000 }}", WORK),
    _hostile("text a million long, often", "{% for i in range(100000) %}{{ 'a' * 1000000 }}{% endfor %}", BROKE, STOPPED, LONG, WORK, slow=True),
    _hostile("too much output", "{{ 'a' * 30000000 }}", LONG),
    # filters
    _hostile("join", "{{ (['a' * 1000] * 1000000)|join('b' * 1000) }}", BROKE, STOPPED, LONG, slow=True),
    _hostile("replace", "{{ ('a' * 100000)|replace('a', 'b' * 100000) }}", WORK),
    _hostile("indent", "{{ ('a\n' * 100000)|indent(100000) }}", WORK, line=2),
    _hostile("indented JSON", "{{ plan|tojson(1000000000) }}", BROKE, STOPPED, LONG, slow=True),
    _hostile("batch", "{{ [1]|batch(2000000000, 'x') }}", WORK),
    _hostile("slice", "{{ [1]|slice(2000000000) }}", WORK),
    _hostile("bytes written as percents", "{{ ('é' * 4000000)|urlencode }}", LONG, slow=True),
    # numbers and format strings
    _hostile("power of powers", "{{ 10**10**10 }}", "unable to calculate 10000000000 ** 10; mend this line"),
    _hostile("number of 60,000 digits", "{{ " + "9" * 60_000 + " }}", "invalid integer (too large); mend this line"),
    _hostile("width of a billion", "{{ '%999999999d'|format(1) }}", WORK),
    _hostile("a billion decimals", "{{ '%.999999999f'|format(1.5) }}", WORK),
    _hostile("attribute in a format string", "{{ '{0.__class__}'.format(plan) }}", "string has no method named format" + NO_METHOD),
    _hostile("key that cannot be one", "{{ {[1]: 2} }}", "unhashable type: 'list'; mend this line", line=None),
    # depth
    _hostile("20,000 nested 1+", "{{ " + "1+" * 20_000 + "1 }}", BROKE, NESTED),
    _hostile("20,000 nested brackets", "{{ " + "1+(" * 10_000 + "1" + ")" * 10_000 + " }}", NESTED),
    _hostile("60,000 minus signs", "{{ " + "-" * 60_000 + "1 }}", BROKE, NESTED),
    _hostile("30,000 nested lists", "{{ " + "[" * 30_000 + "]" * 30_000 + " }}", NESTED),
    _hostile("2,000 nested ifs", "{% if true %}" * 2000 + "{% endif %}" * 2000, NESTED),
    _hostile("list as deep as a well", TWICE.replace("100", "90000").replace("START", "[1]").replace("NEXT", "[ns.t]"), BROKE),
    _hostile("a thing that holds itself", "{% set ns = namespace() %}{% set ns.t = ns %}{{ ns }}", BROKE),
    _hostile("macro without end", MACRO.replace("BODY", "{{ f(n) }}"), DEEP),
    _hostile("macro that doubles", MACRO.replace("BODY", "{% if n %}{{ f(n-1) }}{{ f(n-1) }}{% endif %}"), WORK, slow=True),
    _hostile("block in itself", "{% block a %}{{ self.a() }}{% endblock %}", DEEP),
    # walks out of the data
    _hostile("attribute walk", "{{ plan.__class__.__mro__[1].__subclasses__() }}", "`plan.__class__` is undefined" + NAMES),
    _hostile("the same by brackets", "{{ plan['__class__'] }}", "`plan['__class__']` is undefined" + NAMES),
    _hostile("the same by a filter", "{{ plan|attr('__class__') }}", "undefined value" + NAMES),
    _hostile("globals of a filter of ours", "{{ join.__globals__ }}", "`join` is undefined" + NAMES),
    _hostile("method of a live object", "{{ plan.pop('site') }}", "map has no method named pop" + NO_METHOD),
    _hostile("state of the engine", "{{ debug() }}", "debug" + NO_CALL),
    # files
    _hostile("open", "{{ open('/etc/passwd') }}", "open" + NO_CALL),
    _hostile("include of a file", "\n{% include '/etc/passwd' %}", ALONE, line=2),
    _hostile("include of itself", "{% include 'template' %}", ALONE),
    _hostile("import", "{% import 'os' as os %}", ALONE),
    _hostile("from", "{% from 'os' import system %}", ALONE),
    _hostile("extends", "{% extends '../other' %}", ALONE),
    # broken off
    _hostile("loop without end tag", "\n{% for a in blocks %}", "unexpected end of input, expected end of block; mend this line", line=2),
    _hostile("value without end", "{{ plan.site", "unexpected end of input, expected end of variable block; mend this line"),
    _hostile("remark without end", "{# no end", "unexpected end of comment; mend this line"),
    # signs that drive a terminal
    _hostile("escape in a name that is not there", "{{ plan['\\u001b[31m\\n'] }}", "`plan['\\x1b[31m\\n']` is undefined" + NAMES),
    _hostile("right-to-left in a name that is not there", "{{ plan['\u202e'] }}", "`plan['\\u{202e}']` is undefined" + NAMES, "`plan['\\u202e']` is undefined" + NAMES),
    _hostile("escape in the output", "\n{{ '\\u001b[31m' }}", "the template writes the control character U+001B in line 2 of its output; leave it out", line=None),
    _hostile("escape in the template", "a\n\x1b[31m", "there is the control character U+001B; remove it", line=2),
    _hostile("NUL", "a\n\nb\x00", "there is the control character U+0000; remove it", line=3),
    _hostile("half a character", "{{ '\\ud800' }}", "bad string escape; mend this line"),
)  # fmt: skip


@lru_cache(maxsize=1)
def audited_view() -> tuple[AuditReport, PlanView]:
    """The first night of plans/ with its flips, and the audit that its list carries."""
    shots = read_json(stored_list(PLANS[0]))
    return there(shots.audit), view_of(shots)
