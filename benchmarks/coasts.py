"""Every fill in fractal coasts: nothing may lie outside, and no fault may end the drawing.

    python benchmarks/coasts.py [--seeds 4] [name ...]

Coasts of 1,000, 2,000, 4,000 and 8,000 points in boxes of 20 x 3.6 and 12 x 10 in. Prints for each fill how many were
drawn, the longest stretch outside the region by more than 0.05 mm, and the processor time of the slowest.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from plumeline.fills import fill_names, find_fill
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.geometry import outside_mm
from plumeline.pipeline.lookup import ZoneSources
from plumeline.pipeline.single import zone_of

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))
from shapes import coast

POINTS = (1000, 2000, 4000, 8000)
BOXES = ((20.0, 3.6), (12.0, 10.0))
TOLERANCE_MM = 0.05


def main() -> int:
    """Draw and measure; the exit code is 1 when something lies outside."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("names", nargs="*", default=[])
    asked.add_argument("--seeds", type=int, default=4)
    given = asked.parse_args()
    bad = 0
    for name in given.names or [n for n in fill_names() if n != "ditch"]:
        fill, drawn, empty, slowest, worst = find_fill(name), 0, 0, 0.0, 0.0
        for points in POINTS:
            for width, height in BOXES:
                for seed in range(given.seeds):
                    zone = zone_of(coast(points, seed=100 + seed, width=width, height=height))
                    settings = fill.settings.model_validate({}, context={"units": "in"}).resolved(ZoneSources(zone))
                    begun = time.process_time()
                    filled = fill_zone(zone, [Layer(fill, settings)])
                    slowest = max(slowest, time.process_time() - begun)
                    out = sum(
                        outside_mm([s.path], zone.region, tolerance_mm=TOLERANCE_MM, closed=s.closed)
                        for s in filled.strokes
                    )
                    drawn, empty = drawn + bool(filled.strokes), empty + (not filled.strokes)
                    if out > 0:
                        print(f"  {name}: {points} points, {width} x {height} in, seed {100 + seed}: {out:.2f} mm")
                        worst, bad = max(worst, out), 1
        print(f"{name:18}{drawn:4} drawn {empty:4} without room  outside {worst:6.2f} mm  {slowest:5.1f} s", flush=True)
    return bad


if __name__ == "__main__":
    sys.exit(main())
