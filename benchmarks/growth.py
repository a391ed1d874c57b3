"""How cost grows: with the number of zones, of stitches, and of points of an outline; and the exponent of each stage.

Run by hand: ``python benchmarks/growth.py [zones] [stitches] [points]``, by default all three. Each row is one run in
this process with one worker; processor time. The exponent is the slope of a straight line through the logarithms (by
least squares): 1 grows as fast as the work, 2 four times as fast for twice the work. Stages under 0.05 s are left out.
The zones are equal squares in four fills, each drawn anew (``vary = true``); the stitches are channels in one square
zone of 110 in; the points are a ragged coast of 12 x 10 in in eight fills.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from memory import PLAN
from plumeline.fills import find_fill
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.pipeline.lookup import ZoneSources
from plumeline.pipeline.single import zone_of
from whole import SIDE_IN, large_top, measured

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))
from shapes import coast

ZONES = (50, 100, 200, 400, 800)
SPACINGS_MM = (32.0, 16.0, 8.0, 4.0, 2.0, 0.62)
POINTS = (1250, 2500, 5000, 10_000)
LEAST_S = 0.05

Row = tuple[float, dict[str, float]]


def zones() -> Iterator[Row]:
    """Yield seconds a stage for tops of more and more zones of one size."""
    with tempfile.TemporaryDirectory() as folder:
        for count in ZONES:
            path = large_top(count, Path(folder), SIDE_IN * (count / 200) ** 0.5)
            path.write_text(path.read_text().replace('each = "patch"', 'each = "patch"\nvary = true'))
            quilt, seconds = measured(path)
            assert len(quilt.zones) == count
            yield count, seconds


def stitches() -> Iterator[Row]:
    """Yield seconds a stage for one zone of 110 in, quilted closer and closer."""
    with tempfile.TemporaryDirectory() as folder:
        for spacing in SPACINGS_MM:
            path = Path(folder) / "large.toml"
            path.write_text(PLAN.format(spacing=spacing))
            quilt, seconds = measured(path)
            yield quilt.report.totals.stitches, seconds


def points() -> Iterator[Row]:
    """Yield seconds a fill for coasts of more and more points."""
    for count in POINTS:
        zone = zone_of(coast(count, seed=7, width=12, height=10))
        seconds = {}
        for name in ("channel", "crosshatch", "echo", "meander", "pebble", "curl", "spiral", "feather"):
            fill = find_fill(name)
            settings = fill.settings.model_validate({}, context={"units": "in"}).resolved(ZoneSources(zone))
            begun = time.process_time()
            fill_zone(zone, [Layer(fill, settings)])
            seconds[name] = time.process_time() - begun
        yield count, seconds


def table(what: str, rows: list[Row]) -> None:
    """Print the rows of one kind, a stage a line, with the exponent."""
    sizes = np.array([size for size, _ in rows], dtype=float)
    print(f"{what:<32}" + "".join(f"{size:>11,.0f}" for size in sizes) + "   exponent")
    stages = {name: [seconds.get(name, 0.0) for _, seconds in rows] for name in rows[-1][1]}
    stages["in all"] = [sum(seconds.values()) for _, seconds in rows]
    for name, took in stages.items():
        known = np.array(took) > LEAST_S
        slope = np.polyfit(np.log(sizes[known]), np.log(np.array(took)[known]), 1)[0] if known.sum() > 1 else np.nan
        told = "" if np.isnan(slope) else f"{slope:8.2f}"
        print(f"{name:<32}" + "".join(f"{s:>9.2f} s" for s in took) + f"   {told}")
    print(flush=True)


def main() -> None:
    """Print the tables asked for."""
    kinds = {"zones": zones, "stitches": stitches, "points": points}
    for name in sys.argv[1:] or kinds:
        table(name, list(kinds[name]()))


if __name__ == "__main__":
    main()
