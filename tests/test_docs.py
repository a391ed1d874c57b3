"""The documentation says what is there: every finding, fill, setting, command, format; every link; every example."""

from __future__ import annotations

import ast
import doctest
import importlib
import inspect
import pkgutil
import re
import sys
import textwrap
from dataclasses import fields
from pathlib import Path

import pytest

import plumeline
from plumeline.cli import COMMANDS
from plumeline.codes import FindingCode
from plumeline.errors import InputError
from plumeline.fills import fill_names, find_fill
from plumeline.model import Machine
from plumeline.output import writer_names
from plumeline.pipeline.layers import check_fills
from plumeline.pipeline.result import ShownRow, Totals
from plumeline.pipeline.writing import Quilt
from plumeline.plan import parse_plan
from plumeline.plan.messages import known_keys
from plumeline.review import ZoneRow
from plumeline.sitting import Sitting

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
    said = {n.value for n in ast.walk(node) if isinstance(n, ast.Constant) and isinstance(n.value, str)}
    named = [n for n in ast.walk(node) if isinstance(n, ast.Attribute) and getattr(n.value, "id", "") == "FindingCode"]
    return said | {FindingCode[n.attr].value for n in named}


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
            if name_of(call) == "Finding" and [k.arg for k in call.keywords] == [None]:
                continue  # one that was made before, read back from a file
            if name_of(call) == "Finding":
                code, severity = argument(call, 0, "code"), strings_in(argument(call, 1, "severity"))
                if isinstance(code, ast.Name) and function.name in makers:
                    continue
            elif name_of(call) in makers:
                parameters, wanted, severity, defaults = makers[name_of(call)]
                code = argument(call, parameters.index(wanted), wanted) or defaults.get(wanted)
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
    assert node is not None, f"{function.name}: say the code of the finding where it is made"
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
        "def named(): return Finding(code='c', severity='warning' if x else 'note', zone=None, text='', way='')\n"
        "def helper(self, code, text, severity='note'): return Finding(code, severity, None, text, '')\n"
        "def user(): helper('d', 'said'); self.helper('e', 'said', 'warning')\n"
        "def noted(text, code='h'): return Finding(code, 'note', None, text, '')\n"
        "def other(): noted('said'); noted('said', 'i')\n"
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
        ("h", note),
        ("i", note),
    }


def test_every_finding_has_its_heading_and_every_heading_its_finding():
    told = re.findall(
        r"^### (\S+)\n((?:\*(?:note|warning|error)\.?\*(?: or )?)+)", text_of("findings.md"), re.MULTILINE
    )
    known = all_findings()
    assert sorted(h for level, h in headings(text_of("findings.md")) if level == "###") == sorted(known)
    assert set(known) == set(FindingCode)
    assert {code: frozenset(re.findall(r"\w+", severity)) - {"or"} for code, severity in told} == known


def test_every_finding_says_what_to_do():
    for part in re.split(r"^### ", text_of("findings.md"), flags=re.MULTILINE)[1:]:
        assert re.search(r"\*\*What to\s+do:\*\*\s\w", part), part


# ---- generated pages


@pytest.fixture(scope="module")
def make_docs():
    sys.path.insert(0, str(ROOT / "docs"))
    try:
        return importlib.import_module("make_docs")
    finally:
        sys.path.remove(str(ROOT / "docs"))


REMAKE = "run 'python docs/make_docs.py', and with --pictures when a fill is new"


def test_the_page_of_commands_is_what_the_commands_say(make_docs):
    assert text_of("commands.md") == make_docs.commands_page(), REMAKE


def test_the_page_of_fills_is_what_the_settings_models_say(make_docs):
    assert text_of("fills", "README.md") == make_docs.fills_page(), REMAKE


def test_every_command_has_its_heading_every_option_its_row():
    text = text_of("commands.md")
    assert [h for level, h in headings(text) if level == "##"] == list(COMMANDS)
    for name in COMMANDS:
        part = re.split(rf"^## {name}$", text, flags=re.MULTILINE)[1].split("\n## ")[0]
        command = importlib.import_module(f"plumeline.cli.{name}").command
        for option in (p for p in command.params if p.param_type_name == "option"):
            assert re.search(rf"^\| `{option.opts[-1]}[ `].*\| \S.* \|.*\|$", part, re.MULTILINE), (name, option.name)


@fills
def test_every_fill_has_its_heading_every_setting_its_row(name):
    text = text_of("fills", "README.md")
    assert headings(text).count(("##", name)) == 1, REMAKE
    part = re.split(rf"^## {re.escape(name)}$", text, flags=re.MULTILINE)[1].split("\n## ")[0]
    settings = find_fill(name).settings
    for key, field in known_keys(settings).items():
        if not field.exclude:
            assert re.search(rf"^\| `{key}` \| \S.* \| \S.* \| \S.* \|$", part, re.MULTILINE), (key, REMAKE)


@fills
def test_every_fill_has_a_small_picture(name):
    picture = ROOT / "docs" / "fills" / "pictures" / f"{name}.png"
    assert picture.is_file(), REMAKE
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert picture.stat().st_size <= 60_000


def test_no_picture_is_left_of_a_fill_that_is_gone():
    assert {p.stem for p in (ROOT / "docs" / "fills" / "pictures").iterdir()} == set(fill_names())


def test_limits_and_choices_are_said_in_words(make_docs):
    from plumeline.fills.channel import ChannelSettings
    from plumeline.fills.rays import RaysSettings

    def said(model, name):
        return make_docs.may_be(name, model.model_fields[name])

    assert said(ChannelSettings, "angle_deg") == "-360 to 360"
    assert said(ChannelSettings, "edge") == "`half`, `full`"
    assert said(ChannelSettings, "run_on") == "`true`, `false`"
    assert said(ChannelSettings, "spacing_mm") == "a length, 0.5 mm or more"
    assert said(RaysSettings, "at") == "`middle`, `corner` or a point `[x, y]`"
    assert said(RaysSettings, "count") == "2 to 2000"


# ---- pages written by hand


def test_every_format_has_its_heading():
    told = [h for level, h in headings(text_of("formats.md")) if level == "##" and h.islower()]
    assert told == list(writer_names()), "docs/formats.md: a heading for each format, in the registry's order"


@pytest.mark.parametrize(("table", "row"), [("totals", Totals), ("a row of `zones`", ZoneRow), ("shown", ShownRow)])
def test_every_figure_of_the_report_has_its_row(table, row):
    told = text_of("formats.md").split(f"\n| {table if ' ' in table else f'`{table}`'} | |\n")[1].split("\n\n")[0]
    keys = re.findall(r"`(\w+)`", "\n".join(line.split("|")[1] for line in told.splitlines()))
    assert sorted(keys) == sorted(field.name for field in fields(row))


def test_every_key_of_the_plan_has_its_row():
    text = text_of("plan.md") + text_of("zones.md")
    rows = set(re.findall(r"^\| `([\w.]+)` \|", text, re.MULTILINE))
    for table, model in plan_tables().items():
        for key in known_keys(model):
            assert f"{table}{key}" in rows, f"{table}{key}"


def test_every_key_of_a_division_has_its_row():
    from plumeline.plan import zone_tables

    divisions = [m for m in vars(zone_tables).values() if isinstance(m, type) and m.__name__.endswith("Division")]
    keys = {key for model in divisions for key in known_keys(model)}
    assert set(re.findall(r"^\| `divide\.(\w+)` \|", text_of("zones.md"), re.MULTILINE)) == keys


def plan_tables():
    from plumeline.plan import guide_tables, measured_tables, reading, top_tables, zone_tables

    return {
        "": reading._PlanTable,
        "top.": top_tables.TopTable,
        "top.blocks.": top_tables.BlocksTable,
        "top.blocks.pieces.": top_tables.PiecesTable,
        "top.blocks.sashing.": top_tables.SashingTable,
        "top.blocks.borders.": top_tables.BorderTable,
        "top.measured.": top_tables.MeasuredTable,
        "measured.": measured_tables.MeasuredPieceTable,
        "straight.": measured_tables.StraightLimitsTable,
        "machine.": top_tables.MachineTable,
        "fabrics.": top_tables.FabricTable,
        "prices.": top_tables.PricesTable,
        "prices.fills.": top_tables.RateTable,
        "batting.": top_tables.BattingTable,
        "batting.sample.": top_tables.SampleTable,
        "thread.": top_tables.ThreadTable,
        "guide.": guide_tables.GuideTable,
        "guide.arc.": guide_tables.ArcTable,
        "guide.wave.": guide_tables.WaveTable,
        "guide.spine.": guide_tables.SpineTable,
        "zone.": zone_tables.ZoneTable,
        "shape.": zone_tables.ShapeTable,
        "fences.": zone_tables.FenceTable,
        "leave_open.": zone_tables.LeaveOpenTable,
    }


@pages
def test_links_lead_somewhere(page):
    plain = re.sub(r"^```.*?^```", "", page.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)
    for target in re.findall(r"\]\(([^)\s]+)\)", plain):
        if re.match(r"\w+:|outputs/", target):  # outputs/ is made by the demo, and not there in every copy
            continue
        file, _, anchor = target.partition("#")
        path = (page.parent / file).resolve() if file else page
        assert path.exists(), target
        if anchor:
            known = {re.sub(r"[^\w\- ]", "", h).lower().replace(" ", "-") for _, h in headings(path.read_text("utf-8"))}
            assert anchor in known, target


# ---- examples


def blocks_of(page, language):
    found = re.findall(rf"^```{language}\n(.*?)^```", page.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    return [(f"{page.relative_to(ROOT).as_posix()} {n}", text) for n, text in enumerate(found, 1)]


TOML = [example for page in PAGES for example in blocks_of(page, "toml")]


@pytest.mark.parametrize(("where", "text"), TOML, ids=[where for where, _ in TOML])
def test_every_plan_in_the_pages_can_be_read(where, text):
    try:
        plan = parse_plan(whole_plan(text), file=where)
        check_fills(plan)
    except InputError as error:
        pytest.fail(str(error))


def whole_plan(text):
    """A part of a plan, as pages show it, with what it leaves out: the top, and the zone round a lone fill."""
    tables = re.findall(r"^\[+([\w.]+)", text, re.MULTILINE)
    if not tables:  # keys of a zone, or of a fill
        before = "" if "kind" not in text.split("=")[0] else "[zone.fill]\n"
        return whole_plan(f'[[zone]]\nname = "zone"\npatches = ["*"]\n{before}{text}')
    if not any(t == "zone" for t in tables) and any(t.startswith("zone.") for t in tables):
        parts = sorted({t.split(".")[2] for t in tables if t.count(".") > 1})
        names = [f'{{ by = "frame", as = "{part}" }}' for part in parts if part != "rest"]
        divide = f"divide = [{', '.join(names)}]\n" if parts else ""
        text = f'[[zone]]\nname = "zone"\npatches = ["*"]\n{divide}{text}'
    text = text.replace("[zone]\n", '[[zone]]\nname = "zone"\npatches = ["*"]\n') if "\n[zone]" in f"\n{text}" else text
    if "top" not in {t.split(".")[0] for t in tables}:
        text += '\n[top]\ndrawing = "top.svg"\n'
    return text


def test_every_command_line_in_the_pages_is_a_command():
    lines = [line for page in PAGES for _, text in blocks_of(page, "sh") for line in text.splitlines()]
    called = [m for line in lines for m in re.findall(r"(?:^|[\s/])plumeline (\w+)(.*?)(?:#|$|&&)", line)]
    assert len(called) > len(COMMANDS)
    for name, rest in called:
        command = importlib.import_module(f"plumeline.cli.{name}").command
        known = {option for p in command.params for option in p.opts} | {"--help"}
        assert set(re.findall(r"(?<=\s)--[\w-]+", rest)) <= known, (name, rest)


CODE = re.compile(r"^```(python|pycon)\n(.*?)^```", re.MULTILINE | re.DOTALL)
WITH_CODE = [page for page in PAGES if CODE.search(page.read_text(encoding="utf-8"))]
HERS = {
    "paths": [[(0, 0), (500, 0)], [(500, 10), (0, 10)]],
    "seams": [[(500, 0), (500, 10)]],
    "outline": [(0, 0), (300, 0), (300, 300), (0, 300)],
}
"""What examples take as given."""


@pytest.mark.parametrize("page", WITH_CODE, ids=lambda page: page.name)
def test_every_python_example_runs(page, tmp_path, monkeypatch):
    from plumeline.demo import block_files

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("plumeline.pipeline.files.pictures_of", lambda _quilt, _stem: {})  # none is wanted here
    for name, text in block_files().items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    names = {"__name__": "example", **HERS, "lines": plumeline.join(HERS["paths"][:1]), "machine": Machine()}
    runner = doctest.DocTestRunner()
    for language, code in CODE.findall(page.read_text(encoding="utf-8")):
        if language == "python":
            exec(compile(code, page.name, "exec"), names)
        else:
            shown = doctest.DocTestParser().get_doctest(code, {}, page.name, None, 0)
            shown.globs = names
            runner.run(shown, clear_globs=False)
    assert not runner.summarize(verbose=False).failed


MODULES = sorted(m.name for m in pkgutil.walk_packages(plumeline.__path__, "plumeline."))
WITH_EXAMPLES = [
    name for name in MODULES if ">>>" in Path(str(importlib.util.find_spec(name).origin)).read_text("utf-8")
]


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_in_docstrings(name):
    failed, tried = doctest.testmod(importlib.import_module(name))
    assert tried
    assert not failed


ROOMS = ["plumeline", *(m.name for m in pkgutil.walk_packages(plumeline.__path__, "plumeline.") if m.ispkg)]
HANDED_ON = sorted(
    {
        getattr(importlib.import_module(room), name)
        for room in ROOMS
        for name in getattr(importlib.import_module(room), "__all__", ())
        if inspect.isfunction(getattr(importlib.import_module(room), name))
    },
    key=lambda function: (function.__module__, function.__qualname__),
)
"""The functions that one room hands to another."""

OF_A_SCRIPT = [
    method
    for kind in (Quilt, Sitting)
    for name, method in sorted(vars(kind).items())
    if inspect.isfunction(method) and not name.startswith("_") and "see `change`" not in str(method.__doc__)
]
"""The methods of what a script works with; changes of a sitting take, give and refuse what `Sitting.change` does."""

SECTION = re.compile(r"^(\w+)\n-+\n(.*?)(?=^\w+\n-+\n|\Z)", re.MULTILINE | re.DOTALL)
ENTRY = re.compile(r"^\*{0,2}(\w[\w, ]*?)(?: : \S.*)?\n    \S", re.MULTILINE)


def sections_of(function):
    return dict(SECTION.findall(f"{inspect.getdoc(function)}\n"))


def raises_itself(function):
    """Whether a function raises something in its own body, not only in functions within it."""
    body = ast.parse(textwrap.dedent(inspect.getsource(function))).body[0]
    inner = {n for f in ast.walk(body) if isinstance(f, ast.FunctionDef) and f is not body for n in ast.walk(f)}
    return any(isinstance(n, ast.Raise) and n.exc is not None and n not in inner for n in ast.walk(body))


def test_rooms_hand_on_what_the_next_test_looks_at():
    assert len(HANDED_ON) > 250
    assert {plumeline.stitch, plumeline.join, plumeline.fill, plumeline.read_plan} <= set(HANDED_ON)


@pytest.mark.parametrize(
    "function", [*HANDED_ON, *OF_A_SCRIPT], ids=lambda f: f"{f.__module__.removeprefix('plumeline.')}.{f.__qualname__}"
)
def test_a_function_handed_on_says_what_it_takes_gives_and_refuses(function):
    sections, signature = sections_of(function), inspect.signature(function)
    known = [name for name in signature.parameters if name != "self"]
    told = [name for names in ENTRY.findall(sections.get("Parameters", "")) for name in names.split(", ")]
    assert sorted(told) == sorted(known), "Parameters"
    gives = str(signature.return_annotation) != "None"
    assert gives == bool({"Returns", "Yields"} & sections.keys()), "Returns"
    assert not raises_itself(function) or "Raises" in sections, "Raises"
    order = [name for name in sections if name in ORDER]
    assert order == sorted(order, key=ORDER.index)


ORDER = ["Parameters", "Returns", "Yields", "Raises", "Notes", "References", "Examples"]
"""Of sections in a docstring, as NumPy has it."""


@pytest.mark.parametrize("name", ["fill", "join", "needle_points", "read_plan", "stitch"])
def test_what_a_script_calls_has_an_example(name):
    assert name in plumeline.__all__
    assert ">>> " in sections_of(getattr(plumeline, name))["Examples"]
