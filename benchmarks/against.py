"""The whole table of time, memory and size against another commit, side by side in one run.

Run by hand: ``python benchmarks/against.py [--runs 5] [--base 649afae] [--only WORD ...]``. The base is checked out
into a temporary worktree; both trees do each job in turn, each time in a process of its own, with the Python that runs
this. Printed: medians of processor time and of the clock, the largest process, and whether the bytes of what came out
are equal. ``figures`` of a sample are compared by their values.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BASE = "649afae"

DRAW = """
import hashlib, json, statistics, sys, time
import plumeline
kind, outlines, settings, runs = json.loads(sys.argv[1])
took = []
for outline in outlines:
    least = []
    for _ in range(runs):
        begun = time.process_time()
        filled = plumeline.fill(kind, outline, **settings)
        least.append(time.process_time() - begun)
    took.append(min(least))
    digest = hashlib.sha256(b"".join(s.path.tobytes() for s in filled.strokes)).hexdigest()
print(json.dumps({"seconds": statistics.median(took), "digest": digest}))
"""
"""Fills shapes within one process: the median over the shapes of the least of some runs, which is the warm one."""

ZONES = """
import json, sys
sys.path.insert(0, sys.argv[2])
from shapes import random_regions
made = random_regions(int(sys.argv[1]), seed=4, holes=False)
print(json.dumps([[list(map(float, p)) for p in r.exterior.coords] for r in made]))
"""


@dataclass
class Took:
    """What one run took, and a digest of what came out."""

    cpu_s: float
    clock_s: float
    peak_mb: float
    digest: str = ""


@dataclass
class Case:
    """One job: the arguments of Python, what the folder must hold afterwards, and the goal."""

    name: str
    arguments: Sequence[str]
    compare: str = ""
    goal: str = ""
    within: bool = False
    took: dict[str, list[Took]] = field(default_factory=lambda: {"base": [], "now": []})


def square(inches: float) -> list[tuple[float, float]]:
    """Return a square block."""
    side = inches * 25.4
    return [(0, 0), (side, 0), (side, side), (0, side)]


def cases(folder: Path, ragged: list[object]) -> Iterator[Case]:
    """Yield every job; ``{to}`` stands for a folder of its own."""
    sample, large = folder / "plain-and-star.toml", folder / "large.toml"
    run = ("-m", "plumeline")
    yield Case("plumeline --help", [*run, "--help"], goal="50 ms CPU")
    fill = [*run, "fill", "channel", "--square", "12", "--to", "{to}/channel.svg"]
    yield Case("fill channel, 12 in", fill, "channel.svg", "600 ms CPU")
    yield Case("stitch the sample", [*run, "stitch", str(sample), "--to", "{to}"], "plain-and-star.dst", "3.5 s CPU")
    yield Case("stitch 200 zones", [*run, "stitch", str(large), "--to", "{to}"], "large.dst", "5 s clock, 350 MB")

    def single(name: str, kind: str, outlines: object, goal: str = "", runs: int = 3, **settings: object) -> Case:
        return Case(name, ["-c", DRAW, json.dumps([kind, outlines, settings, runs])], goal=goal, within=True)

    block = [square(12)]
    yield single("feather 12 in", "feather", block, "60 ms")
    yield single("four feathers 12 in", "feather", block, "110 ms", spines="corners")
    yield single("curl 12 in", "curl", block, "80 ms")
    yield single("meander 12 in, 1/4 in", "meander", block, "70 ms", spacing=6.35)
    for kind in ("feather", "echo", "rings", "meander", "curl"):
        yield single(f"{kind}, ragged zones", kind, ragged, runs=1)
    yield single("pebble 110 in", "pebble", [square(110)], "10 s", runs=1)
    yield single("meander 110 in, 1/2 in", "meander", [square(110)], "8 s", runs=1, spacing=12.7)
    yield single("channel 110 in, 2 mm", "channel", [square(110)], runs=1, spacing=2)


def run(tree: Path, case: Case, compiled: Path) -> Took:
    """Do a job once with the sources of one tree, whose compiled modules are kept in a folder."""
    with tempfile.TemporaryDirectory() as to:
        words = [word.replace("{to}", to) for word in case.arguments]
        environment = {**os.environ, "PYTHONPATH": str(tree / "src"), "XDG_CACHE_HOME": f"{to}/cache"}
        # modules are compiled once, as where it is installed, and kept by their trees' paths
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        environment["PYTHONPYCACHEPREFIX"] = str(compiled)
        begun = time.perf_counter()
        with subprocess.Popen([sys.executable, *words], stdout=subprocess.PIPE, env=environment, cwd=to) as process:
            said = process.stdout.read() if process.stdout else b""
            _, status, used = os.wait4(process.pid, 0)
            process.returncode = os.waitstatus_to_exitcode(status)
        clock = time.perf_counter() - begun
        if process.returncode:
            sys.exit(f"{case.name}: leaves with {process.returncode}")
        took = Took(used.ru_utime + used.ru_stime, clock, used.ru_maxrss / 1024)
        if case.within:
            told = json.loads(said)
            took.cpu_s, took.digest = told["seconds"], told["digest"]
        elif case.compare:
            took.digest = hashlib.sha256((Path(to) / case.compare).read_bytes()).hexdigest()
    return took


def row(case: Case) -> str:
    """Return the row of a job."""

    def middle(which: str, what: str) -> float:
        return statistics.median(getattr(took, what) for took in case.took[which])

    cells = []
    for what, digits in (("cpu_s", 3), ("clock_s", 2), ("peak_mb", 0)):
        before, after = middle("base", what), middle("now", what)
        cells += [f"{before:.{digits}f}", f"{after:.{digits}f}"]
    ratio = middle("base", "cpu_s") / middle("now", "cpu_s")
    digests = {took.digest for which in case.took.values() for took in which}
    same = "-" if digests == {""} else "yes" if len(digests) == 1 else "no"
    return f"| {case.name} | {' | '.join(cells)} | {ratio:.2f} | {same} | {case.goal} |"


@contextmanager
def checked_out(commit: str) -> Iterator[Path]:
    """Check a commit out beside this tree for a while."""
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "base"
        git = ["git", "-C", str(ROOT), "worktree"]
        subprocess.run([*git, "add", "--detach", "--quiet", str(tree), commit], check=True)
        try:
            yield tree
        finally:
            subprocess.run([*git, "remove", "--force", str(tree)], check=True)


def installed_mb(tree: Path) -> float:
    """Return the size in MB of what the dependencies of a tree take on disk, those of theirs too."""
    import tomllib

    from packaging.requirements import Requirement

    wanted = [Requirement(r) for r in tomllib.loads((tree / "pyproject.toml").read_text())["project"]["dependencies"]]
    seen: dict[str, int] = {}
    while wanted:
        need = wanted.pop()
        name = need.name.lower().replace("_", "-")
        if name in seen or (need.marker and not need.marker.evaluate({"extra": ""})):
            continue
        try:
            found = distribution(need.name)
        except PackageNotFoundError:
            sys.exit(f"{need.name} is not installed, so its size can't be told")
        places = [Path(str(found.locate_file(f))) for f in found.files or ()]
        seen[name] = sum(p.stat().st_size for p in places if p.is_file())
        wanted += [Requirement(r) for r in found.requires or ()]
    return sum(seen.values()) / 1e6


def prepare(tree: Path, folder: Path) -> None:
    """Write the plans: the sample as the base has it, and the top of 200 zones."""
    code = "import plumeline.demo as d, json; print(json.dumps(d.quilt_files()))"
    environment = {**os.environ, "PYTHONPATH": str(tree / "src")}
    said = subprocess.run([sys.executable, "-c", code], env=environment, check=True, capture_output=True).stdout
    for name, text in json.loads(said).items():
        (folder / name).write_text(text)
    # in a process of its own: what this one has loaded would count as the memory of those that it starts
    code = f"from pathlib import Path; from whole import large_top; large_top(200, Path({str(folder)!r}))"
    environment["PYTHONPATH"] = os.pathsep.join([str(ROOT / "src"), str(ROOT / "benchmarks")])
    subprocess.run([sys.executable, "-c", code], env=environment, check=True)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--base", default=BASE)
    parser.add_argument("--only", nargs="*", default=[""])
    asked = parser.parse_args()
    with checked_out(asked.base) as base, tempfile.TemporaryDirectory() as written:
        folder = Path(written)
        prepare(base, folder)
        for tree in (base, ROOT):
            kept = {**os.environ, "PYTHONPYCACHEPREFIX": str(folder)}
            subprocess.run([sys.executable, "-m", "compileall", "-q", str(tree / "src")], env=kept, check=True)
        zones = [sys.executable, "-c", ZONES, "15", str(ROOT / "tests")]
        environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
        ragged = json.loads(subprocess.run(zones, env=environment, check=True, capture_output=True).stdout)
        print("| job | CPU s, base | now | clock s, base | now | MB, base | now | times as fast | same bytes | goal |")
        print(f"|---|{'--:|' * 7}---|---|")
        for case in cases(folder, ragged):
            if not any(word in case.name for word in asked.only):
                continue
            for _ in range(asked.runs):
                for which, tree in (("base", base), ("now", ROOT)):
                    case.took[which].append(run(tree, case, folder))
            print(row(case), flush=True)
        print(f"\nInstalled with all that it needs: {installed_mb(base):.0f} MB, now {installed_mb(ROOT):.0f} MB")


if __name__ == "__main__":
    main()
