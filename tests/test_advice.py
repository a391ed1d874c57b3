"""What findings and errors advise can be done: every key, table, option and command they quote is there."""

from __future__ import annotations

import ast
import importlib
import pkgutil
import re
import typing
from pathlib import Path

import pytest
from pydantic import BaseModel

import plumeline
from plumeline import cli
from plumeline.cli import _shared as shared
from plumeline.cli import main
from plumeline.fills import fill_names, find_fill
from plumeline.model import Finding
from plumeline.pipeline import single
from plumeline.plan import reading

SOURCE = Path(plumeline.__file__).parent


def advice():
    """Return ``(where, text)`` of every advice written in the source; what is filled in at run time is a blank."""

    def text(node):
        match node:
            case ast.Constant(value=str()):
                return node.value
            case ast.JoinedStr():
                return "".join(v.value if isinstance(v, ast.Constant) else "{}" for v in node.values)
            case ast.IfExp():
                return f"{text(node.body)} {text(node.orelse)}"
            case ast.BinOp():
                return text(node.left) + text(node.right)
        return ""

    found = []
    for path in sorted(SOURCE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                said = [k.value for k in node.keywords if k.arg == "what_to_do"]
                if isinstance(node.func, ast.Name) and node.func.id in ("Finding", "_note") and len(node.args) > 3:
                    said.append(node.args[-1] if node.func.id == "_note" else node.args[4])
                found += [(f"{path.name}:{node.lineno}", text(s)) for s in said]
    return [(where, said) for where, said in found if said.strip()]


def models_in(kind, seen):
    """Collect every table that a type of a plan leads to."""
    if isinstance(kind, type) and issubclass(kind, BaseModel) and kind not in seen:
        seen.add(kind)
        for field in kind.model_fields.values():
            models_in(field.annotation, seen)
    for inner in typing.get_args(kind):
        models_in(inner, seen)


def keys():
    """Return every key that a plan may hold."""
    seen = set()
    models_in(reading._PlanTable, seen)
    for name in fill_names():
        models_in(find_fill(name).settings, seen)
    out = {"kind", "of"}
    for model in seen:
        out |= {str(f.validation_alias or name) for name, f in model.model_fields.items()}
    return out


def commands():
    """Yield the name and the command of every file in the room of commands."""
    for found in pkgutil.iter_modules(cli.__path__):
        if not found.name.startswith("_"):
            yield found.name, importlib.import_module(f"plumeline.cli.{found.name}").command


ADVICE, KEYS, COMMANDS = advice(), keys(), dict(commands())
OPTIONS = {o for c in COMMANDS.values() for p in c.params for o in p.opts}


def test_there_is_much_advice():
    assert len(ADVICE) > 100
    assert {"spacing", "drawing", "close_gaps", "ties", "frame", "throat", "done", "travel"} <= KEYS
    assert {"--force", "--many", "--stitched", "--patch"} <= OPTIONS


@pytest.mark.parametrize(("where", "said"), ADVICE, ids=[where for where, _ in ADVICE])
def test_what_is_advised_is_there(where, said):
    for option in re.findall(r"--[a-z][a-z-]*", said):
        assert option in OPTIONS
    for name in re.findall(r"'plumeline ([a-z]+)", said):
        assert name in COMMANDS
    for key in re.findall(r"\b([a-z][a-z_.]*) = ", said):
        assert set(key.split(".")) <= KEYS | {"machine", "top", "batting"}
    for table in re.findall(r"\[([a-z]+)[.\]]", said):
        assert table in KEYS
    # the library's words for what no plan can say
    assert not re.search(r"\bpass(es)?\b|allow steps|\bjoining\b", said)


def alike(zone, figure, code="motif-scaled"):
    return Finding(code, "note", zone, f"leaf: drawn at 6 in, fitted to {figure} in", "Nothing.")


def test_what_many_spaces_have_is_one_line_with_a_count(capsys):
    shared.echo_findings([alike(f"star {k}", f"{k} 1/2") for k in range(1, 8)])
    out = capsys.readouterr().out
    assert out.count("note: ") == 1
    assert out.startswith(
        "note: 7 spaces (star 1; star 2; star 3 and 4 more): leaf: drawn at 6 in, fitted to 1 1/2 in "
        "(these figures are of star 1)\n    what to do: Nothing.\n"
    )


def test_what_is_not_alike_stays_apart(capsys):
    shared.echo_findings([alike("a", "3"), alike("b", "3", "other"), alike(None, "3"), alike(None, "4")])
    assert capsys.readouterr().out.count("note: ") == 4
    shared.echo_findings([alike("a", "3"), alike("a", "3")])
    assert capsys.readouterr().out.startswith("note: a: leaf: drawn at 6 in, fitted to 3 in (2 times)\n")


@pytest.mark.parametrize(("side", "said"), [("12", False), ("160", True)])
def test_a_fill_that_takes_long_is_said_before(monkeypatch, capsys, tmp_path, side, said):
    def stopped(zone, layers):
        err = capsys.readouterr().err
        assert ("shape: curl takes about" in err) is said
        raise KeyboardInterrupt

    monkeypatch.setattr(single, "fill_zone", stopped)
    with pytest.raises(SystemExit):
        main(["fill", "curl", "--square", side, "--to", str(tmp_path / "t.svg")])
