"""Time and memory of ``inspect`` for drawings made to do harm, each in a process of its own.

    python benchmarks/hostile_drawings.py [--all] [NAME ...]

By default the heavy ones, with ``--all`` those of ``tests/hostile_drawings.py`` too. Each line says exit
code, processor time, peak memory and the first line said. Exit 1 when one ends with another code than 0 or 2, or takes
more than 30 s of processor time or 1 GB. Figures are kept in ``docs/methods/top.md``.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))
from hostile_drawings import CHEAP, NAMED_FILES, RECT, Make, path, ring, uses, within

MOST_SECONDS = 30
MOST_MB = 1000


def scribble(n: int) -> str:
    """Return a closed line through n random places as path data."""
    at = np.random.default_rng(1).uniform(0, 60, (n, 2))
    return "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in at) + "Z"


HEAVY: dict[str, Make] = {
    "rules for all": within(f"<style>{'*{fill:red}' * 15_000}</style>{RECT * 1000}"),
    "rules in rules": within(f"<style>{'g ' * 90}rect{{fill:red}}</style>{'<g>' * 90}{RECT * 2000}{'</g>' * 90}"),
    "one place, many times": within(RECT * 2000),
    "one place, outlines": within(RECT + '<rect width="5" height="3" fill="none" stroke="red"/>' * 2000),
    "many selectors": within(f"<style>{','.join(f'.a{k}' for k in range(300_000))}{{fill:red}}</style>{RECT}"),
    "100,000 points": path(ring(100_000)),
    "a scribble of 5,000": path(scribble(5000)),
    "a scribble of 150": path(scribble(150)),
    "48 MB of path": path("M0 0L" + "1 2 " * 12_000_000),
    "20,000 rings in rings": path("".join(ring(8, 20 - k / 1000) for k in range(2000))),
    "use of uses, wide": within(uses(4, 14)),
    "24,000 rectangles": within(
        "".join(f'<rect x="{k % 200 * 0.3:g}" y="{k // 200 * 0.3:g}" width=".3" height=".3"/>' for k in range(24_000))
    ),
    "2,000 circles over one another": within(
        "".join(
            f'<circle cx="{30 + k % 45 / 9:g}" cy="{30 + k // 45 / 9:g}" r="15" fill="#{k:06x}"/>' for k in range(2000)
        )
    ),
    "3,000 lines across": within(
        "".join(f'<path fill="none" stroke="red" d="M0 {k / 50:g}L60 {60 - k / 50:g}"/>' for k in range(3000))
    ),
}


def one(name: str, data: bytes) -> bool:
    """Run one drawing, print its line and return whether it stays within the limits."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / NAMED_FILES.get(name, "d.svg")
        file.write_bytes(data)
        said = Path(folder) / "said"
        with said.open("wb") as out:
            run = subprocess.Popen([sys.executable, "-m", "plumeline", "inspect", str(file)], stdout=out, stderr=out)
            _, status, used = os.wait4(run.pid, 0)
        run.returncode = code = os.waitstatus_to_exitcode(status)
        seconds, mb = used.ru_utime + used.ru_stime, used.ru_maxrss / 1024
        text = said.read_text(encoding="utf-8", errors="replace")
    first = text.partition("\n")[0] if code else ""
    print(f"{name:32} exit {code}  {seconds:5.1f} s  {mb:5.0f} MB  {first[:150]}", flush=True)
    return code in (0, 2) and "Traceback" not in text and seconds <= MOST_SECONDS and mb <= MOST_MB


def main() -> int:
    """Run those asked for."""
    asked = sys.argv[1:]
    every = {**(CHEAP if "--all" in asked else {}), **HEAVY}
    names = [a for a in asked if not a.startswith("--")] or list(every)
    good = [one(name, {**CHEAP, **HEAVY}[name]()) for name in names]
    print(f"{len(good)} drawings, {len(good) - sum(good)} beyond the limits")
    return int(not all(good))


if __name__ == "__main__":
    sys.exit(main())
