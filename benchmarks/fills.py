"""Time every registered fill on one 12 in block at its own settings, and check what it drew.

Run by hand: ``python benchmarks/fills.py [name ...]``. Prints the median of some runs in ms of processor time.
"""

from __future__ import annotations

import statistics
import sys
import time

import numpy as np

from plumeline.fills import fill_names, find_fill
from plumeline.geometry import as_region, outside_mm, path_length
from plumeline.model import Frame, Zone
from plumeline.sources import ZoneSources

RUNS = 5
TOLERANCE_MM = 0.05
BLOCK_MM = 12 * 25.4


def block() -> Zone:
    """Return a plain 12 in block with its frame at its middle."""
    region = as_region([(0, 0), (BLOCK_MM, 0), (BLOCK_MM, BLOCK_MM), (0, BLOCK_MM)])
    frame = Frame((BLOCK_MM / 2, BLOCK_MM / 2))
    return Zone(name="block", part="", number=1, region=region, outline=region, frame=frame)


def main(names: tuple[str, ...]) -> None:
    """Time the named fills."""
    zone = block()
    print(f"{'fill':20} {'median ms':>10} {'strokes':>8} {'inches':>9}")
    for name in names:
        fill = find_fill(name)
        settings = fill.settings().resolved(ZoneSources(zone))
        took = []
        for _ in range(RUNS):
            begun = time.process_time()
            filled = fill(zone, settings, rng=np.random.default_rng(7), tolerance_mm=TOLERANCE_MM)
            took.append(1e3 * (time.process_time() - begun))
            if not filled.strokes:
                sys.exit(f"{name}: nothing drawn")
            if sum(
                outside_mm([s.path], zone.outline, tolerance_mm=TOLERANCE_MM, closed=s.closed) for s in filled.strokes
            ):
                sys.exit(f"{name}: leaves the block")
        inches = sum(path_length(s.path, closed=s.closed) for s in filled.strokes) / 25.4
        print(f"{name:20} {statistics.median(took):10.1f} {len(filled.strokes):8d} {inches:9.1f}")


if __name__ == "__main__":
    main(tuple(sys.argv[1:]) or fill_names())
