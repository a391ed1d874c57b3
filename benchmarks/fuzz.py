"""Random whole plans through the command line: any traceback, hang or unreadable file is a failure.

    python benchmarks/fuzz.py [--plans 2000] [--seed 1] [--keep FOLDER]

Each plan has a random top (a table of blocks, straight or on point, or a drawing), zones with random fills, divisions
and stacks, random machine keys. It is stitched in all formats, every file is read by a reader that is not ours (DST and
EXP by pyembroidery, DXF by ezdxf, SVG as XML, pictures by Pillow, the report as JSON); then its first zone is marked
done and it is stitched again, its stitch file is continued, and a reach is refitted. A plan may be refused in one
line (exit code 2); exit code 1, a warning of Python, or more than 60 s of processor time is a failure and is kept with
``--keep``. Pictures are drawn small: what is drawn in them is the same, and they took most of the time.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import random
import signal
import sys
import tempfile
import time
import traceback
from pathlib import Path
from typing import Any

import ezdxf
import pyembroidery
from defusedxml import ElementTree
from PIL import Image

from plumeline.cli import main as command_line
from plumeline.fills import fill_names
from plumeline.pipeline import cloth, pictures

HANG_SECONDS = 60
"""Of processor time; the clock on the wall of a busy machine tells little."""

PICTURE_PX = 200

STUCK_SECONDS = 900
"""By the clock: so long a run that waits for something may take."""

FORMATS = "svg,dst,exp,csv,dxf,gcode"
WORDS = ("feather", "star", "[top]", "étoile ★", ":smile:", "Border", "a & b <c>")


def value(thing: Any) -> str:
    """Return a value as TOML."""
    return json.dumps(thing, ensure_ascii=False)


def top_of(rng: random.Random, folder: Path) -> tuple[str, list[str]]:
    """Return the top's tables and patterns that fit its patches; a drawing is written into the folder."""
    if rng.random() < 0.3:
        side = rng.uniform(2, 8)
        count = rng.randint(1, 4)
        rects = []
        for k in range(count):
            skew = rng.uniform(-0.2, 0.2)
            corners = [(k * side, 0), ((k + 1) * side, 0), ((k + 1) * side, side + skew), (k * side, side)]
            points = " ".join(f"{x:.3f},{y:.3f}" for x, y in corners)
            rects.append(f'<polygon id="p-{k}" points="{points}" fill="#ddd"/>')
        size = f'width="{count * side}in" height="{side}in" viewBox="0 0 {count * side} {side}"'
        (folder / "top.svg").write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{"".join(rects)}</svg>')
        return '[top]\ndrawing = "top.svg"\n', ["*", "p-*", "p-0"]
    across, down = rng.randint(1, 3), rng.randint(1, 2)
    rows = [[rng.choice("ab") for _ in range(across)] for _ in range(down)]
    lines = ["[top.blocks]", f"size = {rng.choice([2, 3, 5, 8, 12])}", f"rows = {value(rows)}"]
    if rng.random() < 0.3:
        lines += ['setting = "on-point"', *(['between = "plain"'] if across > 1 and down > 1 else [])]
    elif rng.random() < 0.3:
        lines.append("sashing = { width = 1, outer = true, cornerstones = true }")
    if rng.random() < 0.3:
        lines.append(f'borders = [{{ name = "edge", width = {rng.choice([1, 2])}, corners = "mitred" }}]')
    return "\n".join(lines) + "\n", ["*", "a-*", "b-*", "edge*", "plain*"]


def machine_of(rng: random.Random) -> str:
    """Return random machine and batting tables."""
    keys = {
        "guided": rng.choice(["computer", "hand", "ruler"]),
        "stitches_per_inch": rng.choice([4.0, 8.0, 11.0, 20.0]),
        "reach": rng.choice([[5, 5], [8, 20], [3, 12]]),
        "trimmer": rng.random() < 0.5,
        "ties": rng.choice(["tiny", "back", "bury"]),
        "order": rng.choice(["rows", "centre-out", "any"]),
        "bobbin_yards": rng.choice([2.0, 60.0]),
    }
    said = [f"{key} = {value(keys[key])}" for key in keys if rng.random() < 0.35]
    return "\n".join(["[machine]", *said, *(["[batting]", "widest_gap = 4"] if rng.random() < 0.3 else [])]) + "\n"


def fill_of(rng: random.Random, table: str) -> str:
    """Return one table of a fill, most settings left out."""
    kind = rng.choice(fill_names())
    lines = [table, f"kind = {value(kind)}"]
    if kind == "motif":
        lines.append('art = "leaf"')
    elif rng.random() < 0.4:
        lines.append(f"spacing = {rng.choice([0.25, 0.5, 1.0, 2.0])}")
    return "\n".join(lines) + "\n"


def plan_of(rng: random.Random, folder: Path) -> str:
    """Return the text of a random plan."""
    top, patterns = top_of(rng, folder)
    parts = [f"title = {value(rng.choice(WORDS))}\nchance = {rng.randint(0, 99)}\n", top, machine_of(rng)]
    pattern = rng.choice(patterns[:2])
    lines = ["[[zone]]", f"name = {value(rng.choice(WORDS))}", f"patches = {value([pattern])}"]
    lines += [f"each = {value(rng.choice(['patch', 'joined']))}"] if rng.random() < 0.6 else []
    lines += [f"inset = {rng.choice([0, 0.125, 0.5])}"] if rng.random() < 0.3 else []
    lines += [f"travel = {value(rng.choice(['outer-seams', 'any-seam', 'none']))}"] if rng.random() < 0.3 else []
    divide = rng.choice([None, None, "frame", "on-point", "circle"])
    if divide:
        lines.append(f'divide = [{{ by = "{divide}" }}]')
    parts.append("\n".join(lines) + "\n")
    if divide:
        part = {"frame": "frame", "on-point": "corner", "circle": "outside"}[divide]
        parts += [fill_of(rng, f"[zone.fill.{part}]"), fill_of(rng, "[zone.fill.rest]")]
    elif rng.random() < 0.3:
        parts += [fill_of(rng, "[[zone.fill]]") for _ in range(rng.randint(2, 3))]
    else:
        parts.append(fill_of(rng, "[zone.fill]"))
    return "".join(parts)


class Hang(BaseException):
    """It took too long; no ``except`` of the program may catch it."""


def called(*arguments: object) -> tuple[int, str]:
    """Run the command line; return its exit code and what it complained of."""

    def late(*_: object) -> None:
        raise Hang

    told = io.StringIO()
    signal.signal(signal.SIGALRM, late)
    signal.signal(signal.SIGPROF, late)
    signal.setitimer(signal.ITIMER_PROF, HANG_SECONDS)
    signal.alarm(STUCK_SECONDS)
    code = 0
    try:
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(told):
            command_line([str(a) for a in (*arguments, "--trace")])
    except SystemExit as leave:
        code = leave.code if isinstance(leave.code, int) else 1
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.alarm(0)
    return code, told.getvalue()


def check_files(folder: Path) -> None:
    """Read every file by a reader that is not ours."""
    for path in sorted(folder.iterdir()):
        match path.suffix:
            case ".svg":
                ElementTree.fromstring(path.read_bytes())
            case ".dst" | ".exp":
                if not pyembroidery.read(str(path)).stitches:
                    raise ValueError(f"{path.name} holds no stitch")
            case ".dxf":
                if ezdxf.readfile(path).audit().has_errors:
                    raise ValueError(f"{path.name} has errors")
            case ".png":
                with Image.open(path) as image:
                    image.verify()
            case ".json":
                json.loads(path.read_text(encoding="utf-8"))


def expect(told: tuple[int, str]) -> int:
    """Return the exit code of a run; raise when it is our fault or its complaint is no plain line."""
    code, said = told
    if code not in (0, 2) or "Traceback" in said or (code == 2 and said.count("\n") != 1):
        raise RuntimeError(f"exit {code}: {said[-1500:]}")
    return code


def one(rng: random.Random, folder: Path) -> str:
    """Take one plan the whole way; return how far it went."""
    plan = folder / "p.toml"
    plan.write_text(plan_of(rng, folder), encoding="utf-8")
    out = folder / "out"
    if expect(called("stitch", plan, "--to", out, "--formats", FORMATS)):
        return "refused"
    check_files(out)
    stitch_files = sorted(out.glob("*.dst"))
    if stitch_files:
        expect(called("continue", stitch_files[0], "--line", 1, "--to", folder / "rest.dst"))
        expect(called("inspect", stitch_files[0]))
    report = json.loads((out / "report.json").read_text(encoding="utf-8"))
    for reach in report["reaches"][:1]:
        marks = [(name, at) for name, at in reach["marks_mm"].items()][:2]
        said = " ".join(f"{name}={x + 3:.1f} mm,{y + 2:.1f} mm" for name, (x, y) in marks)
        if len(marks) == 2:
            expect(called("refit", plan, "--reach", reach["number"], "--marks", said, "--to", folder / "refit"))
    plan.write_text(
        plan.read_text(encoding="utf-8").replace("[[zone]]\n", "[[zone]]\ndone = true\n", 1), encoding="utf-8"
    )
    if not expect(called("stitch", plan, "--to", folder / "again", "--stitched", out / "p.svg")):
        check_files(folder / "again")
    return "stitched"


def main() -> int:
    """Run the plans and say what was found."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--plans", type=int, default=2000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--seconds", type=float, default=float("inf"), help="begin no further plan after this")
    asked.add_argument("--keep", type=Path, default=None, help="folder for the plans that fail")
    given = asked.parse_args()
    cloth.PICTURE_PX = pictures.PICTURE_PX = PICTURE_PX
    count: dict[str, int] = {}
    begun, slowest = time.monotonic(), 0.0
    for number in range(given.plans):
        if time.monotonic() - begun > given.seconds:
            break
        seed = given.seed * 1_000_000 + number
        with tempfile.TemporaryDirectory() as name:
            start = time.process_time()
            try:
                went = one(random.Random(seed), Path(name))
            except (Hang, Exception) as fault:  # noqa: BLE001 - whatever it is, it is what is looked for
                went = "failed"
                print(f"--- plan {seed}: {''.join(traceback.format_exception_only(fault))[-1500:]}", flush=True)
                if given.keep is not None:
                    given.keep.mkdir(parents=True, exist_ok=True)
                    (given.keep / f"{seed}.toml").write_bytes((Path(name) / "p.toml").read_bytes())
            slowest = max(slowest, time.process_time() - start)
            count[went] = count.get(went, 0) + 1
            if sum(count.values()) % 100 == 0:
                print(f"{sum(count.values())} plans: {count}", flush=True)
    print(f"{sum(count.values())} plans: {count}; the slowest took {slowest:.0f} s of processor time")
    return 1 if count.get("failed") else 0


if __name__ == "__main__":
    sys.exit(main())
