"""The meander over random zones and over a whole quilt: crossings, what lies outside, evenness, seconds.

Run by hand: ``python benchmarks/meander.py [zones]``. It asserts what it times.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

from plumeline import geometry as g
from plumeline.fills.meander import FILL, MeanderSettings

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))
from shapes import IN, random_regions, rectangle, zone


def drawn(region, spacing, seed=1):
    """Return the strokes as whole paths, whether one line did, and CPU seconds."""
    start = time.process_time()
    strokes = FILL(zone(region), MeanderSettings(spacing_mm=spacing * IN), rng=np.random.default_rng(seed)).strokes
    seconds = time.process_time() - start
    assert strokes
    assert all(g.is_simple(s.path, closed=s.closed) for s in strokes)
    return [g.close_ring(s.path, s.closed) for s in strokes], seconds


def random_zones(count):
    """Fill random zones at 1/4 and 1/2 in."""
    rows = []
    for k, region in enumerate(random_regions(count, seed=11)):
        spacing = (0.25, 0.5)[k % 2]
        paths, seconds = drawn(region, spacing, seed=k)
        assert g.outside_mm(paths, region, tolerance_mm=0.02) == 0
        assert len(g.self_crossings(paths)) == 0
        found = g.strand_spacing(paths, spacing * IN)
        gap = g.widest_gap(paths, region).diameter_mm / spacing / IN
        rows.append((len(paths) == 1, found.mean_mm / spacing / IN, found.varies_percent, gap, 1000 * seconds))
    one, mean, varies, gap, ms = np.array(rows, dtype=float).T
    print(f"{count} random zones: 0 crossings, 0 mm outside, one line in {100 * one.mean():.1f} %")
    print(f"  spacing {mean.mean():.2f} of the asked, varies {varies.mean():.1f} % (worst {varies.max():.0f})")
    print(
        f"  widest gap {gap.mean():.2f} spacings (99 of 100 below {np.percentile(gap, 99):.2f}, worst {gap.max():.2f})"
    )
    print(f"  {ms.mean():.0f} ms (median {np.median(ms):.0f}, worst {ms.max():.0f})")


def background():
    """Return a 90 x 108 in top with 20 blocks of 12 in cut out."""
    corners = [(6 + 21.5 * i, 5 + 21 * j) for i in range(4) for j in range(5)]
    blocks = [g.as_region((np.array([(0, 0), (12, 0), (12, 12), (0, 12)]) + c) * IN) for c in corners]
    return g.subtract(rectangle(90, 108), blocks)[0]


def sizes():
    """Fill single zones of growing size."""
    for name, region, spacing, repeats in [
        ("12 in square", rectangle(12, 12), 0.5, 5),
        ("12 in square", rectangle(12, 12), 0.25, 5),
        ("90 x 108 in", rectangle(90, 108), 0.5, 1),
        ("90 x 108 in less 20 blocks", background(), 0.25, 1),
        ("90 x 108 in", rectangle(90, 108), 0.25, 1),
    ]:
        paths, seconds = min((drawn(region, spacing) for _ in range(repeats)), key=lambda r: r[1])
        assert len(paths) == 1
        length = g.path_length(paths[0]) / IN
        print(f"{name} at {spacing} in: {seconds:.3f} s CPU, {length:.0f} in of line, {len(paths[0])} points")


if __name__ == "__main__":
    sizes()
    random_zones(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
