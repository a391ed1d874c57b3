"""Peak memory and processor time of very large zones, from the plan to all files.

Run by hand: ``python benchmarks/memory.py [spacing in mm ...]``. One zone of 110 x 110 in is filled with channels, each
spacing in a process of its own, and what came out is checked.

Figures: docs/methods/speed.md, "Memory of very large zones".
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import plumeline

SPACINGS_MM = (2.0, 0.62)
"""About 1.5 and 5 million stitches."""

MOST_MB = {2.0: 1000.0, 0.62: 2500.0}

PLAN = """units = "in"
[top.blocks]
size = 110
rows = [["a"]]
[[zone]]
name = "z"
patches = ["*"]
[zone.fill]
kind = "channel"
spacing = "{spacing} mm"
"""


def run(spacing_mm: float) -> None:
    """Stitch one plan and write its files; print a line of figures."""
    with tempfile.TemporaryDirectory() as folder:
        plan = Path(folder) / "large.toml"
        plan.write_text(PLAN.format(spacing=spacing_mm))
        quilt = plumeline.stitch(plumeline.read_plan(plan))
        quilt.write(Path(folder) / "out")
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    totals = quilt.report.totals
    # rows d apart in a square of side s: s / d lines of s, less the inset
    side_mm = 110 * 25.4
    assert abs(totals.sewn_mm / (side_mm**2 / spacing_mm) - 1) < 0.02
    assert totals.lines == 1
    print(f"{spacing_mm:5.2f} mm {totals.stitches:10,} stitches {peak_mb:7.0f} MB {time.process_time():6.0f} s")
    assert peak_mb < MOST_MB.get(spacing_mm, float("inf"))


def main() -> None:
    """Run each spacing in a process of its own: peak memory never falls again."""
    given = [float(a) for a in sys.argv[1:]]
    if len(given) == 1:
        run(given[0])
        return
    for spacing in given or SPACINGS_MM:
        subprocess.run([sys.executable, __file__, str(spacing)], check=True)


if __name__ == "__main__":
    main()
