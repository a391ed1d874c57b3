"""How many small wrong changes to the code the tests catch.

Run by hand, after two runs that note which test runs which line, the approved figures case by case (`by_case.py`)::

    coverage run --branch --source=src/plumeline --data-file=lines.data -m pytest  # dynamic_context = test_function
    PYTHONPATH=src:benchmarks coverage run --append ... -m pytest -p by_case tests/test_approved.py  # without it
    python benchmarks/mutants.py lines.data [--sample 60] [--first 0] [--seed 1] [--room fills]

A sample of places in functions is drawn, one wrong change made at each in a copy of the source (a comparison turned, a
sign, ``and`` for ``or``, a number, a condition denied, ``min`` for ``max``). Of the tests that run that line up to
``TESTS`` are called, those that run the fewest lines, and up to ``CASES`` of the approved cases, from narrow to wide;
the cases first, for they are quick. A change is caught when one fails or hangs. Some changes change nothing that can
be seen; they count as missed. ``--first`` begins later in the sample, to try it in pieces.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import re
import resource
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate, count
from pathlib import Path

from coverage import CoverageData

ROOT = Path(__file__).parent.parent
SOURCE = ROOT / "src" / "plumeline"
TESTS = 16
CASES = 24
SECONDS = 240
"""Of processor time: a change that needs more hangs. What waits for ever is ended after ten times as long."""

APPROVED = "test_approved"
SECONDS_OF_CHANGES = count(1_000_000_000)

TURNED = {
    ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==", ast.In: "not in",
    ast.NotIn: "in", ast.Is: "is not", ast.IsNot: "is",
}  # fmt: skip
SIGNS = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.FloorDiv: "*", ast.BitAnd: "|", ast.BitOr: "&"}


@dataclass(frozen=True)
class Mutant:
    """One wrong change: in a file, at a line, from characters ``begin`` to ``end``, to other text."""

    file: Path
    line: int
    begin: int
    end: int
    text: str

    def told(self, source: str) -> str:
        """Return what is changed in words."""
        was = " ".join(source[self.begin : self.end].split())
        return f"{self.file.relative_to(SOURCE)}:{self.line}: {was!r} -> {self.text!r}"


def mutants(file: Path) -> Iterator[Mutant]:
    """Yield every wrong change of one file that lies in a function."""
    source = file.read_text(encoding="utf-8")
    rows = [f"{row}\n" for row in source.split("\n")]
    starts = [0, *accumulate(len(row) for row in rows)]

    def place(node: ast.AST, end: bool = False) -> int:
        line, column = (node.end_lineno, node.end_col_offset) if end else (node.lineno, node.col_offset)
        return starts[line - 1] + len(rows[line - 1].encode()[:column].decode())  # columns count bytes

    def between(left: ast.AST, right: ast.AST, text: str) -> Mutant:
        begin, end = place(left, end=True), place(right)
        gap = source[begin:end]
        found = re.search(r"\bnot\s+in\b|\bis\s+not\b|\bin\b|\bis\b|\band\b|\bor\b|[<>=!]=|//|[<>+\-*/&|]", gap)
        return Mutant(file, left.end_lineno, begin + found.start(), begin + found.end(), text)

    for function in ast.walk(ast.parse(source)):
        if not isinstance(function, ast.FunctionDef):
            continue
        inside = [n for statement in function.body for n in ast.walk(statement)]
        types = {id(n) for node in inside if (told := getattr(node, "annotation", None)) for n in ast.walk(told)}
        for node in (n for n in inside if id(n) not in types):  # types are never run
            if isinstance(node, ast.Compare) and len(node.ops) == 1:
                yield between(node.left, node.comparators[0], TURNED[type(node.ops[0])])
            elif isinstance(node, ast.BinOp) and type(node.op) in SIGNS:
                yield between(node.left, node.right, SIGNS[type(node.op)])
            elif isinstance(node, ast.BoolOp):
                yield between(node.values[0], node.values[1], "or" if isinstance(node.op, ast.And) else "and")
            elif isinstance(node, (ast.If, ast.IfExp)):
                begin, end = place(node.test), place(node.test, end=True)
                yield Mutant(file, node.test.lineno, begin, end, f"not ({source[begin:end]})")
            elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
                changed = repr(node.value + 1 if isinstance(node.value, int) else node.value * 1.5 + 0.1)
                yield Mutant(file, node.lineno, place(node), place(node, end=True), changed)
            elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("min", "max"):
                other = "max" if node.func.id == "min" else "min"
                yield Mutant(file, node.lineno, place(node.func), place(node.func, end=True), other)


def lines_run(data: CoverageData) -> Counter[str]:
    """Return how many lines each test runs."""
    return Counter(
        name for file in data.measured_files() for names in data.contexts_by_lineno(file).values() for name in names
    )


def tests_of(data: CoverageData, mutant: Mutant, measured: Path, size: Counter[str]) -> list[str]:
    """Return the tests that run the line of a mutant, as the command line of pytest names them; narrow ones first."""
    by_line = data.contexts_by_lineno(str(measured / mutant.file.relative_to(ROOT)))
    here = by_line.get(mutant.line, [])
    if not any(here):  # run as the module is loaded, before any test: then those that run anything of it
        here = [name for names in by_line.values() for name in names]
    names = sorted({name for name in here if "test_" in name and "." in name}, key=lambda n: (size[n], n))
    cases = [name for name in names if "::" in name]
    others = [named for name in names if "::" not in name and (named := function_of(name))]
    return spread(cases) + others[:TESTS]


def function_of(name: str) -> str:
    """Return how the command line of pytest names a test function; empty for approved cases and methods of classes."""
    module, function = name.split(".")[-2:]
    file = ROOT / "tests" / f"{module}.py"
    there = file.is_file() and f"\ndef {function}(" in file.read_text(encoding="utf-8")
    return f"tests/{module}.py::{function}" if there and module != APPROVED else ""


def spread(cases: list[str]) -> list[str]:
    """Return up to ``CASES`` cases, evenly taken from the narrowest to the widest."""
    many = min(len(cases), CASES)
    return [cases[round(place * (len(cases) - 1) / max(many - 1, 1))] for place in range(many)]


def most_seconds() -> None:
    """Let the system end this process when it has used up its time."""
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))


def caught(mutant: Mutant, tests: list[str], tree: Path) -> str:
    """Make the change in a copy of the project and return the test that fails, or that it hangs; empty: none does."""
    file = tree / mutant.file.relative_to(ROOT)
    source = file.read_text(encoding="utf-8")
    file.write_text(source[: mutant.begin] + mutant.text + source[mutant.end :], encoding="utf-8")
    # what was compiled before is known by a file's second and size: no two changes may have the same second
    second = next(SECONDS_OF_CHANGES)
    os.utime(file, (second, second))
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:randomly", "-p", "no:cacheprovider", *tests]
    environment = {**os.environ, "PYTHONPATH": str(tree / "src"), "PYTHONPYCACHEPREFIX": str(tree / ".compiled")}
    try:
        done = subprocess.run(
            command,
            cwd=tree,
            env=environment,
            timeout=10 * SECONDS,
            capture_output=True,
            check=False,
            text=True,
            preexec_fn=most_seconds,
        )
    except subprocess.TimeoutExpired:
        return "hangs"
    finally:
        file.write_text(source, encoding="utf-8")
    if done.returncode == 0:
        return ""
    failed = re.search(r"^(?:FAILED|ERROR) (.*?)(?: - .*)?$", done.stdout, re.MULTILINE)
    return failed[1] if failed else f"ends with {done.returncode}"


def main() -> int:
    """Draw the sample, try each, print what was caught and what was missed."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("data")
    asked.add_argument("--sample", type=int, default=60)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--room", default="")
    given = asked.parse_args()
    data = CoverageData(given.data)
    data.read()
    measured = next(Path(f) for f in data.measured_files() if f.endswith("src/plumeline/units.py")).parents[2]
    files = [f for f in sorted((SOURCE / given.room).rglob("*.py")) if "static" not in f.parts]
    everything = [m for f in files for m in mutants(f)]
    random.Random(given.seed).shuffle(everything)
    size = lines_run(data)
    missed, untested, tried = [], 0, 0
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        shutil.copytree(ROOT, tree, ignore=shutil.ignore_patterns(".git", "outputs", ".*_cache", "__pycache__"))
        for mutant in everything[given.first : given.first + given.sample]:
            tests = tests_of(data, mutant, measured, size)
            tried += 1
            untested += not tests
            hit = caught(mutant, tests, tree) if tests else ""
            told = mutant.told(mutant.file.read_text(encoding="utf-8"))
            missed += [] if hit else [told]
            print(f"{'caught' if hit else 'MISSED'} ({len(tests)} tests): {told} {hit}", flush=True)
    print(f"{tried - len(missed)} of {tried} caught of {len(everything):,}; {untested} on lines that no test runs")
    return 0


if __name__ == "__main__":
    sys.exit(main())
