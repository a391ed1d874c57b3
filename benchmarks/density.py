"""How near fills come to the density that is asked, as an eye counts it: by crossings with random straight lines.

``python benchmarks/density.py [KIND ...]``: every fill that takes a density, at three densities in three shapes of some
60 square inches: a square, a side triangle, an L. Cauchy and Crofton give length / area = pi / 2 x crossings / length.

Measured, mean and greatest miss of nine: channel 1.6 and 2.0 %, echo 1.1 and 2.1 %, spiral 1.4 and 3.3 %, meander
0.5 and 1.2 %, crosshatch 0.5 and 1.4 %, pebble 0.6 and 1.6 %, feather 1.6 and 2.2 %, motif 0.6 and 1.3 %. What is
beyond 3 % is told by a finding.
"""

from __future__ import annotations

import sys
import time

import numpy as np
import shapely
from shapely import LineString, Polygon

from plumeline import fill
from plumeline.fills import fill_names, find_fill
from plumeline.fills.kit.settings import SpacedSettings

IN = 25.4
SHAPES = {
    "square": [(0, 0), (8, 0), (8, 8), (0, 8)],
    "triangle": [(0, 0), (16, 0), (8, 8)],
    "L": [(0, 0), (9, 0), (9, 5), (4.5, 5), (4.5, 9), (0, 9)],
}
TARGETS = {"feather": (0.9, 1.2, 1.8), "pebble": (1.5, 2.5, 4.0), "motif": (0.8, 1.2, 1.6)}
PROBES = 4000


def by_eye(strokes: list[LineString], region: Polygon) -> float:
    """Return inches of line per square inch, counted by crossings."""
    rng = np.random.default_rng(11)
    centre, radius = np.array(region.centroid.coords[0]), np.hypot(*np.ptp(np.array(region.exterior.coords), axis=0))
    angle, offset = rng.uniform(0, np.pi, PROBES), rng.uniform(-1, 1, PROBES) * radius
    along, across = np.column_stack([np.cos(angle), np.sin(angle)]), np.column_stack([-np.sin(angle), np.cos(angle)])
    middle = centre + across * offset[:, None]
    probes = shapely.linestrings(np.stack([middle - along * radius, middle + along * radius], axis=1))
    ink = shapely.union_all(strokes, grid_size=0.05)
    shapely.prepare(ink)
    hits = sum(len(shapely.get_parts(x)) for x in shapely.intersection(probes, ink) if not x.is_empty)
    return float(np.pi / 2 * hits / shapely.length(shapely.intersection(probes, region)).sum() * IN)


def main(kinds: list[str]) -> None:
    """Print the greatest and the mean miss of each fill."""
    takes = [name for name in fill_names() if issubclass(find_fill(name).settings, SpacedSettings)]
    for kind in kinds or takes:
        began, misses = time.process_time(), []
        for name, corners in SHAPES.items():
            outline = np.array(corners, dtype=float) * IN
            for wanted in TARGETS.get(kind, (1.0, 2.0, 4.0)):
                filled = fill(kind, outline, density=wanted)
                drawn = [LineString([*s.path, s.path[0]] if s.closed else s.path) for s in filled.strokes]
                miss = by_eye(drawn, Polygon(outline)) / wanted - 1
                told = any(f.code == "density-not-met" for f in filled.findings)
                misses.append((abs(miss), f"{name} at {wanted:g}: {miss:+.1%}{', told' if told else ''}"))
        worst = sorted(misses, reverse=True)
        mean = np.mean([m for m, _ in misses])
        said = "; ".join(text for _, text in worst[:3])
        print(f"{kind:12} mean {mean:.1%}  {said}  {time.process_time() - began:.0f} s")


if __name__ == "__main__":
    main(sys.argv[1:])
