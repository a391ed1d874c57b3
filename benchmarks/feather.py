"""Feathers of the table, and random zones: run by hand, ``python benchmarks/feather.py [--random 1000]``.

Prints for each zone what must be nothing (line outside, crossings, jumps), what should be little (backtrack, widest gap
between plumes, slim plumes, dense spots), and the time of one core; asserts what must be nothing.
"""

from __future__ import annotations

import argparse
import sys
import time
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from feathers import FEATHERS, growth, through_the_middle
from plumeline.fills.feather.grow import grow
from plumeline.fills.feather.growth import Grown, Growth
from plumeline.fills.feather.settings import FeatherSettings
from plumeline.geometry import close_ring, contains, outside_mm, path_length, resample, rings, self_crossings
from shapes import IN, random_regions

STYLES = ("bump-back", "apart")


def once(feather: Growth, style: str) -> tuple[Grown, float]:
    """One feather and its milliseconds of processor time."""
    start = time.process_time()
    result = grow(feather, FeatherSettings(style=style), rng=np.random.default_rng(1))
    return result, 1e3 * (time.process_time() - start)


def must_be_nothing(feather: Growth, result: Grown) -> tuple[float, int, float]:
    """Millimetres outside, crossings, widest jump."""
    paths = [s.path for s in result.strokes]
    stitched = [s.path for s in result.strokes if s.role == "stitch"]
    jump = max((float(np.abs(a[-1] - b[0]).max()) for a, b in pairwise(paths)), default=0.0)
    return outside_mm(paths, feather.region, tolerance_mm=0.02), len(self_crossings(stitched)), jump


def densest_inch(paths: list[np.ndarray]) -> float:
    """Most inches of line within any circle 1 in across, per square inch."""
    points = np.vstack([resample(p, 0.5) for p in paths])
    found = cKDTree(points).query_ball_point(points[::8], IN / 2, return_length=True)
    return float(max(found) * 0.5 / IN / (np.pi / 4))


def table(style: str) -> None:
    """Print the table of one style."""
    print(f"\n{style}\n{'zone':14}  N out  x jump  bt% cover% gap/w  l:w >4:1% dense  skip   ms")
    for name, feather in FEATHERS.items():
        runs = [once(feather, style) for _ in range(5)]
        result, ms = runs[0][0], float(np.median([r[1] for r in runs]))
        out, crossed, jump = must_be_nothing(feather, result)
        assert out == 0 and crossed == 0 and jump == 0, name
        paths = [s.path for s in result.strokes]
        total = sum(map(path_length, paths))
        back = sum(path_length(s.path) for s in result.strokes if s.role == "backtrack")
        ratio = np.array([p.length_mm / p.width_mm for p in result.plumes])
        width = float(np.mean([p.width_mm for p in result.plumes]))
        gap = widest_between(feather, result, paths)
        print(
            f"{name:14}{len(ratio):3}{out:4.1f}{crossed:3}{jump:5.1f}{100 * back / total:5.0f}"
            f"{100 * result.silhouette.area / feather.region.area:7.0f}{gap / width:6.2f}{np.median(ratio):5.2f}"
            f"{100 * (ratio > 4).mean():7.0f}{densest_inch(paths):6.1f}{result.skipped:6}{ms:5.0f}"
        )


def widest_between(feather: Growth, result: Grown, paths: list[np.ndarray]) -> float:
    """Diameter of the widest circle between plumes and edge, mm (to about 1 mm)."""
    left, top, right, bottom = feather.region.bounds
    grid = np.stack(np.meshgrid(np.arange(left, right), np.arange(top, bottom)), axis=-1).reshape(-1, 2)
    grid = grid[contains(feather.region, grid) & ~contains(result.silhouette, grid)]
    around = [*paths, *(close_ring(r) for r in rings(feather.region))]
    far, _ = cKDTree(np.vstack([resample(p, 0.5) for p in around])).query(grid)
    return float(2 * far.max())


def random_zones(count: int, style: str) -> None:
    """Grow feathers in random zones along their longest chord and print what went wrong."""
    plumes = skipped = refused = zones = 0
    times, bad = [], []
    for number, region in enumerate(random_regions(count, seed=2026, holes=False)):
        spine = through_the_middle(region)
        if spine is None:
            continue
        feather = growth(region, spine / IN * [1, -1])
        result, ms = once(feather, style)
        zones += 1
        times.append(ms)
        plumes += len(result.plumes)
        skipped += result.skipped
        refused += not result.strokes
        out, crossed, jump = must_be_nothing(feather, result)
        if out or crossed or jump:
            bad.append((number, round(out, 2), crossed, jump))
    print(
        f"\n{style}: {zones} random zones, {plumes} plumes, {skipped} left out, {refused} zones refused; "
        f"zones with line outside, crossings or jumps: {bad or 'none'}; "
        f"ms median {np.median(times):.0f}, 95 % {np.percentile(times, 95):.0f}, most {max(times):.0f}"
    )


def main() -> None:
    """Print both tables, and random zones when asked."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--random", type=int, default=0)
    count = parser.parse_args().random
    for style in STYLES:
        table(style)
    for style in STYLES if count else ():
        random_zones(count, style)


if __name__ == "__main__":
    main()
