"""The documentation says what is there: every finding, fill, setting, command, format; every link; every example."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from plumeline.fills import fill_names

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "plumeline"
PAGES = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md"), *ROOT.glob("motifs/**/*.md")])
pages = pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(ROOT).as_posix())
fills = pytest.mark.parametrize("name", fill_names())


def text_of(*names):
    return ROOT.joinpath("docs", *names).read_text(encoding="utf-8")


def headings(text):
    """The headings of a page; lines within fenced blocks are none."""
    plain = re.sub(r"^```.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
    return re.findall(r"^(#+) (.+)$", plain, re.MULTILINE)


# ---- findings: collected from the source


def strings_in(node):
    return {n.value for n in ast.walk(node) if isinstance(n, ast.Constant) and isinstance(n.value, str)}


def name_of(call):
    return getattr(call.func, "id", None) or getattr(call.func, "attr", None)


def argument(call, place, name):
    given = {k.arg: k.value for k in call.keywords}
    return given.get(name, call.args[place] if place < len(call.args) else None)


def functions_of(tree):
    return [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)]


def calls_in(node):
    return [n for n in ast.walk(node) if isinstance(n, ast.Call)]


def findings_in(tree):
    """Code and possible severities of every finding that a module can make, straight or through a helper of its own."""
    makers = {}
    found = []
    for function in functions_of(tree):
        parameters = [a.arg for a in function.args.args if a.arg != "self"]
        defaults = dict(zip(reversed(parameters), reversed(function.args.defaults)))
        for call in calls_in(function):
            if name_of(call) != "Finding":
                continue
            code, severity = argument(call, 0, "code"), argument(call, 1, "severity")
            if isinstance(code, ast.Name) and code.id in parameters:
                makers[function.name] = (parameters, code.id, severity, defaults)
    for function in functions_of(tree):
        for call in calls_in(function):
            if name_of(call) == "Finding":
                code, severity = argument(call, 0, "code"), strings_in(argument(call, 1, "severity"))
                if isinstance(code, ast.Name) and function.name in makers:
                    continue
            elif name_of(call) in makers:
                parameters, wanted, severity, defaults = makers[name_of(call)]
                code = argument(call, parameters.index(wanted), wanted)
                if isinstance(severity, ast.Name):
                    given = argument(call, parameters.index(severity.id), severity.id)
                    severity = given if given is not None else defaults[severity.id]
                severity = strings_in(severity)
            else:
                continue
            found += [(said, frozenset(severity)) for said in codes_of(code, function)]
    return found


def codes_of(node, function):
    """The codes that an expression can be; a local name stands for what is assigned to it."""
    if isinstance(node, ast.Name):
        told = [
            assigned.value
            for assigned in ast.walk(function)
            if isinstance(assigned, ast.Assign) and any(getattr(t, "id", None) == node.id for t in assigned.targets)
        ]
        return set().union(*map(strings_in, told))
    return strings_in(node)


def all_findings():
    out = {}
    for path in sorted(SOURCE.rglob("*.py")):
        for code, severities in findings_in(ast.parse(path.read_text(encoding="utf-8"))):
            out[code] = out.get(code, frozenset()) | severities
    return out


def test_the_collector_finds_what_it_should():
    tree = ast.parse(
        "def straight(): return Finding('a-b', 'note', None, '', '')\n"
        "def named(): return Finding(code='c', severity='warning' if x else 'note', zone=None, text='', what_to_do='')\n"
        "def helper(self, code, text, severity='note'): return Finding(code, severity, None, text, '')\n"
        "def user(): helper('d', 'said'); self.helper('e', 'said', 'warning')\n"
        "def local():\n    code = ('f', 'g')[n]\n    helper(code, 'said')\n"
    )
    note, warning = frozenset({"note"}), frozenset({"warning"})
    assert set(findings_in(tree)) == {
        ("a-b", note),
        ("c", note | warning),
        ("d", note),
        ("e", warning),
        ("f", note),
        ("g", note),
    }


def test_every_finding_has_its_heading_and_every_heading_its_finding():
    told = re.findall(
        r"^### (\S+)\n((?:\*(?:note|warning|error)\.?\*(?: or )?)+)", text_of("findings.md"), re.MULTILINE
    )
    known = all_findings()
    assert sorted(h for level, h in headings(text_of("findings.md")) if level == "###") == sorted(known)
    assert {code: frozenset(re.findall(r"\w+", severity)) - {"or"} for code, severity in told} == known


def test_every_finding_says_what_to_do():
    for part in re.split(r"^### ", text_of("findings.md"), flags=re.MULTILINE)[1:]:
        assert re.search(r"\*\*What to\s+do:\*\*\s\w", part), part
