"""Time every registered fill on one 12 in block at its own settings, and check what it drew.

Run by hand: ``python benchmarks/fills.py [name ...]``. Prints the least and the median of some runs in ms of processor
time and the goal; the least is what the fill takes, the rest is what else the machine does.
"""

from __future__ import annotations

import statistics
import sys
import time

import numpy as np

from plumeline.fills import fill_names, find_fill
from plumeline.geometry import as_region, outside_mm, path_length
from plumeline.model import Frame, Zone
from plumeline.pipeline.lookup import ZoneSources

RUNS = 5
TOLERANCE_MM = 0.05
BLOCK_MM = 12 * 25.4
GOAL_MS = 150.0
CLOSE = {"meander": (6.35, 200.0)}
"""Fills timed once more at a closer spacing in mm, and what that may take in ms."""


def block() -> Zone:
    """Return a plain 12 in block with its frame at its middle."""
    region = as_region([(0, 0), (BLOCK_MM, 0), (BLOCK_MM, BLOCK_MM), (0, BLOCK_MM)])
    frame = Frame((BLOCK_MM / 2, BLOCK_MM / 2))
    return Zone(name="block", part="", number=1, region=region, outline=region, frame=frame)


def main(names: tuple[str, ...]) -> None:
    """Time the named fills."""
    zone = block()
    print(f"{'fill':20} {'least ms':>9} {'median':>8} {'goal':>6} {'strokes':>8} {'inches':>9}")
    for name in names:
        report(name, zone, {}, GOAL_MS)
        if name in CLOSE:
            spacing, goal = CLOSE[name]
            report(name, zone, {"spacing": spacing}, goal)


def report(name: str, zone: Zone, given: dict[str, float], goal_ms: float) -> None:
    """Time one fill and print its row."""
    fill = find_fill(name)
    settings = fill.settings.model_validate(given).resolved(ZoneSources(zone))
    took = []
    for _ in range(RUNS):
        begun = time.process_time()
        filled = fill(zone, settings, rng=np.random.default_rng(7), tolerance_mm=TOLERANCE_MM)
        took.append(1e3 * (time.process_time() - begun))
        if not filled.strokes:
            sys.exit(f"{name}: nothing drawn")
        if sum(outside_mm([s.path], zone.outline, tolerance_mm=TOLERANCE_MM, closed=s.closed) for s in filled.strokes):
            sys.exit(f"{name}: leaves the block")
    inches = sum(path_length(s.path, closed=s.closed) for s in filled.strokes) / 25.4
    title = " ".join([name, *(f"{value:g}" for value in given.values())])
    times = f"{min(took):9.1f} {statistics.median(took):8.1f} {goal_ms:6.0f}"
    print(f"{title:20} {times} {len(filled.strokes):8d} {inches:9.1f}")


if __name__ == "__main__":
    main(tuple(sys.argv[1:]) or fill_names())
