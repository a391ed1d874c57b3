"""Echoes about parts left open in random zones, and some ordinary ones: crossings, what lies outside, lines, seconds.

Run by hand: ``python benchmarks/echo.py [zones]``. It asserts what it times.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from itertools import islice
from pathlib import Path

import numpy as np
import shapely

from plumeline import geometry as g
from plumeline.fills.echo import FILL, EchoSettings
from plumeline.lines import Work, join_works
from plumeline.model import Machine, Way, as_path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))
from shapes import IN, NAMED, random_regions, rectangle, star, zone


def with_holes_open(region):
    """Return a zone whose holes are parts left open, and whose outer edge may be travelled along."""
    shell, *holes = g.rings(region)
    edge = Way(as_path(g.close_ring(shell)), "edge", 2.0)
    left = tuple(g.as_region(hole) for hole in holes)
    return replace(zone(region), outline=g.as_region(shell), left_open=left, ways=(edge,))


def drawn(z):
    """Return the strokes, how many lines they join to, inches of line and CPU seconds of drawing."""
    start = time.process_time()
    strokes = FILL(z, EchoSettings(), rng=np.random.default_rng(1)).strokes
    seconds = time.process_time() - start
    paths = [g.close_ring(s.path, s.closed) for s in strokes]
    assert strokes
    assert g.outside_mm(paths, z.region) == 0
    assert len(g.self_crossings(paths)) == 0
    lines = join_works([Work(z, strokes, "background")], seams=(), machine=Machine()).lines
    return strokes, len(lines), sum(map(g.path_length, paths)) / IN, seconds


def main(count: int) -> None:
    """Print the ordinary zones one by one and the random ones together."""
    motif = shapely.affinity.translate(star(5, 3, 1.2), 6 * IN, 6 * IN)
    block = rectangle(12, 12)
    shown = {name: NAMED[name] for name in ("square12", "l12", "star5", "wobbly", "hole14", "two holes")}
    shown["star in a block"] = g.as_region(block.difference(motif))
    for name, region in shown.items():
        strokes, lines, inches, seconds = drawn(with_holes_open(region))
        print(f"{name:16} {len(strokes):4d} strokes {lines:2d} lines {inches:6.0f} in {1e3 * seconds:6.0f} ms")
    holed = islice((r for r in random_regions(10 * count, seed=5) if r.interiors), count)
    rows = [drawn(with_holes_open(region)) for region in holed]
    lines = np.bincount([row[1] for row in rows])
    seconds = np.array([row[3] for row in rows])
    print(f"{len(rows)} random zones with parts left open: no crossings, nothing outside; zones by lines {lines[1:]},")
    print(f"{1e3 * np.median(seconds):.0f} ms median, {1e3 * seconds.max():.0f} ms worst")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
